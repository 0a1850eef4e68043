"""A disk that stalls: what the core pays for it, and what becomes of the samples meanwhile; row 14."""

import statistics
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from recorded_rig import ROOMY, RecordedRig
from slow_disk import SlowDisk

from scuffwatch.control.commands import Acknowledge, CloseRun
from scuffwatch.model.event import Event, EventKind
from scuffwatch.service.app import SWITCH_S
from scuffwatch.service.core import Now
from scuffwatch.store.inbox import QUEUE_FULL, InboxRules
from scuffwatch.store.items import Item
from scuffwatch.store.reader import Archive
from scuffwatch.store.verify import verify_journal, verify_run

STALL_S = 5.0
SHIFT_S = 0.005


@pytest.fixture(autouse=True)
def as_in_the_service() -> Iterator[None]:
    """Let the threads of this process take turns as those of the core do."""
    before_s = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    yield
    sys.setswitchinterval(before_s)


class TimedRig(RecordedRig):
    """Notes how long the core took for every portion of bytes, from the call to the bytes it wants sent."""

    def __init__(self, folder: Path, disk: SlowDisk, inbox_rules: InboxRules = ROOMY) -> None:
        super().__init__(folder, storage=disk, inbox_rules=inbox_rules)
        self.disk = disk
        self.all_s: list[float] = []
        self.withdrawals_s: list[float] = []
        self._on_bytes = self.core.on_bytes
        self.core.on_bytes = self._timed  # type: ignore[method-assign]

    def _timed(self, data: bytes, now: Now) -> bytes:
        before = self.permitted
        begun_s = time.perf_counter()
        out = self._on_bytes(data, now)
        took_s = time.perf_counter() - begun_s
        self.all_s.append(took_s)
        if before and not self.permitted:
            self.withdrawals_s.append(took_s)
        return out

    def close(self) -> bool:
        self.disk.stall_s = 0.0
        self.disk.gate.set()
        return super().close()

    def stall(self, stall_s: float) -> None:
        """Let every commit take that long; come back when one does, or when the record has caught up."""
        before, self.disk.stall_s = self.disk.stalled, stall_s
        end_s = time.monotonic() + 60.0
        while self.disk.stalled == before if stall_s else self.recorder.status.queue_s > 1.0:
            assert time.monotonic() < end_s
            if stall_s:
                self.wait(0.1)
            time.sleep(0.002)

    def trips(self, count: int) -> list[float]:
        """Permit and trip; give how long each decision with its withdrawal took, s."""
        self.withdrawals_s = []
        for _ in range(count):
            self.permit()
            self.trip_by("guard")
        assert len(self.withdrawals_s) == count
        return self.withdrawals_s


class WaitingRig(TimedRig):
    """The mistake this is about: a sink that waits for the disk."""

    def offer(self, item: Item) -> None:
        super().offer(item)
        if isinstance(item, Event):
            self.disk.wait()


def turns(rig: TimedRig, stall_s: float, count: int, trips: int) -> tuple[list[float], list[float]]:
    """Give withdrawals on the disk as it is and on the stalled one, in turns: the machine's load falls on both."""
    healthy, stalled = list[float](), list[float]()
    rig.permit()
    rig.trip_by("guard")
    for _ in range(count):
        rig.stall(0.0)
        healthy += rig.trips(trips)
        rig.stall(stall_s)
        stalled += rig.trips(trips)
    rig.stall(0.0)
    return healthy, stalled


@pytest.mark.slow
def test_a_withdrawal_costs_the_same_while_every_commit_takes_five_seconds(data_dir: Path) -> None:
    disk = SlowDisk()
    with TimedRig(data_dir, disk) as rig:
        healthy, stalled = turns(rig, STALL_S, 2, 8)
        assert disk.stalled >= 2
        assert max(stalled) < STALL_S / 2, "a withdrawal waited for the disk"
        assert abs(statistics.median(stalled) - statistics.median(healthy)) < SHIFT_S
        name = rig.core.runs.name
        rig.tell(CloseRun(actor="anna"))
        assert rig.close()
    with Archive(data_dir).open_run(name) as reader:
        assert len(reader.trips()) == 33
        assert reader.gaps() == ()
    assert verify_run(data_dir, name).findings == ()


