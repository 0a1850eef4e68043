"""The whole simulated rig without its cable: play, rig box, buttons, contactor, starter, faults.

Reads steps, bytes from the host and acts from the panel, gives frames and pulses. No clock and no I/O: real time and
the number of steps come as arguments.
"""

import math
from dataclasses import dataclass

from scuffwatch.model.channel import GroupLayout
from scuffwatch.sim.channels import Digitiser, ceilings
from scuffwatch.sim.contactor import Contactor, Starter
from scuffwatch.sim.faults import SensorFaults, Sent, WireFaults
from scuffwatch.sim.node import NodeCore, NodeSettings
from scuffwatch.sim.play import Play
from scuffwatch.sim.scenario import SCENARIOS, ActKind, Scenario
from scuffwatch.sim.twin import AT_SPEED_RPM
from scuffwatch.wire.protocol import Inputs, NodePermit, ResetCause

MARK_HOLD_S = 0.3
IDENTITY = "sim-rig"
_STATE_BITS = {
    "guard": int(Inputs.GUARD_CLOSED),
    "emergency_stop": int(Inputs.EMERGENCY_STOP_CLOSED),
    "extraction": int(Inputs.EXTRACTION_ON),
    "bath": int(Inputs.BATH_UP),
}
_CONTACTOR, _RESET, _MARK = int(Inputs.CONTACTOR_CLOSED), int(Inputs.RESET_PRESSED), int(Inputs.MARK_PRESSED)


class Button:
    """A button held for a time of the rig's own clock.

    What survives a call: until when it is held.
    """

    def __init__(self) -> None:
        self._until_t_s = float("-inf")

    def press(self, t_s: float, hold_s: float) -> None:
        """Press it at `t_s` for `hold_s`; infinity sticks it."""
        self._until_t_s = t_s + hold_s

    def release(self) -> None:
        """Let go."""
        self._until_t_s = float("-inf")

    def held(self, t_s: float) -> bool:
        """Say whether it is held."""
        return t_s < self._until_t_s - 1e-9


@dataclass(slots=True)
class Moments:
    """When things last happened, s of rig time (all epochs of the node); None where they have not.

    Attributes:
        started_t_s: the motor got its supply; times of the truth count from here.
        permit_off_t_s: the rig box took its permit away.
        contactor_open_t_s: the contactor let go.
        open_after_block_s: real time from the sending of the last block a lease named to the contactor letting go.
        stalled_t_s: first sample with the ring stopped under current, after it had turned.
        ring_stopped_t_s: first sample at rest after it had turned.
    """

    started_t_s: float | None = None
    permit_off_t_s: float | None = None
    contactor_open_t_s: float | None = None
    open_after_block_s: float | None = None
    stalled_t_s: float | None = None
    ring_stopped_t_s: float | None = None


