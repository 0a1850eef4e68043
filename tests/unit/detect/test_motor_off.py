"""A motor that is switched off, on a transducer whose zero is off: that is no start that fails. Made up here."""

import pytest
from slice_makers import make

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.finding import Finding, FindingKind

NO_LOAD_A, ZERO_A, SURGE_A = 0.6, 0.26, 6.0
AT_REST = [(0.0, ZERO_A)] * 6_000


def feed(rows: list[tuple[float, float]]) -> tuple[MotorWatch, list[tuple[int, Finding]]]:
    """Give the watch after rows of speed, r/min, and current, A, and what it found in which of them."""
    watch = MotorWatch(MotorParams(speed_set_rpm=600.0, no_load_current_a=NO_LOAD_A))
    found = []
    for k, (speed_rpm, current_a) in enumerate(rows):
        row = {"ring_speed_rpm": speed_rpm, "motor_current_a": current_a}
        found += [(k, finding) for finding in watch.update(make(k, row))]
    return watch, found


def test_a_current_of_less_than_any_motors_is_no_start_that_fails() -> None:
    """A minute at 0.43 of the current without load, then a real start."""
    start = [(600.0 * min(1.0, k / 50), SURGE_A) for k in range(50)] + [(595.0, 2.0)] * 400
    watch, found = feed(AT_REST + start)
    assert found == []
    assert watch.state is MotorState.RUNNING


def test_the_surge_of_the_start_after_it_is_a_start_current_still() -> None:
    """Limits that count after the start are armed once it has lasted too long: a minute of a zero error is no start."""
    watch, _ = feed(AT_REST)
    assert watch.state is MotorState.STARTING
    assert not watch.armed
    for k in range(20):
        watch.update(make(len(AT_REST) + k, {"ring_speed_rpm": 30.0 * k, "motor_current_a": SURGE_A}))
        assert not watch.armed


def test_a_start_that_fails_after_it_is_found_in_its_own_time() -> None:
    _, found = feed(AT_REST + [(0.0, SURGE_A)] * 700)
    ((index, finding),) = found
    assert finding.kind is FindingKind.STALL
    assert index - len(AT_REST) == pytest.approx(500, abs=60)
