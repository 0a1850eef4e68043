"""The full-rate upload as it is used: real uplinks, killed, ordered by hand, and an hour of a run beside a live one."""

import json
import os
import random
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from crash_feed import NAME, T0_UTC_S, closed, event, opened, record
from crash_feed import Bench as Feed
from full_runs import (
    SAMPLES,
    SECOND,
    account,
    all_arrive_at,
    finish,
    samples_stored,
    started,
    uplink_file,
)
from long_feed import rss_kib
from sending import RIG, full_bench
from servers import FaultProxy, VictoriaMetrics, wait_for
from test_uplink_long import Nemesis

from scuffwatch.model.errors import CommandRefused, RecordUnreadable
from scuffwatch.store.lock import FolderLock
from scuffwatch.uplink.app import FOLDER, STATUS_EVERY_S, hold
from scuffwatch.uplink.ledger import Totals
from scuffwatch.uplink.one_run import send_run
from scuffwatch.uplink.settings import TimeSeries
from scuffwatch.uplink.status import Status, as_json, openmetrics
from scuffwatch.uplink.timeseries import SendState


@pytest.mark.slow
def test_a_real_uplink_killed_in_the_middle_loses_and_doubles_nothing(gapped: Path, store: VictoriaMetrics) -> None:
    settings = uplink_file(gapped, store.url, 5_000)
    for at_least in (1, 5_000):
        uplink = started(gapped, settings)
        try:
            wait_for("rows", lambda least=at_least: account(gapped)["sent"] >= least)  # type: ignore[misc]
        finally:
            uplink.kill()
            uplink.wait()
        (gapped / "uplink" / "status.json").unlink()
    uplink = started(gapped, settings)
    try:
        wait_for("the rest", lambda: account(gapped)["sent"] == 13_635)
        told = account(gapped)
    finally:
        uplink.terminate()
        assert uplink.wait() == 0
    assert (told["produced"], told["queued"], told["quarantined"]) == (13_635, 0, 0)
    assert (told["unavailable_runs"], told["unavailable_says"]) == (0, [])
    all_arrive_at(store, sum(samples_stored(gapped).values()))


def spoil(path: Path, by: int) -> None:
    """Change the checksum of a run's chunk in group 1."""
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE chunks SET crc32 = crc32 + ? WHERE grp = 1", (by,))
    connection.close()


@pytest.mark.slow
def test_a_person_sends_one_run_by_hand_mends_it_and_the_uplink_knows_of_it(
    gapped: Path, store: VictoriaMetrics
) -> None:
    record(gapped, 100.0, 101.0, SECOND)
    spoil(gapped / "runs" / f"{SECOND}.sqlite", 1)
    where = ["--data", str(gapped), "--settings", str(uplink_file(gapped, store.url, 0))]

    def uplink(*words: str) -> tuple[int, str]:
        told = subprocess.run(
            [sys.executable, "-m", "scuffwatch.cli.main", "uplink", *where, *words], capture_output=True, text=True
        )
        return told.returncode, told.stdout

    said = f"Run {SECOND}: 1010 samples, %d sent, 0 queued, %d put aside.\n"
    assert uplink("--full-rate", SECOND) == (1, said % (1000, 10))
    spoil(gapped / "runs" / f"{SECOND}.sqlite", -1)
    code, told = uplink("--retry-quarantine")
    assert code == 0
    assert f"full/{SECOND}/1 10: " in told
    assert "Rows of timeseries_full_rate queued anew: 10 " in told
    assert uplink("--full-rate", SECOND) == (0, said % (1010, 0))
    all_arrive_at(store, 6 * 1000 + 2 * 10)
    sending = full_bench(gapped, store.url)
    finish(sending, gapped, store)
    assert sending.sender.state.requests == 14  # 13,635 samples of the other run


