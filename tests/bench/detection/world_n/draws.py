"""Random draws that depend on seed, class and purpose alone, never on the rate of the recording.

Reads a seed and a class, gives generators and single values. First link of the chain.
"""

import math
import zlib
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from world_b.values import Klass

T = TypeVar("T")
Rng = np.random.Generator
WORLD = 14
"""Sets the streams of this world apart from those of others that start from the same seed."""


def stream(seed: int, klass: Klass, purpose: str) -> Rng:
    """Give the generator of one purpose.

    Args:
        seed: ≥ 0.
        klass: of the recording.
        purpose: any text; another text gives an independent generator.
    Raises:
        ValueError: seed below 0.
    """
    if seed < 0:
        raise ValueError(f"seed {seed}: must be 0 or more")
    return np.random.default_rng([WORLD, seed, list(Klass).index(klass), zlib.crc32(purpose.encode())])


def between(rng: Rng, low: float, high: float) -> float:
    """Give a value spread evenly over low..high."""
    return float(rng.uniform(low, high))


def log_between(rng: Rng, low: float, high: float) -> float:
    """Give a value whose logarithm is spread evenly over low..high, both > 0."""
    return math.exp(float(rng.uniform(math.log(low), math.log(high))))


def chance(rng: Rng, share: float) -> bool:
    """Say yes in the given share (0..1) of the draws."""
    return bool(rng.random() < share)


def pick(rng: Rng, choices: Sequence[T]) -> T:
    """Give one of the choices, each alike. Raises ValueError on an empty sequence."""
    return choices[int(rng.integers(len(choices)))]


def new_seed(rng: Rng) -> int:
    """Give a seed for one `curves.wander`."""
    return int(rng.integers(2**31))
