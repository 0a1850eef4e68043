"""Puts the world of tipping points on the path and offers its recordings, each made once."""

import sys
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench" / "detection"))

from world_b.values import ChannelSet, Inside, Klass, Recording
from world_o import simulate as _simulate


@cache
def simulate(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    """Give a recording and what is behind it; made once, so do not change it."""
    return _simulate(seed, klass, rate_hz, channel_set)
