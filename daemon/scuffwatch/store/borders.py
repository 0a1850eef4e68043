"""Borders: which frames the samples of a chunk came in, so that a replay feeds the chain the very same blocks.

Reads and gives arrays of one entry a frame. The times of the samples follow from them in one place, here.
"""

import zlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scuffwatch.store.chunks import shuffle, unshuffle

LongArray = npt.NDArray[np.int64]
_MICROSECONDS = b"\x01"
_FLOAT_BITS = b"\x00"
_ROWS = 5


@dataclass(frozen=True, slots=True, eq=False)
class Borders:
    """Frames in order of arrival; every field has one entry a frame.

    Attributes:
        n: samples of each channel in the frame.
        frame_sequence: wire sequence number.
        lost_before: as in `Block`.
        ordinal: place among all items of the run, so that the groups can be put back in order.
        t_rig_s: node time of the frame's first sample, s.
    """

    n: LongArray
    frame_sequence: LongArray
    lost_before: LongArray
    ordinal: LongArray
    t_rig_s: npt.NDArray[np.float64]


def concatenate(parts: list[Borders]) -> Borders:
    """Give the frames of several chunks as one."""
    return Borders(
        np.concatenate([part.n for part in parts]),
        np.concatenate([part.frame_sequence for part in parts]),
        np.concatenate([part.lost_before for part in parts]),
        np.concatenate([part.ordinal for part in parts]),
        np.concatenate([part.t_rig_s for part in parts]),
    )


def encode(borders: Borders) -> bytes:
    """Pack without loss: regular frames cost a few bytes, whatever their number."""
    ticks_us = np.rint(borders.t_rig_s * 1e6).astype(np.int64)
    exact = bool(np.array_equal(ticks_us / 1e6, borders.t_rig_s))
    times = ticks_us if exact else borders.t_rig_s.view(np.int64)
    rows = np.stack([borders.n, borders.frame_sequence, borders.lost_before, borders.ordinal, times])
    steps = np.diff(np.diff(rows, axis=1, prepend=0), axis=1, prepend=0)
    return (_MICROSECONDS if exact else _FLOAT_BITS) + zlib.compress(shuffle(steps), 1)


def decode(packed: bytes) -> Borders:
    """Unpack what `encode` made, bit for bit."""
    steps = unshuffle(zlib.decompress(packed[1:]), 8).reshape(-1).view(np.int64).reshape(_ROWS, -1)
    n, frame_sequence, lost_before, ordinal, times = np.cumsum(np.cumsum(steps, axis=1), axis=1)
    t_rig_s = times / 1e6 if packed[:1] == _MICROSECONDS else times.view(np.float64)
    return Borders(n, frame_sequence, lost_before, ordinal, t_rig_s)


def sample_times(borders: Borders, rate_hz: float) -> npt.NDArray[np.float64]:
    """Give node time of every sample: frame time plus place in the frame over the nominal rate.

    Returns:
        (n,) float64, s, where n is the sum over the frames.
    """
    starts = np.cumsum(borders.n) - borders.n
    within = np.arange(int(borders.n.sum())) - np.repeat(starts, borders.n)
    times: npt.NDArray[np.float64] = np.repeat(borders.t_rig_s, borders.n) + within / rate_hz
    return times
