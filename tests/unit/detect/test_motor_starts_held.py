"""A motor that is switched on again while its ring is held, beside a tachometer that has said 0 for long. Made up here.

A pin that has welded to its ring as it cooled does that; a tachometer with pulses says exactly 0 of a ring at rest, and
is then too still to be told from a stuck one.
"""

import pytest
from slice_makers import bad, make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.sensor_fault import SensorParams
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import OnLoss, Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

SPEED, CURRENT = "ring_speed_rpm", "motor_current_a"
STUCK = bad(Reason.STUCK, 0.0)
RUNS = [(595.0, 2.0)] * 1_000
RESTS = [(0.0, 0.0)] * 300 + [(STUCK, 0.0)] * 700
HELD = [(STUCK, 6.0)] * 1_000
STARTS_UNSEEN = [(STUCK, 6.0)] * 50 + [(STUCK, 2.1)] * 950


def found(rows: list[tuple[ChannelSlice | float, float]]) -> list[Finding]:
    """Give what a bank with a tachometer that must not be lost in silence finds in rows of speed and current."""
    tachometer = SensorParams(SPEED, 0.5, OnLoss.DEGRADE)
    motor = MotorParams(600.0, 0.6, speed_lost_level=Level.WARN)
    bank = Bank(BankParams(sensors=(tachometer,), motor=motor))
    slices = (make(k, {SPEED: speed, CURRENT: current_a}) for k, (speed, current_a) in enumerate(rows))
    return [finding for s in slices for finding in bank.update(s).new]


def test_a_ring_that_came_to_rest_and_does_not_turn_again_is_a_stall_at_the_start() -> None:
    (stall,) = found(RUNS + RESTS + HELD)
    assert (stall.kind, stall.level) == (FindingKind.STALL, Level.TRIP)
    assert stall.t_rig_s == pytest.approx(20.0 + 5.0, abs=0.1)


@pytest.mark.parametrize("then", [RESTS + STARTS_UNSEEN, [(0.0, 2.0)] * 300 + [(STUCK, 2.0)] * 700])
def test_a_motor_that_runs_by_its_current_has_lost_its_tachometer(
    then: list[tuple[ChannelSlice | float, float]],
) -> None:
    """Its current has fallen from its surge; or the tachometer was lost in the run, and is named as stuck as well."""
    first, *more = found(RUNS + then)
    assert first.kind is FindingKind.SPEED_SENSOR_LOST
    assert {finding.level for finding in (first, *more)} == {Level.WARN}


def test_a_tachometer_that_has_never_shown_a_turning_ring_is_not_believed() -> None:
    (fault,) = found(RESTS + HELD)
    assert fault.kind is FindingKind.SENSOR_FAULT


def by_current(restarts: list[float], load_n: float = 200.0) -> list[Finding]:
    """Give what is found without a tachometer: a start at 200 N, a run at 2 A, a stop, then currents at a load."""
    bank = Bank(BankParams(motor=MotorParams(600.0, 0.6)))
    rows = [(6.0, 200.0)] * 40 + [(2.0, 200.0)] * 1_000 + [(0.0, 200.0)] * 500 + [(a, load_n) for a in restarts]
    slices = (make(k, {CURRENT: current_a, "normal_load_n": load}) for k, (current_a, load) in enumerate(rows))
    return [finding for s in slices for finding in bank.update(s).new]


@pytest.mark.parametrize(
    ("restarts", "load_n", "is_held"),
    [
        ([12.0] * 1_000, 200.0, True),  # six times what it ran at, for ten seconds
        ([12.0] * 40 + [2.1] * 960, 200.0, False),  # a surge that falls
        ([4.5] * 1_000, 200.0, False),  # a drive that starts gently, or a thicker oil
        ([7.0] * 1_000, 500.0, False),  # a heavier weight
    ],
)
def test_without_a_tachometer_a_current_that_does_not_fall_is_a_ring_that_is_held(
    restarts: list[float], load_n: float, is_held: bool
) -> None:
    found = by_current(restarts, load_n)
    assert [finding.kind for finding in found] == [FindingKind.STALL] * is_held
    assert all(finding.says.startswith("Stall at start, by current alone: motor current 12") for finding in found)


def test_a_current_that_says_nothing_but_zero_while_the_ring_coasts_is_not_stuck() -> None:
    """Its zero is exactly 0 for 5 s, by when it would be too still to be believed; the ring comes to rest after 8."""
    coasts = [600.0 * (1.0 - k / 800.0) for k in range(800)]
    current = SensorParams(CURRENT, 0.5, OnLoss.DEGRADE)
    bank = Bank(BankParams(sensors=(current,), motor=MotorParams(600.0, 0.6)))
    rows: list[tuple[float, ChannelSlice | float]] = [(595.0, 2.0)] * 1_000
    rows += [(speed, 0.0 if k < 200 else bad(Reason.STUCK, 0.0)) for k, speed in enumerate(coasts)]
    slices = (make(k, {SPEED: speed, CURRENT: current_a}) for k, (speed, current_a) in enumerate(rows))
    assert [finding for s in slices for finding in bank.update(s).new] == []


def test_a_current_long_beyond_its_range_says_nothing_of_a_stop() -> None:
    """It jumped there in a run; 30 s later the motor is switched off, and it still says so."""
    beyond = bad(Reason.OVER_RANGE, 25.0)
    bank = Bank(BankParams(motor=MotorParams(600.0, 0.6)))
    rows: list[tuple[float, ChannelSlice | float]] = [(595.0, 2.0)] * 1_000 + [(595.0, beyond)] * 3_000
    rows += [(max(0.0, 595.0 - 4.0 * k), beyond) for k in range(500)]
    slices = (make(k, {SPEED: speed, CURRENT: current_a}) for k, (speed, current_a) in enumerate(rows))
    assert [finding for s in slices for finding in bank.update(s).new if finding.level is Level.TRIP] == []
