"""The operator at the rig: writes down, one after the other, what hands do to lever and switch.

Reads the rig; the plan is made of what was written down.
"""

from dataclasses import dataclass

from world_b.values import NAN, Kind

from .draws import Rng, chance, uniform
from .rig import Rig


@dataclass(frozen=True, slots=True)
class Move:
    """The load goes from one value to another: begin, how long, N, and how hard it lands (share of the change)."""

    t_s: float
    duration_s: float
    from_n: float
    to_n: float
    bounce: float


@dataclass(frozen=True, slots=True)
class Happening:
    """A healthy thing, with a size between 0 and 1 (a film transition: -1 to 1)."""

    kind: Kind
    t_s: float
    duration_s: float
    size: float


class Script:
    """Notes down moves, switches and happenings while its clock `t_s` goes on."""

    def __init__(self, rig: Rig) -> None:
        """Start with the pin lifted, or with the bare arm resting on the ring."""
        self.rig = rig
        self.t_s = 0.0
        self.load_n = 0.0
        self.moves: list[Move] = []
        self.bumps: list[tuple[float, float]] = []
        self.switches: list[tuple[float, bool]] = []
        self.happenings: list[Happening] = []
        self.loads_n: list[float] = []
        self.day_gap_s = NAN

    def wait(self, duration_s: float) -> None:
        """Let time pass."""
        self.t_s += duration_s

    def happen(self, kind: Kind, t_s: float, duration_s: float, size: float) -> None:
        """Note a healthy thing."""
        self.happenings.append(Happening(kind, t_s, duration_s, size))

    def switch(self, on: bool) -> None:
        """Turn the motor on or off, now."""
        self.switches.append((self.t_s, on))

    def move(self, to_n: float, duration_s: float, bounce: float) -> None:
        """Change the load, and wait until it is done."""
        self.moves.append(Move(self.t_s, duration_s, self.load_n, to_n, bounce))
        self.load_n = to_n
        self.wait(duration_s)

    def begin(self, rng: Rng) -> None:
        """Start the rig: at rest and unloaded, at rest with the arm down, or already running."""
        rest_n = self.rig.top_load_n * uniform(rng, 0.02, 0.25)
        if chance(rng, 0.15):
            self.switch(True)
            self.load_n = rest_n if chance(rng, 0.5) else 0.0
            self.happen(Kind.MID_RUN, 0.0, 0.0, 1.0)
            self.wait(uniform(rng, 5.0, 25.0))
            return
        loaded = chance(rng, 0.25)
        self.load_n = rest_n if loaded else 0.0
        self.wait(uniform(rng, 4.0, 15.0))
        if loaded:
            self.happen(Kind.LOADED_START, self.t_s, 0.0, 1.0)
        self.switch(True)
        self.wait(uniform(rng, 8.0, 25.0))

    def set_load(self, rng: Rng, way: Kind | None, load_n: float, hardness: float) -> None:
        """Set the next weight in that way; None is with care."""
        start_s, before_n = self.t_s, self.load_n
        self.loads_n.append(load_n)
        bounce = 0.12 * hardness
        match way:
            case Kind.HARD_SET_DOWN:
                self.move(load_n, uniform(rng, 0.05, 0.15), 0.5 + 0.6 * hardness)
            case Kind.SET_DOWN_TWICE:
                self.move(load_n, uniform(rng, 0.3, 1.0), bounce)
                self.wait(uniform(rng, 0.4, 2.0))
                self.move(before_n, uniform(rng, 0.2, 0.6), bounce)
                self.wait(uniform(rng, 0.4, 2.0))
                self.move(load_n, uniform(rng, 0.3, 1.0), bounce)
            case Kind.TAKEN_OFF_AGAIN:
                self.move(load_n, uniform(rng, 0.3, 1.2), bounce)
                self.wait(uniform(rng, 4.0, 15.0))
                self.move(before_n, uniform(rng, 0.3, 1.0), bounce)
                self.wait(uniform(rng, 4.0, 12.0))
                self.move(load_n, uniform(rng, 0.3, 1.2), bounce)
            case Kind.LIFTED:
                self.move(0.0, uniform(rng, 0.3, 1.0), 0.3 * bounce)
                self.wait(uniform(rng, 2.0, 10.0))
                self.move(load_n, uniform(rng, 0.4, 1.5), bounce)
            case _:
                self.move(load_n, uniform(rng, 0.4, 3.0), bounce)
        if way is not None:
            self.happen(way, start_s, self.t_s - start_s, hardness)

    def act(self, rng: Rng, kind: Kind) -> None:
        """Do one thing that is not setting a weight, and wait until it is done."""
        start_s = self.t_s
        match kind:
            case Kind.BUMP:
                self.bumps.append((self.t_s, uniform(rng, 0.1, 0.4)))
                self.wait(1.0)
            case Kind.PAUSE:
                self.switch(False)
                self.wait(uniform(rng, 8.0, 40.0))
                self.switch(True)
            case Kind.RESTART_BEFORE_REST:
                self.switch(False)
                self.wait(uniform(rng, 0.15, 0.6))
                self.switch(True)
            case Kind.INCHING:
                self._inch(rng)
            case Kind.DAY_BETWEEN:
                self._rest_a_day(rng)
            case Kind.OIL_TOP_UP:
                self.wait(uniform(rng, 5.0, 12.0))
            case _:
                self.wait(uniform(rng, 0.1, 0.5))
        self.happen(kind, start_s, self.t_s - start_s, uniform(rng, 0.3, 1.0))

    def _inch(self, rng: Rng) -> None:
        self.switch(False)
        self.wait(uniform(rng, 3.0, 6.0))
        for _ in range(int(rng.integers(2, 6))):
            self.switch(True)
            self.wait(uniform(rng, 0.25, 1.2))
            self.switch(False)
            self.wait(uniform(rng, 0.8, 3.0))
        self.switch(True)

    def _rest_a_day(self, rng: Rng) -> None:
        self.switch(False)
        self.wait(uniform(rng, 8.0, 15.0))
        self.day_gap_s = self.t_s
        self.wait(uniform(rng, 8.0, 15.0))
        self.switch(True)

    def finish(self, rng: Rng) -> None:
        """Take the load off and stop, in either order."""
        if chance(rng, 0.6):
            self.move(0.0, uniform(rng, 0.4, 1.5), 0.03)
            self.wait(uniform(rng, 2.0, 8.0))
        self.switch(False)
        self.wait(uniform(rng, 6.0, 20.0))
