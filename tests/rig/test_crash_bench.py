"""The crash bench: kill, power cut, failing, full, read-only and stalled disk, clocks that step, readers that stay.

Rows of the fault matrix are named beside each test. A test of a promise has a control beside it that breaks
the promise, so that the bench itself is known to see it.
"""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from math import nan
from pathlib import Path

import apsw
import pytest
from crash_check import LOST_AT_MOST_S, Promised, emptied, faults_after
from crash_disk import ModelDisk, ModelStorage, disk_of, pour_out
from crash_feed import NAME, NO_RESERVE, T0_UTC_S, Bench, blocks, closed, event, opened, record
from crash_kill import How, kills, summary
from crash_life import MODEL_FOLDER, Life, operations_of_a_life
from slow_disk import SlowDisk

from scuffwatch.model.event import ClockTriple, EventKind
from scuffwatch.model.run import Outcome
from scuffwatch.store.inbox import InboxRules
from scuffwatch.store.reader import Archive
from scuffwatch.store.recorder import Recorder
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.space import SpaceRules
from scuffwatch.store.verify import verify_journal, verify_run

# Where SQLite goes on after an error of the model disk, apsw reports the exception behind it as never raised.
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")

CUTS, CUTS_LONG, CUTS_AT_ONCE = 200, 10_000, 50
KILLS, KILLS_LONG, KILLS_STARVED = 20, 1_000, 60


@pytest.fixture(scope="module")
def life_operations() -> list[str]:
    """Give the disk operations of an undisturbed life."""
    return operations_of_a_life()


@pytest.fixture
def quick_dir() -> Iterator[Path]:
    """Give a folder in memory where there is one: what is poured out there is only read back."""
    where = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(prefix="scuff-", dir=where) as name:
        yield Path(name)


class _Cut:
    """Takes the power away at one operation, for good."""

    def __init__(self, disk: ModelDisk, number: int) -> None:
        self._disk, self._number = disk, number

    def __call__(self, operation: int, kind: str) -> Exception | None:
        if operation >= self._number:
            self._disk.dead = True
            return apsw.IOError("the power went")
        return None


def one_cut(seed: int, operations: int, folder: Path, synchronous: str = "FULL") -> list[str]:
    """Cut one life short at random, one in three a second time while it recovers; give the promises broken."""
    chance = random.Random(seed)
    disk = ModelDisk()
    storage = ModelStorage(disk, synchronous)
    disk.fault = _Cut(disk, chance.randrange(operations))
    life = Life(disk, storage, MODEL_FOLDER)
    life.live()
    storage.unregister()
    files = disk.after_cut(chance)
    if chance.random() < 0.33:
        second = disk_of(files)
        storage = ModelStorage(second, synchronous)
        second.fault = _Cut(second, chance.randrange(80))
        Life(second, storage, MODEL_FOLDER, events_from=1000).live(starts=1)
        storage.unregister()
        files = second.after_cut(chance)
        life.promised.run = ""  # the second life may have opened a run of the same name
    pour_out(files, emptied(folder), MODEL_FOLDER)
    return faults_after(folder, life.promised)


def cuts(seeds: range, operations: int, folder: Path, synchronous: str = "FULL") -> dict[int, list[str]]:
    """Give the broken promises of many cuts, by seed; of a whole campaign each is printed as it is found."""
    broken = {}
    for seed in seeds:
        try:
            found = one_cut(seed, operations, folder, synchronous)
        except Exception as error:  # noqa: BLE001 - a control may leave files nobody can open; that is its finding
            found = [repr(error)]
        if found:
            if synchronous == "FULL":
                print(f"cut {seed}: {found}", flush=True)
            broken[seed] = found
    return broken


@pytest.mark.parametrize("first", range(0, CUTS, CUTS_AT_ONCE))
def test_power_cuts_lose_nothing_that_was_promised(life_operations: list[str], quick_dir: Path, first: int) -> None:
    """Rows 8, 9 and 10: every write point of opening, feeding, closing, merging and recovering is in the draw."""
    assert len(life_operations) > 300
    assert cuts(range(first, first + CUTS_AT_ONCE), len(life_operations), quick_dir / "cut") == {}


@pytest.mark.parametrize(("synchronous", "count"), [("NORMAL", 12), ("OFF", 12)])
def test_weaker_syncing_breaks_the_promises(
    life_operations: list[str], quick_dir: Path, synchronous: str, count: int
) -> None:
    """Controls: NORMAL loses what was promised, OFF does that or leaves files nobody can open ."""
    assert len(cuts(range(count), len(life_operations), quick_dir / "cut", synchronous)) >= count // 4


