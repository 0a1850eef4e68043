"""Random draws and the two filters everything is made with.

Reads a seed, gives draws. The draws that decide what happens come from streams that do not depend on the rate, so one
seed is one rig and one story at any rate.
"""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

from .values import Floats

Item = TypeVar("Item")


class Draw:
    """Give draws from one stream of random numbers.

    Args:
        key: whole numbers >= 0; equal keys give equal streams.
    """

    def __init__(self, *key: int) -> None:
        self.rng = np.random.default_rng(key)

    def within(self, low: float, high: float) -> float:
        """Give a number spread evenly between the two."""
        return float(self.rng.uniform(low, high))

    def log_within(self, low: float, high: float) -> float:
        """Give a number whose logarithm is spread evenly between those of the two, both > 0."""
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def normal(self) -> float:
        """Give a standard normal number."""
        return float(self.rng.standard_normal())

    def chance(self, share: float) -> bool:
        """Give true in this share of draws."""
        return bool(self.rng.random() < share)

    def whole(self, low: int, high: int) -> int:
        """Give a whole number from low to high, both included."""
        return int(self.rng.integers(low, high + 1))

    def pick(self, items: Sequence[Item], shares: Sequence[float] | None = None) -> Item:
        """Give one of the items, by share where shares (that sum to 1) are given."""
        return items[int(self.rng.choice(len(items), p=shares))]

    def times(self, per_hour: float, begin_s: float, end_s: float) -> list[float]:
        """Give times of a Poisson process between begin and end, in order, s."""
        if end_s <= begin_s:
            return []
        count = int(self.rng.poisson(per_hour * (end_s - begin_s) / 3600.0))
        return sorted(float(t) for t in self.rng.uniform(begin_s, end_s, count))


def lag(x: Floats, tau_s: float, rate_hz: float) -> Floats:
    """Give x behind a first-order lag that starts at rest on x[0].

    Args:
        x: (n,) any unit.
        tau_s: time constant, s; 0 or far below a sample leaves x as it is.
        rate_hz: samples a second.
    Returns:
        (n,) float64 in the unit of x.
    Source:
        derived here: y[k] = a y[k-1] + (1-a) x[k] by doubling, since sum a^j shift^j = prod (1 + a^(2^i) shift^(2^i)).
    """
    keep = float(np.exp(-1.0 / (tau_s * rate_hz))) if tau_s > 0.0 else 0.0
    if keep < 1e-3 or len(x) == 0:
        return x.copy()
    y = (1.0 - keep) * x
    y[0] = x[0]
    return _run(y, keep)


def _run(y: Floats, keep: float) -> Floats:
    step, weight = 1, keep
    while step < len(y) and weight > 1e-8:
        y[step:] += weight * y[:-step]
        step, weight = 2 * step, weight * weight
    return y


def unrest(draw: Draw, n: int, tau_s: float, rate_hz: float) -> Floats:
    """Give stationary noise of mean 0 and standard deviation 1 whose correlation falls by e in tau_s.

    Returns:
        (n,) float64, dimensionless.
    """
    keep = float(np.exp(-1.0 / (tau_s * rate_hz))) if tau_s > 0.0 else 0.0
    y = draw.rng.standard_normal(n)
    if keep < 1e-3 or n == 0:
        return y
    y[1:] *= np.sqrt(1.0 - keep * keep)
    return _run(y, keep)


def slow_unrest(draw: Draw, t_s: Floats, tau_s: float) -> Floats:
    """Give noise as `unrest`, drawn on a coarse grid fixed by tau_s alone, so it is the same at any rate.

    Args:
        t_s: (n,) evenly spaced, s.
        tau_s: correlation time, s, well above a sample.
    Returns:
        (n,) float64, dimensionless.
    """
    step_s = tau_s / 8.0
    coarse_s = np.arange(0.0, round(float(t_s[-1])) + 1.0 + 2.0 * step_s, step_s)
    return np.interp(t_s, coarse_s, unrest(draw, len(coarse_s), tau_s, 1.0 / step_s))


def ringing(draw: Draw, n: int, hz: float, quality: float, rate_hz: float) -> Floats:
    """Give narrow-band noise of mean 0 and standard deviation about 1 around hz, as a struck arm makes.

    Returns:
        (n,) float64, dimensionless.
    """
    keep = np.exp(-np.pi * hz / (quality * rate_hz))
    turn = keep * np.exp(2j * np.pi * hz / rate_hz)
    z = draw.rng.standard_normal(n) * np.sqrt(2.0 * (1.0 - keep * keep)) + 0j
    step = 1
    while step < n and abs(turn) > 1e-6:
        z[step:] += turn * z[:-step]
        step, turn = 2 * step, turn * turn
    return np.ascontiguousarray(z.real)