@pytest.mark.slow
def test_a_sink_that_waits_for_the_disk_is_seen(data_dir: Path) -> None:
    """Control: with a stall of a hundredth of a second, and with an accordingly larger shift."""
    disk = SlowDisk()
    with WaitingRig(data_dir, disk) as rig:
        healthy, stalled = turns(rig, 0.05, 1, 4)
    assert statistics.median(stalled) - statistics.median(healthy) > SHIFT_S


@pytest.mark.long
@pytest.mark.timeout(7200)
def test_the_core_takes_no_longer_for_any_bytes_at_p999_of_many(data_dir: Path) -> None:
    """Row 14's figure: p99.9 over every portion of bytes, and the worst of 250 withdrawals, on both disks.

    The rig runs some thirty times faster than a real one here, and so does the writer beside it as long as the disk
    lets it: the stalled disk may well be the quicker one.
    """
    disk = SlowDisk()
    figures = {}
    with TimedRig(data_dir, disk) as rig:
        portions: dict[float, list[float]] = {0.0: [], STALL_S: []}
        withdrawals: dict[float, list[float]] = {0.0: [], STALL_S: []}
        rig.permit()
        rig.trip_by("guard")
        for _ in range(10):
            for stall_s, found in portions.items():
                rig.stall(stall_s)
                rig.all_s = []
                withdrawals[stall_s] += rig.trips(25)
                found += rig.all_s
        rig.stall(0.0)
        for kind, of in (("portions", portions), ("withdrawals", withdrawals)):
            for stall_s, times in of.items():
                figures[kind, stall_s] = sorted(times)[int(0.999 * len(times))]
                print(f"{kind}, commits of {stall_s:g} s: {len(times)}, p50 {1000 * statistics.median(times):.3f} ms, "
                      f"p99.9 {1000 * figures[kind, stall_s]:.3f} ms")  # fmt: skip
    assert figures["portions", STALL_S] - figures["portions", 0.0] < SHIFT_S
    assert figures["withdrawals", STALL_S] - figures["withdrawals", 0.0] < SHIFT_S


@pytest.mark.slow
def test_a_disk_that_hangs_costs_marked_samples_and_no_event(data_dir: Path) -> None:
    """The queue is bounded, what it lets go is counted and marked, the core says so, and a trip meanwhile is kept."""
    disk, bound_s = SlowDisk(), 10.0
    with TimedRig(data_dir, disk, InboxRules(span_s=bound_s)) as rig:
        rig.permit()
        name = rig.core.runs.name
        rig.wait(1.0)
        rig.stall(0.0)
        disk.gate.clear()
        rig.wait(bound_s - 3.0)
        assert rig.recorder.status.dropped_items == 0
        items = 0
        for _ in range(20):
            rig.wait(1.0)
            status = rig.recorder.status
            assert status.queue_s < bound_s + 1.0
            items = max(items, status.queue_items)
        assert rig.recorder.status.dropped_items > 100
        assert "Samples are lost" in rig.recorder.status.last_error
        assert rig.core.alarms.book.records["record"].condition
        assert rig.permitted, "a disk takes no permit away"
        rig.trip_by("guard")
        assert max(rig.withdrawals_s) < 1.0
        rig.wait(2.0)
        assert rig.recorder.status.queue_items < items + 500
        disk.gate.set()
        rig.stall(0.0)
        rig.wait(2.0)
        assert rig.recorder.status.last_error == ""
        rig.tell(Acknowledge(actor="anna"))
        rig.tell(CloseRun(actor="anna"))
        assert rig.close()
        made = [item for item in rig.sink.items if isinstance(item, Event)]
    with Archive(data_dir).open_run(name) as reader:
        assert {gap.why for gap in reader.gaps()} == {QUEUE_FULL}
        assert all(account.balances for account in reader.ledger())
        lost_s = max(account.marked for account in reader.ledger() if account.group == 0) / 200.0
        assert 10.0 < lost_s < 25.0
        assert reader.trips()[0].first_out.says == "Guard open."
    kept = [event.says for event in Archive(data_dir).events(0, 100_000) if event.kind is not EventKind.STORE]
    assert kept == [event.says for event in made]
    assert verify_run(data_dir, name).findings == ()
    assert verify_journal(data_dir).findings == ()
