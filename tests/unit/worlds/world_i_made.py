"""Recordings of world I that the tests share, each made once."""

import sys
from functools import lru_cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

from world_b.values import ChannelSet, Inside, Klass, Recording
from world_i import simulate

QUICK = tuple(k for k in Klass if k is not Klass.ENDURANCE)
"""Classes whose recordings take about a second to make."""


@lru_cache(maxsize=64)
def made(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and its inside, from the store where it was made before."""
    return simulate(seed, klass, rate_hz, channel_set)
