"""Weights on their way down, seen through cells of different speed: no scuffing. Made up here."""

import random

import pytest
from slice_makers import bad, make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level


def set_down(
    draw: random.Random, from_n: float, to_n: float, load_lags_s: float, noise_n: float = 0.3, thinned_n: float = 0.3
) -> list[Finding]:
    """Give what is found in a weight that comes down within 0.25 s, 20 s after the start.

    The friction cell answers at once; at the first load it reads `thinned_n` and nothing else.
    """
    watch, found, read_n = ScuffWatch(ScuffParams()), list[Finding](), from_n
    for k in range(3_000):
        share = min(1.0, max(0.0, (k - 2_000) / 25))
        load_n = from_n + (to_n - from_n) * share
        read_n += (load_n - read_n) * 0.01 / (load_lags_s + 0.01)
        friction_n = thinned_n if share == 0.0 else 0.105 * load_n
        row = {"normal_load_n": draw.gauss(read_n, noise_n), "friction_force_n": draw.gauss(friction_n, 0.05)}
        found += watch.update(make(k, row), running=True)
    return found


@pytest.mark.slow
def test_the_first_weight_after_a_hanger_is_no_scuffing_however_late_the_load_cell() -> None:
    for seed in range(5):
        assert set_down(random.Random(seed), 11.6, 150.0, load_lags_s=0.06) == []


@pytest.mark.slow
def test_a_weight_under_a_noisy_load_cell_is_no_scuffing() -> None:
    """From 16 to 36 N, where the noise of 1.2 N hides the first tenth of a second; friction goes up to 3.5 times."""
    for seed in range(10):
        assert set_down(random.Random(seed), 16.0, 36.0, load_lags_s=0.06, noise_n=1.2, thinned_n=1.0) == []


@pytest.mark.slow
@pytest.mark.parametrize("after_s", [0.6, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6, 2.0])
def test_scuffing_soon_after_a_weight_trips_and_is_not_learned_as_its_level(after_s: float) -> None:
    """Friction 2.1 times as high within 0.25 s, at whatever moment after the weight has come to rest."""
    draw, watch, found = random.Random(6), ScuffWatch(ScuffParams()), list[Finding]()
    onset = 2_050 + round(100 * after_s)
    for k in range(onset + 500):
        load_n = 1_876.0 + 279.0 * min(1.0, max(0.0, (k - 2_000) / 50))
        times = 1.0 + 1.1 * min(1.0, max(0.0, (k - onset) / 25))
        row = {"normal_load_n": draw.gauss(load_n, 6.0), "friction_force_n": draw.gauss(0.088 * load_n * times, 1.5)}
        found += watch.update(make(k, row), running=True)
    (trip_s,) = [finding.t_rig_s for finding in found if finding.level is Level.TRIP]
    assert 0.0 < trip_s - 0.01 * onset < 1.0


@pytest.mark.slow
def test_the_top_of_a_slow_swing_is_no_scuffing_though_the_room_gets_louder() -> None:
    """Stick-slip that has been told goes on slower, up to 1.8 times its mean, while a neighbour starts his machine."""
    draw, watch, found = random.Random(5), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(9_000):
        period_s, swing = (0.5, 0.35) if k < 7_000 else (1.6, 0.78)
        share = 0.0 if k < 4_000 else swing * (2.0 * ((k * 0.01 / period_s) % 1.0) - 1.0)
        row = {"normal_load_n": draw.gauss(80.0, 0.5), "friction_force_n": draw.gauss(6.0 * (1.0 + share), 0.1)}
        found += watch.update(make(k, row | {"sound_level_db": draw.gauss(77.0 if k > 7_000 else 70.0, 0.4)}), True)
    assert {finding.kind for finding in found} == {FindingKind.STICK_SLIP}


@pytest.mark.slow
def test_weights_that_are_taken_off_show_the_zero_of_a_cell_and_no_scuffing() -> None:
    """Its zero is off by -12 N; of 110 N four fifths go, and with them most of the 8 N that friction made up for."""
    draw, watch, found = random.Random(7), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(6_000):
        load_n = 110.0 - 85.0 * min(1.0, max(0.0, (k - 3_000) / 30))
        row = {"normal_load_n": draw.gauss(load_n, 2.0), "friction_force_n": draw.gauss(-12.0 + 0.075 * load_n, 0.5)}
        found += watch.update(make(k, row), running=True)
    assert [finding for finding in found if finding.level is Level.TRIP] == []


