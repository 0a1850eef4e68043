"""Threads: each job of the uplink in one of its own; a fault in one is told, and only that one begins anew.

Reads callables, gives names of those in trouble.
"""

import threading
from collections.abc import Callable

AGAIN_S = 5.0


class Threads:
    """The threads of one uplink."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._threads: list[threading.Thread] = []
        self._stops: list[Callable[[], None]] = []
        self.faults: dict[str, str] = {}

    def start(self, name: str, work: Callable[[], None], stop: Callable[[], None]) -> None:
        """Start a job: `work` runs until `stop` has been called."""
        thread = threading.Thread(target=self._main, args=(name, work), name=name, daemon=True)
        self._threads.append(thread)
        self._stops.append(stop)
        thread.start()

    def close(self, deadline_s: float) -> bool:
        """Stop all jobs; give whether they ended in time."""
        self._stop.set()
        for stop in self._stops:
            stop()
        for thread in self._threads:
            thread.join(deadline_s)
        return not any(thread.is_alive() for thread in self._threads)

    def _main(self, name: str, work: Callable[[], None]) -> None:
        while not self._stop.is_set():
            try:
                work()
                return
            except Exception as error:  # noqa: BLE001 - main loop of a thread: told on the status page, begun anew
                self.faults[name] = f"{type(error).__name__}: {error}"
                self._stop.wait(AGAIN_S)
