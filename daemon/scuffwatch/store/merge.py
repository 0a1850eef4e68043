"""Merge: a closed run is written anew with chunks of 10 s instead of 0.8 s, a quarter smaller and quicker to read.

Reads a closed run file, gives a file beside it that takes its place in one step. Until then the old file stands; a
power cut at any point leaves one of the two. Works in steps of bounded time and memory, so the writer can serve
its queue.
"""

import zlib
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from scuffwatch.model.block import IntArray
from scuffwatch.model.channel import IntegerType
from scuffwatch.store import borders as border_code
from scuffwatch.store import chunks, names, pyramid, schema
from scuffwatch.store.collector import CHUNK_MAX_S
from scuffwatch.store.rows import Row
from scuffwatch.store.storage import Connection, Storage, closed_on_error, transaction

CHUNKS_IN_STEP = 24
_SMALL_TABLES = ("header", "channels", "ledger", "gaps", "events", "stages", "clock", "quality", "trips", "result")
_WIDE_STEP = 2_000
_COUNTS = 10
_BORDERS = 9


@dataclass(slots=True)
class _Run:
    """Chunks that follow on each other, waiting to become one."""

    rows: list[Any]

    def takes(self, row: Any) -> bool:
        first, last = self.rows[0], self.rows[-1]
        follows = row[1:3] == last[1:3] and row[3] == last[3] + last[4] and row[7] == last[7]
        return bool(follows and row[6] - first[5] <= CHUNK_MAX_S)


class Merge:
    """One run on its way to its merged file."""

    def __init__(self, storage: Storage, path: Path, late_events: list[Row]) -> None:
        self._storage, self._path, self._late_events = storage, path, late_events
        self._beside = path.with_name(path.name + names.MERGE_SUFFIX)
        storage.remove(self._beside)
        self._last_id = -1
        self._pending: _Run | None = None
        self._source = storage.connect(path)
        with closed_on_error(self._source):
            self._target = storage.connect(self._beside)
        with closed_on_error(self._source, self._target):
            self._types = self._group_types()
            self._start()

    def _group_types(self) -> dict[int, IntegerType]:
        found = self._source.execute("SELECT DISTINCT grp, integer_type FROM channels").fetchall()
        return {int(group): IntegerType(kind) for group, kind in found}

    def _start(self) -> None:
        self._target.execute(f"PRAGMA page_size={schema.PAGE_SIZE_BYTES}")
        # A half-written file is thrown away, so it needs no log of its own; it is synced whole before it counts.
        self._target.execute("PRAGMA journal_mode=OFF").fetchall()
        self._target.execute("PRAGMA synchronous=OFF")
        with transaction(self._target):
            schema.create(self._target, "run")
            for table in _SMALL_TABLES:
                _copy(self._source, self._target, table)
            _insert(self._target, "events", self._late_events, "OR IGNORE")
            self._target.execute("INSERT OR IGNORE INTO meta VALUES('merged', 1)")

    def step(self) -> bool:
        """Merge some more chunks; give True when the merged file stands in the place of the old one."""
        rows = self._source.execute(
            "SELECT * FROM chunks WHERE id > ? ORDER BY id LIMIT ?", (self._last_id, CHUNKS_IN_STEP)
        ).fetchall()
        if not rows:
            self._finish()
            return True
        self._last_id = rows[-1][0]
        merged: list[Row] = []
        for row in rows:
            if self._pending is not None and not self._pending.takes(row):
                merged += self._joined(self._pending)
                self._pending = None
            if self._pending is None:
                self._pending = _Run([])
            self._pending.rows.append(row)
        with transaction(self._target):
            _insert(self._target, "chunks", merged)
        return False

    def _finish(self) -> None:
        with transaction(self._target):
            if self._pending is not None:
                _insert(self._target, "chunks", self._joined(self._pending))
            for group, channels in self._source.execute(
                "SELECT grp, count(DISTINCT position) FROM channels GROUP BY grp"
            ).fetchall():
                for level_s in pyramid.LEVELS_S:
                    self._pack_cells(level_s, group, channels)
        self.close()
        self._storage.replace(self._beside, self._path)

    def _pack_cells(self, level_s: int, group: int, channels: int) -> None:
        in_row = pyramid.CELLS_IN_ROW[level_s]
        last_k = -1
        while True:
            bound = (last_k // in_row + 1 + _WIDE_STEP // in_row) * in_row
            found = self._source.execute(
                "SELECT k, count, data FROM cells WHERE level = ? AND grp = ? AND k > ? AND k < ? ORDER BY k",
                (level_s, group, last_k, bound),
            ).fetchall()
            rows = pyramid.rows(pyramid.unpack(found, channels), in_row)
            _insert(self._target, "cells", [(level_s, group, *row) for row in rows])
            following = self._source.execute(
                "SELECT min(k) FROM cells WHERE level = ? AND grp = ? AND k >= ?", (level_s, group, bound)
            ).fetchone()[0]
            if following is None:
                return
            last_k = following // in_row * in_row - 1

    def close(self) -> None:
        """Give both files back; an unfinished merged file is thrown away by the next start."""
        with ExitStack() as stack:
            stack.callback(self._source.close)
            stack.callback(self._target.close)

    def _joined(self, run: _Run) -> list[Row]:
        """Give one row for chunks that follow on each other; damaged ones are carried over as they are."""
        whole = all(zlib.crc32(row[_COUNTS]) == row[8] for row in run.rows)
        if len(run.rows) == 1 or not whole:
            return [tuple(row) for row in run.rows]
        first, last = run.rows[0], run.rows[-1]
        counts = _counts_of(run.rows, self._types[first[1]])
        packed, crc = chunks.encode(counts)
        borders = border_code.concatenate([border_code.decode(row[_BORDERS]) for row in run.rows])
        return [(*first[:4], counts.shape[1], first[5], last[6], first[7], crc, border_code.encode(borders), packed)]


def _counts_of(rows: list[Any], integer_type: IntegerType) -> IntArray:
    found: IntArray = np.concatenate([chunks.decode(row[_COUNTS], integer_type, row[7]) for row in rows], axis=1)
    return found


def _copy(source: Connection, target: Connection, table: str) -> None:
    rows = source.execute(f"SELECT * FROM {table}")
    _insert(target, table, (tuple(row) for row in rows))


def _insert(target: Connection, table: str, rows: Any, how: str = "") -> None:
    wide = len(target.execute(f"SELECT * FROM pragma_table_info('{table}')").fetchall())
    target.executemany(f"INSERT {how} INTO {table} VALUES({','.join('?' * wide)})", rows)
