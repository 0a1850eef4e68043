"""The load on the pin over time: how each way of loading gets from one load to the next.

Reads `world_m.plan`, `world_m.design`; gives the load at the contact before run-out and lean.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats, Kind

from world_m.design import Design, Loading
from world_m.grid import ramp, slow_wander, span
from world_m.plan import LoadMove, Plan
from world_m.streams import Stream, between, log_between


@dataclass(frozen=True, slots=True)
class Manner:
    """How the load moves: a rise and the ringing after it.

    Attributes:
        rise_s: from one load to the next, gently done.
        ring_hz, ring_s, ring_ratio: frequency, decay and first amplitude over the step; a dropped weight has three
            times that or more.
        creep: share of the load lost to relaxation over creep_s.
    """

    rise_s: float
    ring_hz: float
    ring_s: float
    ring_ratio: float
    creep: float
    creep_s: float


def load_n(rng: Stream, t_s: Floats, plan: Plan, design: Design) -> Floats:
    """Give the load in N, (n,), never below zero."""
    manner = _manner(rng, design.loading)
    load = np.full(t_s.size, plan.first_load_n)
    before_n = plan.first_load_n
    for move in plan.moves:
        _move(rng, load, t_s, manner, move, before_n, design.loading)
        before_n = move.load_n
    for bump in plan.of(Kind.BUMP):
        _ring(load, t_s, manner, bump.t_s, plan.load_at(bump.t_s) * between(rng, 0.08, 0.6))
    if design.loading is Loading.AIR:
        load *= 1.0 + between(rng, 0.002, 0.015) * slow_wander(rng, t_s, between(rng, 2.0, 15.0))
    return np.asarray(np.maximum(load, 0.0))


def _manner(rng: Stream, loading: Loading) -> Manner:
    hz, ring_s = between(rng, 2.0, 9.0), log_between(rng, 0.15, 1.6)
    if loading is Loading.LEVER:
        return Manner(between(rng, 0.1, 0.6), hz, ring_s, between(rng, 0.03, 0.3), 0.0, 1.0)
    if loading is Loading.SCREW:
        return Manner(between(rng, 3.0, 12.0), hz, 0.1, 0.02, between(rng, 0.0, 0.04), between(rng, 20.0, 120.0))
    if loading is Loading.AIR:
        return Manner(between(rng, 0.6, 3.0), between(rng, 0.6, 2.0), 0.8, 0.04, 0.0, 1.0)
    return Manner(between(rng, 5.0, 16.0), hz, 0.2, 0.01, 0.0, 1.0)


def _move(
    rng: Stream, load: Floats, t_s: Floats, manner: Manner, move: LoadMove, before_n: float, loading: Loading
) -> None:
    step_n = move.load_n - before_n
    after = span(t_s, move.t_s, np.inf)
    late_s = t_s[after]
    down = step_n < 0.0 or move.load_n == 0.0
    rise_s = min(manner.rise_s, 1.2) if down else (0.06 if move.hard else manner.rise_s)
    if loading is Loading.SCREW and not down:
        load[after] += step_n * _by_turns(rng, late_s, move.t_s, rise_s)
    else:
        load[after] += step_n * ramp(late_s, move.t_s, rise_s)
    if step_n > 0.0:
        ratio = between(rng, 0.4, 1.1) if move.hard else manner.ring_ratio
        _ring(load, t_s, manner, move.t_s + 0.5 * rise_s, ratio * step_n)
        load[after] -= manner.creep * step_n * (1.0 - np.exp(-(late_s - move.t_s) / manner.creep_s))


def _by_turns(rng: Stream, t_s: Floats, begin_s: float, rise_s: float) -> Floats:
    """Give the rise of a screw turned in a few pulls of the wrench."""
    pulls = int(rng.integers(2, 6))
    each_s = rise_s / pulls
    parts = [ramp(t_s, begin_s + pull * each_s, 0.6 * each_s) for pull in range(pulls)]
    return np.asarray(np.sum(parts, axis=0) / pulls)


def _ring(load: Floats, t_s: Floats, manner: Manner, begin_s: float, first_n: float) -> None:
    """Add a decaying swing of the lever."""
    where = span(t_s, begin_s, begin_s + 7.0 * manner.ring_s)
    late_s = t_s[where] - begin_s
    swing = np.exp(-late_s / manner.ring_s) * np.sin(2.0 * np.pi * manner.ring_hz * late_s)
    load[where] += first_n * swing
