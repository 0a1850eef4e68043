"""Random streams of this world, one for each purpose, and the few draws used everywhere. Reads nothing."""

import math
from collections.abc import Sequence
from enum import IntEnum
from typing import TypeVar

import numpy as np
from world_b.values import Klass

T = TypeVar("T")

WORLD = 0x6C
"""Sets this world's streams apart from those of any other made from the same seed."""


class Purpose(IntEnum):
    """What a stream is for; a stream drawn longer for one purpose leaves the others alone."""

    RIG = 1
    PLAN = 2
    UNREST = 3
    SENSORS = 4
    NOISE = 5
    STAMPS = 6
    CHANNELS = 7


def stream(seed: int, klass: Klass, purpose: Purpose) -> np.random.Generator:
    """Give the random stream of one purpose of one recording."""
    return np.random.default_rng([WORLD, seed, list(Klass).index(klass), int(purpose)])


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Draw a size evenly over its decades."""
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def chance(rng: np.random.Generator, probability: float) -> bool:
    """Draw yes or no."""
    return bool(rng.random() < probability)


def pick(rng: np.random.Generator, choices: Sequence[T], weights: Sequence[float] | None = None) -> T:
    """Draw one of several, evenly or by weight."""
    if weights is None:
        return choices[int(rng.integers(len(choices)))]
    total = sum(weights)
    return choices[int(rng.choice(len(choices), p=[w / total for w in weights]))]
