"""Alert book: every message with its deliveries, kept through any restart.

Reads and writes one small SQLite file of its own. An entry is synced before anything is sent, so no alert is forgotten;
after a power cut between the sending and the entry, a message may go twice. Where the disk fails, the book goes on in
memory: a trip with a dead disk still calls.
"""

import contextlib
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scuffwatch.uplink.alert_text import Text

_TABLES = (
    """CREATE TABLE alerts(id TEXT PRIMARY KEY, priority TEXT NOT NULL, title TEXT NOT NULL, body TEXT NOT NULL,
      image BLOB NOT NULL, t_utc_s REAL NOT NULL, acknowledged_utc_s REAL, ended_utc_s REAL) WITHOUT ROWID""",
    """CREATE TABLE deliveries(alert TEXT NOT NULL, channel TEXT NOT NULL, turn INTEGER NOT NULL,
      due_utc_s REAL NOT NULL, delivered_utc_s REAL, dropped TEXT NOT NULL, tries INTEGER NOT NULL,
      PRIMARY KEY(alert, channel, turn))""",
    """CREATE TABLE proofs(channel TEXT PRIMARY KEY, t_utc_s REAL NOT NULL, failing_since_utc_s REAL,
      says TEXT NOT NULL) WITHOUT ROWID""",
)
KEEP_S = 90 * 86_400.0


@dataclass(frozen=True, slots=True)
class Due:
    """One message that must go out on one channel."""

    alert: str
    channel: str
    turn: int
    priority: str
    text: Text
    image: bytes
    t_utc_s: float
    tries: int


@dataclass(frozen=True, slots=True)
class Proof:
    """When a channel last worked, s UTC (0 never), since when it fails (None: it does not), and why."""

    t_utc_s: float
    failing_since_utc_s: float | None
    says: str


