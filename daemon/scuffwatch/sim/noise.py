"""Random numbers for the simulated rig: streams that depend on the seed alone.

Reads a seed, gives rows of normal numbers and the coefficient of a first-order autoregression.
"""

import math
from collections.abc import Iterator
from enum import IntEnum

import numpy as np

_ROWS = 256


class Stream(IntEnum):
    """Independent streams of one seed, so that reading a sensor never moves the physics."""

    PHYSICS = 1
    SENSORS = 2
    STANDING = 3


def normal_rows(seed: int, stream: Stream, width: int) -> Iterator[list[float]]:
    """Give rows of `width` standard normal numbers without end.

    Args:
        seed: >= 0; the same seed and stream give the same rows.
        stream: see `Stream`.
        width: numbers in a row.
    """
    generator = np.random.default_rng((seed, int(stream)))
    while True:
        yield from generator.standard_normal((_ROWS, width)).tolist()


def memory_of(correlation_s: float, period_s: float) -> float:
    """Give the coefficient of an AR(1) process whose correlation falls to 1/e in `correlation_s`."""
    return math.exp(-period_s / correlation_s)
