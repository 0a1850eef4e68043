"""Run reader: one run file, read only, with nothing but its own contents.

Reads a run file, live or closed, gives header, events, samples and envelopes. Every call is a query of its own, so no
reader holds the log of a live file back.
"""

import heapq
import sqlite3
import zlib
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np

from scuffwatch.model.block import Block, FloatArray
from scuffwatch.model.channel import GroupLayout, Quality, Reason
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, GapMark
from scuffwatch.model.run import Outcome, RunHeader, RunResult, StageRecord
from scuffwatch.store import borders as border_code
from scuffwatch.store import chunks, pyramid, schema
from scuffwatch.store.archive import connect_read_only
from scuffwatch.store.collector import CHUNK_MAX_S, GROUP_STRIDE
from scuffwatch.store.envelope import SAMPLES, Envelope, Scale, of_cells, of_samples, to_si
from scuffwatch.store.items import QualityChanged
from scuffwatch.store.ledger import Account
from scuffwatch.store.pieces import Piece, times_or_none
from scuffwatch.store.rows import channel_of, clock_of, event_of, stage_of
from scuffwatch.store.text import header_from_json, number
from scuffwatch.store.trip_record import TripRecord, trip_of

_SLACK_S = 2.0
_END_OF_TIME_S = (GROUP_STRIDE - 1) / 1000


