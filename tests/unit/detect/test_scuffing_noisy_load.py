"""A load cell that is noisy, or lies: what is usual for friction must not follow it.

A rig with all mechanical channels and a sound meter. Made up here; no source.
"""

import math
import random
import re
from collections.abc import Callable, Iterator

import pytest
from slice_makers import bad, make

from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

HEALTHY_S = 30.0
Course = Callable[[float], float]


def one(t_s: float) -> float:
    return 1.0


def slices(
    seconds: float,
    friction: Course = one,
    load_n: Course = lambda t_s: 300.0,
    sound_db: Course = lambda t_s: 62.0,
    load_noise_n: float = 0.8,
    swings: Course = lambda t_s: 0.0,
) -> Iterator[Slice]:
    """Give a contact at 300 N and 30 N of friction; `friction` times that, and `swings` to either side at 1.5 Hz."""
    draw, wander = random.Random(6), 0.0
    for k in range(round(100.0 * seconds)):
        t_s = k / 100.0
        wander += (draw.gauss(0.0, 1.0) - wander) * 0.3
        swing = 1.0 + swings(t_s) * math.sin(math.tau * 1.5 * t_s)
        yield make(
            k,
            {
                "normal_load_n": load_n(t_s) + load_noise_n * wander * 2.4,
                "friction_force_n": max(0.0, draw.gauss(30.0 * friction(t_s) * swing, 0.4)),
                "sound_level_db": draw.gauss(sound_db(t_s), 0.3),
            },
        )


def found(rows: Iterator[Slice]) -> list[Finding]:
    """Give what is found where the friction cell's range is stated, so that its zero is off by no more than 0.2 N."""
    watch = ScuffWatch(ScuffParams(mechanics=MechanicsParams(friction_zero_n=0.2)))
    return [finding for s in rows for finding in watch.update(s, running=True)]


def trips_s(rows: Iterator[Slice]) -> list[float]:
    return [finding.t_rig_s for finding in found(rows) if finding.level is Level.TRIP]


def after(t_s: float, value: float, before: float) -> float:
    return value if t_s > HEALTHY_S else before


def test_a_noisy_load_is_not_in_motion() -> None:
    """3 % of noise that wanders over several slices, which is known after ten seconds; a weight is seen in it."""
    motion, draw, wander, moving = LoadMotion(), random.Random(2), 0.0, 0
    for k in range(12_000):
        wander += (draw.gauss(0.0, 1.0) - wander) * 0.3
        motion.update(300.0 + 9.0 * wander * 2.4, fresh=True, dt_s=0.01)
        moving += motion.moving and k > 1_000
    assert moving <= 220  # of 11,000
    for _ in range(60):
        wander += (draw.gauss(0.0, 1.0) - wander) * 0.3
        motion.update(390.0 + 9.0 * wander * 2.4, fresh=True, dt_s=0.01)
    assert motion.moving


@pytest.mark.slow
def test_friction_that_doubles_under_a_noisy_load_trips() -> None:
    """Within 10 s, swinging by a quarter, and louder by 13 dB."""

    def doubles(t_s: float) -> float:
        return 1.0 + min(1.0, max(0.0, t_s - HEALTHY_S) / 10.0)

    rows = slices(
        60.0,
        doubles,
        sound_db=lambda t_s: 62.0 + 13.0 * (doubles(t_s) - 1.0),
        load_noise_n=9.0,
        swings=lambda t_s: 0.25 * (doubles(t_s) - 1.0),
    )
    (trip_s,) = trips_s(rows)
    assert HEALTHY_S < trip_s < HEALTHY_S + 10.0


def test_a_level_learned_anew_at_the_same_load_is_not_learned_upwards_time_and_again() -> None:
    """Ten restarts, after each friction is up by a fifth: 1.25 times the first level is the most that is learned."""
    track = Track()
    for _ in range(1_000):
        track.update(0.0, True, 0.01, Phase.FOLLOW)
    for k in range(1, 11):
        track.begin_level(restart=True)
        for _ in range(310):
            track.update(math.log(1.2) * k, True, 0.01, Phase.FOLLOW)
    assert track.base <= math.log(1.25) + 0.1  # and the little that it follows upwards in half a minute
    assert track.rise > 1.4


@pytest.mark.slow
@pytest.mark.parametrize("rise", [2.0, 2.4])
def test_friction_that_stays_up_and_swings_down_to_usual_trips_where_it_is_louder(rise: float) -> None:
    """Its lowest is usual time and again, so neither a rise that keeps up nor one kind alone would say so."""

    def grows(t_s: float) -> float:
        return min(1.0, max(0.0, t_s - HEALTHY_S) / 40.0)

    rows = slices(
        80.0,
        lambda t_s: 1.0 + (rise - 1.0) * grows(t_s),
        sound_db=lambda t_s: 62.0 + 10.0 * grows(t_s),
        swings=lambda t_s: 0.5 * min(1.0, 4.0 * grows(t_s)),
    )
    (trip_s,) = trips_s(rows)
    assert trip_s < HEALTHY_S + 40.0


