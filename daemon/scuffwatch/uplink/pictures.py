"""Pictures: what the core shows now, for messages and alerts; works with a dead disk, knows when the core is silent.

Reads `live.sock` in a thread of its own, keeps the newest snapshot and two minutes of values for the plot.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scuffwatch.control.live_client import LiveClient

Picture = dict[str, Any]
HISTORY_S = 120.0
WAIT_S = 0.2


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known of the core at a moment.

    Attributes:
        picture: the newest snapshot; None before the first.
        age_s: its age; since the start of the uplink where there is none, s.
        problem: why nothing comes, one sentence; empty while snapshots come.
    """

    picture: Picture | None
    age_s: float
    problem: str


Trace = tuple[tuple[float, ...], tuple[float | None, ...]]
"""Times before now (s, rising to about 0) and values; None where there was none."""


class Pictures:
    """Follows the core. `start` and `close` belong to one thread, the rest to any.

    Args:
        path: of `live.sock`.
        came: called with each new snapshot, in the thread that reads; must be quick.
    """

    def __init__(self, path: Path, came: Callable[[Picture], None] = lambda picture: None) -> None:
        self._path, self._came = path, came
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._newest: Picture | None = None
        self._t_made_s = time.monotonic()
        self._problem = "Not connected yet."
        self._history: deque[tuple[float, dict[str, float | None]]] = deque(maxlen=round(HISTORY_S * 10))
        self._thread = threading.Thread(target=self._follow, name="pictures", daemon=True)

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def close(self) -> None:
        """Stop following."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()

    def seen(self) -> Seen:
        """Give what is known now."""
        with self._lock:
            return Seen(self._newest, time.monotonic() - self._t_made_s, self._problem)

    def trace(self, channel: str) -> Trace:
        """Give the last two minutes of a channel."""
        now_s = time.monotonic()
        with self._lock:
            rows = [(t_s - now_s, values.get(channel)) for t_s, values in self._history]
        return tuple(t_s for t_s, _ in rows), tuple(value for _, value in rows)

    def _follow(self) -> None:
        with LiveClient(self._path) as client:
            while not self._stop.is_set():
                received = client.latest(WAIT_S)
                if received is None:
                    with self._lock:
                        self._problem = client.problem
                    continue
                self._keep(*received)
                self._came(received[0])

    def _keep(self, picture: Picture, t_made_s: float) -> None:
        values = {name: channel["value"] for name, channel in picture["channels"].items()}
        with self._lock:
            self._newest, self._t_made_s, self._problem = picture, t_made_s, ""
            self._history.append((t_made_s, values))
