"""Pieces: the chunks of a group one by one, their times apart from their counts, for who goes through a whole run.

Reads the packed borders of a chunk, gives the times of its samples.
"""

import zlib
from dataclasses import dataclass

import numpy as np

from scuffwatch.model.block import FloatArray
from scuffwatch.store import borders


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One chunk of a group without its counts.

    Attributes:
        id: of the chunk; ids of a group rise with time.
        epoch: node epoch.
        n: samples of each channel.
        t_s: (n,) float64, node time, s; None where the times are damaged.
    """

    id: int
    epoch: int
    n: int
    t_s: FloatArray | None


def times_or_none(packed: bytes, n: int, rate_hz: float) -> FloatArray | None:
    """Give node time of each of n samples, s; None where the borders are damaged."""
    try:
        t_s = borders.sample_times(borders.decode(packed), rate_hz)
    except (ValueError, zlib.error):
        return None
    return t_s if len(t_s) == n and bool(np.isfinite(t_s).all()) else None
