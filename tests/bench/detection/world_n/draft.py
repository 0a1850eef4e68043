"""A plan while it is being drawn: steps, runs and marks, and which stretches of time are taken.

Reads nothing, is changed by `course`, `nuisances` and `oddities`; frozen into a `Scene` at the end.
"""

from dataclasses import dataclass, field

from world_b.values import NAN, Kind

from world_n.draws import Rng, between, new_seed
from world_n.names import Oddity
from world_n.scene import Event, Mark, Step

BEFORE_RECORDING_S = -1000.0
AFTER_RECORDING_S = 10.0
"""How far a motor that is never stopped runs on beyond the last row, so that it is on there."""

TRIES = 40


@dataclass(slots=True)
class Draft:
    """What has been planned so far.

    Attributes:
        ready_s: the first load is on and the motor at speed.
        quiet_s: until here the contact may be disturbed; 20 s before the first damage, or near the end.
        taken: stretches (from, to) in which nothing more may happen.
    """

    duration_s: float
    ready_s: float
    quiet_s: float
    steps: list[Step]
    runs: list[tuple[float, float]]
    event: Event | None = None
    marks: list[Mark] = field(default_factory=list)
    taken: list[tuple[float, float]] = field(default_factory=list)
    night_s: float = NAN
    night_length_s: float = 0.0

    def take(self, from_s: float, to_s: float) -> None:
        """Keep a stretch free of anything else."""
        self.taken.append((from_s, to_s))

    def is_free(self, from_s: float, to_s: float) -> bool:
        """Say whether nothing happens in a stretch."""
        return all(to_s <= low or from_s >= high for low, high in self.taken)

    def room_s(self, rng: Rng, length_s: float, last_s: float | None = None) -> float | None:
        """Give the start of a free stretch of this length, taken from now on; None if none was found."""
        end_s = (self.quiet_s if last_s is None else last_s) - length_s
        for _ in range(TRIES):
            t_s = between(rng, self.ready_s, max(end_s, self.ready_s))
            if t_s <= end_s and self.is_free(t_s, t_s + length_s):
                self.take(t_s, t_s + length_s)
                return t_s
        return None

    def mark(self, rng: Rng, kind: Kind | Oddity, t_s: float, duration_s: float = 0.0) -> None:
        """Write down one healthy thing."""
        self.marks.append(Mark(kind, t_s, duration_s, float(rng.random()), new_seed(rng)))

    def load_at_n(self, t_s: float) -> float:
        """Give the load that is set at a time."""
        return [s for s in sorted(self.steps, key=lambda s: s.t_s) if s.t_s <= t_s][-1].load_n

    def cut_run(self, from_s: float, to_s: float) -> None:
        """Stop the motor over a stretch that lies within one run."""
        for i, (on_s, off_s) in enumerate(self.runs):
            if on_s < from_s and to_s < off_s:
                self.runs[i : i + 1] = [(on_s, from_s), (to_s, off_s)]
                return
        raise ValueError(f"stretch {from_s}..{to_s} s: the motor does not run through it")
