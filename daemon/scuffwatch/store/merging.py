"""Merging: closed runs wait here for their turn, a step at a time between two batches.

Reads names of closed runs, gives merged files. A reader that holds a run open only postpones its merging.
"""

from collections import deque
from pathlib import Path

from scuffwatch.store import run_file
from scuffwatch.store.journal import Journal
from scuffwatch.store.merge import Merge
from scuffwatch.store.settling import settle_and_close
from scuffwatch.store.storage import Storage

_AGAIN_AFTER_S = 10.0
_TRIES = 40


class Merging:
    """Runs to be merged, and the one in hand."""

    def __init__(self, storage: Storage, data_dir: Path) -> None:
        self._storage, self._data_dir = storage, data_dir
        self._names: deque[str] = deque()
        self._in_hand: Merge | None = None
        self._not_before_t_mono_s = 0.0
        self._failures: dict[str, int] = {}

    def add(self, name: str) -> None:
        """Put a closed run at the end of the queue."""
        self._names.append(name)

    @property
    def waits(self) -> bool:
        """Say whether there is anything to merge."""
        return bool(self._names)

    def due(self, now_t_mono_s: float) -> bool:
        """Say whether a step may be taken now."""
        return self.waits and now_t_mono_s >= self._not_before_t_mono_s

    def step(self, journal: Journal) -> None:
        """Take one step; a merged run is entered in the journal."""
        name = self._names[0]
        path = run_file.run_path(self._data_dir, name)
        if self._in_hand is None:
            self._settle(path)
            self._in_hand = Merge(self._storage, path, journal.events_of(name))
        elif self._in_hand.step():
            self._in_hand = None
            journal.set_merged(name)
            self._names.popleft()

    def postpone(self, now_t_mono_s: float, failed: bool) -> None:
        """Give the run in hand back and try again later, after the others; one that keeps failing waits for a start."""
        self._not_before_t_mono_s = now_t_mono_s + _AGAIN_AFTER_S
        name = self._names.popleft()
        self._failures[name] = self._failures.get(name, 0) + failed
        if self._failures[name] < _TRIES:
            self._names.append(name)
        self.close()

    def close(self) -> None:
        """Give the run in hand back; the next start begins it anew."""
        if self._in_hand is not None:
            in_hand, self._in_hand = self._in_hand, None
            in_hand.close()

    def _settle(self, path: Path) -> None:
        """Make sure the file has no log beside it: a log left there would be taken for the merged file's own."""
        file = run_file.open_run_file(self._storage, path)
        if not settle_and_close(self._storage, path, file):
            raise OSError(f"{path.name} still has its log: database is busy")
