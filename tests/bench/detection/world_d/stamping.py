"""The clock of the rows: nights left out, rows lost, stamps repeated or running backward.

Reads a plan, gives stamps and which rows are kept.
"""

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import Chance
from .plan import Plan


def stamped(plan: Plan, t_s: Floats | float) -> Floats:
    """Give the stamp of a time on the clock that runs through; NaN stays NaN."""
    stamp = np.array(t_s, dtype=np.float64)
    for night_s, left_out_s in plan.nights_s:
        stamp = stamp + np.where(np.asarray(t_s) > night_s, left_out_s, 0.0)
    return stamp


def kept_rows(plan: Plan, t_s: Floats, chance: Chance) -> Flags:
    """Say which rows are kept, (n,)."""
    kept = np.ones(len(t_s), dtype=np.bool_)
    if _has(plan, Kind.HOLES):
        for at_s in chance.moments(0.0, float(t_s[-1]), chance.ratio(3.0, 40.0)):
            first, last = np.searchsorted(t_s, (at_s, at_s + chance.ratio(0.02, 3.0)))
            kept[max(first, 1) : last] = False
    return kept


def spoiled(plan: Plan, stamps_s: Floats, chance: Chance) -> Floats:
    """Repeat some stamps, and let some run backward, (n,)."""
    step_s = float(stamps_s[1] - stamps_s[0])
    spoilt = stamps_s.copy()
    if _has(plan, Kind.DUPLICATE_STAMPS):
        rows = _rows(stamps_s, chance)
        spoilt[rows] = spoilt[rows - 1]
    if _has(plan, Kind.BACKWARD_STAMPS):
        rows = _rows(stamps_s, chance)
        spoilt[rows] -= step_s * np.array([chance.count(2, 8) for _ in rows], dtype=np.float64)
        spoilt = np.maximum(spoilt, 0.0)
    return spoilt


def _rows(stamps_s: Floats, chance: Chance) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    n = max(chance.count(1, 4), round(len(stamps_s) * chance.ratio(1e-5, 1e-3)))
    return np.unique(chance.rng.integers(1, len(stamps_s), size=n))


def _has(plan: Plan, kind: Kind) -> bool:
    return any(each.kind is kind for each in plan.nuisances)
