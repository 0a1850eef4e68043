"""The twin beside the live rig: alike to the last count until somebody intervenes, and its truth is what the rig did.

The live rig here is the whole machine without its cable: its counts are read from the frames it sends.
"""

from dataclasses import replace

import numpy as np
import pytest
from sim_counts import Counts, advanced, counts_in

from scuffwatch.model.run import Outcome
from scuffwatch.sim import twin
from scuffwatch.sim.channels import Digitiser, demo_layouts
from scuffwatch.sim.faults import Sent
from scuffwatch.sim.machine import Machine
from scuffwatch.sim.play import Play
from scuffwatch.sim.scenario import CablePulled, HappensHere, HeaterSticks, Jam, Scenario, Scuff
from scuffwatch.wire.protocol import (
    CountLimit,
    Data,
    Decoder,
    Lease,
    Limits,
    NodePermit,
    encode,
    limits_id_of,
)

RATE_HZ = 200.0
SLOW_EVERY = 20
"""Samples of the fast group to one of the temperatures: a start on a multiple keeps the two rigs in step."""
LAYOUTS = demo_layouts(RATE_HZ)
SEED = 11
TICK_S = 0.010
TICK_STEPS = round(TICK_S * RATE_HZ)
LEASE_MS = 140


def short(name: str, happens: HappensHere | None) -> Scenario:
    """Give a run of about 25 s of rig time."""
    return Scenario(name, "short", Outcome.STOPPED, happens, loads_n=(240.0, 480.0, 720.0), dwell_s=4.0)


SHORT = {
    scenario.name: scenario
    for scenario in (
        short("healthy", None),
        short("scuffing", Scuff((2, 3), (1.0, 2.0), (0.2, 0.5))),
        short("jam", Jam((1, 3), (20.0, 60.0))),
        short("cable", CablePulled((1, 3))),
        short("heater", HeaterSticks((1, 3))),
    )
}
each_scenario = pytest.mark.parametrize("name", sorted(SHORT))


def twin_counts(scenario: Scenario, seed: int, steps: int) -> Counts:
    """Give what the twin's sensors would have put on the wire from the motor's start on."""
    play, digitiser = Play(scenario, seed, RATE_HZ), Digitiser(LAYOUTS)
    rows: dict[int, list[list[int]]] = {0: [], 1: []}
    for step in range(steps):
        play.step(True)
        for group, row in digitiser.rows(step, play.sensors.read()):
            rows[group].append(row)
    return {group: np.array(found, np.int64) for group, found in rows.items()}


