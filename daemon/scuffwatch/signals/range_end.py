"""The end of a range that nobody has stated, learned from how a value stays there.

Reads the values of one column, says which are to be held back, gives the end while a value is at it. A converter at its
end gives one and the same count, where a force or a current that moves never does.
"""

import math

_FAR_TIMES = 1.2
"""Times the largest value that moved: what is less far is no cell at its end."""
_MEMORY_VALUES = 200.0
_SHARE_LEAST, _SHARE_MOST, _CHANCE = 0.1, 0.5, 1e-3
"""A column that repeats itself more often than the second is too coarse to tell, and so is one of less than some 140
values; and so unlikely a row of repeats is no chance."""


class RangeEnd:
    """Follow one column.

    A value far beyond all before it is held back until the next one: where that is another one it is believed, where it
    is the same one time and again it is the end of the range, as long as the column stays there. What it then leaves
    has moved: a drive's limit, which a start has shown before, is no end.

    What survives a call: how often values repeat themselves, the largest that moved, and the end it is at.

    Attributes:
        low, high: the end it is at, in the column's unit; infinite where it is at none.
    """

    __slots__ = ("_doubted", "_last", "_most", "_repeats", "_share", "high", "low")

    def __init__(self) -> None:
        self.low, self.high = -math.inf, math.inf
        self._last, self._most, self._share = math.nan, 0.0, 1.0
        self._repeats = 0
        self._doubted = False

    def holds_back(self, value: float) -> bool:
        """Take the next value; say whether it is not to be believed yet."""
        if value == self._last:
            return self._repeat(value)
        if self._last in (self.low, self.high):
            self._most = max(self._most, abs(self._last))
            self.low, self.high = -math.inf, math.inf
        self._last = value
        self._share -= self._share / _MEMORY_VALUES
        was_doubted, self._doubted = self._doubted, False
        if abs(value) > _FAR_TIMES * self._most and not was_doubted and self._share <= _SHARE_MOST:
            self._doubted, self._repeats = True, 0
        else:
            self._most = max(self._most, abs(value))
        return self._doubted

    def _repeat(self, value: float) -> bool:
        if not self._doubted:
            self._share += (1.0 - self._share) / _MEMORY_VALUES
            return False
        self._repeats += 1
        if max(self._share, _SHARE_LEAST) ** self._repeats > _CHANCE:
            return True
        self._doubted = False
        if value > 0.0:
            self.high = value
        else:
            self.low = value
        return False
