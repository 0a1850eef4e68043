"""Collector: samples and side records of the open run on their way into one transaction a batch.

Reads items in order of arrival, gives batches of rows. Touches no disk; a batch that could not be written is kept by
the caller and written again, row for row the same.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from scuffwatch.model.block import Block
from scuffwatch.model.event import ChannelRecord, GapMark
from scuffwatch.store import borders as border_code
from scuffwatch.store import chunks, pyramid
from scuffwatch.store.ledger import Ledger
from scuffwatch.store.rows import Row

CHUNK_MAX_S = 10.0
"""No chunk is longer; a reader that looks for a time need not look further back than this."""
GROUP_STRIDE = 1 << 48
NOT_OFFERED = "not offered to the recorder"
LAYOUT_CHANGED = "layout changed"


@dataclass(slots=True)
class Batch:
    """Rows by table, to be written in one transaction."""

    tables: dict[str, list[Row]] = field(default_factory=dict)

    def put(self, table: str, row: Row) -> None:
        """Add a row."""
        self.tables.setdefault(table, []).append(row)


@dataclass(slots=True)
class _Open:
    """The gap mark that may still grow."""

    id: int
    ordinal: int
    gap: GapMark


class _Group:
    """One group of the open run."""

    def __init__(self, records: list[ChannelRecord]) -> None:
        records.sort(key=lambda record: record.position)
        self.names = tuple(record.name for record in records)
        self.integer_type = records[0].integer_type
        self.dtype = chunks.dtype_of(self.integer_type)
        self.rate_hz = records[0].rate_hz
        self.segments: list[list[tuple[int, Block]]] = []
        self.sealed = True
        self.cells = pyramid.Accumulator(len(records))
        self.last_id = -1
        self.gap: _Open | None = None

    def fits(self, block: Block) -> bool:
        """Say whether a block is of the layout the run was opened with."""
        same = block.layout.channels == self.names and block.layout.integer_type is self.integer_type
        counts = block.counts
        shaped = counts.ndim == 2 and len(counts) == len(self.names) and counts.dtype == self.dtype
        return same and shaped and counts.size > 0 and math.isfinite(block.t_rig_s)

    def keep(self, ordinal: int, block: Block) -> None:
        """Put a block behind the others, in a new segment where it does not follow or the segment is long."""
        if not self.sealed:
            first = self.segments[-1][0][1]
            end_s = block.t_rig_s + (block.n - 1) * block.period_s
            self.sealed = first.epoch != block.epoch or end_s - first.t_rig_s >= CHUNK_MAX_S
        if self.sealed:
            self.segments.append([])
        self.segments[-1].append((ordinal, block))
        self.sealed = False
        self.gap = None


class Collector:
    """Everything of the open run that is not yet committed."""

    def __init__(self, channels: tuple[ChannelRecord, ...]) -> None:
        groups: dict[int, list[ChannelRecord]] = {}
        for record in channels:
            groups.setdefault(record.group, []).append(record)
        self._groups = {group: _Group(records) for group, records in groups.items()}
        self._ledger = Ledger()
        self._ids: dict[str, int] = {}
        self._ordinal = 0
        self._extra = Batch()
        self._gaps: dict[int, _Open] = {}
        self.refuse_because = ""
        self.refused_blocks = 0
        self.misfits = 0
        self.waiting_s = 0.0
        self.waiting_bytes = 0

    def fits(self, block: Block) -> bool:
        """Say whether a block is of a layout the run was opened with."""
        group = self._groups.get(block.layout.group)
        return group is not None and group.fits(block)

    def add(self, block: Block) -> None:
        """Take a block of samples in, or mark why it is not kept."""
        self._ordinal += 1
        number, epoch = block.layout.group, block.epoch
        due = self._ledger.next_index(number, epoch)
        if due is not None and block.first_index < due:
            self.refused_blocks += 1
            return
        if due is not None and block.first_index > due:
            self._mark(GapMark(number, epoch, due, block.first_index - due, block.t_rig_s, NOT_OFFERED))
        group = self._groups.get(number)
        if group is None or not group.fits(block):
            self.misfits += 1
            self._refuse(block, LAYOUT_CHANGED)
        elif self.refuse_because:
            self._refuse(block, self.refuse_because)
        else:
            self._ledger.store(number, epoch, block.first_index, block.n)
            group.keep(self._ordinal, block)
            self.waiting_s = max(self.waiting_s, self._span_s(group))
            self.waiting_bytes += block.counts.nbytes

    def mark(self, gap: GapMark) -> None:
        """Take a gap mark in; what it covers twice is counted once, what it leaves open is marked as well."""
        self._ordinal += 1
        if gap.first_index < 0 or gap.n <= 0:
            self._mark(gap)
            return
        due = self._ledger.next_index(gap.group, gap.epoch)
        if due is not None and gap.first_index > due:
            self._mark(replace(gap, first_index=due, n=gap.first_index - due, why=NOT_OFFERED))
        first = gap.first_index if due is None else max(due, gap.first_index)
        n = gap.first_index + gap.n - first
        if n > 0:
            self._mark(replace(gap, first_index=first, n=n))

    def put(self, table: str, row: Row) -> None:
        """Take a side record in: a row that carries its own key."""
        self._extra.put(table, row)

    def next_id(self, table: str) -> int:
        """Give the next key of a table without one of its own."""
        self._ids[table] = self._ids.get(table, 0) + 1
        return self._ids[table]

    @property
    def waits(self) -> bool:
        """Say whether anything waits."""
        return bool(self._extra.tables) or bool(self._gaps) or self.waiting_bytes > 0

    def take(self, last: bool = False) -> Batch | None:
        """Give all that waits as rows, or None; `last` closes the cells that are still open."""
        batch, self._extra = self._extra, Batch()
        for opened in self._gaps.values():
            batch.put("gaps", _gap_row(opened))
        self._gaps = {}
        for number, group in self._groups.items():
            for segment in group.segments:
                _put_segment(batch, number, group, segment)
            group.segments, group.sealed = [], True
            if last:
                _put_cells(batch, number, 60, group.cells.rest())
        if not batch.tables:
            return None
        for account in self._ledger.accounts:
            batch.put(
                "ledger",
                (account.group, account.epoch, account.first_index, account.next_index, account.stored, account.marked),
            )
        self.waiting_s, self.waiting_bytes = 0.0, 0
        return batch

    def _refuse(self, block: Block, why: str) -> None:
        self._mark(GapMark(block.layout.group, block.epoch, block.first_index, block.n, block.t_rig_s, why))

    def _mark(self, gap: GapMark) -> None:
        """Enter a mark; one that follows on the last of the same reason makes that one longer."""
        group = self._groups.get(gap.group)
        known = gap.first_index >= 0 and gap.n > 0
        before = None if group is None else group.gap
        if known:
            self._ledger.mark(gap.group, gap.epoch, gap.first_index, gap.n)
        if before is not None and known and _follows(before.gap, gap):
            before.gap = replace(before.gap, n=before.gap.n + gap.n)
            opened = before
        else:
            opened = _Open(self.next_id("gaps"), self._ordinal, gap)
        if group is not None:
            group.sealed = True
            group.gap = opened if known else None
        self._gaps[opened.id] = opened

    def _span_s(self, group: _Group) -> float:
        """Give the samples that wait, s; the gaps between segments are none."""
        ends = [(segment[0][1], segment[-1][1]) for segment in group.segments]
        return sum(last.t_rig_s + last.n * last.period_s - first.t_rig_s for first, last in ends)


def _follows(before: GapMark, gap: GapMark) -> bool:
    return before.why == gap.why and before.epoch == gap.epoch and before.first_index + before.n == gap.first_index


def _gap_row(opened: _Open) -> Row:
    gap = opened.gap
    return (opened.id, gap.group, gap.epoch, gap.first_index, gap.n, gap.t_rig_s, gap.why, opened.ordinal)


def _put_segment(batch: Batch, number: int, group: _Group, segment: list[tuple[int, Block]]) -> None:
    blocks = [block for _, block in segment]
    counts = np.concatenate([block.counts for block in blocks], axis=1)
    borders = border_code.Borders(
        np.array([block.n for block in blocks], np.int64),
        np.array([block.frame_sequence for block in blocks], np.int64),
        np.array([block.lost_before for block in blocks], np.int64),
        np.array([ordinal for ordinal, _ in segment], np.int64),
        np.array([block.t_rig_s for block in blocks], np.float64),
    )
    times = border_code.sample_times(borders, group.rate_hz)
    packed, crc = chunks.encode(counts)
    group.last_id = chunk_id(number, float(times[0]), group.last_id)
    batch.put(
        "chunks",
        (
            group.last_id,
            number,
            blocks[0].epoch,
            blocks[0].first_index,
            counts.shape[1],
            float(times[0]),
            float(times[-1]),
            len(counts),
            crc,
            border_code.encode(borders),
            packed,
        ),
    )
    for level_s, cells in group.cells.add(counts, times).items():
        _put_cells(batch, number, level_s, cells)


def _put_cells(batch: Batch, number: int, level_s: int, cells: pyramid.Cells) -> None:
    for k0, count, data in pyramid.rows(cells, 1):
        batch.put("cells", (level_s, number, k0, count, data))


def chunk_id(group: int, t_rig_s: float, last_id: int) -> int:
    """Give the key of a chunk: group and time in ms, always above the last one of its group."""
    return max(last_id + 1, group * GROUP_STRIDE + max(0, round(t_rig_s * 1000)))
