"""Archive: the list of runs and events of a data folder, read only; what `scuffwatch runs` and the pages begin with.

Reads the journal, gives summaries. Needs no write permission and holds no transaction longer than one query. Imports no
numpy, so that a list is there at once.
"""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.event import ChannelRecord, Event
from scuffwatch.model.run import Outcome, RunHeader, StageRecord
from scuffwatch.store import lock, names, schema
from scuffwatch.store.rows import channel_of, event_of, stage_of
from scuffwatch.store.storage import is_damaged
from scuffwatch.store.text import header_from_json, number

if TYPE_CHECKING:
    from scuffwatch.store.run_reader import RunReader

BUSY_S = 5.0


@dataclass(frozen=True, slots=True)
class RunSummary:
    """One run as a row of a list.

    Attributes:
        header: what was known when it opened.
        outcome: how it ended; None while it is live.
        t_start_utc_s: wall clock of the opening, s; a label.
        duration_s: node time from opening to end, s; host time so far while it is live; NaN where it is not known.
        last_stage: number of the last stage that was closed, 0 before the first.
        first_out: sentence of the first cause, or empty.
        simulated: whether the data come from the simulated rig.
        interrupted: whether the run was resumed after a trip.
        says: what recovery had to say about it, or empty.
        live: whether a core is recording it now.
    """

    header: RunHeader
    outcome: Outcome | None
    t_start_utc_s: float
    duration_s: float
    last_stage: int
    first_out: str
    simulated: bool
    interrupted: bool
    says: str
    live: bool

    @property
    def name(self) -> str:
        """Give the run's name."""
        return self.header.name


@dataclass(frozen=True, slots=True)
class AlarmRecord:
    """Last recorded state of one alarm: `state` is the text of an `AlarmState`, `number` that of its event."""

    key: str
    state: str
    number: int
    t_rig_s: float
    t_wall_utc_s: float
    says: str