class Machine:
    """One simulated rig.

    Args:
        scenario, seed: what is played.
        layouts: groups the rig box samples; the first one sets the rate.
        ignore_permit: supply the motor whatever the rig box says, for recordings.

    What survives a call: everything on the rig.
    """

    play: Play

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        layouts: tuple[GroupLayout, ...],
        ignore_permit: bool = False,
        identity: str = IDENTITY,
    ) -> None:
        self.ignore_permit = ignore_permit
        self.settings = NodeSettings(identity, layouts, ceilings(layouts))
        self.node = NodeCore(self.settings)
        self.contactor, self.starter = Contactor(), Starter()
        self.reset, self.mark = Button(), Button()
        self.wire_faults, self.sensor_faults = WireFaults(seed), SensorFaults(layouts)
        self.rate_hz = layouts[0].rate_hz
        self.steps = 0
        self.edges = 0
        self.cable_pulled = False
        self._digitiser = Digitiser(layouts)
        self._node_began = 0
        self._states = sum(_STATE_BITS.values())
        self._was_permitted = self._was_closed = self._at_speed = False
        self.load(scenario, seed)

    def load(self, scenario: Scenario, seed: int) -> None:
        """Put fresh specimens in for a scenario; the rig box goes on.

        Raises:
            ValueError: the ring turns, or the seed is negative.
        """
        if seed < 0:
            raise ValueError(f"seed {seed}, it must be 0 or more")
        if self.steps and self.play.rig.speed_rpm > 0.0:
            raise ValueError("the ring turns: stop the motor first")
        self.play = Play(scenario, seed, self.rate_hz)
        self.moments = Moments()
        self.starter.stop()
        self._at_speed = False
        self.play.rig.bath_up = self.closed("bath")

    @property
    def t_s(self) -> float:
        """Give rig time since this process began, s."""
        return self.steps / self.rate_hz

    @property
    def supplied(self) -> bool:
        """Say whether there is supply in front of the starter."""
        return self.ignore_permit or self.contactor.closed

    def closed(self, name: str) -> bool:
        """Give an input: `guard`, `emergency_stop`, `extraction`, `bath`."""
        return bool(self._states & _STATE_BITS[name])

    def set_input(self, name: str, closed: bool) -> None:
        """Close or open an input; the bath is oil as well as a switch."""
        bit = _STATE_BITS[name]
        self._states = self._states | bit if closed else self._states & ~bit
        if name == "bath":
            self.play.rig.bath_up = closed

    def start_motor(self) -> bool:
        """Press start at the starter and say whether it held."""
        return self.starter.start(self.supplied)

    def restart_node(self, cause: ResetCause) -> None:
        """Let the rig box restart: another start number, its clock and counters from 0, latched."""
        self.node = NodeCore(self.settings, self.node.start_number + 1, cause)
        self._node_began = self.steps

    def advance(self, steps: int, now_mono_s: float) -> None:
        """Let so many sampling periods pass."""
        self._follow(now_mono_s)
        for _ in range(steps):
            self._step(now_mono_s)

    def receive(self, data: bytes, now_mono_s: float) -> None:
        """Take bytes from the host; a noisy line flips bits on this way too."""
        self.node.receive(self.wire_faults.take_in(data), now_mono_s)
        self._follow(now_mono_s)

    def pulse(self, now_mono_s: float) -> bool:
        """Say whether a pulse edge goes out now."""
        edge = self.node.pulse(now_mono_s)
        if edge:
            self.edges += 1
            self.contactor.edge(now_mono_s)
        self._follow(now_mono_s)
        return edge

    def frames(self, now_mono_s: float) -> list[Sent]:
        """Give what leaves the cable now."""
        return self.wire_faults.pass_on(self.node.take(), now_mono_s)

    def due_mono_s(self) -> float:
        """Give when something happens by itself next, in real time."""
        return min(self.node.latch.due_mono_s(), self.contactor.due_mono_s())

    def _step(self, now_mono_s: float) -> None:
        play, node, t_s = self.play, self.node, self.t_s
        powered = self.starter.powered(self.supplied)
        for act in play.step(powered):
            self._act(act.kind)
        readings = play.sensors.read(node.sounder)
        rows = self._digitiser.rows(self.steps - self._node_began, readings)
        if self.sensor_faults.on:
            self.sensor_faults.apply(rows)
        inputs = self._states | (_CONTACTOR if self.contactor.closed else 0)
        inputs |= (_RESET if self.reset.held(t_s) else 0) | (_MARK if self.mark.held(t_s) else 0)
        node.sample(rows, inputs, play.sensors.at_rest, now_mono_s)
        self._note_ring(powered)
        self.steps += 1
        self._follow(now_mono_s)

    def _act(self, kind: ActKind) -> None:
        if kind is ActKind.MARK:
            self.mark.press(self.t_s, MARK_HOLD_S)
        elif kind is ActKind.STOP:
            self.starter.stop()
        elif kind is ActKind.CABLE:
            self.cable_pulled = True

    def _note_ring(self, powered: bool) -> None:
        moments, rig = self.moments, self.play.rig
        if powered and moments.started_t_s is None:
            moments.started_t_s = self.t_s - rig.dt_s
        if rig.speed_rpm > AT_SPEED_RPM:
            self._at_speed = True
            moments.ring_stopped_t_s = None
        elif self._at_speed and rig.speed_rpm == 0.0 and moments.ring_stopped_t_s is None:
            moments.ring_stopped_t_s = self.t_s
            if powered and moments.stalled_t_s is None:
                moments.stalled_t_s = self.t_s

    def _follow(self, now_mono_s: float) -> None:
        """Let the relays follow and note when the permit and the contactor go."""
        self.contactor.pass_time(now_mono_s)
        permitted = self.node.latch.permit is NodePermit.PERMITTED
        if permitted is not self._was_permitted:
            self._was_permitted = permitted
            self.moments.permit_off_t_s = None if permitted else self.t_s
        closed = self.contactor.closed
        if closed is not self._was_closed:
            self._was_closed = closed
            self.moments.contactor_open_t_s = None if closed else self.t_s
            after_s = now_mono_s - self.node.latch.lease_block_mono_s
            self.moments.open_after_block_s = None if closed or math.isinf(after_s) else after_s


def scenario_named(name: str) -> Scenario:
    """Give a scenario by its name. Raises ValueError naming those there are."""
    if name not in SCENARIOS:
        raise ValueError(f"no scenario {name}; there are {', '.join(SCENARIOS)}")
    return SCENARIOS[name]
