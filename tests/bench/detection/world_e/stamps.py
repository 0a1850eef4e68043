"""The logger: moments of the samples, stamps that stand for them, rows that are lost.

Reads dice and a plan, gives a clock from inner time to stamps.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import Dice, between
from .plan import Plan

_JITTER = 0.02
"""Spread of the moments of sampling, in periods; plausible, invented."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Stamps are inner time plus every step made so far: (inner time, step) in s, in order of time."""

    steps: tuple[tuple[float, float], ...]

    def stamps(self, t_s: Floats) -> Floats:
        """Give the stamps of inner moments, (n,) s."""
        given = np.array(t_s, dtype=np.float64)
        for at_s, step_s in self.steps:
            given += step_s * (t_s >= at_s)
        return given

    def stamp(self, t_s: float) -> float:
        """Give the stamp of one moment; NaN stays NaN."""
        return float(self.stamps(np.array([t_s]))[0])


def draw_clock(dice: Dice, plan: Plan) -> Clock:
    """Draw by how much the logger's clock is set back, and how long a night is."""
    steps = [(back.t_s, -between(dice, 0.03, 1.5)) for back in plan.of(Kind.BACKWARD_STAMPS)]
    if plan.night_s > 0.0:
        steps.append((plan.night_s, between(dice, 10.0, 64.0) * 3600.0))
    return Clock(tuple(sorted(steps)))


def moments(dice: Dice, duration_s: float, rate_hz: float) -> Floats:
    """Give the moments of sampling, growing, (m,) s."""
    count = int(duration_s * rate_hz)
    jitter = np.clip(_JITTER * dice.standard_normal(count), -0.2, 0.2)
    jitter[:1] = 0.0
    return (np.arange(count) + jitter) / rate_hz


def repeated(plan: Plan, at_s: Floats, stamps: Floats) -> Floats:
    """Give the stamps with those spans in which every second row carries the stamp of the row before it."""
    given = stamps.copy()
    for span in plan.of(Kind.DUPLICATE_STAMPS):
        rows = np.flatnonzero((at_s >= span.t_s) & (at_s < span.t_s + max(span.duration_s, 0.1)))
        rows = rows[rows > 0]
        given[rows[1::2]] = given[rows[1::2] - 1]
    return given


def kept(plan: Plan, at_s: Floats) -> Flags:
    """Give which rows the logger kept, (m,)."""
    keep = np.ones(len(at_s), dtype=np.bool_)
    for hole in plan.of(Kind.HOLES):
        keep &= ~((at_s >= hole.t_s) & (at_s < hole.t_s + hole.duration_s))
    return keep