@pytest.mark.slow
def test_the_same_swing_about_an_unchanged_mean_is_stick_slip() -> None:
    rows = slices(60.0, sound_db=lambda t_s: after(t_s, 72.0, 62.0), swings=lambda t_s: after(t_s, 0.6, 0.0))
    assert {finding.kind for finding in found(rows)} == {FindingKind.STICK_SLIP}


def drifts(t_s: float) -> float:
    """Give a load cell that runs down to nothing in 8 s, N."""
    return 300.0 - 42.0 * min(8.0, max(0.0, t_s - HEALTHY_S))


@pytest.mark.slow
def test_a_load_that_goes_while_friction_stays_is_not_believed_and_said_so_once() -> None:
    (finding,) = found(slices(90.0, load_n=drifts))
    assert (finding.kind, finding.level) == (FindingKind.SENSOR_FAULT, Level.WARN)
    assert finding.t_rig_s == pytest.approx(HEALTHY_S + 8.0, abs=0.5)
    assert re.search(r"and friction force (29|30)\.\d N goes on as before; the load is not believed\.$", finding.says)


@pytest.mark.slow
def test_scuffing_is_found_on_a_rig_whose_load_is_not_believed() -> None:
    def scuffs(t_s: float) -> float:
        return 1.0 + 4.0 * min(1.0, max(0.0, t_s - HEALTHY_S - 20.0) / 1.0)

    rows = slices(70.0, scuffs, drifts, sound_db=lambda t_s: 62.0 + 10.0 * (t_s > HEALTHY_S + 20.5))
    (trip_s,) = trips_s(rows)
    assert HEALTHY_S + 20.0 < trip_s < HEALTHY_S + 22.0


@pytest.mark.slow
def test_a_load_cell_wired_the_wrong_way_round_is_said_so_and_scuffing_is_found_all_the_same() -> None:
    """-300 N from the first value on: no weight pulls. It trips as a rig without a load cell does."""

    def scuffs(t_s: float) -> float:
        return 1.0 + 9.0 * min(1.0, max(0.0, t_s - 30.0) / 0.5)

    fault, trip = found(slices(40.0, scuffs, lambda t_s: -300.0, sound_db=lambda t_s: 62.0 + 12.0 * (t_s > 30.5)))
    assert (fault.kind, fault.level) == (FindingKind.SENSOR_FAULT, Level.WARN)
    assert re.search(
        r"normal load −(29|30)\d\.\d N is negative under a contact with \d\d\.\d N of friction; the load is",
        fault.says,
    )
    assert trip.level is Level.TRIP
    assert 30.0 < trip.t_rig_s < 38.0


@pytest.mark.slow
def test_what_comes_on_under_a_load_cell_wired_the_wrong_way_round_may_be_a_weight() -> None:
    """Seven tenths more within 8 s, and louder: at a load that is measured that is scuffing, and here it is not."""

    def winds_on(t_s: float) -> float:
        return 1.0 + 0.7 * min(1.0, max(0.0, t_s - 30.0) / 8.0)

    for load_n, levels in ((-300.0, []), (300.0, [Level.TRIP])):
        rows = slices(60.0, winds_on, lambda t_s, n=load_n: n, sound_db=lambda t_s: 62.0 + 8.0 * (t_s > 30.5))
        assert [finding.level for finding in found(rows) if finding.level is Level.TRIP] == levels


def test_the_zero_of_a_load_cell_over_a_contact_that_does_not_rub_is_no_fault() -> None:
    assert found(slices(20.0, lambda t_s: 0.0, lambda t_s: -12.0)) == []
    assert found(slices(20.0, lambda t_s: 0.017, lambda t_s: -6.0)) == []  # 0.5 N off, beside 6 N off


@pytest.mark.slow
def test_weights_that_are_lifted_take_friction_with_them_and_are_believed() -> None:
    """Friction follows the load within 0.3 s; set down again, all is as it was."""

    def lifted(t_s: float) -> float:
        return 0.0 if 30.0 < t_s < 40.0 else 300.0

    def friction(t_s: float) -> float:
        return 0.01 if 30.3 < t_s < 40.0 else 1.0

    assert found(slices(70.0, friction, lifted)) == []


@pytest.mark.slow
def test_a_load_that_comes_back_is_measured_again() -> None:
    """A wire that is loose for 20 s: no trip when the load is 300 N again, and scuffing is found as ever."""

    def loose(t_s: float) -> float:
        return 0.0 if 30.0 < t_s < 50.0 else 300.0

    rows = slices(90.0, lambda t_s: 3.0 if t_s > 80.0 else 1.0, loose)
    findings = found(rows)
    assert [finding.kind for finding in findings] == [FindingKind.SENSOR_FAULT, FindingKind.SCUFFING_ONSET]
    assert findings[-1].t_rig_s == pytest.approx(80.1, abs=0.15)


