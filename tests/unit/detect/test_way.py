"""Which way friction pulls: a cell that drifts through zero is not believed, one of swapped wires is. Made up here."""

import math
import random

import pytest
from slice_makers import bad, make

from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.way import Way
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

FRICTION_N = 20.0


def believed(forces_n: list[float], rubs: bool = True) -> list[bool]:
    way, draw = Way(), random.Random(1)
    return [not math.isnan(way.take(force_n + draw.gauss(0.0, 0.2), rubs, 200.0, 0.01)) for force_n in forces_n]


def drift(rate_n_s: float, lasts_s: float) -> list[float]:
    return [FRICTION_N + rate_n_s * k * 0.01 for k in range(round(lasts_s * 100))]


@pytest.mark.parametrize("rate_n_s", [-1.0, -5.0, -20.0])
def test_a_cell_that_drifts_through_zero_is_not_believed_from_there(rate_n_s: float) -> None:
    crosses_s = FRICTION_N / -rate_n_s
    found = believed([FRICTION_N] * 1_000 + drift(rate_n_s, 3.0 * crosses_s))
    first_s = found.index(False) * 0.01 - 10.0
    assert crosses_s <= first_s <= crosses_s + 1.0
    assert not any(found[round((11.0 + crosses_s) * 100) :])


def test_swapped_wires_turn_the_sign_at_once_and_go_on_being_believed() -> None:
    assert all(believed([FRICTION_N] * 1_000 + [-FRICTION_N] * 1_000))


def test_noise_about_zero_is_neither_way() -> None:
    draw = random.Random(3)
    assert all(believed([draw.gauss(0.0, 2.0) for _ in range(6_000)]))


def test_stick_slip_that_swings_below_zero_is_believed() -> None:
    assert all(believed([FRICTION_N * (1.0 + 1.3 * math.sin(k / 3.0)) for k in range(6_000)]))


def test_without_a_load_or_a_turning_ring_any_way_will_do() -> None:
    assert all(believed([FRICTION_N] * 1_000 + drift(-20.0, 3.0), rubs=False))


def test_it_is_believed_again_once_it_pulls_the_old_way() -> None:
    found = believed([FRICTION_N] * 1_000 + drift(-20.0, 2.0) + [FRICTION_N] * 100)
    assert not found[1_150]
    assert found[-50]


def run(friction_n: list[float | None]) -> list[Finding]:
    """Give what the detector finds in a friction force at 200 N; None is one below its range."""
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), []
    for k, value in enumerate(friction_n):
        force = bad(Reason.UNDER_RANGE, -4.5) if value is None else value + draw.gauss(0.0, 0.2)
        spike = 4.0 if k == 4_000 else 1.0
        row = {"normal_load_n": draw.gauss(200.0, 0.5), "friction_force_n": force}
        found += watch.update(make(k, row | {"motor_current_a": spike * draw.gauss(1.6, 0.01)}), running=True)
    return found


@pytest.mark.slow
def test_a_drift_through_zero_is_a_sensor_fault_that_is_told_once_and_no_scuffing() -> None:
    (finding,) = [f for f in run([FRICTION_N] * 2_000 + drift(-8.0, 10.0)) if f.level >= Level.WARN]
    assert (finding.kind, finding.level) == (FindingKind.SENSOR_FAULT, Level.WARN)
    assert finding.says.endswith("has come through zero under load; it is not believed.")


@pytest.mark.slow
def test_swapped_wires_are_told_each_time_and_the_size_is_believed() -> None:
    """There and back again; then it scuffs."""
    swaps = [FRICTION_N] * 2_000 + [-FRICTION_N] * 1_000 + [FRICTION_N] * 1_000
    *faults, trip = (f for f in run([*swaps, *(4.0 * FRICTION_N,) * 50]) if f.level >= Level.WARN)
    assert [(f.kind, f.level) for f in faults] == [(FindingKind.SENSOR_FAULT, Level.WARN)] * 2
    assert [round(f.t_rig_s) for f in faults] == [20, 30]
    assert faults[0].says.startswith("Sensor fault: friction force \u221220.")
    assert faults[0].says.endswith(" N has turned its sign; its size is believed.")
    assert (trip.kind, trip.level) == (FindingKind.SCUFFING_ONSET, Level.TRIP)


@pytest.mark.slow
def test_a_spike_long_after_the_friction_force_has_left_its_range_is_no_scuffing() -> None:
    """It left its range downwards, half a minute before the motor's current showed a spike."""
    assert [f for f in run([FRICTION_N] * 1_000 + [None] * 4_000) if f.level is Level.TRIP] == []


@pytest.mark.slow
def test_a_lever_that_is_lifted_to_a_hanger_leaves_only_the_cells_zero() -> None:
    """From 200 N to 9 N, which still counts as a load; the cell's zero is off by -0.7 N."""
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), []
    for k in range(7_000):
        up = 3_000 <= k < 4_000
        row = {"normal_load_n": draw.gauss(9.0 if up else 200.0, 0.5)}
        row["friction_force_n"] = draw.gauss(-0.7 if up else FRICTION_N, 0.05)
        found += watch.update(make(k, row), running=True)
    assert found == []