def from_start(counts: Counts, start: int, end: int) -> Counts:
    """Give the samples between two steps of the machine, the first a multiple of `SLOW_EVERY`."""
    slow = counts[1][start // SLOW_EVERY : -(-end // SLOW_EVERY)]
    return {0: counts[0][start:end], 1: slow}


def alike(one: Counts, other: Counts) -> bool:
    return one.keys() == other.keys() and all(np.array_equal(one[group], other[group]) for group in one)


class Host:
    """A host that gives a lease for every block of group 0 while it is willing, as a core without a guard would.

    Args:
        machine: the rig it is wired to.
    """

    def __init__(self, machine: Machine) -> None:
        self.machine, self.sent, self.now_mono_s, self.willing = machine, list[Sent](), 100.0, True
        self._decoder, self._counter = Decoder(), 0
        entries = (CountLimit(0, 0, -30_000, 30_000, 20),)
        machine.receive(encode(Limits(limits_id_of(entries), entries)), self.now_mono_s)

    def ticks(self, number: int) -> None:
        for _ in range(number):
            self.now_mono_s += TICK_S
            came = advanced(self.machine, TICK_STEPS, self.now_mono_s)
            self.machine.pulse(self.now_mono_s)
            self.sent += came
            for frame in self._decoder.feed(b"".join(raw for raw, _ in came)):
                if isinstance(frame, Data) and frame.group == 0 and self.willing:
                    self._lease(frame.sequence)

    def _lease(self, block: int) -> None:
        self._counter += 1
        self.machine.receive(encode(Lease(self._counter, 0, block, LEASE_MS)), self.now_mono_s)

    def start(self) -> int:
        """Reset, wait for the contactor, start the motor on a slow sample; give the step of the start."""
        self.ticks(10)  # a button that is held when the rig box starts is no press
        self.machine.reset.press(self.machine.t_s, 1.0)
        self.ticks(120)
        assert self.machine.node.latch.permit is NodePermit.PERMITTED
        while self.machine.steps % SLOW_EVERY:
            self.ticks(1)
        assert self.machine.start_motor()
        return self.machine.steps


@each_scenario
def test_the_live_rig_under_leases_counts_as_the_twin_does_up_to_the_intervention(name: str) -> None:
    machine = Machine(SHORT[name], SEED, LAYOUTS)
    host = Host(machine)
    start = host.start()
    host.ticks(1000)
    assert machine.contactor.closed
    host.willing = False
    host.ticks(200)
    assert machine.moments.contactor_open_t_s is not None
    opened = round(machine.moments.contactor_open_t_s * RATE_HZ)
    assert start + 1000 * TICK_STEPS < opened < start + 1030 * TICK_STEPS
    live, lonely = counts_in(host.sent), twin_counts(SHORT[name], SEED, machine.steps - start)
    assert alike(from_start(live, start, opened), from_start(lonely, 0, opened - start))
    after = slice(opened, machine.steps - TICK_STEPS)
    if name != "jam":  # a motor that has stalled draws its current from the same supply, but its ring stands anyway
        assert not np.array_equal(live[0][after, 4], lonely[0][after.start - start : after.stop - start, 4])


@pytest.mark.parametrize("waits_steps", [0, SLOW_EVERY, 37 * SLOW_EVERY])
def test_how_long_the_rig_stood_before_its_start_changes_nothing(waits_steps: int) -> None:
    machine = Machine(SHORT["scuffing"], SEED, LAYOUTS, ignore_permit=True)
    sent = advanced(machine, waits_steps)
    assert machine.start_motor()
    sent += advanced(machine, 1200)
    end = waits_steps + 1200
    assert alike(from_start(counts_in(sent), waits_steps, end), twin_counts(SHORT["scuffing"], SEED, 1200))


@pytest.mark.parametrize("other", ["seed", "scenario"])
def test_another_seed_or_scenario_is_another_run(other: str) -> None:
    machine = Machine(SHORT["healthy"], SEED, LAYOUTS, ignore_permit=True)
    assert machine.start_motor()
    live = counts_in(advanced(machine, 1200))
    scenario, seed = (SHORT["healthy"], SEED + 1) if other == "seed" else (SHORT["scuffing"], SEED)
    assert not alike(live, twin_counts(scenario, seed, 1200))


def test_a_guard_that_is_opened_and_a_button_that_is_pressed_leave_a_powered_rig_as_it_is() -> None:
    """What takes no supply away is no intervention on the contact."""
    machine = Machine(SHORT["scuffing"], SEED, LAYOUTS, ignore_permit=True)
    assert machine.start_motor()
    sent = advanced(machine, 400)
    machine.set_input("guard", False)
    machine.mark.press(machine.t_s, 0.3)
    sent += advanced(machine, 800)
    assert alike(counts_in(sent), twin_counts(SHORT["scuffing"], SEED, 1200))


def test_a_bath_that_is_lowered_is_an_intervention() -> None:
    machine = Machine(SHORT["healthy"], SEED, LAYOUTS, ignore_permit=True)
    assert machine.start_motor()
    sent = advanced(machine, 2000)
    machine.set_input("bath", False)
    live, lonely = counts_in(sent + advanced(machine, 800)), twin_counts(SHORT["healthy"], SEED, 2800)
    assert alike(from_start(live, 0, 2000), from_start(lonely, 0, 2000))
    assert not alike(live, lonely)


def run_of_a_rig_without_permit(name: str) -> tuple[Machine, float | None]:
    """Run to the end of the plan; gives when the cable was pulled, s since the motor's start."""
    machine = Machine(SHORT[name], SEED, LAYOUTS, ignore_permit=True)
    machine.advance(3 * SLOW_EVERY, 0.0)
    assert machine.start_motor()
    cable_t_s = None
    while machine.starter.running and machine.t_s < 60.0:
        machine.advance(1, 0.0)
        if machine.cable_pulled and cable_t_s is None:
            cable_t_s = machine.play.rig.t_s
    return machine, cable_t_s


@pytest.mark.slow
@each_scenario
def test_the_truth_is_what_a_rig_does_that_nobody_stops(name: str) -> None:
    truth = twin.run(SHORT[name], SEED)
    machine, cable_t_s = run_of_a_rig_without_permit(name)
    moments = machine.moments
    assert moments.started_t_s is not None
    stalled_t_s = None if moments.stalled_t_s is None else moments.stalled_t_s - moments.started_t_s
    assert stalled_t_s == (None if truth.stall_t_s is None else pytest.approx(truth.stall_t_s, abs=1e-9))
    assert cable_t_s == truth.cable_t_s
    assert (truth.cable_t_s is not None) == (name == "cable")
    assert (truth.jam_t_s is not None) == (name == "jam")
    assert (truth.onset_t_s is not None) == (name == "scuffing")
    if truth.end_t_s is not None:  # not cut short by the ten seconds after a stall
        assert machine.play.stopped_by_plan
        assert machine.play.rig.t_s == truth.end_t_s


def test_the_truth_comes_in_the_order_things_happen() -> None:
    jam, scuffing = twin.run(SHORT["jam"], SEED), twin.run(SHORT["scuffing"], SEED)
    assert jam.jam_t_s is not None
    assert jam.stall_t_s is not None
    assert jam.jam_t_s < jam.stall_t_s < jam.jam_t_s + 2.0
    assert scuffing.precursor_t_s is not None
    assert scuffing.onset_t_s is not None
    assert scuffing.severe_t_s is not None
    assert scuffing.precursor_t_s < scuffing.onset_t_s < scuffing.severe_t_s
    healthy = twin.run(SHORT["healthy"], SEED)
    assert replace(healthy, stage_t_s=(), end_t_s=None) == twin.Truth("healthy", SEED, RATE_HZ, "stopped")
    assert len(healthy.stage_t_s) == 3
    assert healthy.end_t_s is not None
    assert healthy.stage_t_s[-1] + 4.0 < healthy.end_t_s
