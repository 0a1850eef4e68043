"""Draws and unrest: numbers between bounds, choices, and noise with a memory.

Reads a generator of random numbers, gives numbers and courses on the inner clock.
"""

from collections.abc import Sequence
from math import exp, log
from typing import TypeVar

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats

STEP_S = 0.005
"""The inner clock; short beside a start of 0.2 s and a turn at 3000 r/min (20 ms)."""

Dice = np.random.Generator
T = TypeVar("T")


def between(dice: Dice, low: float, high: float) -> float:
    """Draw evenly between two bounds."""
    return float(dice.uniform(low, high))


def scaled(dice: Dice, low: float, high: float) -> float:
    """Draw evenly on a logarithmic scale between two bounds, both > 0."""
    return exp(between(dice, log(low), log(high)))


def happens(dice: Dice, share: float) -> bool:
    """Draw whether a thing of the given share, 0 to 1, happens."""
    return bool(dice.random() < share)


def one_of(dice: Dice, things: Sequence[T], weights: Sequence[float] | None = None) -> T:
    """Draw one thing, by weight where weights are given."""
    if weights is None:
        return things[int(dice.integers(len(things)))]
    edges = np.cumsum(weights)
    return things[int(np.searchsorted(edges, dice.random() * edges[-1], side="right"))]


def wander(dice: Dice, count: int, tau_s: float, step_s: float = STEP_S) -> Floats:
    """Give unrest of unit spread that forgets itself exponentially.

    Args:
        dice: drawn from `count` + 1 times.
        count: samples.
        tau_s: after which the memory is down to 1/e; 0 for none.
        step_s: from sample to sample.
    Returns:
        (count,) float64, mean 0, spread 1.
    """
    keep = exp(-step_s / tau_s) if tau_s > 0.0 else 0.0
    first = dice.standard_normal()
    drive = dice.standard_normal(count) * (1.0 - keep * keep) ** 0.5
    return np.asarray(lfilter([1.0], [1.0, -keep], drive, zi=[keep * first])[0])


def lagged(course: Floats, tau_s: float, step_s: float = STEP_S) -> Floats:
    """Give a course as a first-order instrument follows it, at rest at the first value.

    Args:
        course: (n,) any unit.
        tau_s: of the instrument; 0 gives the course back.
        step_s: from sample to sample.
    """
    if tau_s <= 0.0 or not len(course):
        return course
    keep = exp(-step_s / tau_s)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], course, zi=[keep * course[0]])[0])


def window(t_s: Floats, begin_s: float, end_s: float, edge_s: float) -> Floats:
    """Give 1 inside a span and 0 outside, with smooth edges of the given width that lie inside the span, (n,)."""
    rise = np.clip((t_s - begin_s) / edge_s, 0.0, 1.0)
    fall = np.clip((end_s - t_s) / edge_s, 0.0, 1.0)
    both = np.minimum(rise, fall)
    return both * both * (3.0 - 2.0 * both)
