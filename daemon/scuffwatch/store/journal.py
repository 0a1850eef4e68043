"""Journal: the index over runs and the chained list of events of one data folder; the writing side.

Reads events and run records, commits each call as one synced transaction. One instance in one process.
"""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from scuffwatch.model.event import ChannelRecord, Event, EventKind
from scuffwatch.model.run import Outcome, RunHeader, RunResult, StageRecord
from scuffwatch.store import chain, names, schema
from scuffwatch.store.rows import Row, channel_row, event_row, stage_row
from scuffwatch.store.storage import Connection, Storage, closed_on_error, transaction
from scuffwatch.store.text import clean, header_to_json, real

_EVENT = "INSERT INTO events VALUES(?,?,?,?,?,?,?,?,?,?,?,?)"
_ALARM = "INSERT OR REPLACE INTO alarms VALUES(?,?,?,?,?,?)"
_STAGE = "INSERT OR REPLACE INTO stages VALUES(?,?,?,?,?,?,?,?,?,?,?)"
_RUN = "INSERT OR REPLACE INTO runs VALUES(?,?,?,?,NULL,NULL,NULL,'',0,0,NULL,'',0)"


class Journal:
    """The open journal.

    Attributes:
        number, hash: of the last event committed.
        start: number of this start of the core; 0 before `begin`.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.start = 0
        self.number, self.hash = 0, chain.START
        self.reload()

    def reload(self) -> None:
        """Read again where the chain ends."""
        last = self._connection.execute("SELECT number, hash FROM events ORDER BY number DESC LIMIT 1").fetchone()
        self.number, self.hash = (0, chain.START) if last is None else (int(last[0]), bytes(last[1]))

    def begin(self, t_wall_utc_s: float, boot_id: str) -> None:
        """Enter a start of the core; it counts as unclean until `end`."""
        with transaction(self._connection):
            found = self._connection.execute("SELECT coalesce(max(number), 0) + 1 FROM starts").fetchone()
            self.start = int(found[0])
            self._connection.execute(
                "INSERT INTO starts VALUES(?,?,?,?,'')", (self.start, t_wall_utc_s, boot_id, self.number + 1)
            )

    def end(self) -> None:
        """Enter a clean end of the core."""
        self._connection.execute("UPDATE starts SET ended = 'clean' WHERE number = ?", (self.start,))

    def unclean_start(self) -> float | None:
        """Give the wall clock of the last start if it did not end cleanly, else None."""
        last = self._connection.execute(
            "SELECT t_wall_utc_s, ended FROM starts ORDER BY number DESC LIMIT 1"
        ).fetchone()
        return None if last is None or last[1] == "clean" else float(last[0])

    def skip_to(self, number: int) -> None:
        """Go on above a number that was once given: no number is used twice, not even after a copy was put back."""
        self.number = max(self.number, number)

    def append(self, events: Sequence[Event]) -> list[Row]:
        """Commit events behind the last one; give their rows with number and hash."""
        stored = self._stored_sequence()
        rows: list[Row] = []
        number, before = self.number, self.hash
        for event in events:
            if event.sequence <= stored and event.sequence > 0:
                continue
            number += 1
            row = event_row(event, number, self.start)
            before = chain.link(before, row)
            rows.append((*row, before))
        with transaction(self._connection):
            self._connection.executemany(_EVENT, rows)
            self._connection.executemany(_ALARM, list(_alarm_rows(rows)))
        self.number, self.hash = number, before
        return rows

    def _stored_sequence(self) -> int:
        """Give the last committed sequence of this start: a commit may have held although it gave an error."""
        found = self._connection.execute(
            """SELECT coalesce(max(core_sequence), 0) FROM
               (SELECT core_sequence, core_start FROM events ORDER BY number DESC LIMIT 1000) WHERE core_start = ?""",
            (self.start,),
        ).fetchone()
        return int(found[0])

    def open_run(self, header: RunHeader, t_rig_s: float, t_wall_utc_s: float) -> None:
        """Enter a run that begins."""
        row = (header.name, header_to_json(header), real(t_rig_s), float(t_wall_utc_s))
        self._connection.execute(_RUN, row)

    def put_stage(self, run: str, stage: StageRecord) -> None:
        """Enter a stage of a run."""
        with transaction(self._connection):
            self._connection.execute(_STAGE, (run, *stage_row(stage)))
            self._connection.execute(
                "UPDATE runs SET last_stage = max(last_stage, ?) WHERE name = ?", (stage.number, run)
            )

    def close_run(
        self, name: str, result: RunResult, t_wall_utc_s: float | None, digest: bytes, says: str = ""
    ) -> None:
        """Enter how a run ended, with the digest of its file."""
        with transaction(self._connection):
            self._connection.executemany(_STAGE, [(name, *stage_row(stage)) for stage in result.stages])
            self._connection.execute(
                """UPDATE runs SET t_close_utc_s = ?, t_end_rig_s = ?, outcome = ?, first_out = ?, interrupted = ?,
                   digest = ?, says = ?,
                   last_stage = (SELECT coalesce(max(number), 0) FROM stages WHERE run = runs.name)
                   WHERE name = ?""",
                (
                    t_wall_utc_s,
                    real(result.t_end_s),
                    result.outcome.value,
                    clean(result.first_out),
                    int(result.interrupted),
                    digest,
                    clean(says),
                    name,
                ),
            )

    def end_without_outcome(self, name: str, t_end_s: float, stages: tuple[StageRecord, ...], says: str) -> None:
        """Enter that a run was ended by power loss, with what is known."""
        self.close_run(name, RunResult(Outcome.POWER_LOSS, "", t_end_s, stages), None, b"", says)

    def put_channels(self, records: Iterable[ChannelRecord], t_rig_s: float, t_wall_utc_s: float) -> None:
        """Enter calibrations in force from a time on."""
        sql = "INSERT INTO channels VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?)"
        with transaction(self._connection):
            self._connection.executemany(sql, [channel_row(r, None, t_rig_s, t_wall_utc_s) for r in records])

    def put_idle(self, rows: list[Row], keep_s: float) -> None:
        """Enter idle cells (group, UTC second, names, data), and drop those older than `keep_s`."""
        with transaction(self._connection):
            self._connection.executemany("INSERT OR REPLACE INTO idle_cells VALUES(?,?,?,?)", rows)
            for group, newest in {(row[0], max(int(str(r[1])) for r in rows if r[0] == row[0])) for row in rows}:
                self._connection.execute("DELETE FROM idle_cells WHERE grp = ? AND k < ?", (group, newest - keep_s))

    def runs(self) -> dict[str, tuple[str | None, bool]]:
        """Give outcome (None where it has none yet) and whether it is merged, of every run."""
        found = self._connection.execute("SELECT name, outcome, merged FROM runs").fetchall()
        return {str(row[0]): (row[1], bool(row[2])) for row in found}

    def set_merged(self, name: str) -> None:
        """Enter that a run has been merged."""
        self._connection.execute("UPDATE runs SET merged = 1 WHERE name = ?", (name,))

    def events_of(self, run: str) -> list[Row]:
        """Give the event rows of a run."""
        return self._connection.execute("SELECT * FROM events WHERE run = ? ORDER BY number", (run,)).fetchall()

    def hash_at(self, number: int) -> bytes | None:
        """Give the hash of an event, or None where there is no such event."""
        found = self._connection.execute("SELECT hash FROM events WHERE number = ?", (number,)).fetchone()
        return None if found is None else bytes(found[0])

    def first_broken(self, last: int = 10_000) -> int | None:
        """Give the number of the first event among the last ones whose hash does not follow, or None."""
        rows = self._connection.execute(
            "SELECT * FROM (SELECT * FROM events ORDER BY number DESC LIMIT ?) ORDER BY number", (last + 1,)
        ).fetchall()
        if len(rows) <= last:
            return chain.broken_at(rows)
        return chain.broken_at(rows[1:], bytes(rows[0][-1]))

    def sound(self) -> bool:
        """Say whether SQLite finds the file whole."""
        return bool(self._connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok")

    def shrink_log(self) -> None:
        """Fold the log in and cut it off, as far as readers allow."""
        self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def settle(self) -> None:
        """Leave one file that a user without write permission can open."""
        schema.settle(self._connection)

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()


def open_journal(storage: Storage, data_dir: Path) -> Journal:
    """Open the journal of a data folder, made new where there is none.

    Raises:
        RecordUnreadable: what lies there is another program's, or of another version; it was not changed.
    """
    connection = storage.connect(data_dir / names.JOURNAL)
    with closed_on_error(connection):
        schema.refuse_others(connection, "journal", names.JOURNAL)
        schema.prepare(connection)
        if schema.version_of(connection) == 0:
            with transaction(connection):
                schema.create(connection, "journal")
        schema.migrate(connection, "journal")
        return Journal(connection)


def _alarm_rows(rows: list[Row]) -> Iterable[tuple[Any, ...]]:
    """Give the alarm states that alarm events lead to: `data` holds `key` and `after`."""
    for row in rows:
        data = json.loads(str(row[8])) if row[1] == EventKind.ALARM.value else {}
        if "key" in data and "after" in data:
            yield (str(data["key"]), str(data["after"]), row[0], row[2], row[4], row[7])
