"""Recorder: the sink of the loop. One thread that writes, one queue in front of it.

Reads items, gives the record and its own state. `offer` costs microseconds whatever the disk does.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.store import names
from scuffwatch.store.inbox import Inbox, InboxRules
from scuffwatch.store.items import Item
from scuffwatch.store.lock import FolderLock
from scuffwatch.store.rules import WriterRules
from scuffwatch.store.storage import DiskStorage, Storage
from scuffwatch.store.writer import Writer

_POLL_S = 0.02
_AFTER_ERROR_S = 0.5
_FINISH_TRIES = 5
_BEHIND_S = 10.0
"""Samples that wait longer than this are told: an ordinary commit takes milliseconds, a bad one seconds."""


@dataclass(frozen=True, slots=True)
class RecorderStatus:
    """How the record stands.

    Attributes:
        queue_s: seconds of samples that are not yet committed.
        queue_items: items in the queue.
        dropped_items: blocks, events and marks let go since the start; samples among them are marked gaps.
        recorded_event_sequence: last event that is committed and synced; later ones are *not yet recorded*.
        last_error: what is wrong now, in a sentence; empty where nothing is.
        free_bytes: room on the disk.
        writing: whether a run is open and its samples are being kept.
        warning: what will be wrong soon, in a sentence, or nothing: less than a tenth of the disk is free,
            or it does not keep up.
        refused_blocks: blocks of the open run that were older than what is stored.
    """

    queue_s: float
    queue_items: int
    dropped_items: int
    recorded_event_sequence: int
    last_error: str
    free_bytes: int
    writing: bool
    warning: str
    refused_blocks: int


class Recorder:
    """Keeps what the loop offers. `start` and `close` belong to one thread, `offer` to one thread."""

    def __init__(
        self,
        data_dir: Path,
        *,
        storage: Storage | None = None,
        inbox_rules: InboxRules | None = None,
        rules: WriterRules | None = None,
        mono: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._data_dir = data_dir
        self._lock = FolderLock(data_dir)
        self._inbox = Inbox(inbox_rules or InboxRules())
        self._writer = Writer(data_dir, storage or DiskStorage(), self._inbox, rules or WriterRules(), mono, wall)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="writer", daemon=True)
        self._broken = ""

    def start(self) -> tuple[str, ...]:
        """Take the folder, put the record in order and begin to write.

        Returns:
            One sentence for each thing the last run of the core did not leave in order; they are events as well.
        Raises:
            CommandRefused: another core writes there.
            RecordUnreadable: another program's record or another version, or a disk that cannot be written.
        """
        self._data_dir.mkdir(parents=True, exist_ok=True)
        self._lock.take()
        try:
            found = self._writer.open(boot_id())
        except BaseException as error:
            self._writer.lose_hold()
            self._lock.release()
            if isinstance(error, self._writer.disk_errors):
                raise RecordUnreadable(
                    f"The record in {self._data_dir} cannot be opened: {error}. Nothing has been started. "
                    "Check the disk and who may write there."
                ) from error
            raise
        self._thread.start()
        return found

    def offer(self, item: Item) -> None:
        """Hand an item over. Never waits, never raises; what does not fit is counted and marked."""
        try:
            self._inbox.offer(item, self._writer.held_s, self._writer.held_bytes)
        except Exception as error:  # noqa: BLE001 - a sink must never hurt the loop; the state says so
            self._broken = f"The recorder could not take an item: {error!r}."

    def close(self, deadline_s: float) -> bool:
        """Write what waits and end; give whether all of it was written within the deadline."""
        self._inbox.release()
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join(deadline_s)
        return not self._thread.is_alive() and not self._broken

    def next_run_name(self, day: str, rig: str) -> str:
        """Give the name of the next run; touches no disk."""
        return names.next_name(day, rig, self._writer.run_names.copy())

    @property
    def status(self) -> RecorderStatus:
        """Give how the record stands now."""
        writer, inbox = self._writer, self._inbox
        dead = "" if self._thread.is_alive() else "The writer is not running."
        lost = "Samples are lost: the disk does not keep up and the queue is full." if inbox.full else ""
        error = " ".join(text for text in (self._broken, writer.last_error, lost, dead) if text)
        queue_s = inbox.span_s + writer.held_s
        behind = f"The disk does not keep up: {queue_s:.0f} s of samples wait." if queue_s > _BEHIND_S else ""
        return RecorderStatus(
            queue_s=queue_s,
            queue_items=inbox.items,
            dropped_items=inbox.dropped_items,
            recorded_event_sequence=writer.recorded_event_sequence,
            last_error=error,
            free_bytes=writer.space.free_bytes,
            writing=bool(writer.run) and not error,
            warning=" ".join(text for text in (writer.space.warns, behind) if text),
            refused_blocks=writer.refused_blocks,
        )

    def _work(self) -> None:
        while not self._stop.is_set():
            try:
                if not self._writer.turn():
                    self._stop.wait(_POLL_S)
            except Exception as error:  # noqa: BLE001 - main loop of a thread: the fault becomes an alarm
                self._broken = f"The writer met a fault of its own: {error!r}."
                self._writer.skip_item()
                self._stop.wait(_AFTER_ERROR_S)
        try:
            self._finish()
        finally:
            self._lock.release()

    def _finish(self) -> None:
        for _ in range(_FINISH_TRIES):
            try:
                self._writer.finish()
                return
            except Exception as error:  # noqa: BLE001 - main loop of a thread: the next start recovers
                self._broken = f"The record could not be closed: {error!r}."
                self._writer.lose_hold()
                if not isinstance(error, self._writer.disk_errors):
                    self._writer.skip_item()


def boot_id() -> str:
    """Give the identity of the kernel's boot; empty where the kernel gives none."""
    path = Path("/proc/sys/kernel/random/boot_id")
    return path.read_text().strip() if path.exists() else ""
