"""MQTT: state, values, events and alarms of one rig to a broker. It subscribes to nothing.

Reads the core's pictures and the journal, publishes in one thread with a loop of its own. Events go in the order of the
journal; the ledger moves on only when the broker has acknowledged. An acknowledgement is no storage: the record is.
"""

import asyncio
import sqlite3
import threading
import time
from dataclasses import dataclass, replace

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store.reader import Archive
from scuffwatch.uplink import messages
from scuffwatch.uplink.backoff import Backoff
from scuffwatch.uplink.broker import Broker, BrokerAway, connected
from scuffwatch.uplink.ledger import Ledger, Step
from scuffwatch.uplink.pictures import Pictures
from scuffwatch.uplink.settings import Mqtt
from scuffwatch.uplink.tail import EVENTS

POLL_S = 0.05
LASTED_S = 30.0
"""A connection that lasted so long makes the next pause short again; two uplinks under one name thus stay apart."""
EVENTS_AT_ONCE = 200
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.25, 15.0
VALUES_EXPIRE_S = 10.0
CORE_SILENT_S = 2.0
DISK_PAUSE_S = 5.0
PUSHES_TOLD = 3
PUSHED_OFF = "; it takes the connection and ends it again: perhaps another uplink uses this rig's name"


@dataclass(frozen=True, slots=True)
class BrokerState:
    """How the connection stands; for status and metrics."""

    up: bool = False
    says: str = "not tried yet"
    since_utc_s: float = 0.0
    connections: int = 0


