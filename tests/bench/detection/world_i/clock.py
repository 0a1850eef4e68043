"""The clock of the recording: a day between, rows missing, stamps that repeat or run backward.

Reads the plan; gives the stamp of each row and which rows were kept.
"""

import numpy as np
from world_b.values import Flags, Floats, Kind

from .draws import Rng, uniform
from .plan import Plan


def stamp(t_s: float, plan: Plan) -> float:
    """Give the stamp of a moment of the world's clock; NaN stays NaN."""
    return t_s + plan.day_gap_length_s if t_s > plan.day_gap_s else t_s


def stamp_rows(rng: Rng, plan: Plan, t_s: Floats) -> tuple[Floats, Flags]:
    """Give the stamps, all of them, and which rows to keep."""
    stamps = t_s + np.where(t_s > plan.day_gap_s, plan.day_gap_length_s, 0.0)
    keep = np.ones(t_s.size, bool)
    for happening in plan.happenings:
        length_s = uniform(rng, 0.3, 3.0)
        inside = (t_s >= happening.t_s) & (t_s < happening.t_s + length_s)
        match happening.kind:
            case Kind.HOLES:
                keep &= ~inside
            case Kind.BACKWARD_STAMPS:
                stamps[inside] -= uniform(rng, 0.1, 1.5)
            case Kind.DUPLICATE_STAMPS:
                rows = np.flatnonzero(inside)[1:]
                repeated = rows[rng.random(rows.size) < 0.3]
                stamps[repeated] = stamps[repeated - 1]
    return stamps, keep
