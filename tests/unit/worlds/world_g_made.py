"""Recordings of the seventh simulated world, made once for all its tests: one cheap seed of every short class."""

import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_g import simulate  # noqa: E402

RATE_HZ = 100.0

SEED_OF: Mapping[Klass, int] = {
    Klass.STAIRCASE: 16,
    Klass.SCUFFING_LONG: 11,
    Klass.SCUFFING_SHORT: 12,
    Klass.SCUFFING_SUDDEN: 10,
    Klass.SEIZURE: 13,
    Klass.JAM: 16,
    Klass.OVERHEAT: 3,
    Klass.STICK_SLIP: 7,
    Klass.SQUEAL: 18,
    Klass.SENSOR_FAULT: 2,
    Klass.SCUFFING_WITH_FAULT: 2,
    Klass.SUPPLY_LOST: 19,
    Klass.STARTS_AND_STOPS: 2,
}


@cache
def made(klass: Klass) -> tuple[Recording, Inside]:
    """Give a recording of a rig with all channels, and the noise-free world beside it."""
    return simulate(SEED_OF[klass], klass, RATE_HZ, ChannelSet.ALL)
