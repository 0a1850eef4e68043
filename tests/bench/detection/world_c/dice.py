"""Random draws of the third simulated world, each kind from a stream of its own.

Reads whole numbers, gives draws. What is decided never shares a stream with what is drawn row by row, so that the rate
of the rows changes no decision.
"""

from collections.abc import Mapping, Sequence
from enum import IntEnum
from typing import TypeVar

import numpy as np

T = TypeVar("T")


class Stream(IntEnum):
    """Closed set of streams."""

    RIG = 1
    PLAN = 2
    FILM = 3
    ROWS = 4
    SENSORS = 5
    WIRES = 6
    STAMPS = 7
    JITTER = 8


class Dice:
    """A stream of draws; the state of its generator survives a call."""

    def __init__(self, *words: int) -> None:
        """Take the words that name the stream, all >= 0."""
        self.generator = np.random.default_rng(np.random.SeedSequence(words))

    def flat(self, low: float, high: float) -> float:
        """Give a number spread evenly from low to high."""
        return float(self.generator.uniform(low, high))

    def even_log(self, low: float, high: float) -> float:
        """Give a number, its logarithm spread evenly, from low to high, both > 0."""
        return float(np.exp(self.generator.uniform(np.log(low), np.log(high))))

    def round_bell(self, median: float, log_spread: float, low: float, high: float) -> float:
        """Give a log-normal number, held within low to high."""
        return float(np.clip(median * np.exp(log_spread * self.generator.standard_normal()), low, high))

    def whole(self, low: int, high: int) -> int:
        """Give a whole number from low to high, both possible."""
        return int(self.generator.integers(low, high + 1))

    def chance(self, share: float) -> bool:
        """Say yes in this share of calls."""
        return bool(self.generator.random() < share)

    def one_of(self, options: Sequence[T]) -> T:
        """Give one of the options, all alike."""
        return options[int(self.generator.integers(len(options)))]

    def weighed(self, shares: Mapping[T, float]) -> T:
        """Give one of the keys by its share."""
        keys, weights = list(shares), np.array(list(shares.values()))
        return keys[int(self.generator.choice(len(keys), p=weights / weights.sum()))]

    def times_s(self, begin_s: float, end_s: float, per_hour: float) -> list[float]:
        """Give the moments of a Poisson process between two times, s, in order."""
        if end_s <= begin_s:
            return []
        count = int(self.generator.poisson((end_s - begin_s) / 3600.0 * per_hour))
        return sorted(self.generator.uniform(begin_s, end_s, count).tolist())
