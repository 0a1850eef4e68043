"""Weights that nobody measured: which rise may be the next one, and which rise behaves as none does.

Sizes and times are made up here; no source.
"""

import math
import random
from collections.abc import Callable, Collection, Iterator

import pytest
from slice_makers import SLICE_S, make

from scuffwatch.detect.other_kinds import Kind
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.track import Phase, Track
from scuffwatch.detect.unseen_weights import NoWeight, NoWeightParams, UnseenWeights
from scuffwatch.model.block import Slice
from scuffwatch.model.finding import Level

DWELL_S, LAG_S = 12.0, 0.1


def hang(weights: UnseenWeights, drag: float, lasts_s: float = DWELL_S, *, is_weight: bool = True) -> None:
    """Hang what makes this drag, for so long."""
    for _ in range(round(lasts_s / SLICE_S)):
        weights.update(drag, fresh=True, dt_s=SLICE_S)
        if weights.moving:
            weights.leave_level()
        else:
            weights.stay(SLICE_S, is_weight)


def hung(drags: Collection[float], lasts_s: float = DWELL_S, *, is_weight: bool = True) -> UnseenWeights:
    """Give what has been seen of such weights, one after the other."""
    weights = UnseenWeights(weight_times=2.5, weights_least=2, zero=0.001)
    for drag in drags:
        hang(weights, drag, lasts_s, is_weight=is_weight)
    return weights


def times_at(weights: UnseenWeights, usual_drag: float, *, load_was_seen: bool = False) -> float:
    """Give how many times the usual drag may still be a weight."""
    return math.exp(weights.limit(usual_drag, load_was_seen))


# --- the limit of one weight more ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drags", "times"),
    [
        # 1.3 times as many times as the last: of 2, 3 and 4.
        ((10.0, 20.0, 40.0), 2.6),
        ((5.0, 15.0, 45.0), 3.9),
        ((10.0, 10.0, 40.0), 5.2),
        # 2.5 times the largest step over the top, where that is more: 24 + 2.5 x 10, 46 + 2.5 x 20.
        ((10.0, 20.0, 24.0), 49.0 / 24.0),
        ((20.0, 40.0, 46.0), 96.0 / 46.0),
        # It is the last step that counts, not the largest ratio: 48 x 1.3 x 1.2 is less than 48 + 2.5 x 30.
        ((10.0, 40.0, 48.0), 123.0 / 48.0),
    ],
)
def test_the_next_weight_may_be_so_many_times_the_last(drags: tuple[float, ...], times: float) -> None:
    assert times_at(hung(drags), drags[-1]) == pytest.approx(times, rel=0.01)


def test_before_one_has_been_seen_any_rise_may_be_one_and_before_two_one_of_less_than_so_many_times() -> None:
    assert hung([]).limit(10.0, load_was_seen=False) == math.inf
    assert hung([]).limit(10.0, load_was_seen=True) == math.inf
    assert times_at(hung([0.03]), 0.03) == pytest.approx(8.0, rel=0.01)
    # A twenty-fifth of the cell's range is no hanger's: forty of its zeros.
    assert times_at(hung([0.05]), 0.05) == pytest.approx(4.5, rel=0.01)
    # 10 + 2.5 x 10 over 10: where loads were measured before, one of them is enough.
    assert times_at(hung([10.0]), 10.0, load_was_seen=True) == pytest.approx(3.5, rel=0.01)


def test_what_is_less_than_a_tenth_more_is_no_weight() -> None:
    for drag, limit in ((10.8, math.log(4.5)), (11.3, math.log((11.3 + 2.5 * 10.0) / 11.3))):
        weights = hung([10.0])
        hang(weights, 20.0, 1.0)  # lifted and set down again
        hang(weights, drag)
        assert weights.limit(drag, load_was_seen=False) == pytest.approx(limit, rel=0.01)


def test_what_is_not_out_of_its_noise_is_no_weight() -> None:
    """From 10 to 13: a weight, unless the drag itself swings by 2 or so."""
    for noise, limit in ((0.1, math.log((13.0 + 2.5 * 10.0) / 13.0)), (2.0, math.log(4.5))):
        draw, weights = random.Random(1), hung([])
        for drag, lasts_s in ((10.0, DWELL_S), (0.0, 1.0), (13.0, DWELL_S)):
            for _ in range(round(lasts_s / SLICE_S)):
                hang(weights, draw.gauss(drag, noise), SLICE_S)
        assert weights.limit(13.0, load_was_seen=False) == pytest.approx(limit, rel=0.05)


