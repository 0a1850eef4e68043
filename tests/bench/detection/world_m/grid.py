"""The clock of the physics, and simple filters over it.

Reads numpy. The physics runs at one step whatever the rate of the rows, so that what happened is the same at any rate.
"""

from itertools import accumulate

import numpy as np
from world_b.values import Floats

from world_m.streams import Stream

STEP_S = 0.005
BLOCK_STEPS = 50
"""Temperatures, viscosity and running-in move once a block, which is 0.25 s."""
BLOCK_S = STEP_S * BLOCK_STEPS


def clock_s(duration_s: float) -> Floats:
    """Give the times of a whole number of blocks, (n,) s."""
    blocks = max(1, round(duration_s / BLOCK_S))
    return np.arange(blocks * BLOCK_STEPS, dtype=np.float64) * STEP_S


def span(t_s: Floats, begin_s: float, end_s: float) -> slice:
    """Give the samples of an evenly spaced clock that lie within [begin_s, end_s)."""
    return slice(int(np.searchsorted(t_s, begin_s)), int(np.searchsorted(t_s, end_s)))


def lagged(x: Floats, lag_s: float, step_s: float) -> Floats:
    """Give x through a first-order lag that starts settled, (n,)."""
    if lag_s <= 0.0 or x.size == 0:
        return x
    keep = float(np.exp(-step_s / lag_s))
    values = accumulate(x.tolist(), lambda y, v: v + keep * (y - v))
    return np.fromiter(values, np.float64, x.size)


def wander(rng: Stream, size: int, time_s: float, step_s: float) -> Floats:
    """Give a stationary random wander of unit variance and that time constant (Ornstein-Uhlenbeck), (size,)."""
    keep = float(np.exp(-step_s / max(time_s, 1e-6)))
    kicks = rng.standard_normal(size) * np.sqrt(1.0 - keep * keep)
    kicks[:1] = rng.standard_normal()
    values = accumulate(kicks.tolist(), lambda y, kick: keep * y + kick)
    return np.fromiter(values, np.float64, size)


def slow_wander(rng: Stream, t_s: Floats, time_s: float) -> Floats:
    """Give the same for time constants far above a second, drawn at 1 Hz and joined by straight lines."""
    seconds = np.arange(int(t_s[-1]) + 3, dtype=np.float64)
    return np.interp(t_s, seconds, wander(rng, seconds.size, time_s, 1.0))


def ramp(t_s: Floats, begin_s: float, duration_s: float) -> Floats:
    """Give a smooth rise from 0 to 1, (n,)."""
    u = np.clip((t_s - begin_s) / max(duration_s, 1e-9), 0.0, 1.0)
    return u * u * (3.0 - 2.0 * u)
