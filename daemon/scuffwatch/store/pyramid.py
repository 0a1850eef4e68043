"""Pyramid: low, high and sum of the counts in steps of 1 s and 60 s, exact against the samples.

Reads counts and their times, gives cells; a cell nobody measured in does not exist. Everything is integer, so the order
of adding up cannot change a bit.
"""

import zlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scuffwatch.model.block import IntArray
from scuffwatch.store.chunks import shuffle, unshuffle

LEVELS_S = (1, 60)
CELLS_IN_ROW = {1: 600, 60: 240}
"""Cells packed into one row when a run is merged."""

LongArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cells of one group, in order of time, without doubles.

    Attributes:
        k: (m,) int64, number of the step: floor(t_rig_s / level).
        n: (m,) int64, samples of each channel; never 0.
        low, high, total: (channels, m) int64, counts.
    """

    k: LongArray
    n: LongArray
    low: LongArray
    high: LongArray
    total: LongArray

    def __getitem__(self, which: "slice | npt.NDArray[np.bool_]") -> "Cells":
        """Give some of the cells."""
        return Cells(self.k[which], self.n[which], self.low[:, which], self.high[:, which], self.total[:, which])


def nothing(channels: int) -> Cells:
    """Give no cells."""
    empty = np.zeros(0, np.int64)
    wide = np.zeros((channels, 0), np.int64)
    return Cells(empty, empty, wide, wide, wide)


def reduce(counts: IntArray, t_rig_s: npt.NDArray[np.float64], level_s: int = 1) -> Cells:
    """Reduce samples to cells.

    Args:
        counts: (channels, n) int16 or int32, counts; n >= 1.
        t_rig_s: (n,) float64, s, not falling.
        level_s: length of a cell, s.
    """
    k = np.floor(t_rig_s / level_s).astype(np.int64)
    starts = np.flatnonzero(np.diff(k, prepend=k[0] - 1))
    return Cells(
        k[starts],
        np.diff(starts, append=len(k)),
        np.minimum.reduceat(counts, starts, axis=1).astype(np.int64),
        np.maximum.reduceat(counts, starts, axis=1).astype(np.int64),
        np.add.reduceat(counts, starts, axis=1, dtype=np.int64),
    )


def combine(parts: list[Cells], factor: int = 1) -> Cells:
    """Give the cells of all parts as one, equal ones joined; `factor` > 1 makes them that many times longer."""
    k = np.concatenate([part.k for part in parts]) // factor
    if not len(k):
        return parts[0]
    order = np.argsort(k, kind="stable")
    k = k[order]
    starts = np.flatnonzero(np.diff(k, prepend=k[0] - 1))

    def gathered(name: str) -> LongArray:
        found: LongArray = np.concatenate([getattr(part, name) for part in parts], axis=-1)[..., order]
        return found

    return Cells(
        k[starts],
        np.add.reduceat(gathered("n"), starts),
        np.minimum.reduceat(gathered("low"), starts, axis=1),
        np.maximum.reduceat(gathered("high"), starts, axis=1),
        np.add.reduceat(gathered("total"), starts, axis=1),
    )


def pack(cells: Cells, k0: int, count: int) -> bytes:
    """Give one row of table `cells`: steps k0 to k0 + count - 1, n = 0 where nothing was measured."""
    place = cells.k - k0
    n = np.zeros(count, "<i4")
    n[place] = cells.n
    wide = np.zeros((2, len(cells.low), count), "<i4")
    wide[0][:, place], wide[1][:, place] = cells.low, cells.high
    total = np.zeros((len(cells.low), count), "<i8")
    total[:, place] = cells.total
    return n.tobytes() + wide.tobytes() + total.tobytes()


def squeeze(raw: bytes, count: int, channels: int) -> bytes:
    """Pack a row of many cells: byte-shuffled and zlib level 1; as it is where that is not shorter."""
    counts = np.frombuffer(raw, "<i4", count * (1 + 2 * channels))
    total = np.frombuffer(raw, "<i8", count * channels, counts.nbytes)
    packed = zlib.compress(shuffle(counts) + shuffle(total), 1)
    return packed if len(packed) < len(raw) else raw


def unsqueeze(data: bytes, count: int, channels: int) -> bytes:
    """Undo `squeeze`."""
    if len(data) == count * (4 + 16 * channels):
        return data
    raw, counts_bytes = zlib.decompress(data), 4 * count * (1 + 2 * channels)
    return unshuffle(raw[:counts_bytes], 4).tobytes() + unshuffle(raw[counts_bytes:], 8).tobytes()


def rows(cells: Cells, in_row: int) -> list[tuple[int, int, bytes]]:
    """Give (k0, count, data) rows; k0 is a multiple of `in_row`, and the last row is as short as it can be."""
    channels = len(cells.low)
    found = []
    for block in np.unique(cells.k // in_row):
        first, last = np.searchsorted(cells.k, (block * in_row, (block + 1) * in_row))
        part = cells[int(first) : int(last)]
        k0 = int(block) * in_row
        count = int(part.k[-1]) - k0 + 1
        raw = pack(part, k0, count)
        found.append((k0, count, raw if in_row == 1 else squeeze(raw, count, channels)))
    return found


def unpack(found: list[tuple[int, int, bytes]], channels: int) -> Cells:
    """Give the cells of rows (k0, count, data) in order of k0; rows do not overlap."""
    if not found:
        return nothing(channels)
    if all(count == 1 for _, count, _ in found):
        return _unpack_singles([(k0, 1, unsqueeze(data, 1, channels)) for k0, _, data in found], channels)
    return _concatenated([_unpack_row(row, channels) for row in found])


def _unpack_singles(found: list[tuple[int, int, bytes]], channels: int) -> Cells:
    record = np.dtype([("n", "<i4"), ("low", "<i4", channels), ("high", "<i4", channels), ("total", "<i8", channels)])
    table = np.frombuffer(b"".join(data for _, _, data in found), record)
    shape = (len(found), channels)
    return Cells(
        np.array([k0 for k0, _, _ in found], np.int64),
        table["n"].astype(np.int64),
        table["low"].reshape(shape).T.astype(np.int64),
        table["high"].reshape(shape).T.astype(np.int64),
        table["total"].reshape(shape).T.astype(np.int64),
    )


def _unpack_row(row: tuple[int, int, bytes], channels: int) -> Cells:
    k0, count, packed = row
    data = unsqueeze(packed, count, channels)
    n = np.frombuffer(data, "<i4", count)
    wide = np.frombuffer(data, "<i4", 2 * channels * count, 4 * count).reshape(2, channels, count)
    total = np.frombuffer(data, "<i8", channels * count, 4 * count * (1 + 2 * channels)).reshape(channels, count)
    there = np.flatnonzero(n)
    low, high = wide[0][:, there].astype(np.int64), wide[1][:, there].astype(np.int64)
    return Cells(k0 + there, n[there].astype(np.int64), low, high, total[:, there])


def _concatenated(parts: list[Cells]) -> Cells:
    return Cells(
        *(np.concatenate([getattr(part, name) for part in parts], axis=-1) for name in Cells.__slots__),
    )


class Accumulator:
    """Cells of one group while it is being written.

    The last two cells of each level stay open between batches: frame times jitter, so a sample may still fall into the
    cell before the last.
    """

    def __init__(self, channels: int) -> None:
        self._open_1s = nothing(channels)
        self._open_60s = nothing(channels)

    def add(self, counts: IntArray, t_rig_s: npt.NDArray[np.float64]) -> dict[int, Cells]:
        """Take samples in, give the cells that changed, by level in s: write them over what stands."""
        fresh = reduce(counts, t_rig_s)
        fresh_60s = combine([fresh], 60)
        seconds = combine([self._open_1s, fresh])
        minutes = combine([self._open_60s, fresh_60s])
        complete = (np.isin(minutes.k, fresh_60s.k) | np.isin(minutes.k, self._open_60s.k[-1:])) & (
            minutes.k < minutes.k[-1]
        )
        self._open_1s, self._open_60s = seconds[-2:], minutes[-2:]
        return {1: seconds[np.isin(seconds.k, fresh.k)], 60: minutes[complete]}

    def rest(self) -> Cells:
        """Give the minute that is still open."""
        return self._open_60s[-1:]
