"""Unrest of a healthy contact: wander, slow transitions of the film, particles, stick-slip.

Reads plan and draws, gives factors on the friction coefficient.
"""

from math import exp, log

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Kind, Nuisance

from .chance import Chance
from .plan import Plan
from .rig import Film


def remembered(chance: Chance, n: int, step_s: float, memory_s: float) -> Floats:
    """Give noise with a sigma of one whose correlation falls by e in `memory_s`, (n,)."""
    keep = exp(-step_s / memory_s)
    course: Floats = lfilter([np.sqrt(1.0 - keep * keep)], [1.0, -keep], chance.white(n + 1))
    return course[:n]


def slow_factor(plan: Plan, film: Film, t_s: Floats, chance: Chance) -> Floats:
    """Give wander and film transitions at the slow steps, (n,)."""
    factor = 1.0 + film.wander_share * remembered(chance, len(t_s), float(t_s[1] - t_s[0]), film.wander_s)
    for at, each in enumerate(_of(plan, Kind.FILM_TRANSITION)):
        draw = chance.child(at)
        change = draw.between(0.08, 0.4) * draw.one((1.0, -0.7))
        part = np.clip((t_s - each.t_s) / each.duration_s, 0.0, 1.0)
        factor *= 1.0 + change * part * part * (3.0 - 2.0 * part)
    return np.clip(factor, 0.6, 1.5)


def fast_factor(plan: Plan, film: Film, t_s: Floats, chance: Chance) -> Floats:
    """Give fast unrest, particles and stick-slip, (n,)."""
    step_s = float(t_s[1] - t_s[0])
    factor = 1.0 + film.unrest_share * remembered(chance.child(0), len(t_s), step_s, film.unrest_s)
    for at, each in enumerate(_of(plan, Kind.DEBRIS)):
        draw = chance.child(1, at)
        rise, skew = draw.ratio(0.08, 0.6), draw.between(0.15, 0.5)
        here = _span(t_s, each)
        part = (t_s[here] - each.t_s) / each.duration_s
        factor[here] *= 1.0 + rise * np.minimum(part / skew, (1.0 - part) / (1.0 - skew)).clip(0.0)
    depth, hz = chance.child(2).ratio(0.06, 0.45), chance.child(3).ratio(0.4, 30.0)
    for at, each in enumerate(_of(plan, Kind.STICK_SLIP)):
        here = _span(t_s, each)
        factor[here] *= saw(t_s[here] - each.t_s, hz, depth, chance.child(4, at))
    return np.maximum(factor, 0.05)


def saw(since_s: Floats, hz: float, depth: float, chance: Chance) -> Floats:
    """Give the factor of stick-slip: the spring is wound while the contact sticks, and lets go.

    Cycles that stick longer hold more, with the logarithm of the time at rest (Dieterich, J. Geophys. Res. 77 (1972)
    3690).

    Args:
        since_s: (n,) ascending from 0.
        hz: mean rate of cycles.
        depth: mean swing from lowest to highest.
        chance: stream.
    Returns:
        (n,) with a mean near one.
    """
    if not len(since_s):
        return np.ones(0)
    lasts_s = np.exp(0.15 * chance.white(int(1.6 * hz * since_s[-1]) + 8)) / hz
    ends_s = np.cumsum(lasts_s)
    cycle = np.minimum(np.searchsorted(ends_s, since_s, side="right"), len(ends_s) - 1)
    part = 1.0 - (ends_s[cycle] - since_s) / lasts_s[cycle]
    swing = depth * (1.0 + 0.5 * np.log(lasts_s[cycle] * hz) / log(2.0)).clip(0.2)
    slips = chance.between(0.08, 0.25)
    shape = np.where(part < 1.0 - slips, part / (1.0 - slips), (1.0 - part) / slips) - 0.5
    fades = np.minimum(1.0, np.minimum(since_s, since_s[-1] - since_s) * hz / 2.0 + 0.3)
    grown: Floats = 1.0 + swing * fades * shape
    return grown


def _of(plan: Plan, kind: Kind) -> list[Nuisance]:
    return [each for each in plan.nuisances if each.kind is kind]


def _span(t_s: Floats, each: Nuisance) -> slice:
    first, last = np.searchsorted(t_s, (each.t_s, each.t_s + each.duration_s))
    return slice(int(first), int(last))
