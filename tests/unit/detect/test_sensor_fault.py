"""Sensor faults: how long a channel may be BAD, what its loss means, what is said of it, and what a start may do."""

from collections.abc import Iterable

import pytest
from slice_makers import bad, good, make, sequence

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.sensor_fault import SensorFault, SensorFaults, SensorParams
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import OnLoss, Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

PIN, FORCE = "pin_temperature_degc", "friction_force_n"
PARAMS = SensorParams(PIN, 0.25, OnLoss.TRIP)


def run(fault: SensorFault, values) -> list[tuple[int, Finding]]:
    rows = ({} if value is None else {PIN: value} for value in values)
    return [(s.index, finding) for s in sequence(rows) for finding in fault.update(s)]


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (bad(Reason.SATURATED, 412.0), "saturated at 412.0 °C for 0.25 s, limit 0.25"),
        (bad(Reason.OVER_RANGE, 412.0), "over range at 412.0 °C for 0.25 s, limit 0.25"),
        (bad(Reason.UNDER_RANGE, -3.04), "under range at −3.0 °C for 0.25 s, limit 0.25"),
        (bad(Reason.NOT_FINITE), "not finite at – – °C for 0.25 s, limit 0.25"),
        (bad(Reason.NEVER_RECEIVED), "never received in 0.25 s, limit 0.25"),
        (None, "never received in 0.25 s, limit 0.25"),
    ],
)
def test_bad_for_its_maximum_age_is_a_fault_with_its_reason(value, says: str) -> None:
    fault = SensorFault(PARAMS)
    ((index, finding),) = run(fault, [value] * 100)
    assert index == 24
    assert (finding.kind, finding.level) == (FindingKind.SENSOR_FAULT, Level.TRIP)
    assert finding.channels == (PIN,)
    assert finding.says == f"Sensor fault: pin temperature {says}."
    assert fault.standing == (finding,)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (bad(Reason.TOO_OLD, age_s=0.26), "too old: 0.26 s, limit 0.25"),
        (bad(Reason.STUCK, 40.0), "stuck at 40.0 °C"),
    ],
)
def test_reasons_that_have_waited_already_are_found_at_once(value, says: str) -> None:
    ((index, finding),) = run(SensorFault(PARAMS), [good(40.0), value, value])
    assert index == 1
    assert finding.says == f"Sensor fault: pin temperature {says}."


def test_where_protection_may_degrade_it_is_a_warning() -> None:
    fault = SensorFault(SensorParams(PIN, 0.25, OnLoss.DEGRADE))
    ((_, finding),) = run(fault, [None] * 30)
    assert finding.level is Level.WARN


def test_spikes_now_and_then_are_no_fault() -> None:
    spike = bad(Reason.SATURATED, 800.0)
    assert run(SensorFault(PARAMS), ([spike] * 3 + [good(40.0)] * 10) * 300) == []


def test_a_channel_that_is_bad_most_of_the_time_is_a_fault() -> None:
    flapping = ([bad(Reason.OVER_RANGE, 800.0)] * 9 + [good(40.0)]) * 20
    ((index, _),) = run(SensorFault(PARAMS), flapping)
    assert index * 0.01 < 2 * PARAMS.max_age_s


def test_it_has_cleared_after_being_good_for_as_long_as_it_may_be_bad() -> None:
    fault = SensorFault(PARAMS)
    run(fault, [bad(Reason.STUCK, 40.0)] * 500)
    run(fault, [good(40.0)] * 24)
    assert fault.standing
    run(fault, [good(40.0)])
    assert not fault.standing
    assert len(run(fault, [None] * 25)) == 1


def test_a_hole_before_a_bad_value_counts_with_it() -> None:
    fault = SensorFault(PARAMS)
    assert fault.update(make(0, {PIN: bad(Reason.OVER_RANGE, 1.0)})) == ()
    assert len(fault.update(make(30, {PIN: bad(Reason.OVER_RANGE, 1.0)}, gap_before_s=0.29))) == 1