@pytest.mark.slow
def test_a_cell_whose_zero_is_off_has_shown_no_way() -> None:
    """By -1 N at 100 N, while a film forms: friction comes up through zero."""
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), []
    for k in range(6_000):
        force_n = -1.0 + 2.5 * min(1.0, max(0.0, (k - 2_000) / 2_000))
        row = {"normal_load_n": draw.gauss(100.0, 0.5), "friction_force_n": draw.gauss(force_n, 0.03)}
        found += watch.update(make(k, row), running=True)
    assert [f for f in found if f.kind is FindingKind.SENSOR_FAULT] == []


@pytest.mark.slow
def test_on_a_light_hanger_a_force_within_the_cells_zero_shows_no_way() -> None:
    """Under 9 N, where a cell of 400 N has read 0.5 N and reads -0.2 N once the ring has warmed its grease."""
    draw, found = random.Random(4), []
    watch = ScuffWatch(ScuffParams(mechanics=MechanicsParams(friction_zero_n=0.4)))
    for k in range(6_000):
        row = {"normal_load_n": draw.gauss(9.0, 0.3), "friction_force_n": draw.gauss(0.5 - 0.7 * k / 6_000, 0.02)}
        found += watch.update(make(k, row), running=True)
    assert found == []


@pytest.mark.parametrize(("lifted_s", "is_believed_after"), [(5.0, False), (9.9, False), (11.0, True)])
def test_a_weight_gives_a_cell_that_has_drifted_away_no_credit_and_a_stop_does(
    lifted_s: float, is_believed_after: bool
) -> None:
    """From 20 N through zero to -20 N; then the lever is lifted, or the motor stands."""
    way, found = Way(), list[bool]()
    for k in range(6_000):
        force_n = max(FRICTION_N - 0.05 * max(0, k - 1_000), -FRICTION_N)
        rubs = not 2_000 <= k < 2_000 + round(100 * lifted_s)
        found.append(not math.isnan(way.take(force_n, rubs, 200.0, 0.01)))
    assert not any(found[1_500:2_000])
    assert found[-1] is is_believed_after


def test_a_cell_that_springs_back_through_zero_shows_no_friction_meanwhile() -> None:
    """A stick-slip that lets go: for 0.05 s the cell reads as much the other way."""
    way = Way()
    for _ in range(1_000):
        way.take(FRICTION_N, True, 200.0, 0.01)
    assert [way.take(-FRICTION_N, True, 200.0, 0.01) for _ in range(5)] == [0.0] * 5
    assert way.take(FRICTION_N, True, 200.0, 0.01) == FRICTION_N


@pytest.mark.slow
def test_stick_slip_whose_cell_springs_back_is_no_scuffing() -> None:
    """A saw up to 1.85 times usual once in 0.9 s; as it lets go the cell reads 2.5 times the other way for 0.08 s."""
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(5_000):
        after_s = max(0.0, 0.01 * k - 30.0) % 0.9
        saws = 1.0 if k < 3_000 else -2.5 if 0.0 < after_s <= 0.08 else 0.15 + 1.7 * after_s / 0.9
        row = {"normal_load_n": draw.gauss(200.0, 0.8), "friction_force_n": draw.gauss(FRICTION_N * saws, 0.4)}
        found += watch.update(make(k, row), running=True)
    assert [finding.says for finding in found if finding.level is Level.TRIP] == []


@pytest.mark.parametrize("seed", range(20))
def test_a_zero_error_under_a_hanger_that_noise_hides_is_no_way(seed: int) -> None:
    """-1.2 N of zero error and friction, noise of 2 N with a memory of 0.3 s, under 16 N; the range is not stated."""
    way, draw, slow_n = Way(), random.Random(seed), 0.0
    for _ in range(3_000):
        slow_n += -0.033 * slow_n + draw.gauss(0.0, 0.26)
        way.take(-1.2 + slow_n + draw.gauss(0.0, 1.6), True, 16.0, 0.01)
    assert (way.swaps, way.is_reversed) == (0, False)


def test_a_way_is_followed_for_a_second_before_it_is_one() -> None:
    way = Way()
    assert [way.take(force_n, True, 16.0, 0.01) for force_n in [1.9] * 50 + [-1.9] * 50][-1] == -1.9
    assert way.swaps == 0


def test_one_value_of_ten_a_second_is_a_spike_and_swaps_no_wires() -> None:
    way = Way()
    for force_n in [FRICTION_N] * 100 + [-4.0 * FRICTION_N] + [FRICTION_N] * 20:
        way.take(force_n, True, 200.0, 0.1)
    assert way.swaps == 0
    assert way.take(FRICTION_N, True, 200.0, 0.1) == FRICTION_N
