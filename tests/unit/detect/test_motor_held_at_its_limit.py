"""A ring that slows down and stands while its motor draws as before: a drive at its limit. Made up here; no source."""

import math

import pytest
from motor_bench import Bench, Row, row_of
from slice_makers import bad, good

from scuffwatch.detect.stall import MotorState
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import FindingKind

pytestmark = pytest.mark.slow

USUAL_A, RANGE_A, RUNS_RPM = 2.0, 2.4, 595.0


def slowing(lasts_s: float, current_a: float) -> list[Row]:
    """No friction is measured."""
    slices = round(100.0 * lasts_s)
    return [row_of(RUNS_RPM * (1.0 - (k + 1) / slices), current_a, math.nan) for k in range(slices)]


def standing(lasts_s: float, current_a: float) -> list[Row]:
    """The value changes, as a measured one does."""
    return [row_of(0.0, current_a + 0.001 * (k % 3), math.nan) for k in range(round(100.0 * lasts_s))]


def without_friction(rows: list[Row]) -> list[Row]:
    return [{name: value for name, value in row.items() if name != "friction_coefficient"} for row in rows]


def found_after(rows: list[Row]) -> tuple[Bench, list[FindingKind]]:
    bench = Bench()
    bench.start()
    bench.feed(without_friction(rows))
    return bench, bench.kinds


@pytest.mark.parametrize("lasts_s", [0.8, 1.5, 3.0])
def test_a_ring_that_stands_for_a_second_while_its_motor_draws_as_before_is_held(lasts_s: float) -> None:
    bench, kinds = found_after(slowing(lasts_s, USUAL_A) + standing(2.0, USUAL_A))
    assert kinds == [FindingKind.JAM]
    stood = 450 + round(100.0 * lasts_s) - round(2.0 * lasts_s)  # below 12 r/min it stands
    assert bench.found[0][0] - stood == pytest.approx(100, abs=2)


@pytest.mark.parametrize("share", [0.0, 0.5, 0.85])
def test_a_motor_that_draws_less_once_the_ring_stands_has_been_stopped(share: float) -> None:
    _, kinds = found_after(slowing(1.0, USUAL_A) + standing(0.6, USUAL_A) + standing(3.0, share * USUAL_A))
    assert FindingKind.JAM not in kinds
    assert FindingKind.STALL not in kinds


def test_a_tachometer_that_drifts_to_nothing_is_no_ring_that_is_held() -> None:
    _, kinds = found_after(slowing(10.0, USUAL_A) + standing(3.0, USUAL_A))
    assert FindingKind.JAM not in kinds
    assert FindingKind.STALL not in kinds


@pytest.mark.parametrize(("rubs", "is_held"), [(True, False), (False, True)])
def test_a_friction_that_goes_on_as_before_is_a_ring_that_turns(rubs: bool, is_held: bool) -> None:
    bench = Bench()
    bench.start()
    rows = slowing(1.0, USUAL_A) + standing(2.0, USUAL_A)
    bench.feed([{**row, "friction_coefficient": good(0.1 if rubs else 0.03)} for row in rows])
    assert (FindingKind.JAM in bench.kinds) is is_held


def test_a_tachometer_that_drops_out_over_two_gates_is_no_ring_that_is_held() -> None:
    gates = [row_of(rpm, USUAL_A, math.nan) for rpm in (430.0, 320.0) for _ in range(30)]
    _, kinds = found_after(gates + standing(3.0, USUAL_A))
    assert FindingKind.JAM not in kinds
    assert FindingKind.STALL not in kinds


def beyond(rows: list[Row]) -> list[Row]:
    """The same rows with a current above its range."""
    return [{**row, "motor_current_a": bad(Reason.OVER_RANGE, RANGE_A)} for row in rows]


def rising(to_a: float) -> list[Row]:
    return [row_of(RUNS_RPM, USUAL_A + (to_a - USUAL_A) * k / 100, math.nan) for k in range(100)]


def test_a_current_that_rose_beyond_its_range_holds_a_ring_that_slows_down_and_stands() -> None:
    _, kinds = found_after(rising(RANGE_A) + beyond(slowing(1.0, RANGE_A)) + beyond(standing(2.0, RANGE_A)))
    assert kinds == [FindingKind.JAM]


@pytest.mark.parametrize(("to_a", "before_s"), [(USUAL_A, 1.0), (RANGE_A, 25.0)])
def test_one_that_jumped_there_or_has_been_there_for_long_is_a_broken_sensors(to_a: float, before_s: float) -> None:
    runs = [row_of(RUNS_RPM, RANGE_A, math.nan)] * round(100.0 * before_s)
    _, kinds = found_after(rising(to_a) + beyond(runs) + beyond(slowing(1.0, RANGE_A)) + beyond(standing(2.0, RANGE_A)))
    assert FindingKind.JAM not in kinds
    assert FindingKind.STALL not in kinds


LOADED_N = 100.0


def at_speed(slices: int, load_n: float) -> list[Row]:
    return [{**row_of(RUNS_RPM, USUAL_A), "normal_load_n": good(load_n)} for _ in range(slices)]


@pytest.mark.parametrize(
    ("hole_s", "load_n", "state"),
    [
        (2.5, LOADED_N, MotorState.RUNNING),
        (3.5, LOADED_N, MotorState.STARTING),
        (2.5, 2.0 * LOADED_N, MotorState.STARTING),
    ],
)
def test_a_motor_at_its_speed_under_the_same_load_after_a_hole_of_less_than_three_seconds_has_run_on(
    hole_s: float, load_n: float, state: MotorState
) -> None:
    bench = Bench()
    bench.start()
    bench.feed(at_speed(300, LOADED_N))
    bench.feed(at_speed(5, load_n), gap_before_s=hole_s)
    assert bench.watch.state is state
    assert bench.found == []
