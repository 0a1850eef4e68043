"""The permit goes as fast while the disk takes five seconds for every commit; row 14, with a real core process."""

import signal
import statistics
from pathlib import Path

import pytest
from withdrawal_bench import InProcessBench

from scuffwatch.control.client import LiveClient
from scuffwatch.store.reader import Archive
from scuffwatch.store.verify import verify_journal, verify_run
from scuffwatch.wire.protocol import NodeCause

pytestmark = pytest.mark.rig
SHIFT_MS = 5.0


class SlowBench(InProcessBench):
    """The rig of the withdrawal trials before a core whose disk can be stalled."""

    core_script = "slow_core.py"

    def stall(self, on: bool) -> None:
        """Stall the disk and wait until the record is behind, or let it catch up."""
        assert self.core is not None
        self.core.send_signal(signal.SIGUSR1 if on else signal.SIGUSR2)
        self._await(lambda: (self.queue_s() > 1.5) is on, 20.0)

    def queue_s(self) -> float:
        """Give how much waits for the disk, s."""
        live = LiveClient(self.folder / "data" / "live.sock")
        try:
            seen = live.latest(2.0)
        finally:
            live.close()
        assert seen is not None
        store = seen[0]["store"]
        assert store["error"] == ""
        assert store["dropped"] == 0
        return float(store["queue_s"])

    def end_cleanly(self) -> None:
        """Tell the core to end, and wait for it."""
        assert self.core is not None
        self.core.send_signal(signal.SIGTERM)
        assert self.core.wait(30.0) == 0

    def withdrawals_ms(self, count: int) -> list[float]:
        """Give ms from the deciding sample to the rig box's latch, of trials the withdrawal ended and not the lapse."""
        found = [self.trial() for _ in range(count)]
        return [1000 * late_s for late_s, cause in found if cause is NodeCause.LEASE_WITHDRAWN]


def campaign(folder: Path, turns: int, trials: int) -> tuple[list[float], list[float]]:
    """Give withdrawals on the disk as it is and on the stalled one, in turns: the machine's load falls on both."""
    healthy, stalled = list[float](), list[float]()
    with SlowBench(folder) as bench:
        bench.start_core()
        bench.permit()
        for _ in range(turns):
            bench.stall(False)
            healthy += bench.withdrawals_ms(trials)
            bench.stall(True)
            stalled += bench.withdrawals_ms(trials)
            assert bench.queue_s() > 1.0, "the disk did not stall"
        bench.stall(False)
        bench.end_cleanly()
        data = folder / "data"
        (run,) = Archive(data).runs()
        with Archive(data).open_run(run.name) as reader:
            assert len(reader.trips()) >= 2 * turns * trials
            assert "writer queue full" not in {gap.why for gap in reader.gaps()}
        assert verify_run(data, run.name).findings == ()
        assert verify_journal(data).findings == ()
    for name, times in (("healthy", healthy), ("stalled", stalled)):
        ordered = sorted(times)
        at = ordered[min(len(ordered) - 1, int(0.999 * len(ordered)))]
        print(f"{name}: {len(times)} withdrawals, p50 {statistics.median(times):.2f} ms, p99.9 {at:.2f} ms")
    return healthy, stalled


def quartile(times: list[float]) -> float:
    """Give the lower quartile: what a trip costs when nothing else wants the processor."""
    return statistics.quantiles(times, n=4)[0]


def test_the_permit_goes_as_fast_while_the_disk_stalls(tmp_path_factory: pytest.TempPathFactory) -> None:
    healthy, stalled = campaign(tmp_path_factory.mktemp("s") / "b", 2, 5)
    assert min(len(healthy), len(stalled)) >= 5
    assert quartile(stalled) - quartile(healthy) < SHIFT_MS


@pytest.mark.long
@pytest.mark.timeout(7200)
def test_the_permit_goes_as_fast_while_the_disk_stalls_at_200_moments(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    healthy, stalled = campaign(tmp_path_factory.mktemp("s") / "b", 4, 25)
    assert statistics.median(stalled) - statistics.median(healthy) < SHIFT_MS
    assert max(stalled) - max(healthy) < SHIFT_MS  # of 100 each the worst stands for p99.9
