"""Smoothing by plain recursion: means that forget, and how much of a step they take in one slice.

Reads numbers, gives numbers. Used by everything that learns what is usual.
"""

import math


def share_of(dt_s: float, memory_s: float) -> float:
    """Give the share of the way a mean with this memory goes in one slice."""
    return 1.0 - math.exp(-dt_s / memory_s)


class Rate:
    """`share_of` for one memory, remembered while slices stay as long as they are."""

    __slots__ = ("_dt_s", "_memory_s", "_share")

    def __init__(self, memory_s: float) -> None:
        self._memory_s = memory_s
        self._dt_s = self._share = 0.0

    def share(self, dt_s: float) -> float:
        """Give the share of the way for one slice."""
        if dt_s != self._dt_s:
            self._dt_s, self._share = dt_s, share_of(dt_s, self._memory_s)
        return self._share


class Growing:
    """A mean that first grows like an average and then forgets with a time constant.

    Args:
        memory_s: time constant, s.

    Attributes:
        value: NaN before the first value.
        learned_s: time taken in, at most `memory_s`.
    """

    __slots__ = ("_memory_s", "learned_s", "value")

    def __init__(self, memory_s: float) -> None:
        self._memory_s = memory_s
        self.forget()

    def forget(self) -> None:
        """Begin anew."""
        self.value = math.nan
        self.learned_s = 0.0

    def learn(self, x: float, dt_s: float, slower: float = 1.0) -> None:
        """Take a value that lasted `dt_s`; NaN is passed over. `slower` stretches the memory."""
        if x != x:
            return
        self.learned_s = min(self.learned_s + dt_s, self._memory_s)
        if self.value != self.value:
            self.value = x
            return
        self.value += (x - self.value) * min(1.0, dt_s / (self.learned_s * slower))
