"""Where in a recording a nuisance finds room: under a settled load, away from others, before the first sign.

Reads the stages of a plan, gives times; what is given is taken.
"""

from dataclasses import dataclass, field

from numpy.random import Generator

from .plan import Plan

_TRIES = 12
_APART_S = 5.0
_BEFORE_SIGN_S = 4.0


@dataclass(slots=True)
class Diary:
    """The times taken so far."""

    rng: Generator
    plan: Plan
    taken: list[tuple[float, float]] = field(default_factory=list)

    def find(self, length_s: float) -> float | None:
        """Give the beginning of a free time of `length_s` under one load, s, or nothing if none was found."""
        for _ in range(_TRIES):
            stage = self.plan.stages[int(self.rng.integers(len(self.plan.stages)))]
            low_s = max(stage.ready_s, self.plan.motor_on_s + 8.0) + _APART_S
            high_s = min(stage.end_s, self.plan.first_sign_s - _BEFORE_SIGN_S, self.plan.end_s) - length_s - _APART_S
            if high_s <= low_s:
                continue
            begin_s = float(self.rng.uniform(low_s, high_s))
            end_s = begin_s + length_s
            if all(end_s + _APART_S < low or high + _APART_S < begin_s for low, high in self.taken):
                self.taken.append((begin_s, end_s))
                return begin_s
        return None