@pytest.mark.slow
def test_a_load_at_the_least_that_counts_does_not_come_and_go_with_its_noise() -> None:
    """A first weight of 5 N, where 5 N is the least: scuffing under it is found as under any other."""
    rows = slices(50.0, lambda t_s: after(t_s, 0.25, 0.06), lambda t_s: 5.0, load_noise_n=0.15)
    (trip_s,) = trips_s(rows)
    assert trip_s == pytest.approx(HEALTHY_S + 0.15, abs=0.15)


def test_a_small_weight_on_a_light_noisy_load_is_a_weight() -> None:
    """From 4.5 to 7 N within a quarter of a second, with 4 % of noise: friction goes up with the film it thins."""
    motion, draw = LoadMotion(), random.Random(5)
    moved = []
    for k in range(3_000):
        load_n = 4.5 + 2.5 * min(1.0, max(0.0, (k - 2_000) / 25))
        motion.update(load_n + draw.gauss(0.0, 0.18), fresh=True, dt_s=0.01)
        moved.append(motion.moving)
    assert sum(moved[1_000:2_000]) <= 80
    assert any(moved[2_000:2_020])


@pytest.mark.slow
def test_a_noisy_cell_whose_mean_is_below_nothing_and_that_leaves_its_range_is_only_not_believed() -> None:
    """A lifted lever: -2 N with a noise of 10, and now and then below a range that ends at -25."""
    for seed in range(3):
        draw, watch = random.Random(seed), ScuffWatch(ScuffParams())
        for k in range(3_000):
            load_n = draw.gauss(-2.0, 10.0)
            load = load_n if load_n > -25.0 else bad(Reason.UNDER_RANGE, load_n)
            row = {"normal_load_n": load, "friction_force_n": draw.gauss(0.0, 0.1)}
            found = watch.update(make(k, row), running=True)
            assert all(finding.level is not Level.TRIP for finding in found)


def slow_trips(lasts: int) -> list[Finding]:
    """Give the trips of ten values a second, of which so many in a row are three times usual, 60 s after the start."""
    draw, watch, found = random.Random(3), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(900):
        force_n = 30.0 * (3.0 if 600 <= k < 600 + lasts else 1.0)
        row = {"normal_load_n": draw.gauss(300.0, 1.0), "friction_force_n": draw.gauss(force_n, 0.5)}
        found += watch.update(make(k, row, duration_s=0.1), running=True)
    return [finding for finding in found if finding.level is Level.TRIP]


def test_on_a_slow_rig_a_spike_of_two_values_is_no_scuffing_and_half_a_second_is() -> None:
    assert slow_trips(2) == []
    (trip,) = slow_trips(30)
    assert trip.t_rig_s < 60.5


@pytest.mark.slow
def test_a_lever_that_is_lifted_under_a_noisy_cell_leaves_no_zero_error_as_scuffing() -> None:
    """80 N fall to 16 within 0.6 s while the force, most of it its cell's zero, goes from 8.8 to 11.5 N."""
    draw = random.Random(4)

    def lifted(t_s: float) -> float:
        return min(1.0, max(0.2, 1.0 - (t_s - HEALTHY_S) / 0.75))

    rows = [
        make(
            k,
            {
                "normal_load_n": draw.gauss(80.0 * lifted(k / 100.0), 9.0),
                "friction_force_n": draw.gauss(8.8 + 3.4 * (1.0 - lifted(k / 100.0)), 0.3),
            },
        )
        for k in range(round(100.0 * HEALTHY_S) + 60)
    ]
    assert trips_s(iter(rows)) == []


def drifting_off(t_s: float) -> float:
    """Give 300 N that drift by 4 N a second to 100, while the lever twitches: then the level begins anew."""
    return (300.0 - 4.0 * max(0.0, t_s - HEALTHY_S)) * (1.07 if t_s > HEALTHY_S and t_s % 6.0 < 0.1 else 1.0)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("load_n", "began_n"), [(drifting_off, 244.0), (lambda t_s: after(t_s - 46.0, 100.0, 300.0), 100.0)]
)
def test_what_a_drifting_load_began_at_is_remembered_and_a_weight_taken_off_is_not(
    load_n: Course, began_n: float
) -> None:
    """By so much as the load has gone down since, an unchanged force is a larger share of it and no scuffing."""
    watch = ScuffWatch(ScuffParams())
    for s in slices(HEALTHY_S + 50.0, load_n=load_n):
        watch.update(s, running=True)
    assert watch._hung.began_n == pytest.approx(began_n, rel=0.03)


@pytest.mark.slow
def test_scuffing_after_weights_were_taken_off_at_once_is_found_by_its_share_of_what_is_left() -> None:
    rows = slices(
        HEALTHY_S + 30.0,
        friction=lambda t_s: 0.5 * (1.0 + min(1.5, max(0.0, t_s - 50.0) / 0.5)) if t_s > HEALTHY_S else 1.0,
        load_n=lambda t_s: after(t_s, 150.0, 300.0),
    )
    (trip_s, *_) = trips_s(rows)
    assert 50.0 < trip_s < 51.0
