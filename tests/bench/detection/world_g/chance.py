"""Dice, the inner clock and small filters of the world. Reads nothing."""

import math

import numpy as np
from scipy.signal import lfilter  # type: ignore[import-untyped,unused-ignore]
from world_b.values import Floats, Klass

STEP_S = 0.005
"""Inner step of everything that is fast."""
SLOW_STEPS = 100
"""Inner steps in one step of heat, scar and film."""
SLOW_S = STEP_S * SLOW_STEPS
BEFORE_S = 30.0
"""Turned before the recording begins and not shown; a whole number of slow steps."""

Dice = np.random.Generator


def dice_of(seed: int, klass: Klass, attempt: int, stream: int) -> Dice:
    """Give a generator of its own for each purpose, so that one cannot disturb another."""
    return np.random.default_rng([seed, list(Klass).index(klass), attempt, stream, 7])


def between(dice: Dice, low: float, high: float) -> float:
    """Draw evenly from low..high."""
    return float(dice.uniform(low, high))


def spread(dice: Dice, low: float, high: float) -> float:
    """Draw evenly in the logarithm from low..high, both > 0."""
    return math.exp(float(dice.uniform(math.log(low), math.log(high))))


def chance(dice: Dice, share: float) -> bool:
    """Say yes in a share of the cases."""
    return bool(dice.random() < share)


def lagged(course: Floats, lag_s: float, step_s: float) -> Floats:
    """Give (n,) a course behind a first-order lag that had settled on its first value."""
    if lag_s <= 0.0 or not len(course):
        return course
    keep = math.exp(-step_s / lag_s)
    out, _ = lfilter([1.0 - keep], [1.0, -keep], course, zi=[keep * course[0]])
    return np.asarray(out, dtype=np.float64)


def wandering(dice: Dice, count: int, lag_s: float, step_s: float) -> Floats:
    """Give (count,) noise of unit spread that forgets itself within lag_s."""
    keep = math.exp(-step_s / lag_s) if lag_s > 0.0 else 0.0
    white = dice.standard_normal(count) * math.sqrt(1.0 - keep * keep)
    out, _ = lfilter([1.0], [1.0, -keep], white, zi=[keep * float(dice.standard_normal())])
    return np.asarray(out, dtype=np.float64)


def eased(t_s: Floats, begin_s: float, takes_s: float) -> Floats:
    """Give (n,) a share that goes smoothly from 0 to 1 within takes_s."""
    share = np.clip((t_s - begin_s) / max(takes_s, 1e-6), 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share), dtype=np.float64)
