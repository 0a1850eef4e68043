"""Helpers of the uplink's tests: a sender over a recorded folder, driven turn by turn."""

import time
from dataclasses import dataclass
from pathlib import Path

from crash_feed import T0_UTC_S

from scuffwatch.store.reader import Archive
from scuffwatch.uplink.closed_runs import ClosedRuns
from scuffwatch.uplink.full_rate import NAME
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.post import InfluxPost
from scuffwatch.uplink.samples import NS_IN_A_MS
from scuffwatch.uplink.tail import Tail
from scuffwatch.uplink.timeseries import Clocks, Sender, SendRules

RIG = "rig 2"


@dataclass
class Bench:
    """A sender with all it stands on."""

    ledger: Ledger
    post: InfluxPost
    tail: Tail
    sender: Sender

    def close(self) -> None:
        """Give everything back."""
        self.post.close()
        self.ledger.close()


def wall_s() -> float:
    """Give a wall clock that is never more than a day before the made-up rig's run."""
    return max(time.time(), T0_UTC_S)


def rules(**changes: float) -> SendRules:
    """Give rules with short pauses."""
    given = {"batch_rows": 100, "first_pause_s": 0.01, "longest_pause_s": 0.05, "discover_s": 0.0, "look_s": 0.0}
    return SendRules(**(given | changes))  # type: ignore[arg-type]


def bench(data_dir: Path, url: str, *, boot: str = "boot", timeout_s: float = 10.0, **changes: float) -> Bench:
    """Give a sender over a folder; a second call stands for a restart of the uplink."""
    ledger = Ledger(data_dir / "uplink" / "timeseries.sqlite", boot, time.clock_gettime(time.CLOCK_BOOTTIME))
    tail = Tail(Archive(data_dir), RIG, 2, ledger.stamps)
    post = InfluxPost(url, "", "rigs", "", timeout_s)
    return Bench(ledger, post, tail, Sender(tail, ledger, post, rules(**changes), Clocks(wall_s=wall_s)))


def send_all(sending: "Bench | FullBench", timeout_s: float = 60.0) -> None:
    """Turn until nothing is queued and nothing is to be sent again; check the account at every turn."""
    end_s = time.monotonic() + timeout_s
    while True:
        pause_s = sending.sender.turn()
        check(sending.ledger)
        if not sending.ledger.totals().queued and not sending.ledger.stretches():
            return
        assert time.monotonic() < end_s, sending.sender.state
        time.sleep(min(pause_s, 0.01))


def check(ledger: Ledger) -> None:
    """Check that the account is exact and nothing had to be written off."""
    for standing in ledger.streams().values():
        assert standing.produced == standing.sent + standing.queued + standing.quarantined
        assert min(standing.sent, standing.queued, standing.quarantined) >= 0
        assert standing.gone == 0


@dataclass
class FullBench:
    """A sender of closed runs with all it stands on."""

    ledger: Ledger
    post: InfluxPost
    runs: ClosedRuns
    sender: Sender

    def close(self) -> None:
        """Give everything back."""
        self.post.close()
        self.ledger.close()


def full_bench(data_dir: Path, url: str, **changes: float) -> FullBench:
    """Give a sender of closed runs over a folder; a second call stands for a restart of the uplink."""
    ledger = Ledger(data_dir / "uplink" / f"{NAME}.sqlite", "boot", time.clock_gettime(time.CLOCK_BOOTTIME))
    runs = ClosedRuns(Archive(data_dir), RIG, wall_s)
    post = InfluxPost(url, "", "rigs", "", 10.0, stamps="ns")
    given = {"batch_rows": 1_000, "bulk": True, "stamps_in_a_ms": NS_IN_A_MS}
    return FullBench(ledger, post, runs, Sender(runs, ledger, post, rules(**(given | changes)), Clocks(wall_s=wall_s)))