def test_a_run_that_is_not_over_or_a_working_uplink_refuses_the_order(gapped: Path) -> None:
    given_, stop = TimeSeries(url="http://127.0.0.1:9"), threading.Event()

    def order(name: str) -> Totals:
        return send_run(given_, RIG, gapped, name, stop, lambda *_: None)

    with pytest.raises(RecordUnreadable, match="There is no run"):
        order(SECOND)
    held = hold(gapped / FOLDER)
    with pytest.raises(CommandRefused) as refused:
        order(NAME)
    assert "another uplink works" in refused.value.sentence()
    os.close(held)
    feed, lock = Feed(gapped).start(), FolderLock(gapped)
    lock.take()
    feed.offer(event(1), opened(200.0, SECOND))
    feed.feed(200.0, 201.0)
    with pytest.raises(CommandRefused, match="is not over"):
        order(SECOND)
    feed.finish()
    lock.release()
    stop.set()
    assert order(NAME) == Totals(0, 0, 0, 0)  # told to stop before it began


def test_the_account_stands_in_status_and_metrics_beside_that_of_the_live_rows() -> None:
    told = Status(
        "rig 2", 1000.0, 5.0, 900.0, 0.1, (SendState(True), Totals(10, 6, 1, 2)), None, (), {},
        (SendState(False, "no answer"), Totals(100, 40, 20, 3)), ("Run A: its file is missing.",),
    )  # fmt: skip
    text = openmetrics(told)
    for line in (
        'scuffwatch_uplink_rows_produced_total{destination="timeseries_full_rate"} 100',
        'scuffwatch_uplink_rows_sent_total{destination="timeseries_full_rate"} 40',
        'scuffwatch_uplink_rows_queued{destination="timeseries_full_rate"} 40',
        'scuffwatch_uplink_rows_quarantined{destination="timeseries_full_rate"} 20',
        'scuffwatch_uplink_rows_queued{destination="timeseries"} 3',
        'scuffwatch_uplink_destination_up{destination="timeseries_full_rate"} 0',
        "scuffwatch_uplink_runs_unavailable 1",
    ):
        assert f"{line}\n" in text
    account_ = as_json(told)["timeseries_full_rate"]
    assert (account_["queued"], account_["says"], account_["unavailable_runs"]) == (40, "no answer", 1)


HOURS = float(os.environ.get("SCUFFWATCH_FULL_RATE_HOURS", "1"))


