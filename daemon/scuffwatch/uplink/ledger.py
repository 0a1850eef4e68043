"""Ledger: how far each stream of rows has got at one destination, kept through any restart.

Reads and writes one small SQLite file of its own, never the store's. It holds places, counts and what was refused, no
data: the record is the buffer.

Every row of a stream has a place, a whole number that rises. A row is in exactly one of three states, and the counts
say so: produced = sent + queued + quarantined.

    sent or quarantined           stretch          sent          queued
    ────────────────────────┤ from ───────── to ├────────┤ next ───────── seen ├─── not yet complete
                              queued (catch-up),            live
                              or sent once more

*seen* is the last place counted as produced, *next* the last one the live lane is done with. A stretch is what is left
of an outage, or what is sent once more because the server may have forgotten it.

Commits are not synced one by one (`synchronous=NORMAL`): after a power cut the ledger may stand some batches back, and
these are sent again, which changes nothing at the destination.
"""

import sqlite3
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

VERSION = 2
_TABLES = (
    """CREATE TABLE streams(id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, seen INTEGER NOT NULL,
      next INTEGER NOT NULL, produced INTEGER NOT NULL, sent INTEGER NOT NULL, quarantined INTEGER NOT NULL,
      resent INTEGER NOT NULL, gone INTEGER NOT NULL, ended INTEGER NOT NULL)""",
    """CREATE TABLE stretches(id INTEGER PRIMARY KEY, stream INTEGER NOT NULL, from_place INTEGER NOT NULL,
      to_place INTEGER NOT NULL, again INTEGER NOT NULL)""",
    """CREATE TABLE quarantine(stream INTEGER NOT NULL, place INTEGER NOT NULL, line TEXT NOT NULL,
      reason TEXT NOT NULL, t_wall_utc_s REAL NOT NULL, span INTEGER NOT NULL DEFAULT 1,
      PRIMARY KEY(stream, place)) WITHOUT ROWID""",
    """CREATE TABLE sent_log(id INTEGER PRIMARY KEY, stream INTEGER NOT NULL, from_place INTEGER NOT NULL,
      to_place INTEGER NOT NULL, t_boot_s REAL NOT NULL)""",
    "CREATE TABLE stamps(place INTEGER PRIMARY KEY, stamp_ms INTEGER NOT NULL UNIQUE)",
    "CREATE TABLE notes(key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
)
_STEPS = {1: ("ALTER TABLE quarantine ADD COLUMN span INTEGER NOT NULL DEFAULT 1",)}
"""What makes a ledger of an older version one of the next."""
_AFTER = "SELECT place, span, line, reason, t_wall_utc_s FROM quarantine WHERE stream = ? AND place > ?"


@dataclass(frozen=True, slots=True)
class Standing:
    """How one stream stands; see the drawing above for `seen` and `next_place`.

    `gone` is the share of `quarantined` that was counted and could not be found again: an idle second the store let go
    after its week.
    """

    id: int
    name: str
    seen: int
    next_place: int
    produced: int
    sent: int
    quarantined: int
    resent: int
    gone: int
    ended: bool

    @property
    def queued(self) -> int:
        """Give the rows that still have to go."""
        return self.produced - self.sent - self.quarantined


@dataclass(frozen=True, slots=True)
class Stretch:
    """Places from_place < place <= to_place that go by the catch-up lane; `again`: they have been sent before."""

    id: int
    stream: int
    from_place: int
    to_place: int
    again: bool


@dataclass(frozen=True, slots=True)
class Aside:
    """Rows put aside: those with place - span < their place <= place.

    Attributes:
        place: the last of them.
        line: as it would have been sent; empty where it is not kept or cannot be made.
        reason: one clause.
        span: how many places, each with a row.
    """

    place: int
    line: str
    reason: str
    span: int = 1


