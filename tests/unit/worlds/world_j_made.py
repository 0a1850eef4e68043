"""Recordings of world_j, each made once for all its tests. Puts tests/bench/detection on the path."""

import functools
import sys
from pathlib import Path

BENCH = str(Path(__file__).resolve().parents[2] / "bench" / "detection")
if BENCH not in sys.path:
    sys.path.insert(0, BENCH)

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_j import simulate  # noqa: E402


@functools.cache
def made(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = ChannelSet.ALL
) -> tuple[Recording, Inside]:
    """Give a recording and what is behind it; nobody may change it."""
    return simulate(seed, klass, rate_hz, channel_set)