class RunReader:
    """One run, open for reading.

    Attributes:
        path: its file.
        header: what was known when it opened.
        live: whether a core was recording it when it was opened here.
        channels: one record a channel, as calibrated at the opening.
        t_open_rig_s, t_open_utc_s: node time and wall clock of the opening, s.
        settings_toml: the settings it was opened with.
    """

    def __init__(self, path: Path, live: bool = False) -> None:
        self.path, self.live = path, live
        self._connection = connect_read_only(path)
        try:
            schema.refuse_others(self._connection, "run", str(path))
            found = dict(self._query("SELECT key, value FROM header"))
            self.header: RunHeader = header_from_json(found["run"])
            self.t_open_rig_s: float = number(found["t_open_rig_s"])
            self.t_open_utc_s: float = float(found["t_open_utc_s"])
            self.settings_toml: str = str(found["settings_toml"])
            self._read_channels()
        except RecordUnreadable:
            self._connection.close()
            raise
        except (KeyError, ValueError, IndexError, sqlite3.Error) as error:
            self._connection.close()
            raise RecordUnreadable(f"{path} holds no readable header: {error}.") from error

    def _read_channels(self) -> None:
        self._scales: dict[str, list[Scale]] = {}
        for row in self._query("SELECT * FROM channels ORDER BY from_t_rig_s, id"):
            record, from_t_rig_s = channel_of(row)
            self._scales.setdefault(record.name, []).append(Scale(record, from_t_rig_s))
        self.channels: tuple[ChannelRecord, ...] = tuple(
            sorted((scales[0].record for scales in self._scales.values()), key=lambda r: (r.group, r.position))
        )

    # -- life

    def __enter__(self) -> "RunReader":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the file back."""
        self._connection.close()

    def _query(self, sql: str, parameters: tuple[Any, ...] = ()) -> list[Any]:
        try:
            return self._connection.execute(sql, parameters).fetchall()
        except sqlite3.Error as error:
            raise RecordUnreadable(f"{self.path} cannot be read: {error}. `scuffwatch verify` says more.") from error

    # -- what happened

    @property
    def stands_alone(self) -> bool:
        """Say whether the file has been left without a log, as that of a run that is over is."""
        return bool(self._query("PRAGMA journal_mode")[0][0] == "delete")

    @property
    def result(self) -> RunResult | None:
        """Give how the run ended; None while it is live. Without an outcome it was ended by power loss."""
        rows = self._query("SELECT * FROM result")
        if rows:
            _, outcome, first_out, t_end_s, _, interrupted = rows[0]
            return RunResult(Outcome(outcome), first_out, number(t_end_s), self.stages(), bool(interrupted))
        if self.live:
            return None
        return RunResult(Outcome.POWER_LOSS, "", self.last_t_rig_s(), self.stages())

    def stages(self) -> tuple[StageRecord, ...]:
        """Give the closed stages."""
        return tuple(stage_of(row) for row in self._query("SELECT * FROM stages ORDER BY number"))

    def events(self) -> tuple[Event, ...]:
        """Give the events of the run, in order; `sequence` is the lasting number of the journal."""
        return tuple(event_of(row) for row in self._query("SELECT * FROM events ORDER BY number"))

    def gaps(self) -> tuple[GapMark, ...]:
        """Give every marked gap."""
        rows = self._query("SELECT grp, epoch, first_index, n, t_rig_s, why FROM gaps ORDER BY id")
        return tuple(GapMark(r[0], r[1], r[2], r[3], number(r[4]), r[5]) for r in rows)

    def ledger(self) -> tuple[Account, ...]:
        """Give the account of every group and epoch."""
        return tuple(Account(*row) for row in self._query("SELECT * FROM ledger ORDER BY grp, epoch"))

    def clock(self) -> tuple[ClockTriple, ...]:
        """Give the clock triples."""
        return tuple(clock_of(row) for row in self._query("SELECT * FROM clock ORDER BY id"))

    def qualities(self) -> tuple[QualityChanged, ...]:
        """Give every change of a channel's quality."""
        rows = self._query("SELECT channel, t_rig_s, quality, reason FROM quality ORDER BY id")
        return tuple(QualityChanged(r[0], number(r[1]), Quality(r[2]), Reason(r[3])) for r in rows)

    def trips(self) -> tuple[TripRecord, ...]:
        """Give the trip records, in order."""
        last_s = self.last_t_rig_s()
        return tuple(trip_of(row[0], last_s) for row in self._query("SELECT record FROM trips ORDER BY id"))

    def last_t_rig_s(self) -> float:
        """Give node time of the last sample, s; the opening where there is none."""
        ends = []
        for group in {record.group for record in self.channels}:
            base = group * GROUP_STRIDE
            ends += self._query(
                "SELECT t_end_s FROM chunks WHERE id >= ? AND id < ? ORDER BY id DESC LIMIT 1",
                (base, base + GROUP_STRIDE),
            )
        return max((row[0] for row in ends), default=self.t_open_rig_s)

    # -- what was measured

    def channel(self, name: str) -> ChannelRecord:
        """Give one channel.

        Raises:
            RecordUnreadable: the run has no such channel.
        """
        if name not in self._scales:
            raise RecordUnreadable(f"Run {self.header.name} has no channel {name}.")
        return self._scales[name][0].record

    def samples(self, channel: str, t0_s: float, t1_s: float) -> tuple[FloatArray, FloatArray]:
        """Give every sample of a channel with t0_s <= t < t1_s.

        Returns:
            (t_s, values): (n,) float64, node time in s and value in the channel's unit.
        Raises:
            RecordUnreadable: no such channel, or a damaged chunk.
        """
        record = self.channel(channel)
        times, values = [np.zeros(0)], [np.zeros(0)]
        for row in self._chunks(record.group, t0_s, t1_s):
            t_s = border_code.sample_times(border_code.decode(row[9]), record.rate_hz)
            inside = (t_s >= t0_s) & (t_s < t1_s)
            counts = self._counts(row, record)[record.position]
            times.append(t_s[inside])
            values.append(to_si(counts[inside], t_s[inside], self._scales[channel]))
        return np.concatenate(times), np.concatenate(values)

    def stretches(self, group: int, names: tuple[str, ...]) -> Iterator[tuple[float, FloatArray, FloatArray]]:
        """Give the whole run, stretch after stretch, of channels of one group.

        Returns:
            (share done 0 to 1, t_s (n,), values (channels, n)), float64, node time in s and the channels' units.
        """
        record = next(record for record in self.channels if record.group == group)
        last_s = self.last_t_rig_s()
        first_s = None
        for row in self._chunks(group, -np.inf, np.inf):
            first_s = row[5] if first_s is None else first_s
            t_s = border_code.sample_times(border_code.decode(row[9]), record.rate_hz)
            counts = self._counts(row, record)
            values = [to_si(counts[self.channel(name).position], t_s, self._scales[name]) for name in names]
            yield (row[6] - first_s) / max(last_s - first_s, 1e-9), t_s, np.stack(values)

    def times(self, group: int, t0_s: float, t1_s: float) -> Iterator[FloatArray]:
        """Give node time of the samples of a group, piece after piece, without unpacking a count.

        Returns:
            (n,) float64, s, of every piece that touches the span; it may reach beyond it.
        """
        rate_hz = self._of_group(group)[0].rate_hz
        for row in self._chunks(group, t0_s, t1_s):
            yield border_code.sample_times(border_code.decode(row[9]), rate_hz)

    def values(self, group: int, t0_s: float, t1_s: float) -> Iterator[tuple[int, FloatArray, FloatArray]]:
        """Give all channels of a group, piece after piece, those that touch the span; they may reach beyond it.

        Returns:
            (node epoch, t_s (n,), values (channels, n)), float64, node time in s and the channels' units.
        Raises:
            RecordUnreadable: a damaged chunk.
        """
        records = self._of_group(group)
        for row in self._chunks(group, t0_s, t1_s):
            t_s = border_code.sample_times(border_code.decode(row[9]), records[0].rate_hz)
            counts = self._counts(row, records[0])
            values = [to_si(counts[record.position], t_s, self._scales[record.name]) for record in records]
            yield row[2], t_s, np.stack(values)

    def pieces(self, group: int) -> Iterator[Piece]:
        """Give the chunks of a group, one after the other, without reading a count."""
        rate_hz = self._of_group(group)[0].rate_hz
        last, end = group * GROUP_STRIDE - 1, (group + 1) * GROUP_STRIDE
        sql = "SELECT id, epoch, n, borders FROM chunks WHERE id > ? AND id < ? ORDER BY id LIMIT 64"
        while rows := self._query(sql, (last, end)):
            for id_, epoch, n, packed in rows:
                yield Piece(id_, epoch, n, times_or_none(packed, n, rate_hz))
            last = rows[-1][0]

    def stored(self, group: int) -> int:
        """Give how many samples of each channel of a group the file holds."""
        base = group * GROUP_STRIDE
        found = self._query("SELECT sum(n) FROM chunks WHERE id >= ? AND id < ?", (base, base + GROUP_STRIDE))
        return int(found[0][0] or 0)

    def piece(self, id_: int) -> tuple[int, FloatArray, FloatArray]:
        """Give one chunk.

        Returns:
            (node epoch, t_s (n,), values (channels, n)), float64, node time in s and the channels' units.
        Raises:
            RecordUnreadable: it is damaged, or not there.
        """
        rows = self._query("SELECT * FROM chunks WHERE id = ?", (id_,))
        if not rows:
            raise RecordUnreadable(f"{self.path} has no chunk {id_}.")
        records = self._of_group(rows[0][1])
        t_s = times_or_none(rows[0][9], rows[0][4], records[0].rate_hz)
        counts = self._counts(rows[0], records[0])
        if t_s is None or counts.shape[1] != len(t_s):
            raise RecordUnreadable(f"{self.path}: the times of the chunk at {rows[0][5]:.3f} s are damaged.")
        values = [to_si(counts[record.position], t_s, self._scales[record.name]) for record in records]
        return rows[0][2], t_s, np.stack(values)

    def _of_group(self, group: int) -> tuple[ChannelRecord, ...]:
        return tuple(record for record in self.channels if record.group == group)

    def _chunks(self, group: int, t0_s: float, t1_s: float) -> Iterator[Any]:
        """Give the chunk rows that may touch a span, one after the other, each a query of its own."""
        base = group * GROUP_STRIDE
        from_s, to_s = max(0.0, t0_s - CHUNK_MAX_S - _SLACK_S), max(0.0, min(t1_s + _SLACK_S, _END_OF_TIME_S))
        last = base + int(from_s * 1000) - 1
        end = base + int(to_s * 1000)
        while True:
            rows = self._query(
                "SELECT * FROM chunks WHERE id > ? AND id < ? AND t_end_s >= ? ORDER BY id LIMIT 16", (last, end, t0_s)
            )
            yield from (row for row in rows if row[5] < t1_s)
            if not rows:
                return
            last = rows[-1][0]

    def _counts(self, row: Any, record: ChannelRecord) -> Any:
        if zlib.crc32(row[10]) != row[8]:
            raise RecordUnreadable(f"{self.path}: the chunk at {row[5]:.3f} s of group {row[1]} is damaged.")
        return chunks.decode(row[10], record.integer_type, row[7])

    def envelope(self, channel: str, t0_s: float, t1_s: float, points: int) -> Envelope:
        """Give low, mean and high of a channel between two times at no more than `points` places.

        The coarsest level that is still fine enough is used: cells of 60 s, cells of 1 s, or the samples.
        """
        return self.envelopes((channel,), t0_s, t1_s, points)[channel]

    def envelopes(self, names: tuple[str, ...], t0_s: float, t1_s: float, points: int) -> dict[str, Envelope]:
        """Give envelopes of several channels; channels of one group are read once."""
        found: dict[str, Envelope] = {}
        cells: dict[int, pyramid.Cells] = {}
        span = (t0_s, t1_s)
        for name in names:
            record = self.channel(name)
            level_s = _level(record.rate_hz, (t1_s - t0_s) / points)
            if level_s == 0:
                t_s, values = self.samples(name, t0_s, t1_s)
                found[name] = of_samples(t_s, values, 1.0 / record.rate_hz, span, points)
                continue
            if record.group not in cells:
                cells[record.group] = self._cells(record.group, level_s, t0_s, t1_s)
            scales = self._scales[name]
            found[name] = of_cells(cells[record.group], record.position, level_s, scales, span, points)
        return found

    def _cells(self, group: int, level_s: int, t0_s: float, t1_s: float) -> pyramid.Cells:
        channels = sum(record.group == group for record in self.channels)
        first, last = int(np.floor(t0_s / level_s)), int(np.ceil(t1_s / level_s))
        rows = self._query(
            "SELECT k, count, data FROM cells WHERE level = ? AND grp = ? AND k > ? AND k < ? ORDER BY k",
            (level_s, group, first - pyramid.CELLS_IN_ROW[level_s], last),
        )
        cells = pyramid.unpack(rows, channels)
        if level_s > 1 and self.result is None:
            cells = pyramid.combine([cells, self._open_minutes(group, cells, last)])
        begin, end = np.searchsorted(cells.k, (first, last))
        return cells[int(begin) : int(end)]

    def _open_minutes(self, group: int, minutes: pyramid.Cells, last: int) -> pyramid.Cells:
        """Give the minutes of a live run that are not yet written, out of its seconds."""
        first_k = (int(minutes.k[-1]) + 1) * 60 if len(minutes.k) else max(0, (last - 3) * 60)
        if first_k >= last * 60:
            return minutes[:0]
        return pyramid.combine([self._cells(group, 1, float(first_k), last * 60.0)], 60)

    # -- replay

    @property
    def layouts(self) -> tuple[GroupLayout, ...]:
        """Give the groups as the rig box announced them."""
        found = []
        for group in sorted({record.group for record in self.channels}):
            members = [record for record in self.channels if record.group == group]
            names = tuple(record.name for record in members)
            found.append(GroupLayout(group, members[0].rate_hz, members[0].integer_type, names))
        return tuple(found)

    def blocks(self, t0_s: float = -np.inf, t1_s: float = np.inf) -> Iterator[Block | GapMark]:
        """Give blocks and gap marks as they came from the wire, in order of arrival, those that touch the span."""
        sources = [self._blocks_of(layout, t0_s, t1_s) for layout in self.layouts]
        for _, item in heapq.merge(self._marks(t0_s, t1_s), *sources, key=lambda entry: entry[0]):
            yield item

    def _marks(self, t0_s: float, t1_s: float) -> Iterator[tuple[tuple[int, int], Block | GapMark]]:
        rows = self._query("SELECT ordinal, grp, epoch, first_index, n, t_rig_s, why FROM gaps ORDER BY ordinal, id")
        for row in rows:
            if t0_s <= number(row[5]) < t1_s:
                yield (row[0], 0), GapMark(row[1], row[2], row[3], row[4], number(row[5]), row[6])

    def _blocks_of(
        self, layout: GroupLayout, t0_s: float, t1_s: float
    ) -> Iterator[tuple[tuple[int, int], Block | GapMark]]:
        first = self.channel(layout.channels[0])
        for row in self._chunks(layout.group, t0_s, t1_s):
            counts = self._counts(row, first)
            counts.flags.writeable = False
            frames = border_code.decode(row[9])
            begin = 0
            for n, sequence, lost, ordinal, t_s in zip(
                frames.n.tolist(),
                frames.frame_sequence.tolist(),
                frames.lost_before.tolist(),
                frames.ordinal.tolist(),
                frames.t_rig_s.tolist(),
                strict=True,
            ):
                part = counts[:, begin : begin + n]
                begin += n
                if t_s + (n - 1) / layout.rate_hz >= t0_s and t_s < t1_s:
                    yield (ordinal, 1), Block(layout, row[2], sequence, row[3] + begin - n, t_s, part, lost)


def _level(rate_hz: float, step_s: float) -> int:
    """Give the length of the cells to read, s; 0 for samples. A cell shorter than two samples says nothing."""
    for level_s in reversed(pyramid.LEVELS_S):
        if step_s >= level_s and rate_hz * level_s >= 2.0:
            return level_s
    return 0


__all__ = ["SAMPLES", "Envelope", "RunReader"]
