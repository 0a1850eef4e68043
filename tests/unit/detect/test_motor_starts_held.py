"""A motor that is switched on again while its ring is held, beside a tachometer that has said 0 for long. Made up here.

A pin that has welded to its ring as it cooled does that; a tachometer with pulses says exactly 0 of a ring at rest, and
is then too still to be told from a stuck one.
"""

import math
from collections.abc import Iterable

import pytest
from slice_makers import bad, make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_signs import MotorSigns
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


def by_current(restarts: list[float], load_n: float | None = 200.0) -> list[Finding]:
    """Give what is found without a tachometer: a start at 200 N, a run at 2 A, a stop, then currents at a load.

    Without a load cell where that is None.
    """
    bank = Bank(BankParams(motor=MotorParams(600.0, 0.6)))
    currents_a = [6.0] * 40 + [2.0] * 1_000 + [0.0] * 500 + restarts
    found = []
    for k, current_a in enumerate(currents_a):
        row = {CURRENT: current_a}
        if load_n is not None:
            row["normal_load_n"] = 200.0 if k < 1_540 else load_n
        found += bank.update(make(k, row)).new
    return found


@pytest.mark.parametrize(
    ("restarts", "load_n", "is_held"),
    [
        ([12.0] * 1_000, 200.0, True),  # six times what it ran at, for ten seconds
        ([12.0] * 40 + [2.1] * 960, 200.0, False),  # a surge that falls
        ([6.0] * 1_000, 200.0, False),  # a drive that starts gently, or a thicker oil
        ([12.0] * 1_000, 500.0, False),  # a heavier weight
    ],
)
def test_without_a_tachometer_a_current_that_does_not_fall_is_a_ring_that_is_held(
    restarts: list[float], load_n: float, is_held: bool
) -> None:
    found = by_current(restarts, load_n)
    assert [finding.kind for finding in found] == [FindingKind.STALL] * is_held
    assert all(
        finding.says
        == "Stall at start, by current alone: motor current 12.00 A, limit 7.99, and it has not fallen for 5.0 s."
        for finding in found
    )


def test_without_a_load_cell_it_takes_six_times_the_current() -> None:
    for current_a, is_held in ((10.0, False), (14.0, True)):
        assert [finding.kind for finding in by_current([current_a] * 1_000, None)] == [FindingKind.STALL] * is_held


def test_a_drive_that_starts_gently_beside_a_tachometer_torn_at_rest_is_none() -> None:
    """Half as much again as it ran at, and no speed: the ring may turn. Twice as much is a ring that is held."""
    first, *_ = found(RUNS + RESTS + [(STUCK, 3.0)] * 1_000)
    assert (first.kind, first.level) == (FindingKind.SPEED_SENSOR_LOST, Level.WARN)


def test_a_tachometer_that_drops_out_now_and_then_hides_no_held_ring() -> None:
    gone = bad(Reason.MISSING)
    held = [(gone if k % 40 == 0 else 0.0, 4.0) for k in range(1_000)]
    (stall,) = found(RUNS + [(0.0, 0.0)] * 100 + held)
    assert stall.kind is FindingKind.STALL


def switched_off(speeds_rpm: Iterable[float]) -> list[Finding]:
    """Give what is found of a current that says exactly 0 from 10 s on, and looks stuck from 12 s on."""
    current = SensorParams(CURRENT, 0.5, OnLoss.DEGRADE)
    bank = Bank(BankParams(sensors=(current,), motor=MotorParams(600.0, 0.6)))
    rows: list[tuple[float, ChannelSlice | float]] = [(595.0, 2.0)] * 1_000
    rows += [(rpm, 0.0 if k < 200 else bad(Reason.STUCK, 0.0)) for k, rpm in enumerate(speeds_rpm)]
    slices = (make(k, {SPEED: rpm, CURRENT: current_a}) for k, (rpm, current_a) in enumerate(rows))
    return [finding for s in slices for finding in bank.update(s).new]


def test_a_current_of_zero_while_the_ring_coasts_is_not_stuck() -> None:
    assert switched_off(600.0 * (1.0 - k / 800.0) for k in range(800)) == []


@pytest.mark.parametrize("rpm", [595.0, 560.0])
def test_a_current_of_zero_while_the_ring_turns_on_is_a_sensors(rpm: float) -> None:
    """A wire that breaks: whoever believed the zero would take the motor for switched off, and watch nothing."""
    (fault,) = switched_off([rpm + k % 2 for k in range(3_000)])
    assert (fault.kind, fault.channels) == (FindingKind.SENSOR_FAULT, (CURRENT,))
    assert fault.t_rig_s < 12.1


def test_nor_is_it_believed_once_a_scuffing_contact_slows_that_ring() -> None:
    found = switched_off(595.0 - 0.1 * k for k in range(3_000))
    assert [finding.kind for finding in found] == [FindingKind.SENSOR_FAULT]


def test_a_current_long_beyond_its_range_says_nothing_of_a_stop() -> None:
    """It jumped there in a run; 30 s later the motor is switched off, and it still says so."""
    beyond = bad(Reason.OVER_RANGE, 25.0)
    signs = MotorSigns(MotorParams(600.0, 0.6))
    for k in range(1_000):
        signs.read(make(k, {SPEED: 595.0, CURRENT: 2.0}))
        signs.learn(0.01)
    known = []
    for k in range(3_000):
        signs.read(make(1_000 + k, {SPEED: 595.0, CURRENT: beyond}))
        known.append(not math.isnan(signs.current_a))
    assert known.index(False) == pytest.approx(2_000, abs=2)
    assert not any(known[known.index(False) :])
