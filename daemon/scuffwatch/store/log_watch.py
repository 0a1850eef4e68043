"""Log watch: a reader that holds an old state keeps SQLite from emptying the log; here its size is kept in bounds.

Reads the size of the log, says what is wrong in a sentence and whether samples must stop.
"""

from collections.abc import Callable
from pathlib import Path

from scuffwatch.store.rules import WriterRules
from scuffwatch.store.storage import Storage

_SHRINK_S = 2.0


class LogWatch:
    """How large the log of the file being written is.

    Attributes:
        full: samples must stop.
        says: what is wrong, or empty.
    """

    def __init__(self, storage: Storage, rules: WriterRules) -> None:
        self._storage, self._rules = storage, rules
        self._last_shrink_t_mono_s = 0.0
        self.full = False
        self.says = ""

    def look(self, path: Path, now_t_mono_s: float, shrink: Callable[[], None]) -> None:
        """Look at the log of a file; `shrink` is asked now and then to empty a full one."""
        if self.full and now_t_mono_s - self._last_shrink_t_mono_s >= _SHRINK_S:
            self._last_shrink_t_mono_s = now_t_mono_s
            shrink()
        size_bytes = self._storage.size_bytes(path.with_name(path.name + "-wal"))
        self.full = size_bytes >= self._rules.log_stop_bytes
        if self.full:
            self.says = f"Samples are not recorded: a reader holds {path.name} open. End that reader."
        elif size_bytes >= self._rules.log_warn_bytes:
            self.says = f"A reader holds {path.name} open and its log grows. End that reader."
        else:
            self.says = ""