def test_reset_forgets() -> None:
    fault = SensorFault(PARAMS)
    run(fault, [None] * 100)
    fault.reset()
    assert fault.standing == ()
    assert [index for index, _ in run(fault, [None] * 100)] == [24]


def test_all_sensors_in_one_go_find_what_each_finds_alone() -> None:
    params = [SensorParams(PIN, 0.25, OnLoss.TRIP), SensorParams("normal_load_n", 0.1, OnLoss.DEGRADE)]
    together, alone = SensorFaults(params), [SensorFault(one) for one in params]
    lost = bad(Reason.SATURATED, 800.0)
    rows = [{PIN: good(40.0), "normal_load_n": good(100.0)}] * 5
    rows += [{PIN: lost, "normal_load_n": good(100.0)}] * 30
    rows += [{PIN: lost}] * 15
    rows += [{PIN: good(40.0), "normal_load_n": good(100.0)}] * 40
    for s in sequence(rows):
        assert together.update(s) == tuple(finding for one in alone for finding in one.update(s))
        assert together.standing == tuple(finding for one in alone for finding in one.standing)
        assert together.trip_channels_good is (s.channels[PIN] is not lost)
    assert together.standing == ()


def test_a_reset_of_all_sensors_lets_nothing_stand() -> None:
    faults = SensorFaults([PARAMS])
    for s in sequence([{}] * 30):
        faults.update(s)
    assert len(faults.standing) == 1
    faults.reset()
    assert faults.standing == ()


# --- a start that draws more than the transducer shows ------------------------------------------------------

CURRENT, SPEED = "motor_current_a", "ring_speed_rpm"
OF_CURRENT = SensorParams(CURRENT, 0.2, OnLoss.TRIP)
BEYOND = bad(Reason.OVER_RANGE, 10.2)


def delays_s(values: Iterable[ChannelSlice], name: str = CURRENT, *, is_starting: bool = True) -> list[float]:
    """Give when each fault was found, from the first of some values of a channel on."""
    faults = SensorFaults([SensorParams(name, 0.2, OnLoss.TRIP)])
    faults.is_starting = is_starting
    return [finding.t_rig_s for s in sequence({name: value} for value in values) for finding in faults.update(s)]


def test_a_start_beyond_the_range_has_five_seconds_more_than_any_other_fault() -> None:
    assert delays_s([BEYOND] * 1000, is_starting=False) == pytest.approx([0.2])
    assert delays_s([BEYOND] * 1000) == pytest.approx([5.2], abs=0.02)


def test_a_start_that_is_back_within_the_range_after_less_is_no_fault() -> None:
    assert delays_s([BEYOND] * 499 + [good(2.0)] * 1000) == []


@pytest.mark.parametrize("reason", [one for one in Reason if one not in (Reason.NONE, Reason.OVER_RANGE)])
def test_a_start_excuses_nothing_but_a_value_beyond_the_range(reason: Reason) -> None:
    delay_s = 0.01 if reason in (Reason.TOO_OLD, Reason.STUCK) else 0.2
    assert delays_s([bad(reason, 10.2)] * 1000) == pytest.approx([delay_s])


@pytest.mark.parametrize("name", ["friction_force_n", SPEED, PIN])
def test_a_start_excuses_no_other_channel(name: str) -> None:
    assert delays_s([BEYOND] * 1000, name) == pytest.approx([0.2])


def test_a_surge_that_stops_being_one_is_a_fault_at_its_maximum_age() -> None:
    # A wire that breaks 3 s into a surge has no second surge before it.
    assert delays_s([BEYOND] * 300 + [bad(Reason.UNDER_RANGE, -0.3)] * 300) == pytest.approx([3.2])


def test_a_surge_after_another_fault_of_the_current_has_its_five_seconds_again() -> None:
    broken = [bad(Reason.SATURATED, 10.2)] * 10
    assert delays_s(([BEYOND] * 300 + broken + [good(2.0)] * 30) * 5) == []


