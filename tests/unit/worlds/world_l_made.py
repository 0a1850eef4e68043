"""Recordings of the world "l", made once and shared by its tests; importing this puts the worlds on the path."""

import sys
from functools import cache
from pathlib import Path

WORLDS = str(Path(__file__).resolve().parents[2] / "bench" / "detection")
if WORLDS not in sys.path:
    sys.path.insert(0, WORLDS)

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_l import simulate  # noqa: E402


def made(klass: Klass, seed: int = 1) -> tuple[Recording, Inside]:
    """Give one recording of all channels at 50 Hz with the world behind it; nobody changes it."""
    return _made(klass, seed)


@cache
def _made(klass: Klass, seed: int) -> tuple[Recording, Inside]:
    return simulate(seed, klass, 50.0, ChannelSet.ALL)
