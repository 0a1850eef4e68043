"""Wall clock labels of node times, and what the wall clock itself does.

Reads node times and both host clocks as arguments, gives labels and steps. Labels only: nothing is decided by them.
"""

import math

LABELS_MAX = 64
CLOCK_STEP_S = 0.5
"""Wall clock against monotonic clock: a jump beyond this is an event."""


class WallLabels:
    """Know the wall clock of node times.

    What survives a call: the newest pair, and the pairs of the last findings as they were when they were made.
    """

    def __init__(self) -> None:
        self._newest = (math.nan, math.nan)
        self._kept: dict[float, float] = {}

    def follow(self, t_rig_s: float, t_wall_utc_s: float) -> None:
        """Take the newest pair."""
        self._newest = (t_rig_s, t_wall_utc_s)

    def keep(self, t_rig_s: float, t_wall_utc_s: float) -> None:
        """Keep a pair as it is: a later step of the wall clock does not move it. NaN is no node time."""
        if t_rig_s != t_rig_s:
            return
        self._kept.setdefault(t_rig_s, t_wall_utc_s)
        while len(self._kept) > LABELS_MAX:
            del self._kept[next(iter(self._kept))]

    def label_utc_s(self, t_rig_s: float) -> float:
        """Give the label of a node time, s UTC; NaN where none is known."""
        kept = self._kept.get(t_rig_s)
        return kept if kept is not None else self._newest[1] + (t_rig_s - self._newest[0])


class WallClockWatch:
    """See steps of the wall clock against the monotonic one.

    What survives a call: their last difference.
    """

    def __init__(self) -> None:
        self._offset_s: float | None = None

    def step_s(self, t_mono_s: float, t_wall_utc_s: float) -> float:
        """Take both clocks; give how far the wall clock has stepped since the last call, s, 0 where it has not."""
        before_s, self._offset_s = self._offset_s, t_wall_utc_s - t_mono_s
        jump_s = 0.0 if before_s is None else self._offset_s - before_s
        return jump_s if abs(jump_s) > CLOCK_STEP_S else 0.0