def test_a_current_that_nobody_sees_is_no_good_channel_though_it_is_excused() -> None:
    faults = SensorFaults([OF_CURRENT])
    faults.is_starting = True
    for s in sequence([{CURRENT: BEYOND}] * 100):
        assert faults.update(s) == ()
        assert not faults.trip_channels_good
    assert faults.standing == ()


def motor_faults_s(rows: Iterable[dict[str, ChannelSlice | float]]) -> list[float]:
    """Give when a bank with a motor has found a sensor fault in some rows."""
    bank = Bank(BankParams(sensors=(OF_CURRENT,), motor=MotorParams(600.0, 0.6)))
    found = [finding for s in sequence(rows) for finding in bank.update(s).new]
    return [finding.t_rig_s for finding in found if finding.kind is FindingKind.SENSOR_FAULT]


def test_the_motor_says_whether_it_is_a_start() -> None:
    """Beyond the range for a second at the start, then again in the run: only the second is found, in 0.2 s."""
    start = [{SPEED: 6.0 * min(k, 100), CURRENT: BEYOND} for k in range(100)]
    runs = [{SPEED: 595.0, CURRENT: 2.0}] * 500
    assert motor_faults_s([*start, *runs]) == []
    assert motor_faults_s([*start, *runs, *[{SPEED: 595.0, CURRENT: BEYOND}] * 100]) == pytest.approx([6.2])


@pytest.mark.slow
def test_every_start_has_seconds_of_its_own() -> None:
    """Twelve starts of 0.6 s beyond the transducer, each with a run and a stop after it, are no fault."""
    cycle: list[dict[str, ChannelSlice | float]] = [{CURRENT: BEYOND, "ring_speed_rpm": 10.0 * k} for k in range(60)]
    cycle += [{CURRENT: 2.0, "ring_speed_rpm": 600.0}] * 500 + [{CURRENT: 0.0, "ring_speed_rpm": 0.0}] * 500
    assert motor_faults_s(cycle * 12) == []


@pytest.mark.parametrize(
    ("on_loss", "reason", "is_found"),
    [
        (OnLoss.DEGRADE, Reason.STUCK, False),
        (OnLoss.DEGRADE, Reason.OVER_RANGE, True),
        (OnLoss.TRIP, Reason.STUCK, True),
    ],
)
def test_what_does_not_move_on_a_ring_that_stands_need_not_be_stuck(
    on_loss: OnLoss, reason: Reason, is_found: bool
) -> None:
    """A motor that has run for 10 s is switched off; its friction cell shows one and the same value from then on."""
    bank = Bank(BankParams(sensors=(SensorParams(FORCE, 0.25, on_loss),), motor=MotorParams(600.0, 0.6)))
    found = list[Finding]()
    for k in range(3_000):
        runs = k < 1_000
        row = {SPEED: 600.0 if runs else 0.0, CURRENT: 2.0 if runs else 0.0}
        force = 20.0 + k % 2 if k < 1_500 else bad(reason, -0.9)
        found += bank.update(make(k, row | {FORCE: force})).new
    assert bool([f for f in found if f.kind is FindingKind.SENSOR_FAULT]) is is_found


def test_a_channel_that_is_stuck_when_the_ring_turns_again_is_a_fault() -> None:
    bank = Bank(BankParams(sensors=(SensorParams(FORCE, 0.25, OnLoss.DEGRADE),), motor=MotorParams(600.0, 0.6)))
    found = list[Finding]()
    for k in range(3_000):
        runs = k < 1_000 or k >= 2_000
        row = {SPEED: 600.0 if runs else 0.0, CURRENT: 2.0 if runs else 0.0}
        found += bank.update(make(k, row | {FORCE: 20.0 if k < 1_500 else bad(Reason.STUCK, -0.9)})).new
    (fault,) = (f for f in found if f.kind is FindingKind.SENSOR_FAULT)
    assert 20.0 < fault.t_rig_s < 20.1
