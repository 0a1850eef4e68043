"""Verify: checks a record against itself and against the journal, and says what it finds in plain sentences.

Reads a run file and the journal, changes nothing. An empty list means: every sample the node numbered is stored or in a
marked gap, every stored byte is as it was written, and journal and file say the same.
"""

import sqlite3
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scuffwatch.model.channel import IntegerType
from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store import borders, chain, chunks, lock, names, pyramid, schema
from scuffwatch.store.archive import Archive, connect_read_only, open_read_only
from scuffwatch.store.ledger import Account
from scuffwatch.store.run_file import digest

Progress = Callable[[float], None]
Key = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Verified:
    """What the check of one record gave.

    Attributes:
        name: the run, or `journal`.
        findings: one sentence for each thing that is not as it must be.
        chunks, samples, events: how much was checked; samples of each channel.
        notes: what is no fault of the record and must be known: it was ended by power loss, or is live.
    """

    name: str
    findings: tuple[str, ...]
    chunks: int = 0
    samples: int = 0
    events: int = 0
    notes: tuple[str, ...] = ()

    @property
    def sound(self) -> bool:
        """Say whether nothing was found."""
        return not self.findings


def verify_run(data_dir: Path, name: str, progress: Progress = lambda ratio: None) -> Verified:
    """Check one run. A file that cannot be opened at all is a finding like any other.

    Args:
        data_dir: the data folder.
        name: the run.
        progress: told the share that is done, 0 to 1.
    Raises:
        RecordUnreadable: there is no such run.
    """
    path = Archive(data_dir).path_of(name)
    try:
        connection = connect_read_only(path)
    except RecordUnreadable as error:
        return Verified(name, (error.sentence(),))
    try:
        check = _RunCheck(connection, path, progress)
        check.all()
        if (data_dir / names.JOURNAL).exists():
            with open_read_only(data_dir / names.JOURNAL) as journal:
                check.against(journal, names.plain(name))
        check.note_end(lock.is_held(data_dir))
    except sqlite3.Error as error:
        return Verified(name, (*check.findings, f"The file cannot be read further: {error}."))
    finally:
        connection.close()
    return Verified(name, tuple(check.findings), check.chunks, check.samples, check.events, tuple(check.notes))


def verify_journal(data_dir: Path) -> Verified:
    """Check the journal: file, schema and the chain over all events.

    Raises:
        RecordUnreadable: there is none, or it cannot be opened at all.
    """
    path = data_dir / names.JOURNAL
    if not path.exists():
        raise RecordUnreadable(f"There is no journal in {data_dir}.")
    findings = []
    with open_read_only(path) as connection:
        try:
            findings += _file_findings(connection, schema.JOURNAL_VERSION)
            broken = chain.broken_at(connection.execute("SELECT * FROM events ORDER BY number"))
            if broken is not None:
                findings.append(f"Event {broken} does not follow on the one before: one of the two was changed.")
            findings += _number_holes(connection)
            count = connection.execute("SELECT count(*) FROM events").fetchone()[0]
        except sqlite3.Error as error:
            return Verified("journal", (*findings, f"The journal cannot be read further: {error}."))
    return Verified("journal", tuple(findings), events=count)


def _file_findings(connection: sqlite3.Connection, version: int) -> list[str]:
    findings = []
    sound = connection.execute("PRAGMA integrity_check(3)").fetchall()
    if sound != [("ok",)]:
        findings.append(f"The file is damaged: {'; '.join(str(row[0]) for row in sound)}.")
    if connection.execute("PRAGMA application_id").fetchone()[0] != schema.APPLICATION_ID:
        findings.append("The file is not one this program made.")
    have = schema.version_of(connection)
    if have != version:
        findings.append(f"The file has schema version {have}; this program writes {version}.")
    return findings


