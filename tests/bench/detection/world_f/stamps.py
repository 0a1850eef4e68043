"""The clock of the logger: rows that are missing, stamps that repeat, run backward, or jump over a night.

Reads a plan and the moments of the rows on the clock without breaks, gives which rows are kept and their stamps.
"""

import numpy as np
from world_b.values import Flags, Floats, Kind

from .plan import Plan


def stamp_of(plan: Plan, t_s: Floats | float) -> Floats:
    """Give the stamps of moments on the clock without breaks, s, where the logger is well."""
    moments = np.asarray(t_s, np.float64)
    stamps = moments.copy()
    for night_s, lasts_s in plan.nights:
        stamps = stamps + np.where(moments >= night_s, lasts_s, 0.0)
    for setting in plan.of(Kind.BACKWARD_STAMPS):
        stamps = stamps - np.where(moments >= setting.t_s, setting.duration_s, 0.0)
    return np.asarray(stamps, np.float64)


def stamp(plan: Plan, at_s: Floats) -> tuple[Floats, Flags]:
    """Give the stamps of all rows, (n,) s, and which rows are kept, (n,)."""
    stamps = stamp_of(plan, at_s)
    for stands in plan.of(Kind.DUPLICATE_STAMPS):
        first, end = np.searchsorted(at_s, [stands.t_s, stands.t_s + stands.duration_s]).tolist()
        stamps[first : max(end, first + 2)] = stamps[min(first, len(stamps) - 1)]
    kept = np.ones(len(at_s), np.bool_)
    for hole in plan.of(Kind.HOLES):
        first, end = np.searchsorted(at_s, [hole.t_s, hole.t_s + hole.duration_s]).tolist()
        kept[first : max(end, first + 1)] = False
    return stamps, kept