class Publisher:
    """Publishes one rig. `run` belongs to one thread; `stop` and `state` to any."""

    def __init__(
        self, settings: Mqtt, credentials: str, rig: str, archive: Archive, ledger: Ledger, pictures: Pictures
    ) -> None:
        self._settings, self._credentials, self._rig = settings, credentials, rig
        self._archive, self._ledger, self._pictures = archive, ledger, pictures
        self._topics = messages.Topics(settings.base_topic, rig)
        self._stop = threading.Event()
        self._backoff = Backoff(FIRST_PAUSE_S, LONGEST_PAUSE_S)
        self._beat = 0
        self._events_not_before_s = 0.0
        self._told_live: dict[str, str] = {}
        self.state = BrokerState()
        ledger.add_stream(EVENTS, 0)

    def stop(self) -> None:
        """Say goodbye and end."""
        self._stop.set()

    def run(self) -> None:
        """Publish until told to stop."""
        asyncio.run(self._main())

    async def _main(self) -> None:
        census = asyncio.create_task(self._count_always())
        pushed_off = 0
        while not self._stop.is_set():
            begun_s = time.monotonic()
            try:
                await self._connection()
            except BrokerAway as error:
                pushed_off = pushed_off + 1 if self.state.up else 0
                self._say(False, error.says + (PUSHED_OFF if pushed_off >= PUSHES_TOLD else ""))
            if time.monotonic() - begun_s > LASTED_S:
                self._backoff.worked()
                pushed_off = 0
            await self._pause(self._backoff.next_s())
        census.cancel()

    async def _pause(self, pause_s: float) -> None:
        end_s = time.monotonic() + pause_s
        while not self._stop.is_set() and time.monotonic() < end_s:
            await asyncio.sleep(POLL_S)

    async def _connection(self) -> None:
        topic = self._topics.state
        will = (topic, messages.line(messages.offline(self._rig, "will")))
        async with connected(self._settings, self._credentials, messages.client_id(self._rig), will) as broker:
            self.state = replace(self.state, connections=self.state.connections + 1)
            state_due_s = values_due_s = 0.0
            last_state: messages.Json = {}
            while not self._stop.is_set():
                told = self._state()
                now_s = time.monotonic()
                if now_s >= state_due_s or _differs(told, last_state):
                    await self._send_state(broker, told)
                    last_state, state_due_s = told, now_s + self._settings.heartbeat_s
                if now_s >= values_due_s:
                    values_due_s = now_s + self._settings.values_every_s
                    await self._send_values(broker)
                await self._send_unrecorded(broker)
                if not await self._send_events(broker):
                    await asyncio.sleep(POLL_S)
            goodbye = messages.line(messages.offline(self._rig, "stopped"))
            await broker.publish(topic, goodbye, qos=1, retain=True)
        self._say(False, "stopped")

    def _state(self) -> messages.Json:
        return messages.state(self._rig, self._pictures.seen(), self._beat + 1, time.time(), CORE_SILENT_S)

    async def _send_state(self, broker: Broker, told: messages.Json) -> None:
        await broker.publish(self._topics.state, messages.line(told), qos=1, retain=True)
        self._beat += 1
        self._say(True, "")

    async def _send_values(self, broker: Broker) -> None:
        seen = self._pictures.seen()
        if seen.picture is None or seen.age_s > CORE_SILENT_S:
            return
        payload = messages.line(messages.values(self._rig, seen.picture, time.time()))
        expiry_s = round(max(VALUES_EXPIRE_S, 3 * self._settings.values_every_s))
        await broker.publish(self._topics.values, payload, qos=0, retain=True, expiry_s=expiry_s)

    async def _send_unrecorded(self, broker: Broker) -> None:
        """Publish alarms the live picture shows while the record is in trouble."""
        picture = self._pictures.seen().picture
        if picture is None or not picture["store"]["error"]:
            self._told_live.clear()
            return
        for alarm in picture["alarms"]:
            if self._told_live.get(alarm["key"]) != alarm["state"]:
                payload = messages.line(messages.unrecorded_alarm(self._rig, alarm, picture))
                await self._publish_once(broker, self._topics.alarm, payload)
                self._told_live[alarm["key"]] = alarm["state"]

    async def _send_events(self, broker: Broker) -> bool:
        """Publish what the journal holds and the ledger does not; whatever the disk does, the rest goes on."""
        if time.monotonic() < self._events_not_before_s:
            return False
        try:
            return await self._send_recorded(broker)
        except (sqlite3.Error, RecordUnreadable) as error:
            self._events_not_before_s = time.monotonic() + DISK_PAUSE_S
            self.state = replace(self.state, says=f"events wait: {error}")
            return False

    async def _send_recorded(self, broker: Broker) -> bool:
        standing = self._ledger.streams()[EVENTS]
        if standing.next_place >= standing.seen:
            return False
        for happened in self._archive.events(standing.next_place, EVENTS_AT_ONCE):
            if self._stop.is_set() or happened.sequence > standing.seen:
                return False
            is_alarm, told = messages.event(self._rig, happened)
            await self._publish_once(
                broker, self._topics.alarm if is_alarm else self._topics.event, messages.line(told)
            )
            now = time.clock_gettime(time.CLOCK_BOOTTIME), time.time()
            step = Step(standing.id, 0, standing.next_place, happened.sequence, sent=1)
            self._ledger.enter([step], *now, keep_s=0.0)
        return True

    async def _publish_once(self, broker: Broker, topic: str, payload: bytes) -> None:
        await broker.publish(topic, payload, qos=1, retain=False, expiry_s=self._settings.event_expiry_s)

    async def _count_always(self) -> None:
        """Count events as they are recorded, whether or not anybody takes them."""
        while True:
            pause_s = 2 * POLL_S
            try:
                standing = self._ledger.streams()[EVENTS]
                events = self._archive.events(standing.seen, EVENTS_AT_ONCE)
                if events:
                    self._ledger.count([(standing.id, events[-1].sequence, len(events), False)])
                    pause_s = 0.0
            except (sqlite3.Error, RecordUnreadable):
                pause_s = DISK_PAUSE_S
            await asyncio.sleep(pause_s)

    def _say(self, up: bool, says: str) -> None:
        since_utc_s = self.state.since_utc_s if self.state.up == up else time.time()
        self.state = replace(self.state, up=up, says=says, since_utc_s=since_utc_s)


_FLEETING = ("beat", "t_wall_utc_s", "core_age_s")


def _differs(one: messages.Json, other: messages.Json) -> bool:
    return {k: v for k, v in one.items() if k not in _FLEETING} != {
        k: v for k, v in other.items() if k not in _FLEETING
    }
