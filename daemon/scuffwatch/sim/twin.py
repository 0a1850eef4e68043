"""The twin run: the same scenario and seed with the permit ignored, for the truth about it.

Reads a scenario, gives its truth as JSON on stdout: `python -m scuffwatch.sim.twin scuffing --seed 3`.
"""

import argparse
import json
from dataclasses import asdict

from scuffwatch.sim.motor import RPM_PER_RAD_S
from scuffwatch.sim.params import RigParams
from scuffwatch.sim.play import Play
from scuffwatch.sim.scenario import PIN_LIMIT_DEGC, SCENARIOS, ActKind, Scenario, Truth

SEVERE_FACTOR = 3.0
AT_SPEED_RPM = 480.0
"""Four fifths of the rig's 600 r/min: only a ring that has turned can stall."""
_AFTER_S = 10.0
"""The twin goes on this long after a stall or the pin's limit, so that what follows is seen too."""


class Watcher:
    """Looks at the true state after every step and keeps the first time of each thing.

    What survives a call: the times found so far.
    """

    def __init__(self, play: Play) -> None:
        self._play = play
        self._at_speed = False
        self.times: dict[str, float] = {}

    def look(self, powered: bool) -> None:
        """Take one step's state."""
        rig = self._play.rig
        speed_rad_s = rig.motor.speed_rad_s
        if speed_rad_s * RPM_PER_RAD_S > AT_SPEED_RPM:
            self._at_speed = True
        elif speed_rad_s == 0.0 and self._at_speed and powered:
            self.times.setdefault("stall_t_s", rig.t_s)
        if rig.heat.body_degc >= PIN_LIMIT_DEGC:
            self.times.setdefault("overheat_t_s", rig.t_s)
        damage = rig.damage
        if damage is not None and rig.run_t_s > damage.onset_t_s and "severe_t_s" not in self.times:
            healthy = rig.contact.coefficient_now
            if rig.friction_force_n >= SEVERE_FACTOR * healthy * rig.lever.load_n > 0.0:
                self.times["severe_t_s"] = rig.t_s


def run(scenario: Scenario, seed: int, rate_hz: float = 200.0, params: RigParams | None = None) -> Truth:
    """Give the truth of a scenario.

    Args:
        scenario, seed, rate_hz, params: as in `Play`; the live rig with the same ones moves alike as long as its
            contactor stays closed and nobody touches it from the panel.
    """
    play = Play(scenario, seed, rate_hz, params)
    watcher = Watcher(play)
    times = watcher.times
    last_t_s = float("inf")
    while not play.stopped_by_plan and play.rig.t_s < last_t_s:
        for act in play.step(True):
            _note(act.kind, play.rig.t_s, times)
        watcher.look(True)
        if last_t_s == float("inf") and ("stall_t_s" in times or "overheat_t_s" in times):
            last_t_s = play.rig.t_s + _AFTER_S
    if play.stopped_by_plan:
        times["end_t_s"] = play.rig.t_s
    damage = play.script.damage
    return Truth(
        scenario.name,
        seed,
        rate_hz,
        scenario.expected.value,
        stage_t_s=tuple(t_s for t_s in play.script.stage_t_s if t_s <= play.rig.t_s),
        precursor_t_s=play.script.precursor_t_s,
        onset_t_s=None if damage is None else damage.onset_t_s,
        **times,
    )


def _note(kind: ActKind, t_s: float, times: dict[str, float]) -> None:
    name = {ActKind.JAM: "jam_t_s", ActKind.CABLE: "cable_t_s"}.get(kind)
    if name is not None:
        times[name] = t_s


def main(arguments: list[str] | None = None) -> int:
    """Print the truth of a scenario as one JSON object."""
    parser = argparse.ArgumentParser(prog="python -m scuffwatch.sim.twin", description="Give the truth of a scenario.")
    parser.add_argument("scenario", choices=sorted(SCENARIOS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate-hz", type=float, default=200.0)
    given = parser.parse_args(arguments)
    print(json.dumps(asdict(run(SCENARIOS[given.scenario], given.seed, given.rate_hz))))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
