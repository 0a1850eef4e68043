"""A motor current that goes while the ring goes on is a lost transducer, and scuffing is still seen; a ring that
coasts, or a tachometer that holds its value, is no such thing. Made up here; no source."""

import math
import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.lost_current import LostCurrent
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.stall import MotorState
from scuffwatch.model.finding import Finding, FindingKind, Level

SPEED_RPM, RUNS_A, GONE_S = 600.0, 1.6, 20.0


def watched(
    current_a: Callable[[float], float],
    speed_rpm: Callable[[float], float],
    until_s: float,
    times: Callable[[float], float] = lambda t_s: 1.0,
) -> tuple[Bank, list[Finding]]:
    """Give the bank after a run whose current, speed and friction over usual follow from the time, and its findings."""
    draw = random.Random(4)
    bank, found = Bank(BankParams(motor=MotorParams(SPEED_RPM, 0.8), scuffing=ScuffParams())), list[Finding]()
    for k in range(round(100 * until_s)):
        t_s = 0.01 * k
        friction_n = 20.0 * times(t_s)
        row = {
            "normal_load_n": draw.gauss(200.0, 0.8),
            "friction_force_n": draw.gauss(friction_n, 0.02 * friction_n),
            "motor_current_a": draw.gauss(current_a(t_s), 0.01),
            "ring_speed_rpm": speed_rpm(t_s) * (1.0 if speed_rpm(t_s) == 0.0 else draw.gauss(1.0, 0.002)),
        }
        found += bank.update(make(k, row)).new
    return bank, found


def starts(t_s: float) -> float:
    return min(SPEED_RPM, SPEED_RPM * t_s / 0.5)


def fades(t_s: float) -> float:
    """Give a current that drifts to nothing within 5 s."""
    return RUNS_A * min(1.0, max(0.0, 1.0 - (t_s - GONE_S) / 5.0))


@pytest.mark.slow
def test_a_current_that_fades_while_the_ring_goes_on_is_named_once_and_scuffing_is_still_seen() -> None:
    bank, found = watched(fades, starts, 45.0, lambda t_s: 1.0 + 2.0 * min(1.0, max(0.0, (t_s - 40.0) / 0.3)))
    named = [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]
    assert [(finding.level, finding.channels) for finding in named] == [(Level.WARN, ("motor_current_a",))]
    assert GONE_S < named[0].t_rig_s < GONE_S + 10.0
    assert "the current is not believed" in named[0].says
    trips = [finding for finding in found if finding.level is Level.TRIP]
    assert [finding.kind for finding in trips] == [FindingKind.SCUFFING_ONSET]
    assert 40.0 < trips[0].t_rig_s < 40.3
    assert named[0] in bank.standing
    assert "jam" in " ".join(bank.blind_to)


@pytest.mark.slow
def test_a_current_that_is_gone_before_the_first_start_is_named_and_scuffing_is_still_seen() -> None:
    bank, found = watched(lambda t_s: 0.0, starts, 45.0, lambda t_s: 1.0 + 2.0 * min(1.0, max(0.0, (t_s - 40.0) / 0.3)))
    named = [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]
    assert [(finding.level, finding.channels) for finding in named] == [(Level.WARN, ("motor_current_a",))]
    assert named[0].t_rig_s < 6.0
    trips = [finding for finding in found if finding.level is Level.TRIP]
    assert [finding.kind for finding in trips] == [FindingKind.SCUFFING_ONSET]
    assert 40.0 < trips[0].t_rig_s < 40.3
    assert named[0] in bank.standing


def test_a_ring_that_is_turned_by_hand_and_runs_out_has_no_lost_current() -> None:
    """Up to 90 r/min within a second, and down again as it coasts, three times; the motor was never on."""

    def by_hand(t_s: float) -> float:
        since_s = t_s % 10.0
        return 90.0 * since_s if since_s < 1.0 else 90.0 * math.exp(-(since_s - 1.0) / 20.0)

    assert watched(lambda t_s: 0.0, by_hand, 30.0)[1] == []


@pytest.mark.slow
@pytest.mark.parametrize("memory_s", [0.5, 5.0, 40.0])
def test_a_ring_that_coasts_has_a_motor_that_is_switched_off(memory_s: float) -> None:
    def coasts(t_s: float) -> float:
        return starts(t_s) * math.exp(-max(0.0, t_s - GONE_S) / memory_s)

    bank, found = watched(lambda t_s: RUNS_A if t_s < GONE_S else 0.0, coasts, 40.0)
    assert [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT] == []
    assert bank._motor is not None
    assert bank._motor.state is MotorState.STOPPED


def test_a_motor_that_starts_slowly_at_another_speed_has_its_current() -> None:
    """After a run at 300 r/min it takes 20 s to 600, of which 300 to 600 last ten."""
    watch, found, draw = LostCurrent(), list[Finding](), random.Random(5)
    for k in range(4_000):
        speed_rpm = 300.0 if k < 1_000 else max(0.0, min(600.0, 0.3 * (k - 1_500)))
        row = {
            "motor_current_a": 0.0 if 1_000 <= k < 1_500 else 2.0,
            "ring_speed_rpm": speed_rpm + draw.gauss(0.0, 0.5),
        }
        found += watch.update(make(k, row), runs=k < 1_000 or k >= 3_700, off_current_a=0.24)
    assert found == []
    assert not watch.is_lost


def test_a_tachometer_that_holds_its_last_value_shows_no_ring_that_goes_on() -> None:
    bank = Bank(BankParams(motor=MotorParams(SPEED_RPM, 0.8)))
    found = list[Finding]()
    for k in range(4_000):
        row = {"motor_current_a": RUNS_A if k < 2_000 else 0.0, "ring_speed_rpm": min(SPEED_RPM, 12.0 * k)}
        found += bank.update(make(k, row)).new
    assert found == []


@pytest.mark.slow
def test_a_current_that_comes_back_is_believed_again() -> None:
    bank, found = watched(lambda t_s: fades(t_s) if t_s < 35.0 else RUNS_A, starts, 40.0)
    assert len([finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]) == 1
    assert bank.standing == ()
    assert bank._motor is not None
    assert bank._motor.state is MotorState.RUNNING
