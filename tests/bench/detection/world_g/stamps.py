"""The clock of the stamps: rows that are missing, stamps that repeat, run backward or jump over a night."""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import Dice, between
from .plan import Plan


@dataclass(frozen=True, slots=True)
class Stamps:
    """How the inner clock is written down.

    Attributes:
        jumps: (s on the inner clock, s by which every later stamp is off), in order of time.
    """

    jumps: tuple[tuple[float, float], ...]

    def of(self, t_s: float) -> float:
        """Give the stamp of a moment, s; NaN stays NaN."""
        return t_s + sum(by_s for at_s, by_s in self.jumps if t_s >= at_s)


def draw_stamps(dice: Dice, plan: Plan) -> Stamps:
    """Draw by how much the clock jumps."""
    jumps = [(at_s, between(dice, 5.0, 16.0) * 3600.0) for at_s in plan.hands.nights]
    jumps += [(thing.t_s, -thing.duration_s) for thing in plan.nuisances if thing.kind is Kind.BACKWARD_STAMPS]
    return Stamps(tuple(sorted(jumps)))


def stamped(stamps: Stamps, plan: Plan, t_s: Floats) -> tuple[Floats, Flags]:
    """Give (n,) stamps and which rows are kept."""
    out, kept = t_s.copy(), np.ones(len(t_s), dtype=np.bool_)
    step_s = float(t_s[1] - t_s[0])
    for at_s, by_s in stamps.jumps:
        out[t_s >= at_s] += by_s
    for thing in plan.nuisances:
        begin = int(np.searchsorted(t_s, thing.t_s))
        rows = max(round(thing.duration_s / step_s), 1)
        if thing.kind is Kind.HOLES:
            kept[begin : begin + rows] = False
        elif thing.kind is Kind.DUPLICATE_STAMPS:
            out[begin : begin + rows + 1] = out[begin]
    return out, kept
