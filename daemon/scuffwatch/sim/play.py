"""A scenario being played: the script's acts done to the rig, step by step.

Reads whether the motor has its supply, gives what a hand did this step. The live rig and its twin both run this class.
"""

from random import Random

from scuffwatch.sim.noise import Stream
from scuffwatch.sim.params import RigParams
from scuffwatch.sim.physics import Rig, Sensors
from scuffwatch.sim.scenario import Act, ActKind, Scenario, by_hand, draw

LIFT_AFTER_S = 4.0
"""After a trip the operator waits this long, then lifts the weights."""
HANG_AGAIN_S = 4.0
"""After a restart he puts them back once the ring has been running this long."""


class Play:
    """One scenario on one rig.

    Args:
        scenario: what is run.
        seed: >= 0; stages, times and noise follow from it.
        rate_hz: steps a second.
        params: the rig; by default the demonstration rig as it is on this seed's day.

    What survives a call: the rig, the place in the script, what the operator does after a trip.
    """

    def __init__(self, scenario: Scenario, seed: int, rate_hz: float, params: RigParams | None = None) -> None:
        self.scenario, self.seed, self.rate_hz = scenario, seed, rate_hz
        self.script = draw(scenario, seed)
        self.rig = Rig(params or RigParams().varied(seed), seed, rate_hz, self.script.damage)
        self.sensors = Sensors(self.rig, seed, Stream.STANDING)
        self.stage = 0
        self.stopped_by_plan = False
        self._acts = self.script.acts
        self._next = 0
        self._next_t_s = self._acts[0].t_s
        self._planned_n = 0.0
        self._unpowered_s = self._again_s = 0.0
        self._lifted = False
        self._after = Random(f"{scenario.name}/{seed}/after")

    def step(self, powered: bool) -> tuple[Act, ...]:
        """Let one sampling period pass and give the acts that fell into it."""
        rig = self.rig
        if powered and not rig.steps:
            self.sensors = Sensors(rig, self.seed, Stream.SENSORS, self.script.bumps)
        rig.step(powered)
        if rig.steps and (self._unpowered_s or not powered):
            self._after_trip(powered)
        if rig.run_t_s < self._next_t_s:
            return ()
        return self._due()

    def _due(self) -> tuple[Act, ...]:
        first = self._next
        while self._next < len(self._acts) and self._acts[self._next].t_s <= self.rig.run_t_s:
            self._do(self._acts[self._next])
            self._next += 1
        self._next_t_s = self._acts[self._next].t_s if self._next < len(self._acts) else float("inf")
        return self._acts[first : self._next]

    def _do(self, act: Act) -> None:
        if act.hang is not None:
            self._planned_n = act.hang.load_n
            self.stage = act.stage
            if not self._lifted:
                self.rig.lever.hang(act.hang, self.rig.t_s)
        elif act.kind is ActKind.JAM:
            self.rig.jam_nm = act.torque_nm
        elif act.kind is ActKind.HEATER:
            self.rig.heat.heater_stuck = True
        elif act.kind is ActKind.STOP:
            self.stopped_by_plan = True

    def _after_trip(self, powered: bool) -> None:
        rig = self.rig
        if not powered:
            self._again_s = 0.0
            self._unpowered_s += rig.dt_s
            if not self._lifted and self._unpowered_s >= LIFT_AFTER_S:
                self._lifted = True
                rig.lever.hang(by_hand(0.0, self._after), rig.t_s)
            return
        self._again_s += rig.dt_s
        if not self._lifted:
            self._unpowered_s = 0.0
        elif self._again_s >= HANG_AGAIN_S:
            self._lifted, self._unpowered_s = False, 0.0
            rig.lever.hang(by_hand(self._planned_n, self._after), rig.t_s)
