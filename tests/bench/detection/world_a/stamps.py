"""Rows and stamps of a recording of the first world: what is cut, lost, repeated, or a night later.

Reads channels and truth on the course's clock, gives the recording.
"""

import math
from random import Random

import numpy as np
from world_b.values import Floats, Kind, Nuisance, Recording, RigFacts, Truth

from .plan import Plan
from .sense import Fitting, spoil

_NIGHT_S = (8.0 * 3600.0, 16.0 * 3600.0)


def finish(
    plan: Plan,
    read: dict[str, Floats],
    facts: RigFacts,
    truth: Truth,
    fittings: dict[str, Fitting],
    chance: Random,
    row_s: float,
) -> Recording | None:
    """Cut the beginning off, put faults and broken stamps in."""
    rows = len(next(iter(read.values())))
    if plan.fault is not None:
        fault, name, begin_s = plan.fault
        read = {**read, name: spoil(chance, read[name], fittings[name], fault, int(begin_s / row_s), row_s)}
    nuisances = list(truth.nuisances)
    time_s = (np.arange(rows) + 1) * row_s
    night_s = chance.uniform(*_NIGHT_S)
    for at_s in plan.days:
        time_s = np.where(time_s > at_s, time_s + night_s, time_s)
        nuisances.append(Nuisance(Kind.DAY_BETWEEN, at_s, night_s))
    keep = time_s > plan.skip_s
    keep &= _holes(chance, rows, row_s, nuisances)
    read = {name: _gaps(chance, value.copy(), row_s, nuisances) for name, value in read.items()}
    time_s = _broken(chance, time_s, row_s, nuisances)
    later_s = dict.fromkeys(plan.days, night_s)
    moved = _shifted(truth, nuisances, plan.skip_s, later_s)
    if moved is None:
        return None
    return Recording(
        time_s[keep] - plan.skip_s, {name: value[keep].copy() for name, value in read.items()}, facts, moved
    )


def _holes(chance: Random, rows: int, row_s: float, nuisances: list[Nuisance]) -> np.ndarray:
    keep = np.ones(rows, bool)
    if chance.random() < 0.15:
        for _ in range(chance.randint(1, 5)):
            at, n = chance.randrange(rows), max(1, int(chance.uniform(0.02, 2.5) / row_s))
            keep[at : at + n] = False
            nuisances.append(Nuisance(Kind.HOLES, at * row_s, n * row_s))
    return keep


def _gaps(chance: Random, value: Floats, row_s: float, nuisances: list[Nuisance]) -> Floats:
    if chance.random() < 0.04:
        for _ in range(chance.randint(1, 6)):
            at, n = chance.randrange(len(value)), max(1, int(chance.uniform(0.01, 0.4) / row_s))
            value[at : at + n] = math.nan
            nuisances.append(Nuisance(Kind.SHORT_DROPOUTS, at * row_s, n * row_s))
    return value


def _broken(chance: Random, time_s: Floats, row_s: float, nuisances: list[Nuisance]) -> Floats:
    out = time_s.copy()
    for kind in (Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS):
        if chance.random() < 0.1:
            at, n = chance.randrange(len(out) - 40), chance.randint(1, 20)
            out[at : at + n] = out[at] if kind is Kind.DUPLICATE_STAMPS else out[at : at + n] - 20.0 * row_s
            nuisances.append(Nuisance(kind, at * row_s, n * row_s))
    return out


def _shifted(truth: Truth, nuisances: list[Nuisance], skip_s: float, nights: dict[float, float]) -> Truth | None:
    """Give the truth on the clock of the stamps; None where the cut took what happened."""

    def stamp_s(t_s: float) -> float:
        return t_s - skip_s + sum(night_s for at_s, night_s in nights.items() if t_s > at_s)

    times = [name for name in Truth.__slots__ if name.endswith("_s")]
    moved = {name: stamp_s(getattr(truth, name)) for name in times}
    if any(value < 5.0 for value in moved.values() if not math.isnan(value)):
        return None
    rest = {name: getattr(truth, name) for name in Truth.__slots__ if name not in times}
    rest["nuisances"] = tuple(
        Nuisance(n.kind, max(stamp_s(n.t_s), 0.0), n.duration_s) for n in sorted(nuisances, key=lambda n: n.t_s)
    )
    return Truth(**moved, **rest)