def test_a_hanger_whose_friction_is_a_fiftieth_of_the_cells_range_is_no_measure_of_weights() -> None:
    """A cell of 400 N, whose zero may be off by 0.4: 1.6 and 2.2 N are a hanger's, 46 and 80 are weights."""
    weights = UnseenWeights(weight_times=2.5, weights_least=2, zero=0.4)
    hang(weights, 1.6)
    hang(weights, 0.0, 1.0)
    hang(weights, 2.2)
    assert weights.limit(2.2, load_was_seen=False) == math.inf
    hang(weights, 46.0)
    assert times_at(weights, 46.0) == pytest.approx(4.5, rel=0.01)
    hang(weights, 80.0)
    # The largest step is from nothing to 46: 80 + 2.5 x 46.
    assert times_at(weights, 80.0) == pytest.approx(195.0 / 80.0, rel=0.02)


def test_of_a_cell_whose_zero_is_not_known_the_first_level_may_be_nothing_else() -> None:
    """0.3 N on a ring that turns unloaded, then a weight's 10 N: thirty times as much, and no scuffing."""
    weights = UnseenWeights(weight_times=2.5, weights_least=2)
    hang(weights, 0.3)
    assert weights.limit(0.3, load_was_seen=False) == math.inf
    hang(weights, 10.0)
    assert weights.limit(10.0, load_was_seen=False) < math.inf


def test_a_level_that_has_not_stayed_for_three_seconds_is_no_weight() -> None:
    # A level is left for a second or so: of 3 s of it less than three are at rest.
    assert hung([10.0, 20.0, 40.0], 3.0).limit(40.0, load_was_seen=False) == math.inf
    assert hung([10.0, 20.0, 40.0], 6.0).limit(40.0, load_was_seen=False) < math.inf


def test_levels_of_a_load_that_was_measured_are_none() -> None:
    assert hung([10.0, 20.0, 40.0], is_weight=False).limit(40.0, load_was_seen=True) == math.inf


def test_a_lever_that_was_lifted_is_set_down_with_all_that_hung_there() -> None:
    assert times_at(hung([10.0, 20.0, 40.0, 10.0]), 10.0) == pytest.approx(4.0 * 2.6, rel=0.01)


# --- through the detector -----------------------------------------------------------------------------------

Times = Callable[[float], float]


def slices(friction_n: Times, seconds: float, seed: int) -> Iterator[Slice]:
    """Give a rig with a friction cell and nothing else."""
    draw = random.Random(seed)
    for k in range(round(seconds / SLICE_S)):
        force_n = friction_n(k * SLICE_S)
        yield make(k, {"friction_force_n": draw.gauss(force_n, 0.1 + 0.01 * force_n)})


def trips_s(friction_n: Times, seconds: float, seed: int) -> list[float]:
    watch = ScuffWatch(ScuffParams())
    found = [finding for s in slices(friction_n, seconds, seed) for finding in watch.update(s, running=True)]
    return [finding.t_rig_s for finding in found if finding.level is Level.TRIP]


