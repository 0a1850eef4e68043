"""Closed runs: every stored sample of the runs that are over, as streams of rows, read a chunk at a time.

Reads the record through its reader, gives counts and rows. Keeps one small index of the run in hand and no sample.

Streams: `full/NAME/GROUP`; places: samples of the group as the file holds them, from 1, without a hole: a marked gap
has no samples and so no rows. A run is taken once its file has been left without a log and its outcome is in the
journal, the oldest first.

Stamps follow node time as those of the reduced rows, rounded to whole ms; a sample whose ms is taken gets the next free
one, so that a store that keeps one value a ms holds each of them. A group faster than 1 kHz, or one where that would
move a sample by more than `MOVED_MAX_MS`, is stamped in whole µs instead.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np

from scuffwatch.model.block import FloatArray
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store.reader import Archive, Piece, RunReader, RunSummary
from scuffwatch.uplink.rows import (
    AHEAD_MAX_MS,
    EARLIEST_MS,
    TOO_EARLY,
    TOO_FAR_AHEAD,
    IntArray,
    Row,
    run_tags,
)
from scuffwatch.uplink.samples import NS_IN_A_MS, one_each, sample_rows
from scuffwatch.uplink.tail import Found, Offsets, stream_parts

MOVED_MAX_MS = 1_000
MS_RATE_MAX_HZ = 1_000.0
MS_US, US_US = 1_000, 1
"""The two units of stamps, µs."""
_LONG_AGO = -(1 << 62)


@dataclass(slots=True)
class _Index:
    """Where the chunks of a stream lie and which stamps they begin after.

    Attributes:
        of: stream, and the file it was made from.
        rate_hz: of the group.
        ids: of the chunks, in order.
        starts: samples before each chunk, and at the end all of them.
        last: stamp of the last sample before each chunk, by unit of stamps.
        moved_ms: farthest a sample had to be moved to get a ms of its own.
    """

    of: tuple[str, int, int, int]
    rate_hz: float
    ids: list[int] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    last: dict[int, list[int]] = field(default_factory=lambda: {MS_US: [_LONG_AGO], US_US: [_LONG_AGO]})
    moved_ms: int = 0

    @property
    def unit_us(self) -> int:
        """Give the unit of the stamps, µs."""
        return MS_US if self.rate_hz <= MS_RATE_MAX_HZ and self.moved_ms <= MOVED_MAX_MS else US_US

    def add(self, piece: Piece, offsets: Offsets) -> None:
        """Add the next chunk; one whose times are damaged moves no stamp."""
        self.ids.append(piece.id)
        self.starts.append(self.starts[-1] + piece.n)
        for unit_us, last in self.last.items():
            if piece.t_s is None or not piece.n:
                last.append(last[-1])
                continue
            wanted = _wanted(piece.t_s, offsets.of(piece.epoch), unit_us)
            stamps = one_each(wanted, last[-1])
            last.append(int(stamps[-1]))
            if unit_us == MS_US:
                self.moved_ms = max(self.moved_ms, int((stamps - wanted).max()))


class ClosedRuns:
    """The closed runs of one data folder.

    Args:
        archive: the data folder.
        rig: name of the rig, for the tags.
        wall_s: gives UTC, s.
        only: names of the runs to take; all where empty.
    """

    def __init__(self, archive: Archive, rig: str, wall_s: Callable[[], float], only: frozenset[str] = frozenset()):
        self._archive, self._rig, self._wall_s, self._only = archive, rig, wall_s, only
        self._index = _Index(("", 0, 0, 0), 0.0)
        self._stored: dict[str, int] = {}
        self.unavailable: tuple[str, ...] = ()
        """One sentence for each closed run that cannot be opened, so that nobody knows how many samples are missing."""

    def streams(self, ended: frozenset[str]) -> tuple[Found, ...]:
        """Give the streams of closed runs that have not been counted yet, the oldest run first."""
        done = {stream_parts(name)[0] for name in ended}
        found: list[Found] = []
        unavailable = []
        for run in reversed(self._archive.runs()):
            if run.outcome is None or run.name in done or (self._only and run.name not in self._only):
                continue
            try:
                found += self._of_run(run)
            except RecordUnreadable as error:
                unavailable.append(f"Run {run.name}: {error}")
        self.unavailable = tuple(unavailable)
        return tuple(found)

    def _of_run(self, run: RunSummary) -> list[Found]:
        with self._archive.open_run(run.name) as reader:
            if not reader.stands_alone:
                return []
            counts = {f"full/{run.name}/{one.group}": reader.stored(one.group) for one in reader.layouts}
        self._stored |= counts  # all groups together: no run is half counted because its file went meanwhile
        return [Found(name, 0, False) for name in counts]

    def census(self, stream: str, after: int, live: bool) -> tuple[int, int]:
        """Give the last place, and how many rows lie after `after` up to it."""
        stored = self._stored[stream]
        return max(stored, after), max(0, stored - after)

    def rows(self, stream: str, after: int, to: int, limit: int) -> list[Row]:
        """Give rows with after < place <= to, in order, at most `limit`; what cannot be read is one row that says why.

        Raises:
            RecordUnreadable: the journal cannot be read either: the whole folder is away, nothing is to be put aside.
        """
        run, group = stream_parts(stream)
        try:
            with self._archive.open_run(run) as reader:
                index = self._index_of(stream, reader, group)
                found = self._read(reader, group, index, (after, to), limit)
        except RecordUnreadable as error:
            self._archive.run(run)
            return [_unsent(to, to - after, str(error))]
        missing = to - max(after, index.starts[-1])
        if missing > 0 and len(found) < limit:
            found.append(_unsent(to, missing, "the run file holds fewer samples than when it was counted"))
        return found

    def _index_of(self, stream: str, reader: RunReader, group: int) -> _Index:
        of = (stream, *_identity(reader.path))
        if self._index.of != of:
            rate_hz = next(one.rate_hz for one in reader.layouts if one.group == group)
            index, offsets = _Index(of, rate_hz), Offsets(reader)
            for piece in reader.pieces(group):
                index.add(piece, offsets)
            self._index = index
        return self._index

    def _read(self, reader: RunReader, group: int, index: _Index, span: tuple[int, int], limit: int) -> list[Row]:
        found: list[Row] = []
        after, to = span
        offsets = Offsets(reader)
        first = int(np.searchsorted(index.starts, after, side="right")) - 1
        for number, (start, end) in enumerate(pairwise(index.starts[first:]), start=first):
            if start >= to or len(found) >= limit:
                break
            places = max(after, start), min(to, end)
            if places[0] < places[1]:
                found += self._chunk_rows(reader, group, index, number, places, limit - len(found), offsets)
        return found

    def _chunk_rows(
        self,
        reader: RunReader,
        group: int,
        index: _Index,
        number: int,
        places: tuple[int, int],
        room: int,
        offsets: Offsets,
    ) -> list[Row]:
        """Give rows of one chunk with places[0] < place <= places[1], at most `room`."""
        begin, end = places
        try:
            epoch, t_s, values = reader.piece(index.ids[number])
        except RecordUnreadable as error:
            return [_unsent(end, end - begin, str(error))]
        unit_us, start = index.unit_us, index.starts[number]
        stamps = one_each(_wanted(t_s, offsets.of(epoch), unit_us), index.last[unit_us][number])
        stamps_ns = stamps[begin - start : end - start] * (unit_us * 1_000)
        why = self._why_unfit(stamps_ns)
        if why:
            return [_unsent(end, end - begin, why)]
        cut = min(end, begin + room)
        records = tuple(record for record in reader.channels if record.group == group)
        taken = slice(begin - start, cut - start)
        tags = run_tags(self._rig, reader.header)
        return list(sample_rows(values[:, taken], stamps_ns[: cut - begin], begin + 1, records, tags))

    def _why_unfit(self, stamps_ns: IntArray) -> str:
        """Give why no stamp of a chunk may be sent, or an empty string; a chunk is judged as a whole."""
        if stamps_ns[0] < EARLIEST_MS * NS_IN_A_MS:
            return TOO_EARLY
        ahead_ms = round(self._wall_s() * 1000) + AHEAD_MAX_MS
        return TOO_FAR_AHEAD if stamps_ns[-1] > ahead_ms * NS_IN_A_MS else ""


def _wanted(t_s: FloatArray, offset_s: float, unit_us: int) -> IntArray:
    """Give the stamps samples should have by node time, whole units of `unit_us`."""
    label_us = np.rint(t_s * 1e6).astype(np.int64) + round(offset_s * 1e6)
    wanted: IntArray = (label_us + unit_us // 2) // unit_us
    return wanted


def _unsent(place: int, span: int, why: str) -> Row:
    """Give the row that stands for samples that cannot be sent."""
    return Row(place, EARLIEST_MS, "", 0, span, f"{why.rstrip('.')} ({span} samples not sent)")


def _identity(path: Path) -> tuple[int, int, int]:
    try:
        stat = path.stat()
    except OSError as error:
        raise RecordUnreadable(f"{path} cannot be read: {error}.") from error
    return stat.st_ino, stat.st_size, stat.st_mtime_ns