@pytest.mark.slow
def test_a_load_that_is_lost_while_a_weight_comes_to_rest_is_held_where_it_was() -> None:
    """Not at the hanger's 12 N before it: friction would be forty times as much for its load."""
    draw, watch, found = random.Random(8), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(4_000):
        load_n = 12.0 + 538.0 * min(1.0, max(0.0, (k - 2_000) / 40))
        load = draw.gauss(load_n, 0.5) if k < 2_120 else bad(Reason.OVER_RANGE, 560.0)
        row = {"normal_load_n": load, "friction_force_n": draw.gauss(0.11 * load_n, 0.2)}
        found += watch.update(make(k, row), running=True)
    assert [finding for finding in found if finding.level is Level.TRIP] == []


@pytest.mark.slow
def test_a_hanger_that_is_lifted_slowly_off_a_pin_that_drags_on_is_no_scuffing() -> None:
    """From 8 to 4 N within a second, under noise that hides the motion; friction gains a tenth of its 1.2 N."""
    for seed in range(5):
        draw, watch, found = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding]()
        for k in range(3_000):
            load_n = 8.0 - 4.0 * min(1.0, max(0.0, (k - 2_800) / 100))
            force_n = 1.2 + 0.1 * (8.0 - load_n) / 4.0
            row = {"normal_load_n": draw.gauss(load_n, 0.5), "friction_force_n": draw.gauss(force_n, 0.15)}
            found += watch.update(make(k, row), running=True)
        assert [finding for finding in found if finding.level is Level.TRIP] == []


def coarse_trips_s(converter_step_n: float) -> list[float]:
    """Give the trips under a hanger whose friction grows from a tenth of such a step to two steps, then to twelve."""
    draw, watch, found = random.Random(4), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(6_000):
        force_n = converter_step_n * (0.2 if k < 2_000 else 2.0 if k < 4_000 else 12.0)
        read_n = converter_step_n * round(draw.gauss(force_n, 0.2 * converter_step_n) / converter_step_n)
        row = {"normal_load_n": draw.gauss(19.5, 0.1), "friction_force_n": read_n}
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
def test_two_steps_of_a_coarse_converter_are_no_scuffing_and_twelve_are() -> None:
    assert coarse_trips_s(1.9) == pytest.approx([40.1], abs=0.1)


def set_down_again(mu_hanger: float, mu_after: float, load_lags_s: float = 0.05, seed: int = 1) -> list[float]:
    """Give the trips, from then on, where 1,200 N are lifted after 40 s, all but 9 N, and set down 8 s later."""
    draw, watch, found, read_n = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding](), 1_200.0
    for k in range(6_000):
        lifted = min(1.0, max(0.0, (k - 4_000) / 60)) - min(1.0, max(0.0, (k - 4_800) / 60))
        load_n = 9.0 + 1_191.0 * (1.0 - lifted)
        read_n += (load_n - read_n) * 0.01 / (load_lags_s + 0.01)
        mu = 0.1 if k < 4_060 else mu_hanger if k < 4_800 else mu_after
        row = {"normal_load_n": draw.gauss(read_n, 0.5), "friction_force_n": draw.gauss(mu * load_n, 0.3)}
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s - 48.0 for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
def test_a_contact_that_scuffed_while_its_weights_were_lifted_trips_as_they_come_down() -> None:
    """Under the hanger it drags eight times as much for its load, which is taken: at 9 N that may be a cell's zero."""
    (trip_s,) = set_down_again(0.8, 0.35)
    assert 0.2 < trip_s < 1.0


@pytest.mark.slow
@pytest.mark.parametrize("mu_hanger", [0.02, 0.1, 0.8])
@pytest.mark.parametrize("load_lags_s", [0.02, 0.1])
def test_weights_that_are_lifted_and_set_down_again_are_no_scuffing(mu_hanger: float, load_lags_s: float) -> None:
    for seed in range(3):
        assert set_down_again(mu_hanger, 0.115, load_lags_s, seed) == []


@pytest.mark.slow
@pytest.mark.parametrize("scuffs", [True, False])
def test_a_noisy_load_cell_does_not_forget_the_heaviest_load_as_its_lever_is_lifted(scuffs: bool) -> None:
    """8 % of noise hides the first second of the lift; then twice the weights come down, scuffed or not."""
    for seed in range(4):
        draw, watch, found = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding]()
        for k in range(4_700):
            lifted = min(1.0, max(0.0, (k - 4_000) / 120))
            back = min(1.0, max(0.0, (k - 4_400) / 60))
            load_n = 65.0 * (1.0 - lifted) + 120.0 * back
            mu = 0.3 if scuffs and k >= 4_300 else 0.05
            row = {"normal_load_n": draw.gauss(load_n, 5.0), "friction_force_n": draw.gauss(mu * load_n, 0.15)}
            found += watch.update(make(k, row), running=True)
        trips = [finding.t_rig_s for finding in found if finding.level is Level.TRIP]
        assert len(trips) == scuffs
        assert all(44.0 < trip_s < 45.2 for trip_s in trips)
