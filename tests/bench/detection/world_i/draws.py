"""Random numbers of this world: one stream of its own for each purpose, so that asking more of one moves no other.

Reads nothing. Every stream hangs on the seed, the class, the attempt and a name, never on the sampling rate.
"""

import zlib

import numpy as np
from world_b.values import Klass

Rng = np.random.Generator


def stream(seed: int, klass: Klass, attempt: int, name: str) -> Rng:
    """Give the random stream of that name."""
    return np.random.default_rng([seed, list(Klass).index(klass), attempt, zlib.crc32(name.encode())])


def uniform(rng: Rng, low: float, high: float) -> float:
    """Give one number between the bounds, every value alike."""
    return float(rng.uniform(low, high))


def log_uniform(rng: Rng, low: float, high: float) -> float:
    """Give one number between two positive bounds, every ratio alike."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def chance(rng: Rng, probability: float) -> bool:
    """Say yes with that probability."""
    return bool(rng.random() < probability)
