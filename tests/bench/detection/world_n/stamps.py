"""The logger's clock: a night between two runs, rows lost, stamps repeated or running backward.

Reads times without breaks, gives stamps and which rows are kept.
"""

import math

import numpy as np
from world_b.values import Flags, Floats, Kind

from world_n.scene import Scene


def stamped(t_s: float, scene: Scene) -> float:
    """Give a time as it is stamped, s; NaN stays NaN."""
    return t_s + scene.night_length_s if t_s >= scene.night_s else t_s


def kept_rows(t_s: Floats, scene: Scene) -> Flags:
    """Say which rows reach the recording; the first one always does."""
    kept = np.ones(len(t_s), dtype=np.bool_)
    for mark in scene.of(Kind.HOLES):
        kept &= ~((t_s > mark.t_s) & (t_s < mark.t_s + mark.duration_s))
    kept[0] = True
    return kept


def stamp_rows(t_s: Floats, scene: Scene) -> Floats:
    """Give the stamps of all rows, s."""
    stamps = t_s.copy()
    if not math.isnan(scene.night_s):
        stamps = np.where(t_s >= scene.night_s, t_s + scene.night_length_s, t_s)
    for mark in scene.of(Kind.BACKWARD_STAMPS):
        inside = (t_s >= mark.t_s) & (t_s < mark.t_s + mark.duration_s)
        stamps[inside] -= 0.1 + 1.5 * mark.size
    for mark in scene.of(Kind.DUPLICATE_STAMPS):
        first = int(np.searchsorted(t_s, mark.t_s))
        last = max(first + 1, int(np.searchsorted(t_s, mark.t_s + mark.duration_s)))
        if 0 < first < len(stamps):
            stamps[first:last] = stamps[first - 1]
    return stamps
