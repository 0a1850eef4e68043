"""The account stays exact under any order of outages, refusals, restarts of either side and new rows."""

import random
import sqlite3
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from scuffwatch.uplink.answers import Answer, Verdict
from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.ledger import Aside, Ledger, Step
from scuffwatch.uplink.rows import Row
from scuffwatch.uplink.tail import Found
from scuffwatch.uplink.timeseries import Clocks, Sender, SendRules

QUICK = "/dev/shm" if Path("/dev/shm").is_dir() else None
"""Syncs on a busy disk would take minutes; what they are good for is not tested here."""
NOW_MS = 1_800_000_000_000


class Rows:
    """A source of numbered rows that grows; every seventh place is a gap."""

    def __init__(self) -> None:
        self.places: list[int] = []
        self.live = True
        self.torn: set[int] = set()

    def streams(self, ended: frozenset[str]) -> tuple[Found, ...]:
        """Give the one stream."""
        return () if "s" in ended else (Found("s", 0, self.live),)

    def census(self, stream: str, after: int, live: bool) -> tuple[int, int]:
        """Give the last place and the rows up to it."""
        fresh = [place for place in self.places if place > after]
        return max(fresh, default=after), len(fresh)

    def rows(self, stream: str, after: int, to: int, limit: int) -> list[Row]:
        """Give rows in order."""
        found: list[Row] = []
        for place in (place for place in self.places if after < place <= to):
            if place in self.torn and found and found[-1].why:
                found[-1] = replace(found[-1], place=place, span=found[-1].span + 1)
            elif len(found) == limit:
                break
            elif place in self.torn:
                found.append(Row(place, NOW_MS, "", 0, 1, "torn"))
            else:
                found.append(Row(place, NOW_MS + place, f"m v={place} {NOW_MS + place}", 1))
        return found


class Server:
    """A store that keeps what is flushed, forgets the rest when killed, and refuses what it is told to."""

    def __init__(self) -> None:
        self.kept: set[str] = set()
        self.in_memory: set[str] = set()
        self.down = False
        self.poison: set[int] = set()
        self.started_s = 1.0

    def write(self, lines: list[str]) -> Answer:
        """Take lines, or not."""
        if self.down:
            return Answer(Verdict.LATER, "no answer", away=True)
        bad = [line for line in lines if line.startswith("m ") and int(line[4:].split(" ")[0]) in self.poison]
        self.in_memory |= set(lines) - set(bad)
        return Answer(Verdict.REFUSED, "bad line") if bad else Answer(Verdict.ACCEPTED)

    def started_utc_s(self) -> float | None:
        """Give when it started; nothing while it is down."""
        return None if self.down else self.started_s

    def close(self) -> None:
        """Do nothing."""


class Account(RuleBasedStateMachine):
    """Everything that may happen, in any order."""

    bulk = False

    @initialize()
    def start(self) -> None:
        """Begin with nothing."""
        self.folder = tempfile.TemporaryDirectory(dir=QUICK)
        self.now_s = 1000.0
        self.rows, self.server = Rows(), Server()
        self.next_place = 1
        self.ledger = self.opened()

    def opened(self) -> Ledger:
        """Start the uplink."""
        ledger = Ledger(Path(self.folder.name) / "ledger.sqlite", "boot", self.now_s)
        pauses = {"look_s": 0.0, "discover_s": 0.0, "first_pause_s": 0.1, "longest_pause_s": 1.0}
        rules = SendRules(batch_rows=5, rewind_s=1e6, bulk=self.bulk, **pauses)  # type: ignore[arg-type]
        clocks = Clocks(lambda: self.now_s, lambda: NOW_MS / 1000)
        self.sender = Sender(self.rows, ledger, self.server, rules, clocks)
        return ledger

    @rule(n=st.integers(1, 12))
    def more_rows(self, n: int) -> None:
        """Record rows."""
        for _ in range(n):
            if self.bulk or self.next_place % 7:
                self.rows.places.append(self.next_place)
            self.next_place += 1

    @rule(n=st.integers(1, 4))
    def turn(self, n: int) -> None:
        """Let the sender work."""
        for _ in range(n):
            self.now_s += 0.5
            self.sender.turn()

    @rule()
    def outage(self) -> None:
        """Take the server away, or bring it back."""
        self.server.down = not self.server.down

    @rule()
    def kill(self) -> None:
        """Kill and restart the server: what it had in memory is gone."""
        self.server.in_memory.clear()
        self.server.started_s += 10.0

    @rule()
    def flush(self) -> None:
        """Let the server write what it holds."""
        self.server.kept |= self.server.in_memory

    @rule(place=st.integers(1, 60))
    def poison(self, place: int) -> None:
        """Let the server refuse one row from now on."""
        self.server.poison.add(place)

    @rule()
    def restart_uplink(self) -> None:
        """Stop the uplink and start it again."""
        self.ledger.close()
        self.ledger = self.opened()

    @rule()
    def release(self) -> None:
        """Queue what was put aside anew, as a person does after the cause was found."""
        self.server.poison.clear()
        self.ledger.release_quarantine()

    @invariant()
    def is_exact(self) -> None:
        """Hold the account."""
        for standing in self.ledger.streams().values() if hasattr(self, "ledger") else ():
            assert standing.produced == standing.sent + standing.queued + standing.quarantined
            assert min(standing.produced, standing.sent, standing.quarantined, standing.queued) >= 0
            assert standing.gone == 0

    def teardown(self) -> None:
        """In the end everything is home but what was put aside."""
        if not hasattr(self, "ledger"):
            return
        try:
            self._end()
        finally:
            self.ledger.close()
            self.folder.cleanup()

    def _end(self) -> None:
        self.server.down = False
        for _ in range(300):
            self.now_s += 2.0
            self.sender.turn()
        totals = self.ledger.totals()
        assert totals.queued == 0
        assert totals.produced == len(self.rows.places)
        home = {line for line in self.server.kept | self.server.in_memory if line.startswith("m ")}
        (standing,) = self.ledger.streams().values()
        aside = self.ledger.quarantined_places(standing.id, self.rows.places)
        assert totals.quarantined == len(aside)
        missing = {place for place in self.rows.places if f"m v={place} {NOW_MS + place}" not in home}
        assert missing <= aside


