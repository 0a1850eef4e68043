"""Campaigns: a day of data through every kind of failing store, and a hundred rigs on one broker and one store."""

import json
import os
import random
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from long_feed import Day, rss_kib
from sending import bench, send_all
from servers import FaultProxy, VictoriaMetrics, wait_for
from test_uplink_timeseries import arrives, expected_values

from scuffwatch.store.reader import Archive

HOURS = float(os.environ.get("SCUFFWATCH_CAMPAIGN_HOURS", "24"))
PACE = 600.0
"""Rig seconds a second: 24 h in 144 s."""
RIGS = 100
ACTS: tuple[list[str | int], ...] = (
    ["drop"], [500], [503, "pass"], [429, "pass"], ["slow", "pass"], ["drop", "pass"], ["lost reply", "pass"], ["pass"],
    ["pass"],
)  # fmt: skip


class Nemesis:
    """Changes what goes wrong every second or two, and kills the store now and then."""

    def __init__(self, proxy: FaultProxy, store: VictoriaMetrics) -> None:
        self._proxy, self._store = proxy, store
        self._noise = random.Random(7)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="nemesis")
        self.kills = self.changes = 0

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Leave everything in order."""
        self._stop.set()
        self._thread.join()
        self._proxy.script.acts = ["pass"]

    def _work(self) -> None:
        while not self._stop.wait(self._noise.uniform(0.5, 2.0)):
            self.changes += 1
            if self._noise.random() < 0.15:
                self._kill()
                continue
            act = self._noise.choice(ACTS)
            self._proxy.script.acts = act * 20 if len(act) > 1 else list(act)

    def _kill(self) -> None:
        """Kill the store right after it has said yes, and let it be away a moment."""
        self._proxy.script.acts = ["pass"]
        time.sleep(0.3)
        self._store.kill()
        self.kills += 1
        time.sleep(self._noise.uniform(0.1, 1.5))
        self._store.start()


@pytest.mark.long
@pytest.mark.timeout(7200)
def test_a_day_of_outages_loses_nothing_doubles_nothing_and_keeps_the_order(
    data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy
) -> None:
    day = Day(data_dir, round(HOURS * 3600), PACE)
    proxy.script.slow_s, proxy.tells_all, proxy.keeps_writes = 0.3, True, False
    nemesis = Nemesis(proxy, store)
    (data_dir / "uplink.toml").write_text(
        f'[uplink]\nrig = "rig 2"\nmetrics_port = 0\n[timeseries]\nurl = "{proxy.url}"\ntimeout_s = 5\n'
    )
    words = ["uplink", "--data", str(data_dir), "--settings", str(data_dir / "uplink.toml")]
    uplink = subprocess.Popen([sys.executable, "-m", "scuffwatch.cli.main", *words])
    try:
        day.start()
        nemesis.start()
        sizes = watch_size(uplink.pid, lambda: day.second >= day.seconds - 1)
        nemesis.stop()
        day.join()
        queued, back_s = account(data_dir)["queued"], time.monotonic()
        events = len(Archive(data_dir).events(limit=1_000_000))
        wait_for("everything", lambda: account(data_dir)["sent"] == 2 * day.seconds + events, 600.0)
        back_s = time.monotonic() - back_s
        wait_for("all of it once more", lambda: account(data_dir)["says"] == "", 60.0)
        time.sleep(20.0)  # what is sent once more goes last
        end = account(data_dir)
    finally:
        uplink.terminate()
        uplink.wait()
    assert (end["produced"], end["queued"], end["quarantined"]) == (end["sent"], 0, 0)
    arrives(store, expected_values(data_dir))
    print(
        f"\n{HOURS:g} h: {end['sent']} rows, 0 lost, 0 doubled; {nemesis.changes} changes, {nemesis.kills} kills "
        f"of the store, {end['rewinds']} rewinds, {end['resent']} sent once more, {end['requests']} requests; "
        f"{queued} queued at the end of the outages, all home {back_s:.1f} s later; "
        f"RSS {sizes[0] / 1024:.1f} to {sizes[-1] / 1024:.1f} MiB, highest {max(sizes) / 1024:.1f}"
    )
    assert sizes[-1] - sizes[0] < 5 * 1024


def watch_size(pid: int, done: Callable[[], bool]) -> list[int]:
    """Give the resident memory of a process every second, from ten seconds after its start, KiB."""
    begun_s, sizes = time.monotonic(), []
    while not done():
        time.sleep(1.0)
        if time.monotonic() - begun_s > 10.0:
            sizes.append(rss_kib(pid))
    return sizes


def account(data_dir: Path) -> dict[str, Any]:
    """Give what the uplink says of the store."""
    told: dict[str, Any] = json.loads((data_dir / "uplink" / "status.json").read_text())["timeseries"]
    return told


def test_in_order_within_each_lane_through_an_outage(data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy) -> None:
    """A short one of the campaign for every day: half an hour, one outage, one kill."""
    day = Day(data_dir, 1800, 1e9)
    day.start()
    day.join()
    proxy.script.acts = ["pass", "pass", "drop", "drop", 500, "pass", "lost reply", "pass"]
    sending = bench(data_dir, proxy.url, batch_rows=200)
    for _ in range(3):
        sending.sender.turn()
    store.kill()
    for _ in range(5):
        sending.sender.turn()
        time.sleep(0.03)
    store.start()
    send_all(sending)
    arrives(store, expected_values(data_dir))
    values = [line for lines in proxy.writes for line in lines if line.startswith("scuffwatch,")]
    stamps = [int(line.rsplit(" ", 1)[1]) for line in values]
    first = list(dict.fromkeys(stamps))
    newest = stamps[0]
    behind = [stamp for stamp in first[1:] if stamp < newest]
    ahead = [stamp for stamp in first[1:] if stamp > newest]
    assert behind == sorted(behind)
    assert ahead == sorted(ahead)
    sending.close()


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_a_hundred_rigs_on_one_store_and_one_broker(tmp_path: Path, store: VictoriaMetrics) -> None:
    from rig_crowd import Crowd

    with Crowd(tmp_path, store, RIGS) as crowd:
        figures = crowd.run(20.0)
    print(f"\n{figures}")
    assert figures.rigs_on_the_store == RIGS
    assert figures.rigs_on_the_wall == RIGS
    assert figures.queued == 0
    assert figures.values_on_the_store == figures.values_expected