def staircase(factors: Collection[float], running_in: float = 0.2) -> Times:
    """Give 5 N and then so many times the last, one every 12 s; friction runs in from a fifth more within a second."""
    levels = [5.0]
    for factor in factors:
        levels.append(levels[-1] * factor)

    def friction_n(t_s: float) -> float:
        stage = min(int(t_s // DWELL_S), len(levels) - 1)
        since_s = t_s - stage * DWELL_S
        before_n = levels[stage - 1] if stage else 0.0
        come = 1.0 - math.exp(-since_s / LAG_S)
        return (before_n + (levels[stage] - before_n) * come) * (1.0 + running_in * math.exp(-since_s) * come)

    return friction_n


@pytest.mark.slow
@pytest.mark.parametrize("factor", [2.0, 3.0, 4.0])
def test_weights_that_grow_by_a_constant_factor_are_no_scuffing(factor: float) -> None:
    """Two staircases of four weights each, none of them measured: no trip."""
    seeds = range(2)
    assert sum(len(trips_s(staircase([factor] * 3), 4.0 * DWELL_S, seed)) for seed in seeds) == 0


@pytest.mark.slow
@pytest.mark.parametrize(("times", "most_s"), [(3.0, None), (3.6, None), (4.6, 1.5), (6.0, 0.4)])
def test_a_rise_beyond_the_next_weight_is_scuffing(times: float, most_s: float | None) -> None:
    """After weights of three times the last each, 3.9 times is the limit: what is beyond is found."""
    for seed in range(2):
        found = trips_s(staircase([3.0, 3.0, times]), 4.0 * DWELL_S, seed)
        if most_s is None:
            assert found == []
        else:
            (found_s,) = found
            assert 3.0 * DWELL_S < found_s <= 3.0 * DWELL_S + most_s


# --- what behaves as no weight does -------------------------------------------------------------------------

ALL_BUT_HEAT = (Kind.ACOUSTIC, Kind.VARIABILITY)


def found_after_s(y: Times, seconds: float, kinds: Collection[Kind] = (), *, is_first: bool = False) -> float:
    """Give when a rise, the natural logarithm of times usual by its time, is found to be no weight; infinite if never.

    What is usual has been learned for 30 s, with unrest of a hundredth.
    """
    draw, track, no_weight = random.Random(2), Track(), NoWeight(NoWeightParams())
    for _ in range(3000):
        track.update(draw.gauss(0.0, 0.0125), True, SLICE_S, Phase.FOLLOW)
        no_weight.update(track, (), SLICE_S)
        assert not no_weight.found
    for k in range(round(seconds / SLICE_S)):
        track.update(y(k * SLICE_S) + draw.gauss(0.0, 0.0125), True, SLICE_S, Phase.HOLD)
        no_weight.update(track, kinds, SLICE_S, is_first=is_first)
        if no_weight.found:
            return k * SLICE_S
    return math.inf


def swinging(mean: float, swing: float, swing_hz: float = 7.0) -> Times:
    return lambda t_s: mean + swing * math.sin(math.tau * swing_hz * t_s)


def test_a_rise_that_never_comes_to_rest_is_no_weight_after_four_seconds() -> None:
    # 0.3 to either side at 7 Hz is an unrest of 0.19, nearly twenty times usual; its lowest is 0.7 above usual.
    assert found_after_s(swinging(1.0, 0.3), 20.0) == pytest.approx(4.7, abs=0.3)


def test_with_two_further_kinds_3_2_s_of_it_are_enough() -> None:
    assert found_after_s(swinging(1.0, 0.3), 20.0, ALL_BUT_HEAT) == pytest.approx(3.9, abs=0.3)
    # One of the two must be the unrest itself.
    assert found_after_s(swinging(1.0, 0.3), 20.0, (Kind.ACOUSTIC, Kind.THERMAL)) == pytest.approx(4.7, abs=0.3)
    assert found_after_s(swinging(1.0, 0.3), 20.0, (Kind.VARIABILITY,)) == pytest.approx(4.7, abs=0.3)


@pytest.mark.parametrize("settles_s", [0.01, 0.1, 0.3, 0.6])
@pytest.mark.parametrize("times", [2.7, 4.0])
def test_a_weight_that_is_louder_too_is_none(times: float, settles_s: float) -> None:
    """The step itself is unrest while it leaves the means; a weight that changes the sound must not be scuffing."""
    step: Times = lambda t_s: math.log(times) * (1.0 - math.exp(-t_s / settles_s))  # noqa: E731
    assert found_after_s(step, 15.0, ALL_BUT_HEAT) == math.inf


def test_a_rise_that_comes_to_rest_may_be_a_weight() -> None:
    assert found_after_s(swinging(1.0, 0.01), 30.0) == math.inf


@pytest.mark.parametrize(("mean", "swing", "swing_hz"), [(0.6, 0.3, 7.0), (1.2, 1.2, 1.5)])
def test_a_rise_that_is_small_or_swings_back_to_usual_may_be_a_weight(
    mean: float, swing: float, swing_hz: float
) -> None:
    assert found_after_s(swinging(mean, swing, swing_hz), 30.0, ALL_BUT_HEAT) == math.inf


@pytest.mark.parametrize(("slope_per_s", "begins_s"), [(0.15, 1.58), (0.4, 0.63)])
def test_a_rise_that_goes_on_is_no_weight_after_four_seconds(slope_per_s: float, begins_s: float) -> None:
    # They begin where means of 0.4 and 1 s are 0.06 apart: slope x [1 - exp(-t) - 0.4 (1 - exp(-t / 0.4))].
    assert found_after_s(lambda t_s: slope_per_s * t_s, 20.0) == pytest.approx(begins_s + 4.0, abs=0.35)


def test_the_first_weight_goes_on_rising_as_it_is_let_down() -> None:
    """Within 3.5 s from next to nothing to forty times as much: the means go on rising for longer than 4 s."""
    let_down: Times = lambda t_s: math.log(1.0 + 39.0 * min(1.0, t_s / 3.5))  # noqa: E731
    assert found_after_s(let_down, 15.0, is_first=True) == math.inf
    assert found_after_s(let_down, 15.0) < 5.0


def test_a_drag_that_comes_back_to_what_is_usual_goes_on_rising_and_is_no_scuffing() -> None:
    assert found_after_s(lambda t_s: min(0.3, -1.0 + 0.15 * t_s), 30.0) == math.inf


@pytest.mark.parametrize("lasts_s", [0.5, 1.5, 2.5])
def test_a_weight_that_is_set_down_within_less_may_be_one(lasts_s: float) -> None:
    assert found_after_s(lambda t_s: 1.2 * min(1.0, t_s / lasts_s), 30.0) == math.inf


def test_a_rise_slower_than_a_tenth_a_second_is_left_to_the_other_ways() -> None:
    assert found_after_s(lambda t_s: 0.085 * t_s, 20.0) == math.inf


def test_a_restless_level_is_kept_from_being_learned_for_eight_seconds() -> None:
    draw, track, no_weight = random.Random(2), Track(), NoWeight(NoWeightParams())
    is_open = []
    for k in range(4000):
        y = 0.0 if k < 3000 else swinging(1.0, 0.3)((k - 3000) * SLICE_S)
        track.update(y + draw.gauss(0.0, 0.0125), True, SLICE_S, Phase.HOLD if k >= 3000 else Phase.FOLLOW)
        no_weight.update(track, (), SLICE_S)
        is_open.append(no_weight.is_open)
    first = is_open.index(True)
    assert first == pytest.approx(3070, abs=30)
    assert sum(is_open) == pytest.approx(800, abs=1)
    assert all(is_open[first : first + 799])


def test_where_stick_slip_has_been_told_unrest_alone_has_to_last_for_longer() -> None:
    """Nearly until the level is learned; two further kinds still tell as soon as ever."""
    for has_swung, kinds, found_s in ((False, (), 4.7), (True, (), 8.2), (True, tuple(Kind), 3.9)):
        draw, track, no_weight = random.Random(2), Track(), NoWeight(NoWeightParams())
        first_s, open_slices = math.inf, 0
        for k in range(4000):
            y = 0.0 if k < 3000 else swinging(1.0, 0.3)((k - 3000) * SLICE_S)
            track.update(y + draw.gauss(0.0, 0.0125), True, SLICE_S, Phase.HOLD if k >= 3000 else Phase.FOLLOW)
            no_weight.update(track, kinds if k >= 3000 else (), SLICE_S, has_swung=has_swung)
            if no_weight.found:
                first_s = min(first_s, (k - 3000) * SLICE_S)
            open_slices += no_weight.is_open
        assert first_s == pytest.approx(found_s, abs=0.3)
        assert open_slices == pytest.approx(800, abs=1)


def test_an_unrest_of_a_twelfth_is_no_weights() -> None:
    """0.08 at three times the drag, eight times its own before: a contact that scuffs has not come to rest."""
    assert found_after_s(swinging(1.1, 0.13), 12.0) == pytest.approx(4.7, abs=0.5)


def test_a_weight_on_a_hanger_of_little_noise_has_come_to_rest_though_it_swings_more_than_the_hanger() -> None:
    """An unrest of 0.064 at 25 times the drag of a hanger, whose own was 0.01: six times as much, and no scuffing."""
    draw, track, no_weight = random.Random(2), Track(), NoWeight(NoWeightParams())
    for k in range(4000):
        y = draw.gauss(0.0, 0.0125) if k < 3000 else draw.gauss(3.2, 0.08)
        track.update(y, True, SLICE_S, Phase.HOLD if k >= 3000 else Phase.FOLLOW)
        no_weight.update(track, (), SLICE_S)
        assert not no_weight.found
