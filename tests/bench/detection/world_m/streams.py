"""Give one random stream per purpose, so that a draw more in one place moves nothing elsewhere.

Reads numpy only.
"""

from zlib import crc32

import numpy as np
from world_b.values import Klass

Stream = np.random.Generator


def stream(seed: int, klass: Klass, purpose: str) -> Stream:
    """Give the stream of one purpose of one recording.

    Args:
        seed: of the recording, >= 0.
        klass: what is recorded; the same seed gives another rig for another class.
        purpose: any name.

    Raises:
        ValueError: seed below zero.
    """
    return np.random.default_rng([seed, crc32(klass.name.encode()), crc32(purpose.encode())])


def between(rng: Stream, low: float, high: float) -> float:
    """Draw evenly between two bounds."""
    return float(rng.uniform(low, high))


def log_between(rng: Stream, low: float, high: float) -> float:
    """Draw evenly on a logarithmic scale between two bounds > 0."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def happens(rng: Stream, share: float) -> bool:
    """Draw whether something happens that happens in `share` of all cases."""
    return bool(rng.random() < share)
