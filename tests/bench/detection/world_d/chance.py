"""Random draws with names, each from a stream of its own.

Reads a key of whole numbers, gives draws that depend on nothing else.
"""

from collections.abc import Sequence
from math import exp, log
from typing import TypeVar

import numpy as np
from world_b.values import Floats

T = TypeVar("T")


class Chance:
    """One stream of draws; the same key gives the same stream."""

    def __init__(self, *key: int) -> None:
        self.key = key
        self.rng = np.random.default_rng(key)

    def between(self, low: float, high: float) -> float:
        """Draw evenly from `low` to `high`."""
        return low + (high - low) * float(self.rng.random())

    def ratio(self, low: float, high: float) -> float:
        """Draw evenly in the logarithm from `low` to `high`, both > 0."""
        return exp(self.between(log(low), log(high)))

    def count(self, low: int, high: int) -> int:
        """Draw a whole number from `low` to `high`, both included."""
        return int(self.rng.integers(low, high + 1))

    def yes(self, share: float) -> bool:
        """Draw true in `share` of all cases."""
        return float(self.rng.random()) < share

    def one(self, things: Sequence[T], weights: Sequence[float] | None = None) -> T:
        """Draw one thing, evenly or by weight."""
        if weights is None:
            return things[self.count(0, len(things) - 1)]
        edges = np.cumsum(weights)
        return things[int(np.searchsorted(edges, self.rng.random() * edges[-1], side="right"))]

    def moments(self, from_s: float, to_s: float, per_hour: float) -> list[float]:
        """Draw moments of a Poisson process, s, in order."""
        if to_s <= from_s:
            return []
        n = int(self.rng.poisson(per_hour * (to_s - from_s) / 3600.0))
        return sorted(self.between(from_s, to_s) for _ in range(n))

    def white(self, n: int) -> Floats:
        """Draw (n,) standard normal values."""
        return self.rng.standard_normal(n)

    def child(self, *more: int) -> "Chance":
        """Give the stream of a longer key; nothing drawn here changes it."""
        return Chance(*self.key, *more)