class BulkAccount(Account):
    """The same with spans: what cannot be read comes and goes in stretches, and what is put aside is kept so."""

    bulk = True

    @rule(first=st.integers(1, 40), n=st.integers(1, 12))
    def tear(self, first: int, n: int) -> None:
        """Damage a stretch of the record."""
        self.rows.torn |= set(range(first, first + n))

    @rule()
    def mend(self) -> None:
        """Put a good copy of the record back."""
        self.rows.torn.clear()


TestAccount = Account.TestCase
TestBulkAccount = BulkAccount.TestCase
TestBulkAccount.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
TestAccount.settings = settings(max_examples=120, stateful_step_count=30, deadline=None)


def test_pauses_grow_to_a_cap_and_no_two_rigs_keep_step() -> None:
    one, two = Backoff(0.25, 15.0, random.Random(1)), Backoff(0.25, 15.0, random.Random(2))
    mine, theirs = [one.next_s() for _ in range(50)], [two.next_s() for _ in range(50)]
    assert all(0.125 <= pause_s <= 15.0 for pause_s in mine)
    assert min(mine[10:]) >= 7.5
    assert mine != theirs
    assert one.next_s(at_least_s=1e9) == 15.0
    one.worked()
    assert one.next_s() <= 0.25


def test_a_ledger_of_the_first_version_is_carried_on(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    ledger = Ledger(path, "boot", 0.0)
    ledger.add_stream("s", 0)
    ledger.count([(1, 9, 9, True)])
    ledger.enter([Step(1, 0, 0, 9, 8, (Aside(5, "m v=5 5", "bad"),))], 1.0, 1.0, 300.0)
    ledger.close()
    with sqlite3.connect(path) as connection:
        connection.execute("ALTER TABLE quarantine DROP COLUMN span")
        connection.execute("PRAGMA user_version=1")
    connection.close()
    again = Ledger(path, "boot", 0.0)
    assert again.quarantine() == [("s", 5, "m v=5 5", "bad")]
    assert again.quarantined_places(1, [4, 5, 6]) == {5}
    assert again.release_quarantine() == 1
    assert again.totals().queued == 1
    again.close()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version=99")
    connection.close()
    Ledger(path, "boot", 0.0).close()
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (99,)  # a later program's file is not set back
    connection.close()


def test_rows_taken_just_before_a_kill_are_sent_again_after_an_outage_longer_than_the_rewind(tmp_path: Path) -> None:
    rows, server, now_s = Rows(), Server(), [1000.0]
    rows.places, rows.live = [1, 2, 3], False
    ledger = Ledger(tmp_path / "ledger.sqlite", "boot", now_s[0])
    rules = SendRules(rewind_s=300.0, look_s=0.0, discover_s=0.0)
    sender = Sender(rows, ledger, server, rules, Clocks(lambda: now_s[0], lambda: NOW_MS / 1000))
    sender.turn()
    assert len(server.in_memory) == 3
    server.in_memory.clear()
    server.down = True
    now_s[0] += 3600.0
    sender.turn()
    server.down, server.started_s = False, 3000.0
    for _ in range(3):
        now_s[0] += 20.0
        sender.turn()
    assert len(server.in_memory) == 3
    assert ledger.totals().resent == 3
    ledger.close()
