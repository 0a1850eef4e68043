"""A motor that is switched off, on a transducer whose zero is off: that is no start that fails. Made up here."""

import pytest
from slice_makers import bad, good, make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.limits import LimitParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.sensor_fault import SensorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.channel import OnLoss, Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

NO_LOAD_A, ZERO_A, SURGE_A = 0.6, 0.26, 6.0
PARAMS = MotorParams(speed_set_rpm=600.0, no_load_current_a=NO_LOAD_A)
TACHOMETER = SensorParams("ring_speed_rpm", 0.5, OnLoss.DEGRADE)
AT_REST = [(0.0, ZERO_A)] * 6_000


def feed(rows: list[tuple[float, float]]) -> tuple[MotorWatch, list[tuple[int, Finding]]]:
    """Give the watch after rows of speed, r/min, and current, A, and what it found in which of them."""
    watch = MotorWatch(PARAMS)
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


@pytest.mark.parametrize("current_a", [ZERO_A, 0.1])
def test_a_tachometer_that_says_0_beside_it_is_not_stuck(current_a: float) -> None:
    """Whether the zero error is above what counts as off or below, the ring stands, and its tachometer is believed."""
    bank, found = Bank(BankParams(sensors=(TACHOMETER,), motor=PARAMS)), list[Finding]()
    runs = [(600.0 * min(1.0, k / 50), SURGE_A if k < 50 else 2.0, False) for k in range(500)]
    coasts = [(max(0.0, 595.0 - 2.0 * k), current_a, False) for k in range(300)]
    for k, (speed_rpm, amps, is_stuck) in enumerate([*runs, *coasts, *[(0.0, current_a, True)] * 3_000]):
        speed = bad(Reason.STUCK, speed_rpm) if is_stuck else good(speed_rpm)
        result = bank.update(make(k, {"ring_speed_rpm": speed, "motor_current_a": amps}))
        found += result.new
    assert found == []
    assert result.ring_turning is False


def test_a_start_after_long_rest_finds_its_tachometer_in_place_and_its_surge_no_overload() -> None:
    """What has said 0 for so long that it is not believed is believed again with another value, 0.3 s later."""
    overload = LimitParams.above("motor_current_a", 5.0, 0.04, (FindingKind.OVERLOAD, Level.TRIP, "Overload"), True)
    bank, found = Bank(BankParams((overload,), (TACHOMETER,), PARAMS)), list[Finding]()
    for k in range(4_000):
        since_s = 0.01 * (k - 3_000)
        speed = bad(Reason.STUCK, 0.0) if k >= 500 and since_s < 0.3 else good(max(0.0, min(600.0, 300.0 * since_s)))
        current_a = ZERO_A if since_s < 0.0 else SURGE_A if since_s < 0.8 else 2.0
        found += bank.update(make(k, {"ring_speed_rpm": speed, "motor_current_a": current_a})).new
    assert found == []
    assert bank._motor is not None
    assert bank._motor.state is MotorState.RUNNING


def test_a_tachometer_that_does_not_stir_within_a_second_of_the_start_is_stuck() -> None:
    bank, found = Bank(BankParams(sensors=(TACHOMETER,), motor=PARAMS)), list[Finding]()
    for k in range(1_400):
        speed = bad(Reason.STUCK, 0.0) if k >= 500 else good(0.0)
        found += bank.update(make(k, {"ring_speed_rpm": speed, "motor_current_a": 0.0 if k < 1_000 else 2.0})).new
    (finding,) = [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]
    assert finding.t_rig_s == pytest.approx(11.03, abs=0.1)