@dataclass(frozen=True, slots=True)
class Step:
    """What one accepted batch did to one stream.

    Attributes:
        stream: whose.
        stretch: the stretch it belongs to, 0 for the live lane.
        from_place, to_place: places done: from_place < place <= to_place.
        sent: rows accepted.
        refused: rows put aside.
    """

    stream: int
    stretch: int
    from_place: int
    to_place: int
    sent: int
    refused: tuple[Aside, ...] = ()


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over all streams."""

    produced: int
    sent: int
    quarantined: int
    resent: int

    @property
    def queued(self) -> int:
        """Give the rows that still have to go."""
        return self.produced - self.sent - self.quarantined


class Ledger:
    """The ledger of one destination; one thread writes, any thread may ask."""

    def __init__(self, path: Path, boot_id: str, t_boot_s: float) -> None:
        """Open or make the file.

        Args:
            path: of the file; its folder is made.
            boot_id, t_boot_s: the kernel's boot and the clock that counts from it, s. What was sent before another
                boot counts as sent now, so it is not forgotten too early.
        """
        path.parent.mkdir(parents=True, exist_ok=True)
        self._lock = threading.Lock()
        self._connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
        self._connection.execute("PRAGMA journal_mode=WAL").fetchall()
        self._connection.execute("PRAGMA synchronous=NORMAL")
        self._make_tables(int(self._connection.execute("PRAGMA user_version").fetchone()[0]))
        if self.note("boot_id") != boot_id:
            with self._transaction():
                self._connection.execute("UPDATE sent_log SET t_boot_s = ?", (t_boot_s,))
            self.keep_note("boot_id", boot_id)

    def _make_tables(self, version: int) -> None:
        """Make a new file, or bring one of an older version to this one, in one transaction."""
        if version >= VERSION:
            return
        steps = [_TABLES] if not version else [_STEPS[number] for number in range(version, VERSION)]
        with self._transaction():
            for statement in (statement for step in steps for statement in step):
                self._connection.execute(statement)
            self._connection.execute(f"PRAGMA user_version={VERSION}")

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with self._lock:
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise
            self._connection.execute("COMMIT")

    def _all(self, sql: str, parameters: tuple[object, ...] = ()) -> list[Any]:
        with self._lock:
            return self._connection.execute(sql, parameters).fetchall()

    # -- streams

    def streams(self) -> dict[str, Standing]:
        """Give all streams by name, in order of their coming."""
        rows = self._all(
            "SELECT id, name, seen, next, produced, sent, quarantined, resent, gone, ended FROM streams ORDER BY id"
        )
        return {str(row[1]): Standing(*row) for row in rows}

    def add_stream(self, name: str, before_first: int) -> None:
        """Enter a stream; its first place is above `before_first`."""
        with self._transaction():
            self._connection.execute(
                "INSERT OR IGNORE INTO streams VALUES(NULL, ?, ?, ?, 0, 0, 0, 0, 0, 0)",
                (name, before_first, before_first),
            )

    def count(self, counts: Iterable[tuple[int, int, int, bool]]) -> None:
        """Enter produced rows: (stream, last place seen, rows between the last and this, whether no more can come)."""
        with self._transaction():
            self._connection.executemany(
                "UPDATE streams SET seen = max(seen, ?2), produced = produced + ?3, ended = ?4 WHERE id = ?1", counts
            )

    def totals(self) -> Totals:
        """Give the sums over all streams."""
        row = self._all("SELECT sum(produced), sum(sent), sum(quarantined), sum(resent) FROM streams")[0]
        return Totals(*(entry or 0 for entry in row))

    # -- stretches

    def stretches(self) -> list[Stretch]:
        """Give what the catch-up lane has to do, the oldest first."""
        rows = self._all("SELECT id, stream, from_place, to_place, again FROM stretches ORDER BY again, stream, id")
        return [Stretch(row[0], row[1], row[2], row[3], bool(row[4])) for row in rows]

    def fall_behind(self, stream: Standing, live_from: int) -> None:
        """Hand what lies before `live_from` to the catch-up lane; the live lane goes on after it."""
        with self._transaction():
            self._connection.execute(
                "INSERT INTO stretches VALUES(NULL, ?, ?, ?, 0)", (stream.id, stream.next_place, live_from)
            )
            self._connection.execute("UPDATE streams SET next = ? WHERE id = ?", (live_from, stream.id))

    def last_sent_t_boot_s(self) -> float | None:
        """Give when rows were last accepted, as it is entered, s; None where nothing is known of it."""
        found = self._all("SELECT max(t_boot_s) FROM sent_log")[0][0]
        return None if found is None else float(found)

    def rewind(self, since_t_boot_s: float) -> int:
        """Send once more what was accepted since a time; give the number of stretches made."""
        with self._transaction():
            rows = self._connection.execute(
                "SELECT stream, from_place, to_place FROM sent_log WHERE t_boot_s >= ? ORDER BY stream, from_place",
                (since_t_boot_s,),
            ).fetchall()
            joined = _joined(rows)
            self._connection.executemany("INSERT INTO stretches VALUES(NULL, ?, ?, ?, 1)", joined)
            self._connection.execute("DELETE FROM sent_log WHERE t_boot_s >= ?", (since_t_boot_s,))
        return len(joined)

    # -- results

    def enter(self, steps: Iterable[Step], t_boot_s: float, t_wall_utc_s: float, keep_s: float) -> None:
        """Enter what one batch came to, all of it in one transaction.

        Args:
            steps: one a stream and stretch.
            t_boot_s, t_wall_utc_s: when it was accepted, s.
            keep_s: how long a server may forget what it has accepted, s; older entries of the log go.
        """
        with self._transaction():
            for step in steps:
                self._enter_step(step, t_boot_s, t_wall_utc_s)
                self._settle(step.stream)
            self._connection.execute("DELETE FROM sent_log WHERE t_boot_s < ?", (t_boot_s - keep_s,))

    def _enter_step(self, step: Step, t_boot_s: float, t_wall_utc_s: float) -> None:
        run, again = self._connection.execute, False
        if step.stretch:
            again = bool(run("SELECT again FROM stretches WHERE id = ?", (step.stretch,)).fetchone()[0])
            run("UPDATE stretches SET from_place = ? WHERE id = ?", (step.to_place, step.stretch))
            run("DELETE FROM stretches WHERE id = ? AND from_place >= to_place", (step.stretch,))
        else:
            run("UPDATE streams SET next = ? WHERE id = ?", (step.to_place, step.stream))
        column = "resent" if again else "sent"
        run(f"UPDATE streams SET {column} = {column} + ? WHERE id = ?", (step.sent, step.stream))
        for aside in step.refused:
            fresh = self._put_aside(step.stream, aside, t_wall_utc_s)
            if again:  # they counted as sent until now
                run("UPDATE streams SET sent = sent - ? WHERE id = ?", (fresh, step.stream))
        if step.sent:
            entry_log = (step.stream, step.from_place, step.to_place, t_boot_s)
            run("INSERT INTO sent_log VALUES(NULL, ?, ?, ?, ?)", entry_log)

    def _put_aside(self, stream: int, aside: Aside, t_wall_utc_s: float) -> int:
        """Keep what was put aside instead of what was known of the same places; give how many rows are new there."""
        run, begin, known = self._connection.execute, aside.place - aside.span, 0
        for place, span, *rest in run(f"{_AFTER} ORDER BY place", (stream, begin)).fetchall():
            if place - span >= aside.place:
                break
            known += min(place, aside.place) - max(place - span, begin)
            run("DELETE FROM quarantine WHERE stream = ? AND place = ?", (stream, place))
            if place - span < begin:
                self._keep_aside(stream, begin, begin - (place - span), *rest)
            if place > aside.place:
                self._keep_aside(stream, place, place - aside.place, *rest)
        self._keep_aside(stream, aside.place, aside.span, aside.line, aside.reason, t_wall_utc_s)
        run("UPDATE streams SET quarantined = quarantined + ? WHERE id = ?", (aside.span - known, stream))
        return aside.span - known

    def _keep_aside(self, stream: int, place: int, span: int, line: str, reason: str, t_wall_utc_s: float) -> None:
        entry = (stream, place, line, reason, t_wall_utc_s, span)
        self._connection.execute("INSERT INTO quarantine VALUES(?, ?, ?, ?, ?, ?)", entry)

    def _settle(self, stream: int) -> None:
        """Where nothing is left to send, let the counts say so: what was counted and is no more, is gone."""
        self._connection.execute(
            "UPDATE streams SET gone = gone + produced - sent - quarantined, quarantined = produced - sent "
            "WHERE id = ? AND next >= seen AND produced != sent + quarantined "
            "AND NOT EXISTS (SELECT 1 FROM stretches WHERE stream = streams.id AND again = 0)",
            (stream,),
        )

    def quarantined_places(self, stream: int, places: Sequence[int]) -> set[int]:
        """Give those of some places, in order, that were put aside."""
        if not places:
            return set()
        inside = self._all(f"{_AFTER} AND place <= ?", (stream, places[0] - 1, places[-1]))
        beyond = self._all(f"{_AFTER} ORDER BY place LIMIT 1", (stream, places[-1]))
        spans = [(place - span, place) for place, span, *_ in inside + beyond if span > 1]
        found = {place for place, span, *_ in inside if span == 1}
        return found | {place for place in places if any(begin < place <= end for begin, end in spans)}

    def quarantine(self, limit: int = 100) -> list[tuple[str, int, str, str]]:
        """Give what was put aside, the newest first: (stream, place, line, reason)."""
        with self._lock:
            return self._connection.execute(
                "SELECT streams.name, place, line, reason FROM quarantine JOIN streams ON streams.id = stream "
                "ORDER BY t_wall_utc_s DESC, place DESC LIMIT ?",
                (limit,),
            ).fetchall()

    def release_quarantine(self) -> int:
        """Queue everything that was put aside anew; give how many rows."""
        with self._transaction():
            run = self._connection.execute
            rows = run("SELECT stream, place, span FROM quarantine ORDER BY stream, place").fetchall()
            for stream, place, span in rows:
                run("INSERT INTO stretches VALUES(NULL, ?, ?, ?, 0)", (stream, place - span, place))
                run("UPDATE streams SET quarantined = quarantined - ? WHERE id = ?", (span, stream))
            run("DELETE FROM quarantine")
        return sum(span for _, _, span in rows)

    # -- small things

    def stamps(self, wanted: Iterable[tuple[int, int]]) -> dict[int, int]:
        """Give each place a stamp of its own, the same one for ever.

        Args:
            wanted: (place, stamp in ms it should have), in order.
        Returns:
            stamp of each place, ms; where another place has it already, the next free one.
        """
        found: dict[int, int] = {}
        with self._transaction():
            run = self._connection.execute
            for place, stamp_ms in wanted:
                kept = run("SELECT stamp_ms FROM stamps WHERE place = ?", (place,)).fetchone()
                while kept is None:
                    if run("SELECT 1 FROM stamps WHERE stamp_ms = ?", (stamp_ms,)).fetchone() is None:
                        run("INSERT INTO stamps VALUES(?, ?)", (place, stamp_ms))
                        kept = (stamp_ms,)
                    stamp_ms += 1
                found[place] = kept[0]
        return found

    def note(self, key: str) -> str:
        """Give a note, or an empty string."""
        with self._lock:
            row = self._connection.execute("SELECT value FROM notes WHERE key = ?", (key,)).fetchone()
        return "" if row is None else str(row[0])

    def keep_note(self, key: str, value: str) -> None:
        """Keep a note."""
        with self._transaction():
            self._connection.execute("INSERT OR REPLACE INTO notes VALUES(?, ?)", (key, value))


def _joined(rows: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Give spans (stream, from, to) in order, those that touch or overlap joined."""
    found: list[tuple[int, int, int]] = []
    for stream, from_place, to_place in rows:
        if found and found[-1][0] == stream and from_place <= found[-1][2]:
            found[-1] = (stream, found[-1][1], max(found[-1][2], to_place))
        else:
            found.append((stream, from_place, to_place))
    return found
