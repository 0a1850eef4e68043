"""Recordings of the fifth simulated world, made once for all its tests."""

import sys
from functools import cache
from pathlib import Path

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_e import simulate  # noqa: E402

RATE_HZ = 100.0


@cache
def made(seed: int, klass: Klass) -> tuple[Recording, Inside]:
    """Give a recording of a rig with all channels, and the noise-free world beside it."""
    return simulate(seed, klass, RATE_HZ, ChannelSet.ALL)
