"""Run file: everything of one run in one SQLite file; the writing side.

Reads batches from the collector, commits each as one synced transaction. Header first, outcome last.
"""

import hashlib
import json
from pathlib import Path

from scuffwatch.model.run import RunResult, StageRecord
from scuffwatch.store import names, pyramid, schema
from scuffwatch.store.collector import Batch
from scuffwatch.store.items import RunOpened
from scuffwatch.store.rows import Row, channel_row, stage_of, stage_row
from scuffwatch.store.storage import Connection, Storage, closed_on_error, transaction
from scuffwatch.store.text import clean, header_to_json, number, real

POWER_LOSS_WHY = "core stopped"
COLUMNS = {
    "chunks": 11,
    "cells": 5,
    "ledger": 6,
    "gaps": 8,
    "events": 12,
    "stages": 10,
    "clock": 6,
    "quality": 5,
    "trips": 5,
    "channels": 13,
}


class RunFile:
    """The run file being written."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def write(self, batch: Batch) -> None:
        """Commit a batch; writing the same batch again changes nothing."""
        with transaction(self._connection):
            self._put(batch)

    def _put(self, batch: Batch) -> None:
        for table, rows in batch.tables.items():
            places = ",".join("?" * COLUMNS[table])
            self._connection.executemany(f"INSERT OR REPLACE INTO {table} VALUES({places})", rows)

    def finish(self, rest: Batch, result: RunResult, t_wall_utc_s: float) -> bytes:
        """Commit the last batch with the outcome, and give the digest of the run."""
        with transaction(self._connection):
            self._put(rest)
            self._connection.executemany(
                "INSERT OR REPLACE INTO stages VALUES(?,?,?,?,?,?,?,?,?,?)", [stage_row(s) for s in result.stages]
            )
            self._connection.execute(
                "INSERT OR REPLACE INTO result VALUES(1,?,?,?,?,?)",
                (
                    result.outcome.value,
                    clean(result.first_out),
                    real(result.t_end_s),
                    float(t_wall_utc_s),
                    int(result.interrupted),
                ),
            )
        return digest(self._connection)

    def recover(self, events: list[Row]) -> tuple[float, tuple[StageRecord, ...]]:
        """Put in order a file whose writer died, and give node time of its last sample and the stages it holds.

        Events the journal has and this file missed are copied, minutes are added up again, and every group gets a mark
        that says the core stopped. The file stays without an outcome.
        """
        last = self._connection.execute("SELECT max(t_end_s) FROM chunks").fetchone()
        stages = tuple(stage_of(row) for row in self._connection.execute("SELECT * FROM stages ORDER BY number"))
        batch = Batch(tables={"events": events, "gaps": self._stop_marks(), "cells": self._last_minutes()})
        self.write(batch)
        return number(last[0]), stages

    def _stop_marks(self) -> list[Row]:
        done = self._connection.execute("SELECT count(*) FROM gaps WHERE why = ?", (POWER_LOSS_WHY,)).fetchone()
        if done[0]:
            return []
        first = self._connection.execute("SELECT coalesce(max(id), 0) + 1 FROM gaps").fetchone()[0]
        ends = self._connection.execute(
            """SELECT l.grp, l.epoch, l.next_index, coalesce(max(c.t_end_s), 0.0) FROM ledger l
               LEFT JOIN chunks c ON c.grp = l.grp AND c.epoch = l.epoch
               WHERE l.epoch = (SELECT max(epoch) FROM ledger WHERE grp = l.grp) GROUP BY l.grp"""
        ).fetchall()
        ordinal = 1 << 62
        return [(first + i, g, e, n, 0, t, POWER_LOSS_WHY, ordinal) for i, (g, e, n, t) in enumerate(ends)]

    def _last_minutes(self) -> list[Row]:
        rows: list[Row] = []
        groups = self._connection.execute("SELECT grp, count(DISTINCT position) FROM channels GROUP BY grp").fetchall()
        for group, channels in groups:
            last = self._connection.execute(
                "SELECT max(k) FROM cells WHERE level = 60 AND grp = ?", (group,)
            ).fetchone()
            from_k = 0 if last[0] is None else (last[0] + 1) * 60
            found = self._connection.execute(
                "SELECT k, count, data FROM cells WHERE level = 1 AND grp = ? AND k >= ? ORDER BY k", (group, from_k)
            ).fetchall()
            minutes = pyramid.combine([pyramid.unpack(found, channels)], 60)
            rows += [(60, group, *row) for row in pyramid.rows(minutes, 1)]
        return rows

    def has_outcome(self) -> bool:
        """Say whether the outcome is written."""
        return self._connection.execute("SELECT 1 FROM result").fetchone() is not None

    def is_merged(self) -> bool:
        """Say whether the chunks have been merged."""
        return self._connection.execute("SELECT 1 FROM meta WHERE key = 'merged'").fetchone() is not None

    def last_event(self) -> int:
        """Give the number of the last event in the file, 0 where there is none."""
        return int(self._connection.execute("SELECT coalesce(max(number), 0) FROM events").fetchone()[0])

    def header_json(self) -> tuple[str, float, float]:
        """Give the header as JSON with node time and wall clock of the opening, s."""
        found = dict(self._connection.execute("SELECT key, value FROM header").fetchall())
        return str(found["run"]), number(found["t_open_rig_s"]), float(found["t_open_utc_s"])

    def result_row(self) -> Row:
        """Give the row of table `result` without its key."""
        row: Row = self._connection.execute("SELECT * FROM result").fetchone()
        return row[1:]

    def stages(self) -> tuple[StageRecord, ...]:
        """Give the stages."""
        return tuple(stage_of(row) for row in self._connection.execute("SELECT * FROM stages ORDER BY number"))

    def digest(self) -> bytes:
        """Give the digest of the run."""
        return digest(self._connection)

    def shrink_log(self) -> None:
        """Fold the log in and cut it off, as far as readers allow."""
        self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def settle(self) -> None:
        """Leave one file that a user without write permission can open."""
        schema.settle(self._connection)

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()


def create_run(storage: Storage, path: Path, opened: RunOpened) -> RunFile:
    """Make the file of a run: tables, header, channels and settings in one transaction."""
    connection = storage.connect(path)
    with closed_on_error(connection):
        schema.prepare(connection)
        if schema.version_of(connection) == 0:
            with transaction(connection):
                schema.create(connection, "run")
                _put_header(connection, opened)
    return RunFile(connection)


def _put_header(connection: Connection, opened: RunOpened) -> None:
    text = header_to_json(opened.header)
    entries = [(key, value if isinstance(value, str) else json.dumps(value)) for key, value in json.loads(text).items()]
    entries += [("run", text), ("settings_toml", clean(opened.settings_toml))]
    connection.executemany("INSERT INTO header VALUES(?,?)", entries)
    times = [("t_open_rig_s", real(opened.t_rig_s)), ("t_open_utc_s", float(opened.t_wall_utc_s))]
    connection.executemany("INSERT INTO header VALUES(?,?)", times)
    channels = [
        channel_row(record, number_, float("-inf"), opened.t_wall_utc_s)
        for number_, record in enumerate(opened.channels, 1)
    ]
    connection.executemany("INSERT INTO channels VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?)", channels)


def open_run_file(storage: Storage, path: Path) -> RunFile:
    """Open a run file that exists, for writing; its log is folded in by SQLite.

    Raises:
        RecordUnreadable: it is another program's, or of another version; it was not changed.
        ValueError: it holds no header yet.
    """
    connection = storage.connect(path)
    with closed_on_error(connection):
        schema.refuse_others(connection, "run", path.name)
        schema.prepare(connection)
        if schema.version_of(connection) == 0:
            raise ValueError(f"{path.name} holds no header")
        schema.migrate(connection, "run")
    return RunFile(connection)


def run_path(data_dir: Path, name: str) -> Path:
    """Give the path of a run's file."""
    return data_dir / names.RUNS_FOLDER / names.file_name(name)


def digest(connection: Connection) -> bytes:
    """Give a digest over header, ledger, gaps, outcome and stages: equal before and after merging."""
    hashed = hashlib.sha256()
    for query in (
        "SELECT * FROM header ORDER BY key",
        "SELECT * FROM ledger ORDER BY grp, epoch",
        "SELECT * FROM gaps ORDER BY id",
        "SELECT * FROM result",
        "SELECT * FROM stages ORDER BY number",
        "SELECT grp, epoch, sum(n) FROM chunks GROUP BY grp, epoch ORDER BY grp, epoch",
    ):
        for row in connection.execute(query):
            hashed.update(repr(tuple(row)).encode())
    return hashed.digest()
