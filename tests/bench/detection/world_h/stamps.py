"""The clock of the file: nights that pass, rows that are lost, stamps that repeat or run backward.

Reads times of even spacing, gives the stamps and which rows were written.
"""

import numpy as np
from numpy.random import Generator
from world_b.values import Flags, Floats, Kind, Nuisance

from .chance import chance, log_between
from .plan import Plan

_BEFORE_SIGN_S = 4.0


def stamp(rng: Generator, plan: Plan, whole_s: float, t_s: Floats) -> tuple[Floats, Flags]:
    """Give the stamps, (n,) float64 s, and which rows were written, (n,) bool, of a recording of `whole_s`."""
    stamps_s = clock(plan, t_s)
    kept = np.ones(len(t_s), dtype=np.bool_)
    until_s = min(plan.first_sign_s, whole_s) - _BEFORE_SIGN_S
    if chance(rng, 0.16):
        for at_s in _times(rng, until_s, 180.0):
            length_s = min(log_between(rng, 0.03, 2.0), until_s - at_s)
            kept[(t_s >= at_s) & (t_s < at_s + length_s)] = False
            plan.nuisances.append(Nuisance(Kind.HOLES, at_s, length_s))
    if chance(rng, 0.1):
        for at_s in _times(rng, until_s, 200.0):
            row = int(np.searchsorted(t_s, at_s))
            stamps_s[row + 1 : row + 1 + int(rng.integers(1, 4))] = stamps_s[row]
            plan.nuisances.append(Nuisance(Kind.DUPLICATE_STAMPS, at_s))
    if chance(rng, 0.08):
        for at_s in _times(rng, until_s, 300.0):
            back_s, length_s = log_between(rng, 0.005, 0.8), log_between(rng, 0.02, 0.5)
            stamps_s[(t_s >= at_s) & (t_s < min(at_s + length_s, until_s))] -= back_s
            plan.nuisances.append(Nuisance(Kind.BACKWARD_STAMPS, at_s, length_s))
    return stamps_s, kept


def clock(plan: Plan, t_s: Floats) -> Floats:
    """Give what the clock of the stamps shows at times since the recording began, s; a night is not recorded."""
    return t_s + sum((np.where(t_s >= at_s, length_s, 0.0) for at_s, length_s in plan.nights), np.zeros_like(t_s))


def _times(rng: Generator, until_s: float, apart_s: float) -> list[float]:
    if until_s <= 10.0:
        return []
    return [float(at_s) for at_s in np.sort(rng.uniform(5.0, until_s, 1 + rng.poisson(until_s / apart_s)))]
