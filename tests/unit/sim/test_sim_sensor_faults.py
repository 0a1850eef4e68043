"""Faults of one sensor: on the counts of that channel, of no other, and only while they are on."""

import numpy as np
import pytest
from sim_counts import Counts, advanced, counts_in

from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE, GroupLayout, IntegerType
from scuffwatch.sim.channels import demo_layouts, six_channel_layouts
from scuffwatch.sim.faults import Fault, SensorFaults
from scuffwatch.sim.machine import Machine
from scuffwatch.sim.scenario import SCENARIOS
from scuffwatch.wire.protocol import NodeCause, NodePermit

BEFORE, DURING, AFTER = 200, 400, 200
RATE_HZ = 200.0


def running(layouts: tuple[GroupLayout, ...]) -> Machine:
    """Give a rig whose motor has been started; the ring speeds up, so that every channel moves."""
    machine = Machine(SCENARIOS["healthy"], 5, layouts, ignore_permit=True)
    assert machine.start_motor()
    return machine


def counts_with(fault: Fault | None, channel: str, layouts: tuple[GroupLayout, ...]) -> Counts:
    machine = running(layouts)
    sent = advanced(machine, BEFORE)
    if fault is not None:
        machine.sensor_faults.switch(fault, channel, True)
        assert machine.sensor_faults.on == {channel: fault.value}
    sent += advanced(machine, DURING)
    if fault is not None:
        machine.sensor_faults.switch(fault, channel, False)
    assert machine.sensor_faults.on == {}
    return counts_in(sent + advanced(machine, AFTER))


def compare(fault: Fault, channel: str, layouts: tuple[GroupLayout, ...]) -> tuple[list[int], list[int]]:
    """Give the channel's counts while the fault is on and the true ones; everything else must be untouched."""
    faulty, sound = counts_with(fault, channel, layouts), counts_with(None, channel, layouts)
    (layout,) = (each for each in layouts if channel in each.channels)
    place, share = layout.channels.index(channel), layout.rate_hz / layouts[0].rate_hz
    first, last = round(BEFORE * share), round((BEFORE + DURING) * share)
    during = faulty[layout.group][first:last, place].tolist()
    true = sound[layout.group][first:last, place].tolist()
    faulty[layout.group][first:last, place] = true
    assert faulty.keys() == sound.keys()
    assert all(np.array_equal(faulty[group], sound[group]) for group in sound)
    return during, true


@pytest.mark.parametrize("channel", [MOTOR_CURRENT, PIN_TEMPERATURE])
def test_a_stuck_channel_repeats_the_first_count_it_had(channel: str) -> None:
    during, true = compare(Fault.STUCK, channel, demo_layouts(RATE_HZ))
    assert during == [true[0]] * len(true)
    assert len(set(true)) > 1, "the true one moves"


@pytest.mark.parametrize("integer_type", list(IntegerType))
def test_a_saturated_channel_stands_at_the_rail_of_its_integer_type(integer_type: IntegerType) -> None:
    during, true = compare(Fault.SATURATED, FRICTION_FORCE, six_channel_layouts(RATE_HZ, integer_type))
    assert set(during) == {integer_type.high_counts}
    assert max(true) < integer_type.high_counts


def test_an_open_thermocouple_burns_out_upscale() -> None:
    during, true = compare(Fault.OPEN_THERMOCOUPLE, PIN_TEMPERATURE, demo_layouts(RATE_HZ))
    assert set(during) == {IntegerType.INT16.high_counts}
    assert max(true) < IntegerType.INT16.high_counts


def test_the_rig_box_itself_sees_what_its_converter_gives() -> None:
    machine = running(demo_layouts(RATE_HZ))
    machine.advance(BEFORE, 0.0)
    assert machine.node.latch.cause_present(machine.node.inputs, machine.node.over_limit) is NodeCause.NONE
    machine.sensor_faults.switch(Fault.SATURATED, FRICTION_FORCE, True)
    machine.advance(round(0.1 * RATE_HZ) - 1, 0.0)
    assert not machine.node.over_limit
    machine.advance(1, 0.0)
    assert machine.node.latch.cause_present(machine.node.inputs, machine.node.over_limit) is NodeCause.OWN_LIMIT
    assert machine.node.latch.permit is NodePermit.LATCHED


def test_a_stuck_channel_that_is_stuck_once_more_stays_where_it_stuck() -> None:
    faults, rows = SensorFaults(demo_layouts(RATE_HZ)), [(0, [10, 20, 30, 40, 50])]
    faults.switch(Fault.STUCK, FRICTION_FORCE, True)
    faults.apply(rows)
    faults.switch(Fault.STUCK, FRICTION_FORCE, True)
    later = [(0, [11, 21, 31, 41, 51])]
    faults.apply(later)
    assert later == [(0, [11, 20, 31, 41, 51])]


def test_a_channel_that_was_mended_sticks_at_another_count() -> None:
    faults = SensorFaults(demo_layouts(RATE_HZ))
    for count in (20, 70):
        faults.switch(Fault.STUCK, FRICTION_FORCE, True)
        for drift in (0, 5):
            rows = [(0, [0, count + drift, 0, 0, 0])]
            faults.apply(rows)
            assert rows[0][1][1] == count
        faults.switch(Fault.STUCK, FRICTION_FORCE, False)


def test_switching_off_another_fault_of_the_channel_mends_nothing() -> None:
    faults = SensorFaults(demo_layouts(RATE_HZ))
    faults.switch(Fault.SATURATED, PIN_TEMPERATURE, True)
    faults.switch(Fault.STUCK, PIN_TEMPERATURE, False)
    assert faults.on == {PIN_TEMPERATURE: "saturated"}


@pytest.mark.parametrize(
    ("fault", "channel", "why"),
    [
        (Fault.STUCK, "oil_level_mm", "no channel oil_level_mm; there are normal_load_n, "),
        (Fault.OPEN_THERMOCOUPLE, FRICTION_FORCE, "friction_force_n is no thermocouple"),
        (Fault.NOISE, FRICTION_FORCE, "noise is a fault of the wire"),
    ],
)
def test_what_no_sensor_can_have_is_refused(fault: Fault, channel: str, why: str) -> None:
    faults = SensorFaults(demo_layouts(RATE_HZ))
    with pytest.raises(ValueError, match=why):
        faults.switch(fault, channel, True)
    assert faults.on == {}