class Archive:
    """The records of one data folder."""

    def __init__(self, data_dir: Path) -> None:
        self.data_dir = data_dir

    def runs(self) -> tuple[RunSummary, ...]:
        """Give all runs, the newest first."""
        held = lock.is_held(self.data_dir)
        rows = self._all("SELECT * FROM runs ORDER BY t_open_utc_s DESC, name DESC")
        return tuple(_summary(row, held) for row in rows)

    def run(self, name: str) -> RunSummary:
        """Give one run.

        Raises:
            RecordUnreadable: no such run.
        """
        rows = self._all("SELECT * FROM runs WHERE name = ?", (names.plain(name),))
        if not rows:
            raise RecordUnreadable(f"There is no run {name} in {self.data_dir}. `scuffwatch runs` lists them.")
        return _summary(rows[0], lock.is_held(self.data_dir))

    def path_of(self, name: str) -> Path:
        """Give the path of a run's file.

        Raises:
            RecordUnreadable: not a run's name, or there is no such file.
        """
        if names.parts(name) is None:
            raise RecordUnreadable(f"{name!r} is not the name of a run. `scuffwatch runs` lists them.")
        path = self.data_dir / names.RUNS_FOLDER / names.file_name(name)
        if not path.exists():
            raise RecordUnreadable(f"The file of run {name} is missing: {path}. `scuffwatch runs` lists what there is.")
        return path

    def open_run(self, name: str) -> "RunReader":
        """Give one run to read; close it, or use it with `with`.

        Raises:
            RecordUnreadable: no such run, or its file cannot be read.
        """
        from scuffwatch.store.run_reader import RunReader

        path = self.path_of(name)
        return RunReader(path, live=lock.is_held(self.data_dir) and not self._ended(names.plain(name)))

    def _ended(self, name: str) -> bool:
        return bool(self._all("SELECT 1 FROM runs WHERE name = ? AND outcome IS NOT NULL", (name,)))

    def stages(self, name: str) -> tuple[StageRecord, ...]:
        """Give the closed stages of a run out of the journal."""
        rows = self._all("SELECT * FROM stages WHERE run = ? ORDER BY number", (names.plain(name),))
        return tuple(stage_of(row[1:]) for row in rows)

    def events(self, after_sequence: int = 0, limit: int = 1_000) -> tuple[Event, ...]:
        """Give events with numbers above `after_sequence`, in order, at most `limit`.

        Their `sequence` is the lasting number of the journal; it has holes only where a copy was put back.
        """
        rows = self._all("SELECT * FROM events WHERE number > ? ORDER BY number LIMIT ?", (after_sequence, limit))
        return tuple(event_of(row) for row in rows)

    def latest_events(self, limit: int) -> tuple[Event, ...]:
        """Give the last events, the newest first."""
        rows = self._all("SELECT * FROM events ORDER BY number DESC LIMIT ?", (limit,))
        return tuple(event_of(row) for row in rows)

    def latest_alarms(self) -> tuple[AlarmRecord, ...]:
        """Give the last recorded state of every alarm that ever changed, the newest first."""
        rows = self._all("SELECT * FROM alarms ORDER BY number DESC")
        return tuple(AlarmRecord(r[0], r[1], r[2], number(r[3]), r[4], r[5]) for r in rows)

    def channels(self) -> tuple[ChannelRecord, ...]:
        """Give the calibrations last in force, one a channel."""
        rows = self._all("SELECT * FROM channels WHERE id IN (SELECT max(id) FROM channels GROUP BY name) ORDER BY id")
        return tuple(channel_of(row)[0] for row in rows)

    def idle_rows(self, group: int, t0_utc_s: float, t1_utc_s: float) -> list[Any]:
        """Give rows (UTC second, names, data) of the idle envelope; `run_reader.idle_envelope` makes values of them."""
        return self._all(
            "SELECT k, names, data FROM idle_cells WHERE grp = ? AND k >= ? AND k < ? ORDER BY k",
            (group, t0_utc_s, t1_utc_s),
        )

    def idle_groups(self) -> tuple[int, ...]:
        """Give the groups of which there are idle rows."""
        return tuple(row[0] for row in self._all("SELECT DISTINCT grp FROM idle_cells ORDER BY grp"))

    def idle_after(self, group: int, after_utc_s: int, limit: int) -> list[Any]:
        """Give rows (UTC second, names, data) of the idle envelope after a second, in order, at most `limit`."""
        return self._all(
            "SELECT k, names, data FROM idle_cells WHERE grp = ? AND k > ? ORDER BY k LIMIT ?",
            (group, after_utc_s, limit),
        )

    def calibrations(self) -> tuple[tuple[ChannelRecord, float], ...]:
        """Give every calibration that was in force, with the wall clock from which on, s, in order."""
        rows = self._all("SELECT * FROM channels ORDER BY id")
        return tuple((channel_of(row)[0], float(row[12])) for row in rows)

    def _all(self, sql: str, parameters: tuple[str | int | float, ...] = ()) -> list[Any]:
        path = self.data_dir / names.JOURNAL
        if not path.exists():
            return []
        with open_read_only(path) as connection:
            try:
                schema.refuse_others(connection, "journal", str(path))
                return connection.execute(sql, parameters).fetchall()
            except sqlite3.OperationalError as error:
                if "no such table" in str(error):
                    return []  # the core is making it at this moment
                raise RecordUnreadable(f"{path} cannot be read: {error}.") from error
            except sqlite3.DatabaseError as error:
                raise RecordUnreadable(f"{path} cannot be read: {error}. `scuffwatch verify` says more.") from error


def _summary(row: Any, held: bool) -> RunSummary:
    header = header_from_json(row[1])
    live = held and row[6] is None
    duration_s = number(row[5]) - number(row[2])
    if live:
        duration_s = max(0.0, time.time() - row[3])
    outcome = None if live else Outcome(row[6] or Outcome.POWER_LOSS.value)
    return RunSummary(
        header=header,
        outcome=outcome,
        t_start_utc_s=row[3],
        duration_s=duration_s,
        last_stage=row[8],
        first_out=row[7],
        simulated=header.simulated,
        interrupted=bool(row[9]),
        says=row[11],
        live=live,
    )


def connect_read_only(path: Path) -> sqlite3.Connection:
    """Open a file of ours for reading only.

    Raises:
        RecordUnreadable: it cannot be opened; the sentence says what to do.
    """
    try:
        connection = sqlite3.connect(
            f"file:{quote(str(path.resolve()))}?mode=ro", uri=True, timeout=BUSY_S, isolation_level=None
        )
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        why = "Start the core once on this folder, so that it can put the record in order."
        if is_damaged(error):
            why = "It is damaged, or no file of this program; it was left as it is. Use a sound copy."
        raise RecordUnreadable(f"{path} cannot be opened: {error}. {why}") from error
    return connection


@contextmanager
def open_read_only(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a file of ours for reading only, and close it."""
    connection = connect_read_only(path)
    try:
        yield connection
    finally:
        connection.close()
