"""Draws: one generator for each purpose of a world, and the few distributions used.

Reads seed, class, attempt and purpose, gives generators and numbers; the first thing the world does.
"""

import math
from collections.abc import Sequence
from enum import Enum
from typing import TypeVar

import numpy as np
from numpy.random import Generator
from world_b.values import Klass

T = TypeVar("T")
_WORLD = 8


class Purpose(Enum):
    """Closed set of what is drawn apart, so that more draws for one do not change another."""

    RIG = 1
    PLAN = 2
    EVENT = 3
    CONTACT = 4
    ROOM = 5
    INSTRUMENTS = 6
    NOISE = 7
    SPOILS = 8


def generator(seed: int, klass: Klass, attempt: int, purpose: Purpose) -> Generator:
    """Give the generator of one purpose; the same for the same arguments."""
    return np.random.default_rng([_WORLD, seed, list(Klass).index(klass), attempt, purpose.value])


def log_between(rng: Generator, low: float, high: float) -> float:
    """Draw a number whose logarithm is uniform, between `low` and `high`, both > 0."""
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def one_of(rng: Generator, choices: Sequence[tuple[T, float]]) -> T:
    """Draw one of the choices, each with its weight."""
    weights = np.cumsum([weight for _, weight in choices])
    return choices[int(np.searchsorted(weights, rng.uniform(0.0, weights[-1]), side="right"))][0]


def chance(rng: Generator, share: float) -> bool:
    """Draw whether a thing happens that happens with probability `share`."""
    return bool(rng.random() < share)