class AlertBook:
    """The book of one rig; any thread may use it. `problem` says why it is in memory only, or is empty."""

    def __init__(self, path: Path, timeout_s: float = 1.0) -> None:
        self._lock = threading.Lock()
        self.problem = ""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=timeout_s)
            self._prepare()
        except (sqlite3.Error, OSError) as error:
            self._go_on_in_memory(error)

    def _prepare(self) -> None:
        run = self._connection.execute
        run("PRAGMA journal_mode=WAL").fetchall()
        run("PRAGMA synchronous=FULL")
        if not run("PRAGMA user_version").fetchone()[0]:
            run("BEGIN IMMEDIATE")
            for statement in _TABLES:
                run(statement)
            run("PRAGMA user_version=1")
            run("COMMIT")

    def _go_on_in_memory(self, error: Exception) -> None:
        """Take over what can still be read, and keep the book in memory until the next start."""
        self.problem = f"the alert book cannot be written and is kept in memory: {error}"
        memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        with contextlib.suppress(sqlite3.Error, AttributeError):
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            self._connection.backup(memory)
        with contextlib.suppress(sqlite3.Error, AttributeError):
            self._connection.close()
        self._connection = memory
        self._prepare()

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()

    def _write(self, work: Callable[[Callable[..., Any]], None]) -> None:
        """Do some statements in one transaction; where the disk fails, in memory."""
        with self._lock:
            try:
                self._transaction(work)
            except sqlite3.Error as error:
                if self.problem:
                    raise
                self._go_on_in_memory(error)
                self._transaction(work)

    def _transaction(self, work: Callable[[Callable[..., Any]], None]) -> None:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            work(self._connection.execute)
            self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise

    def _all(self, sql: str, *parameters: object) -> list[Any]:
        with self._lock:
            try:
                return self._connection.execute(sql, parameters).fetchall()
            except sqlite3.Error as error:
                if self.problem:
                    raise
                self._go_on_in_memory(error)
                return self._connection.execute(sql, parameters).fetchall()

    def knows(self, alert: str) -> bool:
        """Say whether there is an entry for a cause."""
        return bool(self._all("SELECT 1 FROM alerts WHERE id = ?", alert))

    def add(
        self, alert: str, priority: str, text: Text, image: bytes, t_utc_s: float, due: list[tuple[str, int, float]]
    ) -> None:
        """Enter a message with all its deliveries: (channel, turn, due s UTC)."""

        def work(run: Callable[..., Any]) -> None:
            entry = (alert, priority, text.title, text.body, image, t_utc_s)
            run("INSERT OR IGNORE INTO alerts VALUES(?, ?, ?, ?, ?, ?, NULL, NULL)", entry)
            for channel, turn, due_s in due:
                run("INSERT OR IGNORE INTO deliveries VALUES(?, ?, ?, ?, NULL, '', 0)", (alert, channel, turn, due_s))
            old_s = t_utc_s - KEEP_S
            run("DELETE FROM deliveries WHERE alert IN (SELECT id FROM alerts WHERE t_utc_s < ?)", (old_s,))
            run("DELETE FROM alerts WHERE t_utc_s < ?", (old_s,))

        self._write(work)

    def open_alerts(self) -> list[str]:
        """Give the causes that have not ended."""
        return [row[0] for row in self._all("SELECT id FROM alerts WHERE ended_utc_s IS NULL")]

    def answer(self, alert: str, now_utc_s: float, *, ended: bool) -> None:
        """Enter that somebody acknowledged, or that the cause has ended: repeats and escalation stop.

        The first message still goes out: whoever was not reached shall learn of it.
        """
        column, why = ("ended_utc_s", "the cause has ended") if ended else ("acknowledged_utc_s", "acknowledged")

        def work(run: Callable[..., Any]) -> None:
            run(f"UPDATE alerts SET {column} = coalesce({column}, ?) WHERE id = ?", (now_utc_s, alert))
            run(
                "UPDATE deliveries SET dropped = ? WHERE alert = ? AND delivered_utc_s IS NULL AND dropped = '' "
                "AND NOT (turn = 0 AND due_utc_s <= ?)",
                (why, alert, now_utc_s),
            )

        self._write(work)

    def acknowledged(self, alert: str) -> bool:
        """Say whether somebody has answered."""
        return bool(self._all("SELECT 1 FROM alerts WHERE id = ? AND acknowledged_utc_s IS NOT NULL", alert))

    def due(self, channel: str, now_utc_s: float) -> Due | None:
        """Give the oldest message due on a channel."""
        rows = self._all(
            "SELECT alert, channel, turn, priority, title, body, image, t_utc_s, tries FROM deliveries "
            "JOIN alerts ON alerts.id = alert WHERE channel = ? AND delivered_utc_s IS NULL AND dropped = '' "
            "AND due_utc_s <= ? ORDER BY priority != 'T', due_utc_s, alert LIMIT 1",
            channel,
            now_utc_s,
        )
        if not rows:
            return None
        alert, name, turn, priority, title, body, image, t_utc_s, tries = rows[0]
        return Due(alert, name, turn, priority, Text(title, body), image, t_utc_s, tries)

    def waiting(self, channel: str, now_utc_s: float) -> int:
        """Give how many messages are due on a channel and not delivered."""
        sql = "SELECT count(*) FROM deliveries WHERE channel = ? AND delivered_utc_s IS NULL AND dropped = '' "
        return int(self._all(sql + "AND due_utc_s <= ?", channel, now_utc_s)[0][0])

    def deliveries(self) -> list[tuple[str, str, int, float | None, str]]:
        """Give every delivery: (alert, channel, turn, delivered s UTC or None, why it was dropped)."""
        return self._all("SELECT alert, channel, turn, delivered_utc_s, dropped FROM deliveries ORDER BY due_utc_s")

    def tried(self, due: Due, now_utc_s: float, why_not: str) -> None:
        """Enter what became of a try; empty `why_not`: accepted."""
        delivered_s = None if why_not else now_utc_s
        sql = (
            "UPDATE deliveries SET tries = tries + 1, delivered_utc_s = ? WHERE alert = ? AND channel = ? AND turn = ?"
        )
        self._write(lambda run: run(sql, (delivered_s, due.alert, due.channel, due.turn)))
        self.prove(due.channel, now_utc_s, why_not)

    def prove(self, channel: str, now_utc_s: float, why_not: str) -> None:
        """Enter whether a channel works."""

        def work(run: Callable[..., Any]) -> None:
            run("INSERT OR IGNORE INTO proofs VALUES(?, 0, NULL, '')", (channel,))
            if why_not:
                sql = "UPDATE proofs SET failing_since_utc_s = coalesce(failing_since_utc_s, ?), says = ? "
                run(sql + "WHERE channel = ?", (now_utc_s, why_not, channel))
            else:
                sql = "UPDATE proofs SET t_utc_s = ?, failing_since_utc_s = NULL, says = '' WHERE channel = ?"
                run(sql, (now_utc_s, channel))

        self._write(work)

    def proof(self, channel: str) -> Proof:
        """Give how a channel stands."""
        rows = self._all("SELECT t_utc_s, failing_since_utc_s, says FROM proofs WHERE channel = ?", channel)
        return Proof(*rows[0]) if rows else Proof(0.0, None, "")