class LiveRun:
    """A run that is going on meanwhile, as the core writes it, second by second."""

    def __init__(self, data_dir: Path, from_s: int) -> None:
        self.second = from_s
        self._feed, self._lock = Feed(data_dir).start(), FolderLock(data_dir)
        self._lock.take()
        self._feed.offer(event(1), opened(float(from_s), SECOND))

    def go_on(self) -> None:
        """Record one more second."""
        self._feed.feed(float(self.second), self.second + 1.0)
        self._feed.turn(1.0)
        self.second += 1

    def end(self) -> None:
        """Close it and give the folder back."""
        self._feed.offer(event(2), closed(float(self.second)))
        self._feed.finish()
        self._lock.release()


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_an_hour_at_1_khz_in_flat_memory_while_live_rows_are_home_in_two_seconds(
    data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    seconds = round(HOURS * 3600)
    record(data_dir, 0.0, float(seconds))
    proxy.keeps_writes = False
    live = LiveRun(data_dir, seconds + 100)
    uplink = started(data_dir, uplink_file(data_dir, proxy.url, 20_000))
    sizes, late_s = [], []
    try:
        wait_for("rows", lambda: account(data_dir)["sent"] > 0, 60.0)
        begun_s, first, bytes_before = time.monotonic(), account(data_dir)["sent"], proxy.bytes_in
        while account(data_dir)["queued"]:
            live.go_on()
            home_by_s, wanted_ms = time.monotonic(), round((T0_UTC_S + live.second - 1) * 1000)
            wait_for("a live row", lambda: live_newest_ms(data_dir) >= wanted_ms, 30.0)  # noqa: B023
            late_s.append(time.monotonic() - home_by_s)
            time.sleep(max(0.0, 1.0 - late_s[-1]))
            sizes.append(rss_kib(uplink.pid))
        took_s, told = time.monotonic() - begun_s, account(data_dir)
    finally:
        uplink.terminate()
        uplink.wait()
        live.end()
    assert told["sent"] == told["produced"] == seconds * 1010
    rows = told["sent"] - first
    store.get("/internal/force_flush")
    on_disk = sum(path.stat().st_size for path in (store.folder / "vm").rglob("*") if path.is_file())
    print(
        f"\n{HOURS:g} h at 1 kHz x 6 and 10 Hz x 2: {told['sent']} rows; {rows / took_s:.0f} rows/s, "
        f"{(proxy.bytes_in - bytes_before) / rows:.1f} bytes a row on the wire, "
        f"{proxy.bytes_in / 1e6:.0f} MB in all, {on_disk / 1e6:.0f} MB on the store; RSS "
        f"{sizes[5] / 1024:.1f} to {sizes[-1] / 1024:.1f} MiB, highest {max(sizes) / 1024:.1f}; live rows home, as the "
        f"status says every second, p50 {sorted(late_s)[len(late_s) // 2]:.2f}, worst {max(late_s):.2f} s"
    )
    assert max(sizes[5:]) - sizes[5] < 5 * 1024
    assert max(late_s) < 2.0 + STATUS_EVERY_S
    all_arrive_at_by_query(store, seconds)


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_an_uplink_killed_25_times_before_a_failing_store_brings_every_sample_home_once(
    data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    record(data_dir, 0.0, 300.0)
    proxy.script.slow_s, proxy.tells_all, proxy.keeps_writes = 0.3, True, False
    settings, noise, nemesis = uplink_file(data_dir, proxy.url, 5_000), random.Random(5), Nemesis(proxy, store)
    nemesis.start()
    try:
        for _ in range(25):
            uplink = started(data_dir, settings)
            time.sleep(noise.uniform(1.0, 5.0))
            uplink.kill()
            uplink.wait()
    finally:
        nemesis.stop()
    before = full_bench(data_dir, store.url)
    killed = before.ledger.totals()
    before.close()
    uplink = started(data_dir, settings)
    try:
        wait_for("the rest", lambda: account(data_dir)["sent"] == 303_000, 300.0)
        time.sleep(20.0)  # what is sent once more goes last
        told = account(data_dir)
    finally:
        uplink.terminate()
        uplink.wait()
    print(
        f"\nafter 25 kills of the uplink and {nemesis.kills} of the store: {killed}; in the end {told['sent']} sent, "
        f"{told['resent']} once more"
    )
    assert killed.sent > 0
    assert (told["produced"], told["queued"], told["quarantined"]) == (303_000, 0, 0)
    all_arrive_at_by_query(store, 300)
    assert store.count(SAMPLES) == 300_000 * 6 + 3_000 * 2


def live_newest_ms(data_dir: Path) -> int:
    """Give the stamp of the newest live row the store has taken, as the uplink says, ms."""
    newest_ms: int = json.loads((data_dir / "uplink" / "status.json").read_text())["timeseries"]["newest_ms"]
    return newest_ms


def all_arrive_at_by_query(store: VictoriaMetrics, seconds: int) -> None:
    """Compare the counts of samples by the store's own count; an export of an hour would be gigabytes."""
    for name, n in (("friction_force_n", seconds * 1000), ("pin_temperature_degc", seconds * 10)):
        asked = f'count_over_time(scuffwatch_full_rate_{name}{{run="{NAME}"}}[{seconds + 60}s])'
        told = json.loads(store.get("/api/v1/query", query=asked, time=str(T0_UTC_S + seconds + 1), nocache="1"))
        assert told["data"]["result"][0]["value"][1] == str(n), name