def _number_holes(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute(
        "SELECT number, before FROM (SELECT number, lag(number) OVER (ORDER BY number) AS before FROM events) "
        "WHERE number <> before + 1"
    ).fetchall()
    return [f"Events {before + 1} to {number - 1} are missing." for number, before in rows]


class _RunCheck:
    """One pass over one run file."""

    def __init__(self, connection: sqlite3.Connection, path: Path, progress: Progress) -> None:
        self._connection, self._path, self._progress = connection, path, progress
        self.findings: list[str] = []
        self.notes: list[str] = []
        self._end_known = False
        self.chunks = self.samples = self.events = 0
        self._spans: dict[Key, list[tuple[int, int]]] = {}
        self._stored: dict[Key, int] = {}

    def all(self) -> None:
        """Check the file against itself."""
        self.findings += _file_findings(self._connection, schema.RUN_VERSION)
        self._check_chunks()
        self._check_ledger()
        self._check_cells()
        self._check_events()
        self._progress(1.0)

    def note_end(self, held: bool) -> None:
        """Note a file without an outcome: it is never taken for a run that was ended."""
        last_s, chunks_ = self._connection.execute("SELECT max(t_end_s), count(*) FROM chunks").fetchone()
        if self._connection.execute("SELECT 1 FROM result").fetchone() is None:
            last = f"its last sample is at {last_s:.3f} s" if chunks_ else "it holds no sample"
            live = held and not self._end_known
            self.notes.append(f"{'A core records it now' if live else 'Ended by power loss'}; {last}.")

    def against(self, journal: sqlite3.Connection, name: str) -> None:
        """Check the file against the journal."""
        row = journal.execute("SELECT outcome, digest FROM runs WHERE name = ?", (name,)).fetchone()
        if row is None:
            self.findings.append("The journal does not know this run.")
            return
        self._end_known = row[0] is not None
        result = self._connection.execute("SELECT outcome FROM result").fetchone()
        if result is not None and row[0] is not None and result[0] != row[0]:
            self.findings.append(f"The journal says the run ended as '{row[0]}', its file says '{result[0]}'.")
        if result is None and row[1]:
            self.findings.append("The journal knows how the run ended, its file does not: it is an older copy.")
        if result is not None and row[1] and digest(self._connection) != row[1]:
            self.findings.append("The file is not the one the journal entered when the run was closed.")
        self._events_against(journal, name)

    def _check_chunks(self) -> None:
        types = {
            (group, n): IntegerType(kind)
            for group, kind, n in self._connection.execute(
                "SELECT grp, integer_type, count(DISTINCT position) FROM channels GROUP BY grp"
            )
        }
        total = self._connection.execute("SELECT count(*) FROM chunks").fetchone()[0]
        for row in self._connection.execute("SELECT * FROM chunks ORDER BY id"):
            self.chunks += 1
            self._check_chunk(row, types.get((row[1], row[7])))
            key = (row[1], row[2])
            self._spans.setdefault(key, []).append((row[3], row[3] + row[4]))
            self._stored[key] = self._stored.get(key, 0) + row[4]
            self.samples += row[4]
            if self.chunks % 256 == 0:
                self._progress(self.chunks / total)

    def _check_chunk(self, row: Any, kind: IntegerType | None) -> None:
        where = f"The chunk at {row[5]:.3f} s of group {row[1]}"
        if zlib.crc32(row[10]) != row[8]:
            self.findings.append(f"{where} is damaged: its CRC-32 is not the one that was written.")
            return
        if kind is None:
            self.findings.append(f"{where} has {row[7]} channels; table `channels` has not.")
            return
        try:
            counts = chunks.decode(row[10], kind, row[7])
            frames = borders.decode(row[9])
        except (ValueError, zlib.error) as error:
            self.findings.append(f"{where} cannot be unpacked: {error}.")
            return
        if counts.shape[1] != row[4] or int(frames.n.sum()) != row[4]:
            self.findings.append(f"{where} says {row[4]} samples and holds {counts.shape[1]}.")

    def _check_ledger(self) -> None:
        accounts = {
            (row[0], row[1]): Account(*row) for row in self._connection.execute("SELECT * FROM ledger").fetchall()
        }
        marked: dict[Key, int] = {}
        for group, epoch, first, n in self._connection.execute(
            "SELECT grp, epoch, first_index, n FROM gaps WHERE n > 0"
        ):
            self._spans.setdefault((group, epoch), []).append((first, first + n))
            marked[group, epoch] = marked.get((group, epoch), 0) + n
        for key in sorted(set(accounts) | set(self._spans)):
            account = accounts.get(key)
            where = f"Group {key[0]}, node start {key[1]}"
            if account is None:
                self.findings.append(f"{where}: samples without an account.")
                continue
            have = (self._stored.get(key, 0), marked.get(key, 0))
            if (account.stored, account.marked) != have:
                self.findings.append(
                    f"{where}: the ledger says {account.stored} stored and {account.marked} marked, "
                    f"the file holds {have[0]} and {have[1]}."
                )
            self._check_tiles(where, sorted(self._spans.get(key, [])), account)

    def _check_tiles(self, where: str, spans: list[tuple[int, int]], account: Account) -> None:
        due = account.first_index
        for first, end in [*spans, (account.next_index, account.next_index)]:
            if first > due:
                self.findings.append(f"{where}: samples {due} to {first - 1} are neither stored nor marked.")
            elif first < due:
                self.findings.append(f"{where}: samples {first} to {due - 1} are there twice.")
            due = max(due, end)

    def _check_cells(self) -> None:
        closed = self._connection.execute("SELECT 1 FROM result").fetchone() is not None
        groups = self._connection.execute("SELECT grp, count(DISTINCT position) FROM channels GROUP BY grp").fetchall()
        for group, channels in groups:
            stored = sum(n for (owner, _), n in self._stored.items() if owner == group)
            for level_s in pyramid.LEVELS_S if closed else pyramid.LEVELS_S[:1]:
                rows = self._connection.execute(
                    "SELECT k, count, data FROM cells WHERE level = ? AND grp = ? ORDER BY k", (level_s, group)
                ).fetchall()
                held = int(pyramid.unpack(rows, channels).n.sum())
                if held != stored:
                    self.findings.append(
                        f"Group {group}: the {level_s} s envelope stands for {held} samples, {stored} are stored."
                    )

    def _check_events(self) -> None:
        before: Any = None
        for row in self._connection.execute("SELECT * FROM events ORDER BY number"):
            self.events += 1
            if before is not None and row[0] == before[0] + 1 and chain.link(before[-1], row[:-1]) != row[-1]:
                self.findings.append(
                    f"Event {row[0]} does not follow on event {before[0]}: one of the two was changed."
                )
            before = row

    def _events_against(self, journal: sqlite3.Connection, name: str) -> None:
        mine = {row[0]: row for row in self._connection.execute("SELECT * FROM events")}
        theirs = {row[0]: row for row in journal.execute("SELECT * FROM events WHERE run = ?", (name,))}
        for number in sorted(set(mine) & set(theirs)):
            if mine[number] != theirs[number]:
                self.findings.append(f"Event {number} is not the same in the journal and in the file.")
        for number in sorted(set(mine) - set(theirs)):
            self.findings.append(f"Event {number} is in the file and not in the journal.")
        closed = self._connection.execute("SELECT 1 FROM meta WHERE key = 'merged'").fetchone() is not None
        if closed:
            for number in sorted(number for number in set(theirs) - set(mine) if mine and number < max(mine)):
                self.findings.append(f"Event {number} is in the journal and not in the file.")