# -- failing disks


def one_fault(fault: Callable[[int, str], Exception | None], folder: Path, seed: int) -> tuple[list[str], Life]:
    """Live through a fault, then cut the power: what was not synced must not have counted."""
    disk = ModelDisk()
    storage = ModelStorage(disk)
    disk.fault = fault
    life = Life(disk, storage, MODEL_FOLDER)
    life.live(starts=1)
    storage.unregister()
    pour_out(disk.after_cut(random.Random(seed)), emptied(folder), MODEL_FOLDER)
    return faults_after(folder, life.promised), life


def broken_by_errors(step: int, length: int, folder: Path) -> dict[int, list[str]]:
    """Let `length` operations from every step-th on fail, and give the promises broken by the first of them."""
    broken = {}
    for k in range(3, len(operations_of_a_life(starts=1)), step):
        found, life = one_fault(
            lambda number, kind, k=k: apsw.IOError(f"{kind} {number} failed") if k <= number < k + length else None,
            folder,
            k,
        )
        if found:
            broken[k] = [*found, *life.errors_seen[:3]]
    return broken


def test_an_error_at_any_operation_loses_nothing(quick_dir: Path) -> None:
    """Row 12: a write, sync, truncation or change of a folder fails once; every eleventh of them."""
    assert broken_by_errors(11, 1, quick_dir / "fault") == {}


@pytest.mark.long
@pytest.mark.timeout(0)
@pytest.mark.parametrize("length", [1, 30])
def test_an_error_at_every_operation_loses_nothing(quick_dir: Path, length: int) -> None:
    """Row 12 in full: every operation, failing once and for a while."""
    assert broken_by_errors(1, length, quick_dir / "fault") == {}


def model_bench(disk: ModelDisk, space: SpaceRules = NO_RESERVE) -> tuple[Bench, ModelStorage]:
    """Give a started writer on a model disk."""
    storage = ModelStorage(disk)
    return Bench(MODEL_FOLDER, storage, WriterRules(space=space, retry_s=0.2)).start(), storage


def test_a_disk_that_turns_read_only_is_said_and_marked(quick_dir: Path) -> None:
    """Row 13: an alarm within 2 s, nothing lost that fits into the queue, a mark for what does not, and it goes on."""
    disk = ModelDisk()
    bench, storage = model_bench(disk)
    bench.inbox._rules = InboxRules(span_s=5.0)
    bench.offer(event(1), opened(0.0))
    bench.feed(0.0, 3.0)
    disk.fault = lambda number, kind: apsw.ReadOnlyError("attempt to write a readonly database")
    bench.feed(3.0, 5.0)
    assert "readonly" in bench.writer.last_error
    bench.offer(event(2))
    bench.feed(5.0, 15.0)
    assert bench.writer.recorded_event_sequence == 1
    disk.fault = lambda number, kind: None
    bench.feed(15.0, 20.0)
    assert bench.writer.last_error == ""
    bench.offer(closed(20.0))
    bench.finish()
    storage.unregister()
    pour_out(disk.after_cut(random.Random(1)), quick_dir, MODEL_FOLDER)
    promised = Promised(events=2, closed={NAME: nan})
    assert faults_after(quick_dir, promised) == []
    with Archive(quick_dir).open_run(NAME) as reader:
        fast = reader.ledger()[0]
        assert fast.produced == 20_000
        assert {gap.why for gap in reader.gaps()} == {"writer queue full"}
        assert 4_000 < fast.marked < 10_000
        says = [e.says for e in reader.events() if e.kind is EventKind.STORE]
        assert any("failed" in text for text in says)
        assert any("works again" in text for text in says)


