"""Recordings of world m, each made once for all tests of it, and their clock without breaks.

Puts the folder of the worlds on the path; the worlds are no part of the installed package.
"""

import sys
from functools import lru_cache
from math import isnan, pi
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

from world_b.values import Inside, Kind, Klass, Recording
from world_m import simulate

SEEDS = (1, 2, 3)


@lru_cache(maxsize=24)
def made(seed: int, klass: Klass) -> tuple[Recording, Inside]:
    """Give a recording at 100 Hz with the channels it drew."""
    return simulate(seed, klass)


def inside_s(recording: Recording, stamp_s: float) -> float:
    """Give the time on the clock without breaks that belongs to a stamp; NaN stays NaN."""
    nights = [n for n in recording.truth.nuisances if n.kind is Kind.DAY_BETWEEN]
    if not nights or isnan(stamp_s) or stamp_s < nights[0].t_s + 0.5 * nights[0].duration_s:
        return stamp_s
    gaps_s = np.diff(recording.time_s)
    return stamp_s - float(round(np.max(gaps_s)))


def sample(inside: Inside, t_s: float) -> int:
    """Give the sample of the clock without breaks at a time."""
    return round(t_s / float(inside.t_s[1] - inside.t_s[0]))


def set_rad_s(recording: Recording) -> float:
    """Give the set speed of the ring."""
    return recording.rig.ring_speed_rpm * pi / 30.0


def steps(inside: Inside, duration_s: float) -> int:
    """Give how many samples last that long."""
    return round(duration_s / float(inside.t_s[1] - inside.t_s[0]))
