"""Sensor faults: how long a channel may be BAD, what its loss means, what is said of it."""

import pytest
from slice_makers import bad, good, make, sequence

from scuffwatch.detect.sensor_fault import SensorFault, SensorFaults, SensorParams
from scuffwatch.model.channel import OnLoss, Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

PIN = "pin_temperature_degc"
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
