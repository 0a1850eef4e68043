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
