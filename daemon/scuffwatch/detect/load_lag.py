"""How far a load's column is behind the friction cell: learned from the weights both have shown.

Reads the friction force and the moments in which the column has changed, gives how many weights came together.
"""

import math
from collections import deque

_TICK_S = 0.1
_BEHIND_TICKS, _AFTER_TICKS = 60, 5
"""So far back a weight may have shown on the friction cell, and so long after the column's change it has to."""
_BASE_TICKS = 10
_MOVED_SHARE = 0.08
"""Of the force; a change of less tells of no moment."""
_TOGETHER_TICKS = 2


class LoadLag:
    """Follow the friction force around each change of the load.

    What survives a call: the mean force of each tenth of a second in the last six, and how many weights both have shown
    within a quarter of a second, and how many not.

    Attributes:
        together, apart: so many weights.
    """

    def __init__(self) -> None:
        self.together = self.apart = 0
        self._ticks: deque[float] = deque(maxlen=_BEHIND_TICKS + _AFTER_TICKS)
        self._sum_n, self._sum_s, self._due_s = 0.0, 0.0, math.inf

    def forget(self) -> None:
        """Begin anew behind a hole or a stop: what was learned stays."""
        self._ticks.clear()
        self._sum_n, self._sum_s, self._due_s = 0.0, 0.0, math.inf

    def take(self, force_n: float, has_changed: bool, dt_s: float) -> None:
        """Take a slice.

        Args:
            force_n: friction force; NaN where it is not known.
            has_changed: whether the load has gone to another value by a weight in it.
            dt_s: length of the slice, s.
        """
        if force_n != force_n:
            self.forget()
            return
        if has_changed:
            self._due_s = _AFTER_TICKS * _TICK_S
        self._due_s -= dt_s
        self._sum_n += abs(force_n) * dt_s
        self._sum_s += dt_s
        if self._sum_s < 0.999 * _TICK_S:
            return
        self._ticks.append(self._sum_n / self._sum_s)
        self._sum_n = self._sum_s = 0.0
        if self._due_s <= 0.0:
            self._due_s = math.inf
            self._judge()

    def _judge(self) -> None:
        """Tell whether the force has gone half of its way when the column did."""
        ticks = list(self._ticks)
        if len(ticks) < _BASE_TICKS + _AFTER_TICKS:
            return
        base = sorted(ticks[:_BASE_TICKS])[_BASE_TICKS // 2]
        now = 0.5 * (ticks[-1] + ticks[-2])
        if not abs(now - base) > _MOVED_SHARE * max(now, base):
            self.apart += 1
            return
        half, up = 0.5 * (now + base), now > base
        since = 0
        for tick in reversed(ticks):
            if (tick > half) is not up:
                break
            since += 1
        is_together = abs(since - _AFTER_TICKS) <= _TOGETHER_TICKS
        self.together, self.apart = self.together + is_together, self.apart + (not is_together)
