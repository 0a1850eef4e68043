"""A crowd of rigs: each with a record and a ledger of its own, all on one store and one broker, in one process.

The core of each is left out: a picture made up here stands for it, and a recorded run for what it writes.
"""

import asyncio
import json
import resource
import shutil
import threading
import time
from dataclasses import dataclass
from pathlib import Path

from crash_feed import record
from sending import rules, wall_s
from servers import Mosquitto, VictoriaMetrics, wait_for
from stand_in_core import Script

from scuffwatch.store.reader import Archive
from scuffwatch.uplink import messages
from scuffwatch.uplink.broker import connected
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.pictures import Seen
from scuffwatch.uplink.post import InfluxPost
from scuffwatch.uplink.settings import Mqtt
from scuffwatch.uplink.tail import Tail
from scuffwatch.uplink.timeseries import Clocks, Sender
from scuffwatch.uplink.wall import Wall

RUN_S = 60.0
COME_S = 0.1
"""They come one after the other: a hundred connections at once are a test of this one process, not of a broker."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What a crowd came to."""

    rigs_on_the_store: int
    rigs_on_the_wall: int
    queued: int
    values_on_the_store: int
    values_expected: int
    rows: int
    send_s: float
    states: int
    states_per_s: float
    cpu_s: float


class Crowd:
    """So many rigs over copies of one record."""

    def __init__(self, folder: Path, store: VictoriaMetrics, rigs: int) -> None:
        self._folder, self._store, self._rigs = folder, store, rigs
        (folder / "broker").mkdir()
        self._broker = Mosquitto(folder / "broker")
        self._wall_file = folder / "wall.json"
        given = {"host": "127.0.0.1", "port": self._broker.port, "tls": False, "timeout_s": 60}
        self._mqtt = Mqtt.model_validate(given)
        self._wall = Wall(self._mqtt, "wall:glass", "wall", self._wall_file)
        self._wall_thread = threading.Thread(target=self._wall.run, name="wall")
        self._senders: list[tuple[Sender, Ledger, InfluxPost]] = []
        self.states = 0

    def __enter__(self) -> "Crowd":
        record(self._folder / "rig000", 0.0, RUN_S)
        for number in range(self._rigs):
            home = self._folder / f"rig{number:03d}"
            if number:
                shutil.copytree(self._folder / "rig000", home)
            ledger = Ledger(home / "uplink" / "timeseries.sqlite", "boot", 0.0)
            post = InfluxPost(self._store.url, "", "rigs", "", 10.0)
            tail = Tail(Archive(home), f"rig {number:03d}", 2, ledger.stamps)
            sender = Sender(tail, ledger, post, rules(batch_rows=1000, look_s=1e9), Clocks(wall_s=wall_s))
            self._senders.append((sender, ledger, post))
        self._broker.start()
        self._wall_thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._wall.stop()
        self._wall_thread.join()
        self._broker.stop()
        for _, ledger, post in self._senders:
            post.close()
            ledger.close()

    def run(self, seconds: float) -> Figures:
        """Send all records, and let every rig publish its state once a second for so long."""
        begun_s, cpu_s = time.monotonic(), _cpu_s()
        asyncio.run(self._publish_all(seconds))
        publish_s = time.monotonic() - begun_s
        begun_s = time.monotonic()
        while any(ledger.totals().queued or not ledger.totals().produced for _, ledger, _ in self._senders):
            for sender, _, _ in self._senders:
                sender.turn()
        send_s = time.monotonic() - begun_s
        totals = [ledger.totals() for _, ledger, _ in self._senders]
        wait_for("the wall", lambda: len(self._tiles()) == self._rigs)
        each = {(s["metric"]["rig"]) for s in self._store.series("scuffwatch_group0_samples")}
        one = self._store.count('{__name__=~"scuffwatch_.+",rig="rig 000"}')
        return Figures(
            len(each), len(self._tiles()), sum(t.queued for t in totals), self._store.count(), one * self._rigs,
            sum(t.sent for t in totals), send_s, self.states, self.states / publish_s, _cpu_s() - cpu_s,
        )  # fmt: skip

    def _tiles(self) -> list[dict[str, object]]:
        return list(json.loads(self._wall_file.read_text())["rigs"])

    async def _publish_all(self, seconds: float) -> None:
        async with asyncio.TaskGroup() as group:
            for number in range(self._rigs):
                group.create_task(self._publish(number, seconds))

    async def _publish(self, number: int, seconds: float) -> None:
        rig, script = f"rig {number:03d}", Script()
        topics = messages.Topics(self._mqtt.base_topic, rig)
        await asyncio.sleep(number * COME_S)
        end_s = time.monotonic() + seconds
        async with connected(self._mqtt, "rig:oil", messages.client_id(rig)) as broker:
            while time.monotonic() < end_s:
                seen = Seen(script.snapshot(), 0.05, "")
                told = messages.line(messages.state(rig, seen, self.states + 1, time.time(), 2.0))
                await broker.publish(topics.state, told, qos=1, retain=True)
                self.states += 1
                await asyncio.sleep(1.0)


def _cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime
