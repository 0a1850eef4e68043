"""One connection to the core, many viewers of it.

Reads snapshots from the core's live socket in one thread, gives server-sent events to every open page. A viewer that
cannot keep up misses frames and is counted; nothing is queued for it. A snapshot repeated by the core is no news:
the pages age by their own clock until the core's sequence number moves.
"""

import json
import logging
import math
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from scuffboard.climb_history import ClimbHistory
from scuffboard.core_link import Source

FRAME_PERIOD_S = 0.2
SILENT_AFTER_S = 1.0
STILL_PERIOD_S = 0.5
KEEP_ALIVE_S = 5.0
RETRY_MS = 2000
SNAPSHOT_KEYS = (
    "v", "seq", "rig", "simulated", "t_wall_utc_s", "t_rig_s", "utc_offset_s", "core_started_utc_s",
    "permit", "link", "interlocks", "alarms", "run", "channels", "nearness", "store",
)  # fmt: skip

Json = dict[str, Any]

_log = logging.getLogger(__name__)
SeedRow = tuple[int, float, dict[str, float], dict[str, float]]
Seed = Callable[[Json], list[SeedRow]]
Reduce = Callable[[Json], Json]


class ViewersFull(Exception):
    """Every stream this server is set for is taken."""


class Viewer:
    """One open stream. `missed` counts frames it was too slow for."""

    def __init__(self, hub: "LiveHub") -> None:
        self._hub = hub
        self._seen = 0
        self._generation = hub.generation
        self.missed = 0

    def stream(self) -> Iterator[bytes]:
        """Give the stream's pieces until the hub closes or the reader goes away."""
        yield f"retry: {RETRY_MS}\n\n".encode()
        last_ka_s = time.monotonic()
        while not self._hub.closed and self._generation == self._hub.generation:
            number, event = self._hub.wait_after(self._seen, KEEP_ALIVE_S)
            if number > self._seen:
                self.missed += max(0, number - self._seen - 1) if self._seen else 0
                self._seen = number
                yield event
            if time.monotonic() - last_ka_s >= KEEP_ALIVE_S:
                last_ka_s = time.monotonic()
                yield b": ka\n\n"


