"""A shop of invented rigs, and the list of them that `scuffwatch uplink --wall` writes: its own code, without a broker.

python tests/board/many_rigs.py FILE --rigs 10
"""

import argparse
import threading
import time
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from stand_in_core import Script

from scuffwatch.store.names import rig_slug
from scuffwatch.uplink import messages
from scuffwatch.uplink.pictures import Seen
from scuffwatch.uplink.settings import Mqtt
from scuffwatch.uplink.wall import WRITE_S, Wall

SHOP = (
    "healthy", "healthy", "simulated", "before", "no_run", "healthy", "watch_only", "healthy", "setup", "healthy",
)  # fmt: skip
NIGHT = (
    "healthy", "tripped", "simulated", "before", "warning", "gone", "watch_only", "silent", "bad", "acknowledged",
)  # fmt: skip
BAD = {"permit": "perhaps"}


@cache
def picture(state: str) -> Any:
    """Give what a core shows in a state; the same for every rig, for nobody here looks at its values."""
    return Script(state).snapshot()


def said(rig: str, state: str) -> bytes:
    """Give what a rig in one of the core's states, or `gone`, `stopped`, `silent`, `bad`, publishes."""
    if state in ("gone", "stopped"):
        return messages.line(messages.offline(rig, "will" if state == "gone" else "stopped"))
    seen = Seen(picture("healthy" if state in ("bad", "silent") else state), 5.0 if state == "silent" else 0.1, "")
    told = messages.state(rig, seen, 1, time.time(), 2.0)
    return messages.line(told | BAD if state == "bad" else told)


class Shop:
    """Rigs that speak every second, and the list of them, written until `frozen`."""

    def __init__(self, path: Path, states: Sequence[str] = SHOP, name: Callable[[int], str] = "rig {}".format) -> None:
        self.states = {name(number): state for number, state in enumerate(states, start=1)}
        self.frozen = False
        self.mute: set[str] = set()
        self.problem = ""
        self.wall = Wall(Mqtt.model_validate({"host": "127.0.0.1", "tls": False}), "wall:glass", "wall", path)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="shop", daemon=True)

    def __enter__(self) -> "Shop":
        self.speak()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def speak(self) -> None:
        """Let every rig that is not mute say its state."""
        for rig, state in list(self.states.items()):
            if rig not in self.mute:
                self.says(rig, state)

    def says(self, rig: str, state: str) -> None:
        """Let one rig come into another state, and say so at once."""
        self.states[rig] = state
        self.wall.take(f"scuffwatch/{rig_slug(rig)}/state", said(rig, state), time.monotonic())

    def write(self) -> None:
        """Write the list once, never twice within one tick of a file system's clock."""
        time.sleep(0.01)
        self.wall._problem = self.problem
        self.wall.write(self.wall.snapshot(time.monotonic(), time.time()))

    def _run(self) -> None:
        turn = 0
        while not self._stop.wait(0.0 if turn == 0 else WRITE_S):
            if not self.frozen:
                if turn % 2:
                    self.speak()
                self.write()
            turn += 1


def main() -> None:
    """Write until interrupted."""
    parser = argparse.ArgumentParser(description="Write the list of an invented shop.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--rigs", type=int, default=10)
    given = parser.parse_args()
    with Shop(given.file, [NIGHT[i % len(NIGHT)] for i in range(given.rigs)]):
        threading.Event().wait()


if __name__ == "__main__":
    main()
