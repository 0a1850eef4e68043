"""Draws and courses that several rooms of this world need.

Reads a numpy Generator or a course on an even grid, gives numbers and courses; keeps nothing between calls.
"""

from collections.abc import Mapping
from math import exp, log
from typing import TypeVar

import numpy as np
from scipy.signal import lfilter  # type: ignore[import-untyped]
from world_b.values import Floats

Dice = np.random.Generator
Choice = TypeVar("Choice")

STEP_S = 0.004
"""Of the grid on which the ring turns; a jam stops a ring in no less than ten of these."""
FINE_IN_SLOW = 60
SLOW_STEP_S = FINE_IN_SLOW * STEP_S
"""Of the grid on which oil warms and tribofilm grows."""


def even(dice: Dice, low: float, high: float) -> float:
    """Give a number that is anywhere between two with the same chance."""
    return float(dice.uniform(low, high))


def spread(dice: Dice, low: float, high: float) -> float:
    """Give a number between two that are above 0, every decade with the same chance."""
    return exp(float(dice.uniform(log(low), log(high))))


def happens(dice: Dice, chance: float) -> bool:
    """Say whether something with this chance happens."""
    return bool(dice.random() < chance)


def pick(dice: Dice, shares: Mapping[Choice, float]) -> Choice:
    """Give one of the keys, each as often as its share asks."""
    keys = list(shares)
    weights = np.array([shares[key] for key in keys])
    return keys[int(dice.choice(len(keys), p=weights / weights.sum()))]


def grid(duration_s: float, step_s: float = STEP_S) -> Floats:
    """Give the times of an even grid from 0, (n,) s."""
    return np.asarray(np.arange(max(round(duration_s / step_s), 1)) * step_s, np.float64)


def lagged(course: Floats, lag_s: float, step_s: float = STEP_S) -> Floats:
    """Give a course as an instrument of one time constant follows it, settled at its first value, (n,)."""
    if lag_s <= 0.1 * step_s:
        return course.copy()
    share = 1.0 - exp(-step_s / lag_s)
    followed, _ = lfilter([share], [1.0, share - 1.0], course, zi=[(1.0 - share) * course[0]])
    return np.asarray(followed, np.float64)


def wander(dice: Dice, count: int, memory_s: float, step_s: float = STEP_S) -> Floats:
    """Give unrest of mean 0 and spread 1 that forgets itself in `memory_s`, (count,)."""
    keep = exp(-step_s / memory_s)
    begin = float(dice.standard_normal())
    course, _ = lfilter([np.sqrt(1.0 - keep**2)], [1.0, -keep], dice.standard_normal(count), zi=[keep * begin])
    return np.asarray(course, np.float64)


def mean_over(course: Floats, lasts_s: float, step_s: float = STEP_S) -> Floats:
    """Give the mean of a course over the last `lasts_s` up to each moment, (n,)."""
    width = max(round(lasts_s / step_s), 1)
    total = np.cumsum(np.concatenate([np.full(width, course[0]), course]))
    return np.asarray((total[width:] - total[:-width]) / width, np.float64)


def smooth_step(t_s: Floats, begin_s: float, lasts_s: float) -> Floats:
    """Give a rise from 0 to 1 without corners, (n,)."""
    share = np.clip((t_s - begin_s) / max(lasts_s, 1e-6), 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share), np.float64)


def stretch(count: int, begin_s: float, end_s: float, step_s: float = STEP_S) -> slice:
    """Give the part of a grid between two times, cut at its ends."""
    return slice(min(max(round(begin_s / step_s), 0), count), min(max(round(end_s / step_s), 0), count))


def slow_means(course: Floats) -> Floats:
    """Give the means of a fine course over the steps of the slow grid, (n // FINE_IN_SLOW,)."""
    whole = len(course) // FINE_IN_SLOW * FINE_IN_SLOW
    return np.asarray(course[:whole].reshape(-1, FINE_IN_SLOW).mean(axis=1), np.float64)


def fine(course: Floats, count: int) -> Floats:
    """Give a slow course on the fine grid, (count,)."""
    middles = (np.arange(len(course)) + 0.5) * FINE_IN_SLOW
    return np.interp(np.arange(count), middles, course)