def test_a_full_disk_keeps_room_for_ten_thousand_events(quick_dir: Path) -> None:
    """Row 11: samples stop, events go on out of the reserve; when there is room again, so do samples."""
    events, batch = 10_000, 50
    disk = ModelDisk()
    disk.capacity_bytes = 40 << 20
    space = SpaceRules(samples_stop_bytes=1 << 20, reserve_bytes=16 << 20, check_s=1.0)
    bench, storage = model_bench(disk, space)
    bench.offer(opened(0.0))
    bench.feed(0.0, 2.0)
    disk.capacity_bytes = disk.used_bytes() + 4096
    bench.feed(2.0, 6.0)
    assert bench.writer.space.stop_samples
    assert bench.writer.space.low
    assert "Samples are not recorded: the disk is nearly full" in bench.writer.last_error
    for first in range(1, events, batch):
        bench.offer(*(event(n, run="") for n in range(first, first + batch)))
        bench.turn(0.1)
    bench.feed(6.0, 8.0)
    assert bench.writer.recorded_event_sequence == events
    disk.capacity_bytes = 80 << 20
    bench.turn(2.0)
    bench.feed(8.0, 12.0)
    assert not bench.writer.space.stop_samples
    assert bench.writer.last_error == ""
    bench.offer(closed(12.0))
    bench.finish()
    storage.unregister()
    pour_out(disk.after_cut(random.Random(1)), quick_dir, MODEL_FOLDER)
    assert faults_after(quick_dir, Promised(events=events, closed={NAME: nan})) == []
    with Archive(quick_dir).open_run(NAME) as reader:
        assert {gap.why for gap in reader.gaps()} == {"disk nearly full"}
        assert reader.ledger()[0].produced == 12_000
        assert reader.samples("spare_v", 11.0, 12.0)[0].size == 1000


# -- kills


def test_kills_lose_nothing_that_was_promised(data_dir: Path) -> None:
    """Row 1, for the record: SIGKILL at random moments and while runs close, real processes on a real disk."""
    found = kills(KILLS, data_dir)
    assert [kill for kill in found if kill.broken] == []
    assert sum(kill.lost_s > 0.1 for kill in found) >= KILLS // 4, "too few could have shown a loss"
    assert sum(kill.done for kill in found) >= KILLS // 2, "too few runs were closed before"


SLOW_BATCHES = How(WriterRules(batch_s=3.0, late_s=3.0, space=NO_RESERVE), claim_nothing_waits=True)
EARLY_EVENTS = How(claim_events=True)


@pytest.mark.timed  # writers that get no turn before they are killed have nothing to lose
def test_the_kill_bench_sees_what_is_claimed_too_early(data_dir: Path) -> None:
    """Controls: batches of 3 s of which nothing is said to wait, and events that count when they are offered."""
    late = kills(10, data_dir, SLOW_BATCHES, tell=str)
    assert sum("are lost, 0.05" in " ".join(kill.broken) for kill in late) >= 3
    assert sum(kill.lost_s > LOST_AT_MOST_S for kill in late) >= 2
    early = kills(10, data_dir, EARLY_EVENTS, tell=str)
    assert sum("was recorded and is lost" in " ".join(kill.broken) for kill in early) >= 1


