"""The real disk, on which a commit takes as long as it is told: the stall of row 14 of the fault matrix."""

import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from scuffwatch.store.storage import Connection, DiskStorage


class SlowDisk(DiskStorage):
    """Stalls commits.

    Attributes:
        stall_s: how long every commit takes, s; 0 is the disk as it is, also for a commit that is under way.
        gate: commits wait until it is set; for tests that must say when the disk comes back.
        stalled: commits that had to wait so far.
    """

    def __init__(self) -> None:
        self._recovered = threading.Event()
        self.stall_s = 0.0
        self.gate = threading.Event()
        self.gate.set()
        self.stalled = 0

    @property
    def stall_s(self) -> float:
        """Give how long every commit takes, s."""
        return self._stall_s

    @stall_s.setter
    def stall_s(self, stall_s: float) -> None:
        self._stall_s = stall_s
        if stall_s:
            self._recovered.clear()
        else:
            self._recovered.set()

    def connect(self, path: Path) -> Connection:
        """Open a database whose commits can be stalled."""
        return _Slow(super().connect(path), self)

    def wait(self) -> None:
        """Take the time a commit takes now."""
        if self.stall_s or not self.gate.is_set():
            self.stalled += 1
            self._recovered.wait(self.stall_s)
            self.gate.wait()


class _Slow:
    def __init__(self, connection: Connection, disk: SlowDisk) -> None:
        self._connection, self._disk = connection, disk
        self.executemany = connection.executemany
        self.close = connection.close

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> Any:
        if sql == "COMMIT":
            self._disk.wait()
        return self._connection.execute(sql, parameters)
