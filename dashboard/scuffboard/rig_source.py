"""Looks at the list of all rigs again and again, for the hub of the page of rigs.

Reads one small file, gives frames. Whether the list is alive is told by its moving and by nothing else: no clock of
whoever wrote it is believed, and a list that has not been seen to move is not current.
"""

import math
import os
import stat
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scuffboard.rig_list import LIST_MAX_BYTES, WORD_STALE_S, RigList, read_list
from scuffboard.rig_order import Need, Order, need_of

LOOK_S = 0.1
FRAME_S = 0.5
LIST_STALE_S = 1.25
"""Two writings missed, and time to look."""

Json = dict[str, Any]
Mark = tuple[int, int, int, int]


class RigFile:
    """Gives the rigs of one file.

    Args:
        path: the file.
        clock: host monotonic clock, s.

    Between calls survive: the last good list, when it was last seen to move, and the order of the tiles.
    """

    def __init__(self, path: Path, clock: Callable[[], float] = time.monotonic) -> None:
        self._path, self._clock = path, clock
        self._order = Order()
        self._mark: Mark | None = None
        self._list: RigList | None = None
        self._problem = ""
        self._moved, self._moved_s = 0, -math.inf
        self._sequence, self._given_s = 0, -math.inf

    def latest(self, timeout_s: float) -> tuple[Json, float] | None:
        """Wait a little, look once; give a frame where the list has moved or half a second has gone by."""
        time.sleep(min(LOOK_S, timeout_s))
        moved = self.look()
        now_s = self._clock()
        if not moved and now_s - self._given_s < FRAME_S:
            return None
        self._given_s = now_s
        self._sequence += 1
        return self._frame(now_s), now_s

    def look(self) -> bool:
        """Look once; tell whether the list has moved, or has been lost or found."""
        before = self._problem
        try:
            raw = self._read()
        except OSError as error:
            self._mark, self._problem = None, self._says_of(error)
            return self._problem != before
        if raw is None:
            return False
        told = read_list(raw)
        if isinstance(told, str):
            self._problem = f"The list of rigs {self._path} {told}"
            return self._problem != before
        self._problem = ""
        return self._take(told) or before != ""

    def _take(self, told: RigList) -> bool:
        known, self._list = self._list, told
        if known is not None and told.stamp == known.stamp:
            return False
        self._moved += 1
        if known is not None:  # the first sight of a list says nothing about its age
            self._moved_s = self._clock()
        return True

    def _read(self) -> bytes | None:
        """Give the file's bytes, or None where it has not been touched since they were last read."""
        descriptor = os.open(self._path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)  # a pipe must not hold us
        try:
            found = os.fstat(descriptor)
            if not stat.S_ISREG(found.st_mode):
                raise IsADirectoryError(0, "it is not a file")
            mark = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
            if mark == self._mark:
                return None
            with os.fdopen(os.dup(descriptor), "rb") as stream:
                raw = stream.read(LIST_MAX_BYTES + 1)
            self._mark = mark
            return raw
        finally:
            os.close(descriptor)

    def _says_of(self, error: OSError) -> str:
        if isinstance(error, FileNotFoundError):
            return (
                f"The list of rigs {self._path} is not there. Is scuffwatch uplink --wall running, and writing there?"
            )
        return f"The list of rigs {self._path} cannot be read: {error.strerror or 'the disk does not answer'}."

    def _frame(self, now_s: float) -> Json:
        still_s = now_s - self._moved_s
        problem, known = self._problem, self._list
        blind = bool(problem) or still_s > LIST_STALE_S or known is None or bool(known.broker_problem)
        now_utc_s = time.time()
        return {
            "seq": self._sequence,
            "t_wall_utc_s": round(now_utc_s, 3),
            "utc_offset_s": time.localtime(now_utc_s).tm_gmtoff,
            "list": {
                "says": problem,
                "moved": self._moved,
                "still_s": round(still_s, 3) if math.isfinite(still_s) else None,
                "stale_s": LIST_STALE_S,
                "word_stale_s": WORD_STALE_S,
                "t_wall_utc_s": known.t_wall_utc_s if known else None,
                "broker_problem": known.broker_problem if known else "",
                "unread": known.unread if known else 0,
            },
            "rigs": self._rigs(known, now_s, min(still_s, 1e9), blind=blind) if known else [],
        }

    def _rigs(self, known: RigList, now_s: float, list_age_s: float, *, blind: bool) -> list[Json]:
        needs: dict[str, Need] = {rig.key: need_of(rig, list_age_s) for rig in known.rigs}
        ordered = self._order.arrange(known.rigs, needs, now_s, blind=blind)
        return [{**rig.as_json(), "need": needs[rig.key].value} for rig in ordered]
