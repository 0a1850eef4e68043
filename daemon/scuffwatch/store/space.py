"""Space: how much room is left, and a reserve that only events may use.

Reads the disk through the storage. Samples stop before the disk is full; events go on out of the reserve.
"""

from dataclasses import dataclass
from pathlib import Path

from scuffwatch.store.storage import Storage

RESERVE_FILE = "reserve"


@dataclass(frozen=True, slots=True)
class SpaceRules:
    """When to warn, when to stop samples, and what to keep for events.

    Attributes:
        low_ratio: share of the disk below which room counts as low.
        samples_stop_bytes: below this, samples become marked gaps.
        reserve_bytes: size of the reserve; 10 000 events take about 7 MB with their log.
        check_s: seconds between two looks.
    """

    low_ratio: float = 0.10
    samples_stop_bytes: int = 64 << 20
    reserve_bytes: int = 16 << 20
    check_s: float = 5.0


class Space:
    """The room on the disk of the data folder, as last looked at."""

    def __init__(self, storage: Storage, data_dir: Path, rules: SpaceRules) -> None:
        self._storage, self._folder, self._rules = storage, data_dir, rules
        self._reserve = data_dir / RESERVE_FILE
        self._next_look_t_mono_s = 0.0
        self._stop_below_bytes = rules.samples_stop_bytes + rules.reserve_bytes
        self.free_bytes = 0
        self.low = False
        self.stop_samples = False

    @property
    def says(self) -> str:
        """Give what is wrong, or nothing: samples stop before the disk is full."""
        if not self.stop_samples:
            return ""
        room = f"{self.free_bytes >> 20} MiB left, limit {self._stop_below_bytes >> 20} MiB"
        return f"Samples are not recorded: the disk is nearly full, {room}."

    @property
    def warns(self) -> str:
        """Give what will be wrong soon, or nothing."""
        if not self.low:
            return ""
        return f"The disk is nearly full: {self.free_bytes >> 20} MiB left. Delete or move old runs."

    def look(self, now_t_mono_s: float) -> None:
        """Look at the disk if it is time, and put the reserve back once there is room again."""
        if now_t_mono_s < self._next_look_t_mono_s:
            return
        self._next_look_t_mono_s = now_t_mono_s + self._rules.check_s
        self.free_bytes, total_bytes = self._storage.room_bytes(self._folder)
        owed_bytes = self._rules.reserve_bytes - self._storage.size_bytes(self._reserve)
        self.low = self.free_bytes - owed_bytes < self._rules.low_ratio * total_bytes
        self._stop_below_bytes = self._rules.samples_stop_bytes + owed_bytes
        self.stop_samples = self.free_bytes < self._stop_below_bytes
        if owed_bytes > 0 and not self.stop_samples:
            self._storage.reserve(self._reserve, self._rules.reserve_bytes)

    def spend_reserve(self) -> None:
        """Give the reserve up to the events, and stop samples until there is room again."""
        self._storage.remove(self._reserve)
        self.stop_samples = True
