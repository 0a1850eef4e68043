"""Recordings of the third simulated world, made once for all tests of a file that look at them."""

import sys
from functools import lru_cache
from pathlib import Path

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

import world_c  # noqa: E402
from world_b.values import ChannelSet, Klass, Recording  # noqa: E402
from world_c import Behind  # noqa: E402

COARSE_HZ = 20.0


@lru_cache(maxsize=128)
def made(
    seed: int, klass: Klass, rate_hz: float = COARSE_HZ, had: ChannelSet | None = None
) -> tuple[Recording, Behind]:
    return world_c.simulate(seed, klass, rate_hz, had)


def on_course_s(recording: Recording, behind: Behind, name: str) -> float:
    """Give a time of the truth on the course's own clock; no day is left out in recordings with an event."""
    return float(getattr(recording.truth, name)) - behind.plan.start_stamp_s
