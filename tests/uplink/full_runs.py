"""Helpers for tests of the full-rate upload: closed runs, what of them must be on a store, and real uplinks."""

import json
import subprocess
import sys
from pathlib import Path

from crash_feed import FAST, NAME, SLOW, closed, event, gap, opened
from crash_feed import Bench as Feed
from sending import RIG, FullBench, send_all
from servers import VictoriaMetrics, wait_for

from scuffwatch.store.reader import Archive
from scuffwatch.uplink.samples import FULL_RATE_MEASUREMENT

SAMPLES = '{__name__=~"scuffwatch_full_rate_.+_(n|a|db|v|degc)"}'
RUN_S = 15.0
GAP_S = (6.0, 7.5)
SECOND = "2026-11-25-rig2-002"


def record_with_gap(data_dir: Path, name: str = NAME) -> None:
    """Record a closed run with a marked gap in both groups."""
    feed = Feed(data_dir).start()
    feed.offer(event(1), opened(0.0, name))
    feed.feed(0.0, GAP_S[0])
    feed.offer(gap(FAST, round(GAP_S[0] * 1000), 1500), gap(SLOW, round(GAP_S[0] * 10), 15))
    feed.feed(GAP_S[1], RUN_S)
    feed.offer(event(2), closed(RUN_S))
    feed.finish()


def samples_stored(data_dir: Path) -> dict[str, int]:
    """Give how many samples of each channel all runs hold, by the ledgers of their files."""
    found: dict[str, int] = {}
    for run in Archive(data_dir).runs():
        with Archive(data_dir).open_run(run.name) as reader:
            stored = dict.fromkeys({record.group for record in reader.channels}, 0)
            for account in reader.ledger():
                stored[account.group] += account.stored
            for channel in reader.channels:
                found[channel.name] = found.get(channel.name, 0) + stored[channel.group]
    return found


def finish(sending: FullBench, data_dir: Path, store: VictoriaMetrics) -> None:
    """Send the rest, and compare what the store holds with the record, channel by channel."""
    send_all(sending)
    stored = samples_stored(data_dir)
    totals = sending.ledger.totals()
    assert (totals.sent, totals.quarantined) == (stored["friction_force_n"] + stored["pin_temperature_degc"], 0)
    all_arrive_at(store, sum(stored.values()))
    on_the_store: dict[str, int] = {}
    for series in store.series(SAMPLES):
        name = series["metric"]["__name__"].removeprefix(f"{FULL_RATE_MEASUREMENT}_")
        on_the_store[name] = on_the_store.get(name, 0) + len(series["timestamps"])
    assert on_the_store == stored
    sending.close()


def all_arrive_at(store: VictoriaMetrics, values: int) -> None:
    """Wait for a number of samples on the store; none may stand there twice."""
    wait_for("the samples", lambda: store.count(SAMPLES) == values, 5.0)


def uplink_file(data_dir: Path, url: str, rate: int) -> Path:
    """Write the settings of an uplink with the upload switched on."""
    path = data_dir / "uplink.toml"
    path.write_text(
        f'[uplink]\nrig = "{RIG}"\nmetrics_port = 0\n[timeseries]\nurl = "{url}"\nfull_rate_max_rows_per_s = {rate}\n'
    )
    return path


def started(data_dir: Path, settings: Path) -> "subprocess.Popen[bytes]":
    """Start a real uplink."""
    words = ["uplink", "--data", str(data_dir), "--settings", str(settings)]
    return subprocess.Popen([sys.executable, "-m", "scuffwatch.cli.main", *words])


def account(data_dir: Path) -> dict[str, int]:
    """Give what the uplink says of the upload; nothing where it says nothing yet."""
    path = data_dir / "uplink" / "status.json"
    told = json.loads(path.read_text())["timeseries_full_rate"] if path.exists() else None
    return told or {"produced": 0, "sent": 0, "queued": 0, "quarantined": 0}
