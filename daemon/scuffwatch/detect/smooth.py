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


class Usual:
    """What a quantity usually is: a mean that first grows its memory, then forgets with a time constant.

    Args:
        memory_s: time constant, s.
        wary: whether `slower` holds already while the memory grows.

    What survives a call: the mean and how long it has learned.

    Attributes:
        value: NaN before the first value.
        learned_s: time taken in, s.
    """

    __slots__ = ("_wary", "learned_s", "memory_s", "value")

    def __init__(self, memory_s: float, wary: bool = False) -> None:
        self.memory_s = memory_s
        self._wary = wary
        self.forget()

    def forget(self) -> None:
        """Know nothing."""
        self.value = math.nan
        self.learned_s = 0.0

    def seed(self, value: float, learned_s: float) -> None:
        """Take a value as if it had been learned for so long; NaN forgets."""
        self.value, self.learned_s = value, learned_s

    def learn(self, x: float, dt_s: float, slower: float = 1.0) -> None:
        """Take a value that lasted `dt_s`; `slower` stretches the time constant. NaN is passed over."""
        if x != x:
            return
        learned_s = self.learned_s = self.learned_s + dt_s
        value, memory_s = self.value, self.memory_s
        if value != value:
            self.value = x
            return
        if learned_s < memory_s:
            memory_s = learned_s * slower if self._wary else learned_s
        else:
            memory_s *= slower
        share = dt_s / memory_s
        self.value = value + (x - value) * (share if share < 1.0 else 1.0)
