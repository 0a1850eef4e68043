"""Wall: all rigs on one broker as one small file that a page may show, a tile a rig.

Reads the retained states, writes a snapshot file twice a second. It publishes nothing. What comes from the broker is
foreign text: it is checked against what a state may hold, and cut. A file that cannot be written is tried again at the
next turn: the page that shows it says meanwhile that it stands still.
"""

import asyncio
import json
import logging
import threading
import time
from pathlib import Path
from typing import Any

from scuffwatch.store.names import rig_slug
from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.broker import Broker, BrokerAway, connected
from scuffwatch.uplink.settings import Mqtt

RIGS_MAX = 500
TEXT_MAX = 200
STATE_MAX_BYTES = 64 * 1024
WRITE_S = 0.5
STALE_S = 15.0
"""A rig that has not spoken for three heartbeats is shown as stale, whatever the broker still keeps of it."""
VERSION = 1
_TEXTS = ("why", "core", "permit", "first_out", "first_out_kind")
_TRUTHS = ("acknowledged", "recorded", "link_up", "simulated")
_ALARM_TEXTS = ("priority", "state", "says")
_ASIDE = frozenset({"normal", "shelved", "suppressed by design", "out of service"})

_log = logging.getLogger(__name__)


class Wall:
    """Follows all rigs; `run` in one thread, `stop` from any."""

    def __init__(self, settings: Mqtt, credentials: str, identifier: str, path: Path) -> None:
        self._settings, self._credentials, self._identifier, self._path = settings, credentials, identifier, path
        self._rigs: dict[str, tuple[dict[str, Any], float]] = {}
        self._problem = "not connected yet"
        self._stop = threading.Event()
        self._unwritten = ""
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
        """Take one state. A rig bears the name its topic allows: the broker vouches for the topic alone."""
        known = checked(payload)
        no_room = topic not in self._rigs and len(self._rigs) >= RIGS_MAX
        if known is None or no_room or len(topic) > TEXT_MAX:
            self.refused += 1
            return
        allowed = topic.split("/")[-2] if "/" in topic else topic
        if rig_slug(known["rig"]) != allowed:
            known["rig"] = allowed
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
            self.write(self.snapshot(time.monotonic(), time.time()))
            await asyncio.sleep(WRITE_S)

    def write(self, snapshot: dict[str, Any]) -> None:
        """Write the file whole or not at all; a fault is logged once and tried again at the next turn."""
        fresh = self._path.with_name(self._path.name + ".new")
        text = json.dumps(snapshot, ensure_ascii=False) + "\n"
        try:
            fresh.write_bytes(text.encode("utf-8", "replace"))  # half a surrogate pair may come from a broker
            fresh.replace(self._path)
        except OSError as error:
            if self._unwritten != str(error):
                _log.warning("the list of rigs cannot be written: %s", error)
            self._unwritten = str(error)
        else:
            self._unwritten = ""


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
    standing = list(filter(_stands, alarms)) if isinstance(alarms, list) else []
    tile["alarms"] = len(standing)
    tile["alarm"] = {key: standing[0][key][:TEXT_MAX] for key in _ALARM_TEXTS} if standing else None
    return tile


def _stands(alarm: object) -> bool:
    """Tell an alarm that asks for a person from one put aside; the core lists the one that matters most first."""
    if not isinstance(alarm, dict) or not all(isinstance(alarm.get(key), str) for key in _ALARM_TEXTS):
        return False
    return alarm["state"] not in _ASIDE