@pytest.mark.long
@pytest.mark.timeout(0)
def test_a_thousand_kills_lose_nothing_that_was_promised(data_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Row 1 in full, and at most 1.0 s of samples on a disk that keeps up."""
    found = kills(KILLS_LONG, data_dir, tell=_telling(capsys))
    _telling(capsys)(summary(found))
    assert [kill for kill in found if kill.broken] == []
    assert sum(kill.lost_s > LOST_AT_MOST_S for kill in found) == 0


@pytest.mark.long
@pytest.mark.timeout(0)
def test_kills_on_a_starved_machine_lose_no_more_than_was_told(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Row 1 beside four busy loops a processor: more may wait than 1.0 s, and then the recorder has said so."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(4 * (os.cpu_count() or 1))]
    try:
        found = kills(KILLS_STARVED, data_dir, tell=_telling(capsys))
    finally:
        for process in busy:
            process.kill()
            process.wait()
    _telling(capsys)(summary(found))
    assert [kill for kill in found if kill.broken] == []


def _telling(capsys: pytest.CaptureFixture[str]) -> Callable[[str], None]:
    """Give a way past the capture: a campaign that is ended from outside must have said what it found."""

    def tell(says: str) -> None:
        with capsys.disabled():
            print(says, flush=True)

    return tell


@pytest.mark.long
@pytest.mark.timeout(0)
def test_ten_thousand_power_cuts_lose_nothing_that_was_promised(life_operations: list[str], quick_dir: Path) -> None:
    """Rows 8, 9 and 10 in full, with both controls on 300 cuts each."""
    for synchronous in ("NORMAL", "OFF"):
        assert len(cuts(range(300), len(life_operations), quick_dir / "cut", synchronous)) > 75
    assert cuts(range(CUTS_LONG), len(life_operations), quick_dir / "cut") == {}


# -- stalls, readers, clocks, copies


@pytest.mark.timed
def test_offering_costs_nothing_while_a_commit_takes_five_seconds(data_dir: Path) -> None:
    """Row 14: p99.9 of an offer stays below 5 ms, and nothing is lost."""
    disk = SlowDisk()
    recorder = Recorder(data_dir, storage=disk, rules=WriterRules(space=NO_RESERVE))
    recorder.start()
    recorder.offer(opened(0.0))
    items = list(blocks(0.0, 40.0))
    took_s = []
    for number, item in enumerate(items):
        if number == 200:
            disk.stall_s = 5.0
        begin = time.perf_counter()
        recorder.offer(item)
        took_s.append(time.perf_counter() - begin)
        time.sleep(0.0015)
    recorder.offer(closed(40.0))
    assert recorder.status.queue_s > 20.0
    disk.stall_s = 0.0
    assert recorder.close(30.0)
    assert disk.stalled >= 1
    assert sorted(took_s)[int(0.999 * len(took_s))] < 0.005
    with Archive(data_dir).open_run(NAME) as reader:
        assert reader.ledger()[0].stored == 40_000
    assert verify_run(data_dir, NAME).findings == ()


def test_somebody_elses_lock_only_delays(data_dir: Path) -> None:
    """Row 17: another process holds the run file; the queue fills, an alarm stands, nothing is dropped."""
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 2.0)
    other = sqlite3.connect(data_dir / "runs" / f"{NAME}.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    for start in range(2, 8):
        bench.offer(*blocks(start, start + 1.0))
        bench.turn(1.0)
    assert "locked" in bench.writer.last_error
    other.execute("ROLLBACK")
    other.close()
    bench.offer(closed(8.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as reader:
        assert (reader.ledger()[0].stored, reader.gaps()) == (8000, ())


def test_a_reader_that_stays_cannot_make_the_log_grow_for_ever(data_dir: Path) -> None:
    """Row 16: the log stays below 64 MiB (here a hundredth of it); what is not recorded is said and marked."""
    warn, stop = 320_000, 600_000
    rules = WriterRules(space=NO_RESERVE, log_warn_bytes=warn, log_stop_bytes=stop)
    bench = Bench(data_dir, rules=rules).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 2.0)
    reader = sqlite3.connect(f"file:{data_dir}/runs/{NAME}.sqlite?mode=ro", uri=True, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM chunks").fetchone()
    largest, sentences = 0, set()
    log = data_dir / "runs" / f"{NAME}.sqlite-wal"
    for start in range(2, 52):
        bench.feed(start, start + 1.0)
        largest = max(largest, log.stat().st_size)
        sentences.add(bench.writer.last_error)
    assert stop <= largest < 1.1 * stop
    assert any(text.startswith("A reader holds") for text in sentences)
    assert any(text.startswith("Samples are not recorded") for text in sentences)
    reader.execute("ROLLBACK")
    reader.close()
    bench.feed(52.0, 65.0)
    assert bench.writer.last_error == ""
    bench.offer(closed(65.0))
    bench.finish()
    with Archive(data_dir).open_run(NAME) as run:
        assert run.ledger()[0].produced == 65_000
        assert {gap.why for gap in run.gaps()} == {"a reader holds the record"}
        assert run.samples("spare_v", 64.0, 65.0)[0].size == 1000
    assert verify_run(data_dir, NAME).findings == ()


@pytest.mark.parametrize("step_s", [3600.0, -3600.0, 366 * 86_400.0, -366 * 86_400.0, -1_795_600_000.0])
def test_a_step_of_the_wall_clock_changes_labels_only(data_dir: Path, step_s: float) -> None:
    """Rows 18 and 19: node time and order stay, both clocks are stored."""
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0), event(1), ClockTriple(0, 0.0, 0.0, T0_UTC_S, "b"))
    bench.feed(0.0, 2.0)
    bench.wall.now_s += step_s
    bench.offer(ClockTriple(0, 2.0, 2.0, bench.wall.now_s, "b"), replace(event(2), t_wall_utc_s=bench.wall.now_s))
    bench.feed(2.0, 4.0)
    bench.offer(replace(closed(4.0), t_wall_utc_s=bench.wall.now_s))
    bench.finish()
    summary = Archive(data_dir).run(NAME)
    assert (summary.duration_s, summary.outcome) == (4.0, Outcome.HELD)
    with Archive(data_dir).open_run(NAME) as reader:
        t_s, _ = reader.samples("spare_v", 0.0, 10.0)
        assert t_s.size == 4000
        assert (t_s[1:] > t_s[:-1]).all()
        assert [e.says for e in reader.events()] == ["e1", "e2"]
        assert reader.clock()[1].t_wall_utc_s - reader.clock()[0].t_wall_utc_s == pytest.approx(step_s + 2.0, abs=1.0)
    assert verify_run(data_dir, NAME).findings == ()


def test_a_journal_put_back_from_a_copy_is_said(data_dir: Path) -> None:
    """Row 47: numbers are not used twice, and verify says what is missing."""
    bench = Bench(data_dir).start()
    bench.offer(*(event(n, run="") for n in range(1, 11)))
    bench.finish()
    shutil.copy(data_dir / "journal.sqlite", data_dir / "copy")
    bench = Bench(data_dir).start()
    assert bench.says == ()
    bench.offer(*(event(n, run="") for n in range(11, 21)))
    bench.finish()
    shutil.move(data_dir / "copy", data_dir / "journal.sqlite")
    bench = Bench(data_dir).start()
    assert any("events 11 to 20 are missing" in says for says in bench.says)
    bench.offer(event(1, "after", run=""))
    bench.finish()
    assert "Events 11 to 20 are missing." in verify_journal(data_dir).findings
    assert Archive(data_dir).events(20)[-1].says == "after"
    assert Bench(data_dir).start().says == ()


def test_another_journal_in_its_place_is_said(data_dir: Path, quick_dir: Path) -> None:
    """Row 47: as long as this folder's own, and not the same."""
    for folder, says in ((data_dir, "mine"), (quick_dir, "theirs")):
        bench = Bench(folder).start()
        bench.offer(*(event(n, f"{says} {n}", run="") for n in range(1, 11)))
        bench.finish()
    shutil.copy(quick_dir / "journal.sqlite", data_dir / "journal.sqlite")
    bench = Bench(data_dir).start()
    assert any("another one than this folder had" in text for text in bench.says)
    bench.finish()


def test_a_run_file_put_back_from_a_copy_is_found(data_dir: Path) -> None:
    """Row 47, the run's side."""
    path = data_dir / "runs" / f"{NAME}.sqlite"
    bench = Bench(data_dir).start()
    bench.offer(opened(0.0))
    bench.feed(0.0, 3.0)
    with sqlite3.connect(path) as source, sqlite3.connect(data_dir / "copy") as target:
        source.backup(target)
    source.close()
    target.close()
    bench.feed(3.0, 5.0)
    bench.offer(closed(5.0))
    bench.finish()
    assert verify_run(data_dir, NAME).sound
    shutil.move(data_dir / "copy", path)
    assert any("older copy" in says for says in verify_run(data_dir, NAME).findings)


@pytest.mark.parametrize("what", ["missing", "stale"])
def test_a_log_that_is_missing_or_another_one_is_said(data_dir: Path, quick_dir: Path, what: str) -> None:
    """Row 15: the journal's log is gone, or belongs to another journal; never in silence."""
    logs = []
    for folder in (quick_dir, data_dir):
        bench = Bench(folder).start()
        bench.offer(*(event(n, f"{folder} {n}", run="") for n in range(1, 40)))
        bench.turn()
        logs.append((folder / "journal.sqlite-wal").read_bytes())
        whole = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
        bench.writer.give_back()
        for name, data in whole.items():
            (folder / name).write_bytes(data)
    (data_dir / "journal.sqlite-shm").unlink()
    if what == "missing":
        (data_dir / "journal.sqlite-wal").unlink()
    else:
        (data_dir / "journal.sqlite-wal").write_bytes(logs[0])
    bench = Bench(data_dir).start()
    assert any("older than" in says or "another one" in says or "damaged" in says for says in bench.says), bench.says
    bench.finish()


def test_a_damaged_journal_is_kept_aside_and_made_anew(data_dir: Path) -> None:
    """Runs are found again from their own files."""
    record(data_dir, 0.0, 2.0)
    path = data_dir / "journal.sqlite"
    path.write_bytes(path.read_bytes()[:1024] + bytes([0xA5]) * 4096)
    bench = Bench(data_dir).start()
    assert any("was damaged" in says for says in bench.says)
    bench.finish()
    assert Archive(data_dir).run(NAME).outcome is Outcome.HELD
    assert (data_dir / "journal.sqlite.damaged1").exists()
