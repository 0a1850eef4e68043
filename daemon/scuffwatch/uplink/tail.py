"""Tail: the streams of rows a data folder holds, counted and read on from any place.

Reads the record through its reader, gives counts and rows. Keeps no data: each call looks again.

Streams: `run/NAME/GROUP` (places: steps of node time), `idle/GROUP` (places: UTC seconds), `events` (places: numbers of
the journal). Stamps of a run follow node time from the label of its opening; where the rig box restarted, from the
first clock reading after it. They never fall, and never depend on when they are made.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.event import Event
from scuffwatch.store.reader import Archive, RunReader, RunSummary, idle_seconds
from scuffwatch.uplink.rows import (
    EARLIEST_MS,
    Bins,
    Row,
    bin_rows,
    event_row,
    idle_row,
    reduce,
    run_tags,
    steps_of,
    tags_text,
)

EVENTS = "events"
SETTLE_S = 0.05
"""A step is complete when a sample this much later is stored; frame times jitter by far less."""
READ_S = 30.0
"""Samples held in memory at a time, s."""
IDLE_LIMIT = 1_000


@dataclass(frozen=True, slots=True)
class Found:
    """One stream that is there.

    Attributes:
        name: of the stream.
        before_first: a place below all of its rows.
        live: whether more may come.
    """

    name: str
    before_first: int
    live: bool


class Source(Protocol):
    """Where rows come from."""

    def streams(self, ended: frozenset[str]) -> tuple[Found, ...]:
        """Give the streams that are there, the oldest first, without those known to have ended."""

    def census(self, stream: str, after: int, live: bool) -> tuple[int, int]:
        """Give the last complete place, and how many rows lie after `after` up to it."""

    def rows(self, stream: str, after: int, to: int, limit: int) -> list[Row]:
        """Give rows with after < place <= to, in order, at most `limit`."""


class Tail:
    """The streams of one data folder.

    Args:
        archive: the data folder.
        rig: name of the rig, for the tags.
        rate_hz: steps a second of the rows of a run, whole.
        stamps: gives events stamps of their own: see `Ledger.stamps`.
        idle: whether hours without a run are sent.
    """

    def __init__(
        self,
        archive: Archive,
        rig: str,
        rate_hz: int,
        stamps: Callable[[Iterable[tuple[int, int]]], dict[int, int]],
        idle: bool = True,
    ) -> None:
        self._archive, self._rig, self._rate_hz, self._stamps, self._idle = archive, rig, rate_hz, stamps, idle

    def streams(self, ended: frozenset[str]) -> tuple[Found, ...]:
        """Give the streams that are there, the oldest first, without those known to have ended."""
        found = [Found(EVENTS, 0, True)]
        found += [Found(f"idle/{group}", 0, True) for group in self._archive.idle_groups()] if self._idle else []
        done = {stream_parts(name)[0] for name in ended}
        for run in reversed(self._archive.runs()):
            found += self._of_run(run) if run.name not in done else ()
        return tuple(found)

    def _of_run(self, run: RunSummary) -> list[Found]:
        try:
            with self._archive.open_run(run.name) as reader:
                opened_s = reader.t_open_rig_s if np.isfinite(reader.t_open_rig_s) else 0.0
                before_first = int(steps_of(np.array([opened_s]), self._rate_hz)[0]) - self._rate_hz
                return [Found(f"run/{run.name}/{g.group}", before_first, run.live) for g in reader.layouts]
        except RecordUnreadable:
            return []  # `scuffwatch verify` says more; the journal's events of it are sent

    def census(self, stream: str, after: int, live: bool) -> tuple[int, int]:
        """Give the last complete place, and how many rows lie after `after` up to it."""
        if stream == EVENTS:
            events = self._archive.events(after)
            return (events[-1].sequence if events else after), len(events)
        if stream.startswith("idle/"):
            rows = self._archive.idle_after(int(stream[5:]), after, IDLE_LIMIT)
            return (rows[-1][0] if rows else after), len(rows)
        run, group = stream_parts(stream)
        with self._archive.open_run(run) as reader:
            return self._count(reader, group, after, live)

    def _count(self, reader: RunReader, group: int, after: int, live: bool) -> tuple[int, int]:
        found: set[int] = set()
        newest_s = -np.inf
        for t_s in reader.times(group, (after + 1) / self._rate_hz, np.inf):
            newest_s = max(newest_s, float(t_s.max()))
            found.update(np.unique(steps_of(t_s, self._rate_hz)).tolist())
        last = max(found, default=after)
        if live and found:
            last = int(steps_of(np.array([newest_s - SETTLE_S]), self._rate_hz)[0]) - 1
        complete = [k for k in found if after < k <= last]
        return max(complete, default=after), len(complete)

    def rows(self, stream: str, after: int, to: int, limit: int) -> list[Row]:
        """Give rows with after < place <= to, in order, at most `limit`."""
        if stream == EVENTS:
            return self._event_rows([event for event in self._archive.events(after, limit) if event.sequence <= to])
        if stream.startswith("idle/"):
            group, tags = int(stream[5:]), tags_text({"kind": "idle", "rig": self._rig})
            seconds = idle_seconds(self._archive, group, after, limit)
            return [idle_row(second, tags, group) for second in seconds if second.t_utc_s <= to]
        run, group = stream_parts(stream)
        with self._archive.open_run(run) as reader:
            return self._run_rows(reader, group, after, to, limit)

    def _event_rows(self, events: list[Event]) -> list[Row]:
        stamps = self._stamps((event.sequence, round(event.t_wall_utc_s * 1000)) for event in events)
        return [event_row(event, self._rig, stamps[event.sequence]) for event in events]

    def _run_rows(self, reader: RunReader, group: int, after: int, to: int, limit: int) -> list[Row]:
        found: list[Row] = []
        offsets = Offsets(reader)
        tags = run_tags(self._rig, reader.header)
        many = max(1, int(READ_S * self._rate_hz))
        while after < to and len(found) < limit:
            upto = min(to, after + min(many, limit - len(found)))
            rows = self._window(reader, group, after, upto, offsets, tags)
            found += rows
            after = upto if rows else self._next_place(reader, group, upto, to)
        return found

    def _next_place(self, reader: RunReader, group: int, after: int, to: int) -> int:
        """Give a place before the next row after a gap, or `to`."""
        for t_s in reader.times(group, (after + 1) / self._rate_hz, np.inf):
            steps = steps_of(t_s, self._rate_hz)
            beyond = steps[steps > after]
            if len(beyond):
                return min(to, int(beyond.min()) - 1)
        return to

    def _window(self, reader: RunReader, group: int, after: int, upto: int, offsets: "Offsets", tags: str) -> list[Row]:
        """Give the rows of a span short enough to be held in memory; damaged ones bear no line."""
        try:
            bins = self._bins(reader, group, after, upto)
        except RecordUnreadable:
            if upto - after > 1:
                middle = (after + upto) // 2
                halves = ((after, middle), (middle, upto))
                return [row for a, b in halves for row in self._window(reader, group, a, b, offsets, tags)]
            return [Row(upto, EARLIEST_MS, "", 0)] if self._count(reader, group, after, live=False)[1] else []
        if bins is None:
            return []
        labels_s = bins.k / self._rate_hz + np.array([offsets.of(epoch) for epoch in bins.epoch.tolist()])
        stamps_ms = np.rint(labels_s * 1000).astype(np.int64)
        names = tuple(record.name for record in reader.channels if record.group == group)
        return list(bin_rows(bins, names, tags, stamps_ms, group))

    def _bins(self, reader: RunReader, group: int, after: int, upto: int) -> Bins | None:
        t0_s, t1_s = (after + 1) / self._rate_hz, (upto + 1) / self._rate_hz
        times, epochs, values = [], [], []
        for epoch, t_s, piece in reader.values(group, t0_s - SETTLE_S, t1_s + SETTLE_S):
            k = steps_of(t_s, self._rate_hz)
            inside = (k > after) & (k <= upto)
            times.append(t_s[inside])
            values.append(piece[:, inside])
            epochs.append(np.full(int(inside.sum()), epoch, np.int64))
        if not sum(map(len, times)):
            return None
        records = tuple(record for record in reader.channels if record.group == group)
        joined = np.concatenate(times), np.concatenate(epochs), np.concatenate(values, axis=1)
        return reduce(*joined, records, self._rate_hz)


class Offsets:
    """Wall clock minus node time of each node epoch of a run, s."""

    def __init__(self, reader: RunReader) -> None:
        self._offsets_s: list[tuple[int, float]] = []
        known_s = reader.t_open_utc_s - reader.t_open_rig_s
        for triple in reader.clock():
            offset_s = triple.t_wall_utc_s - triple.t_rig_s
            new = not self._offsets_s or triple.epoch > self._offsets_s[-1][0]
            if new:
                first = not self._offsets_s
                known_s = known_s if first or not np.isfinite(offset_s) else max(known_s, offset_s)
                self._offsets_s.append((triple.epoch, known_s))
        if not self._offsets_s:
            self._offsets_s.append((0, known_s))

    def of(self, epoch: int) -> float:
        """Give the offset in force in an epoch, s."""
        return next((s for e, s in reversed(self._offsets_s) if e <= epoch), self._offsets_s[0][1])


def stream_parts(stream: str) -> tuple[str, int]:
    _, run, group = stream.split("/")
    return run, int(group)
