"""A day of a slow rig, written as the core writes it, as fast as the disk takes it.

Two channels at 10 Hz in blocks of one second: light enough for 24 h in minutes, and 172 800 rows of an uplink.
"""

import os
import threading
import time
from pathlib import Path

from crash_feed import NAME, NO_RESERVE, SLOW, Bench, closed, counts_at, event, opened

from scuffwatch.model.block import Block
from scuffwatch.store.lock import FolderLock
from scuffwatch.store.rules import WriterRules

EVENT_EVERY_S = 60


def block(second: int) -> Block:
    """Give one second."""
    return Block(SLOW, 0, second & 0xFFFF, second * 10, float(second), counts_at(SLOW, second * 10, 10), 0)


class Day:
    """Writes a run in a thread, `pace` rig seconds a second; holds the folder as a core does."""

    def __init__(self, folder: Path, seconds: int, pace: float) -> None:
        self.seconds, self.pace = seconds, pace
        self.second = 0
        self._folder = folder
        self._bench = Bench(folder, rules=WriterRules(space=NO_RESERVE, batch_s=5.0, late_s=5.0))
        self._thread = threading.Thread(target=self._write, name="day")

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def join(self) -> None:
        """Wait for the end."""
        self._thread.join()

    def _write(self) -> None:
        lock = FolderLock(self._folder)
        lock.take()
        bench = self._bench.start()
        bench.offer(event(1), opened(0.0, NAME, (SLOW,)))
        begun_s = time.monotonic()
        for second in range(self.seconds):
            bench.offer(block(second))
            if second % EVENT_EVERY_S == 0:
                bench.offer(event(second // EVENT_EVERY_S + 2))
            if second % 10 == 9:
                bench.turn(10.0)
                ahead_s = (second + 1) / self.pace - (time.monotonic() - begun_s)
                if ahead_s > 0:
                    time.sleep(ahead_s)
            self.second = second
        bench.offer(closed(float(self.seconds)))
        bench.finish()
        lock.release()


def rss_kib(pid: int) -> int:
    """Give the resident memory of a process, KiB."""
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") // 1024