class LiveHub:
    """Shares the newest snapshot.

    Args:
        source: `source(timeout_s)` gives the next snapshot and when it was made (host monotonic clock, s), or None
            where none came in time.
        viewers_cap: streams served at once.
        seed: gives the rows of a run that was open before this server started, oldest first.
        release: called when the thread has ended, to let go of the source.
        reduce: gives what pages need of a snapshot; `reduce_snapshot` where it is None.
    """

    def __init__(
        self,
        source: Source,
        viewers_cap: int,
        seed: Seed | None = None,
        release: Callable[[], None] | None = None,
        reduce: Reduce | None = None,
    ) -> None:
        self.viewers_cap = viewers_cap
        self.viewers = 0
        self.missed_frames = 0
        self.refused_viewers = 0
        self.closed = False
        self.generation = 0
        self.server_id = secrets.token_hex(4)
        self._source, self._seed, self._release = source, seed, release
        self._reduce = reduce or reduce_snapshot
        self._climb = ClimbHistory()
        self._news = threading.Condition()
        self._number = 0
        self._event = b""
        self._core_seq: int | None = None
        self._core_heard_s = -math.inf
        self._published_s = -math.inf
        self._urgent: object = None
        self._thread = threading.Thread(target=self._run, name="live-hub", daemon=True)

    def start(self) -> None:
        """Begin to listen to the core."""
        self._thread.start()

    def end_streams(self) -> None:
        """End every stream, without waiting for the thread."""
        with self._news:
            self.closed = True
            self._news.notify_all()

    def close(self) -> None:
        """Stop listening and end every stream."""
        self.end_streams()
        if self._thread.is_alive():
            self._thread.join(timeout=5.0)

    @contextmanager
    def viewer(self) -> Iterator[Viewer]:
        """Give one stream.

        Raises:
            ViewersFull: `viewers_cap` streams are open.
        """
        viewer = self.enter()
        try:
            yield viewer
        finally:
            self.leave(viewer)

    def drop_streams(self) -> None:
        """End every open stream; the pages connect again."""
        with self._news:
            self.generation += 1
            self._news.notify_all()

    def enter(self) -> Viewer:
        """Take one stream; `leave` must follow. Raises ViewersFull as `viewer` does."""
        with self._news:
            if self.viewers >= self.viewers_cap:
                self.refused_viewers += 1
                raise ViewersFull
            self.viewers += 1
        return Viewer(self)

    def leave(self, viewer: Viewer) -> None:
        """Give one stream back."""
        with self._news:
            self.viewers -= 1
            self.missed_frames += viewer.missed

    def wait_after(self, seen: int, timeout_s: float) -> tuple[int, bytes]:
        """Wait until an event newer than number `seen` exists, or the timeout; give the newest."""
        with self._news:
            generation = self.generation
            self._news.wait_for(lambda: self._number > seen or self.closed or self.generation != generation, timeout_s)
            return self._number, self._event

    def climb(self) -> Json:
        """Give the open run so far and the last minute."""
        with self._news:
            return self._climb.as_json()

    def _run(self) -> None:
        while not self.closed:
            try:
                self._turn()
            except Exception as error:  # noqa: BLE001  main loop of a thread: it goes on with the next snapshot
                _log.exception("live hub: a snapshot could not be taken (%s)", type(error).__name__)
                time.sleep(FRAME_PERIOD_S)
        if self._release is not None:
            self._release()

    def _turn(self) -> None:
        received = self._source(FRAME_PERIOD_S / 2)
        now_s = time.monotonic()
        if received is not None and received[0].get("seq") != self._core_seq:
            self._take(*received, now_s)
        elif now_s - self._core_heard_s > SILENT_AFTER_S and now_s - self._published_s >= STILL_PERIOD_S:
            silent_s = None if math.isinf(self._core_heard_s) else round(now_s - self._core_heard_s, 1)
            self._publish("still", {"silent_s": silent_s}, now_s)

    def _take(self, snapshot: Json, made_s: float, now_s: float) -> None:
        self._core_seq, self._core_heard_s = snapshot.get("seq"), now_s
        urgent = what_cannot_wait(snapshot)
        if urgent != self._urgent or now_s - self._published_s >= FRAME_PERIOD_S * 0.9:
            self._urgent = urgent
            self._publish("frame", {**self._reduce(snapshot), "t_made_s": round(made_s, 3)}, now_s)
        self._grow_climb(snapshot)

    def _grow_climb(self, snapshot: Json) -> None:
        run = snapshot.get("run")
        if run and run["name"] != self._climb.run:
            with self._news:
                self._climb.open(run["name"])
            rows = self._seed(snapshot) if self._seed is not None else []
            with self._news:
                self._climb.open(run["name"], rows)
        with self._news:
            self._climb.accept(snapshot)

    def _publish(self, kind: str, data: Json, now_s: float) -> None:
        number = self._number + 1
        body = {**data, "n": number, "server": self.server_id}
        text = json.dumps(body, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        event = f"event: {kind}\nid: {number}\ndata: {text}\n\n".encode()
        with self._news:
            self._number, self._event, self._published_s = number, event, now_s
            self._news.notify_all()


def what_cannot_wait(snapshot: Json) -> object:
    """Give the part of a snapshot whose change is published at once, out of turn."""
    permit, run = snapshot.get("permit") or {}, snapshot.get("run") or {}
    alarms = [(a.get("key"), a.get("state")) for a in snapshot.get("alarms") or ()]
    locks = [(i.get("key"), i.get("state")) for i in snapshot.get("interlocks") or ()]
    return (permit.get("state"), permit.get("acknowledged"), alarms, locks, run.get("name"), run.get("stage"))


def reduce_snapshot(snapshot: Json) -> Json:
    """Give what pages need of a snapshot, with every number that is not finite replaced by null."""
    return {key: finite(snapshot[key]) for key in SNAPSHOT_KEYS if key in snapshot}


def finite(value: Any) -> Any:
    """Give a JSON value without NaN and infinities, floats to 6 significant decimals."""
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return value
