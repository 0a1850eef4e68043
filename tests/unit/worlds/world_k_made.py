"""Recordings of world_k for its tests, each made once."""

import sys
from functools import cache
from pathlib import Path

BENCH = str(Path(__file__).resolve().parents[2] / "bench" / "detection")
if BENCH not in sys.path:
    sys.path.insert(0, BENCH)

from world_b.values import ChannelSet, Inside, Klass, Recording  # noqa: E402
from world_k import simulate  # noqa: E402

SEEDS: dict[Klass, int] = {
    Klass.STAIRCASE: 50,
    Klass.ENDURANCE: 49,
    Klass.SCUFFING_LONG: 21,
    Klass.SCUFFING_SHORT: 21,
    Klass.SCUFFING_SUDDEN: 14,
    Klass.SEIZURE: 32,
    Klass.JAM: 44,
    Klass.OVERHEAT: 1,
    Klass.STICK_SLIP: 1,
    Klass.SQUEAL: 29,
    Klass.SENSOR_FAULT: 18,
    Klass.SCUFFING_WITH_FAULT: 6,
    Klass.SUPPLY_LOST: 18,
    Klass.STARTS_AND_STOPS: 25,
}
"""One seed per class whose recording is short and holds no night."""


@cache
def made(
    seed: int, klass: Klass, rate_hz: float = 100.0, channel_set: ChannelSet | None = ChannelSet.ALL
) -> tuple[Recording, Inside]:
    """Give a recording and its inside."""
    return simulate(seed, klass, rate_hz, channel_set)


def short(klass: Klass) -> tuple[Recording, Inside]:
    """Give the short recording of a class."""
    return made(SEEDS[klass], klass)
