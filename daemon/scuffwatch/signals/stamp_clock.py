"""Stamps of a table whose clock may be set back while it is written: time goes on all the same.

Reads stamps, gives seconds that never run backward.
"""

import bisect
import math

_RUNS_ON_S, _ROWS_LEAST = 1.0, 3
_BACK_MOST_S = 2.0
"""A clock that was set back by less has caught up soon: those rows are refused, as rows that were written twice are."""


class StampClock:
    """Tell a clock that was set back from rows that come out of order.

    Rows whose stamps lie before the last one are refused. When three have run on by themselves for a second, still more
    than two behind, the clock was set back: from there on time counts from the last row before, and what was refused is
    a hole of its own length.

    What survives a call: the last time, where the refused rows began, and what the clock was set back by.

    Attributes:
        set_back: time from which on, s, and by how much in all, s; one for each time the clock was set back.
        refused: rows whose stamp was no number, or not later than the last one.
    """

    __slots__ = ("_begun_s", "_last_s", "_latest_s", "_own_s", "_rows", "_step_s", "refused", "set_back")

    def __init__(self) -> None:
        self._last_s = self._begun_s = self._latest_s = -math.inf
        self._own_s = self._step_s = 0.0
        self._rows = 0
        self.set_back: list[tuple[float, float]] = []
        self.refused = 0

    def time_s(self, stamp_s: float) -> float:
        """Give the time of a row, s; NaN where it is refused.

        Args:
            stamp_s: of the row, on the clock as it was first; NaN where it has none.
        """
        t_s = stamp_s + self._own_s
        if not math.isfinite(t_s):
            self.refused += 1
            return math.nan
        if t_s > self._last_s:
            self._step_s = t_s - self._last_s if self._last_s > -math.inf else 0.0
            self._last_s, self._begun_s = t_s, -math.inf
            return t_s
        if self._was_set_back(t_s):
            self._own_s += self._last_s + self._step_s - self._begun_s
            self._last_s, self._begun_s = stamp_s + self._own_s, -math.inf
            self.set_back.append((self._last_s, self._own_s))
            return self._last_s
        self.refused += 1
        return math.nan

    def _was_set_back(self, t_s: float) -> bool:
        """Follow rows that lie behind, and say whether they have run on for long enough."""
        if self._begun_s == -math.inf or t_s <= self._latest_s:
            self._begun_s, self._rows = t_s, 0
        self._latest_s = t_s
        self._rows += 1
        runs_on = t_s - self._begun_s >= _RUNS_ON_S and self._rows >= _ROWS_LEAST
        return runs_on and self._last_s - t_s > _BACK_MOST_S

    def stamp_s(self, t_s: float) -> float:
        """Give the stamp that belongs to a time, s."""
        behind = bisect.bisect_right(self.set_back, (t_s, math.inf))
        return t_s if behind == 0 else t_s - self.set_back[behind - 1][1]
