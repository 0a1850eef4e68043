"""Wall: all rigs on one broker as one small file that a page may show, a tile a rig.

Reads the retained states, writes a snapshot file every second. It publishes nothing. What comes from the broker is
foreign text: it is checked against what a state may hold, and cut.
"""

import asyncio
import json
import threading
import time
from pathlib import Path
from typing import Any

from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.broker import Broker, BrokerAway, connected
from scuffwatch.uplink.settings import Mqtt

RIGS_MAX = 500
TEXT_MAX = 200
STATE_MAX_BYTES = 64 * 1024
WRITE_S = 1.0
STALE_S = 15.0
"""A rig that has not spoken for three heartbeats is shown as stale, whatever the broker still keeps of it."""
VERSION = 1
_TEXTS = ("why", "core", "permit", "first_out")
_TRUTHS = ("acknowledged", "recorded", "link_up", "simulated")


class Wall:
    """Follows all rigs; `run` in one thread, `stop` from any."""

    def __init__(self, settings: Mqtt, credentials: str, identifier: str, path: Path) -> None:
        self._settings, self._credentials, self._identifier, self._path = settings, credentials, identifier, path
        self._rigs: dict[str, tuple[dict[str, Any], float]] = {}
        self._problem = "not connected yet"
        self._stop = threading.Event()
        self.refused = 0

    def stop(self) -> None:
        """End."""
        self._stop.set()

    def run(self) -> None:
        """Follow until told to stop."""
        asyncio.run(self._main())

    async def _main(self) -> None:
        writing = asyncio.create_task(self._write_always())
        backoff = Backoff(0.25, 15.0)
        while not self._stop.is_set():
            try:
                async with connected(self._settings, self._credentials, self._identifier) as broker:
                    await broker.subscribe(f"{self._settings.base_topic}/+/state")
                    self._problem = ""
                    backoff.worked()
                    await self._follow(broker)
            except BrokerAway as error:
                self._problem = error.says
                await asyncio.sleep(backoff.next_s())
        await writing

    async def _follow(self, broker: Broker) -> None:
        async def listen() -> None:
            async for topic, payload in broker.messages():
                self.take(topic, payload, time.monotonic())

        listening = asyncio.create_task(listen())
        while not self._stop.is_set() and not listening.done():
            await asyncio.sleep(0.1)
        if listening.done():
            listening.result()
        listening.cancel()

    def take(self, topic: str, payload: bytes, t_mono_s: float) -> None:
        """Take one state."""
        known = checked(payload)
        if known is None or (topic not in self._rigs and len(self._rigs) >= RIGS_MAX):
            self.refused += 1
            return
        self._rigs[topic] = (known, t_mono_s)

    def snapshot(self, t_mono_s: float, t_wall_utc_s: float) -> dict[str, Any]:
        """Give the object of the file."""
        tiles = []
        for topic, (state, came_s) in sorted(self._rigs.items()):
            age_s = t_mono_s - came_s
            live = state["online"] and age_s < STALE_S and not self._problem
            tiles.append({**state, "topic": topic, "age_s": round(age_s, 1), "live": live})
        return {
            "v": VERSION,
            "t_wall_utc_s": round(t_wall_utc_s, 3),
            "t_mono_s": round(t_mono_s, 3),
            "broker_problem": self._problem,
            "refused": self.refused,
            "rigs": tiles,
        }

    async def _write_always(self) -> None:
        while not self._stop.is_set():
            fresh = self._path.with_name(self._path.name + ".new")
            text = json.dumps(self.snapshot(time.monotonic(), time.time()), ensure_ascii=False)
            fresh.write_text(text + "\n", encoding="utf-8")
            fresh.replace(self._path)
            await asyncio.sleep(WRITE_S)


def checked(payload: bytes) -> dict[str, Any] | None:
    """Give what a tile needs of a state, or None where it is none of ours."""
    if len(payload) > STATE_MAX_BYTES:
        return None
    try:
        told = json.loads(payload)
    except (ValueError, RecursionError):
        return None
    if not isinstance(told, dict) or told.get("v") != 1 or not isinstance(told.get("online"), bool):
        return None
    if not isinstance(told.get("rig"), str):
        return None
    run, alarms = told.get("run"), told.get("alarms")
    tile: dict[str, Any] = {"rig": told["rig"][:TEXT_MAX], "online": told["online"]}
    tile |= {key: told[key][:TEXT_MAX] if isinstance(told.get(key), str) else None for key in _TEXTS}
    tile |= {key: told[key] if isinstance(told.get(key), bool) else None for key in _TRUTHS}
    tile["run"] = run["name"][:TEXT_MAX] if isinstance(run, dict) and isinstance(run.get("name"), str) else None
    tile["alarms"] = len(alarms) if isinstance(alarms, list) else 0
    return tile
