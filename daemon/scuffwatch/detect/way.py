"""Which way friction pulls: a loaded contact on a ring that runs on cannot turn its friction round.

Reads the friction force with its sign, gives what may be believed of it. Wires that are swapped turn the sign at once
and keep the size; a cell that drifts comes through zero.
"""

import math

from scuffwatch.detect.smooth import Rate

_MEMORY_S = 1.0
_AT_ONCE_SHARE = 0.5
_BACK_S = 0.2
"""So long on the other side, without a break: noise about zero is neither way."""
_LEAST_SHARE = 0.2
"""Of the largest mean so far: less than that is no friction to speak of."""


class Way:
    """Follow the sign of the friction force.

    What survives a call: the mean with its sign, the way it usually pulls, and for how long it has pulled the other.

    Attributes:
        is_reversed: whether it has come through zero and pulls the other way.
    """

    def __init__(self) -> None:
        self._rate = Rate(_MEMORY_S)
        self.forget()

    def forget(self) -> None:
        """Begin anew after a stop or a lifted lever: nothing is known of the way."""
        self._mean_n, self._most_n, self._other_s = math.nan, 0.0, 0.0
        self.is_reversed = False

    def take(self, force_n: float, rubs: bool, dt_s: float) -> float:
        """Give the force, or NaN where it is not to be believed.

        Args:
            force_n: with its sign, N; NaN where there is none.
            rubs: whether the ring runs at speed under a load that is measured and at rest.
            dt_s: length of the slice, s.
        """
        if not rubs:
            if self._most_n:
                self.forget()
            return force_n
        mean_n = self._mean_n
        if force_n != force_n:
            return force_n
        if mean_n != mean_n:
            self._mean_n = force_n
            return force_n
        if self.is_reversed or force_n * mean_n < 0.0:
            return self._turned(force_n, dt_s)
        self._other_s = 0.0
        mean_n = self._mean_n = mean_n + (force_n - mean_n) * self._rate.share(dt_s)
        size_n = abs(mean_n)
        if size_n > self._most_n:
            self._most_n = size_n
        return force_n

    def _turned(self, force_n: float, dt_s: float) -> float:
        """Judge a force that pulls the other way than it did."""
        if self.is_reversed:
            back = force_n * self._mean_n > 0.0 and abs(force_n) >= _LEAST_SHARE * self._most_n
            self._other_s = self._other_s + dt_s if back else 0.0
            if self._other_s >= _BACK_S:
                self.is_reversed, self._other_s = False, 0.0
            return math.nan
        if abs(force_n) >= _AT_ONCE_SHARE * abs(self._mean_n) and abs(self._mean_n) >= _LEAST_SHARE * self._most_n:
            self._mean_n = force_n
            return force_n
        self._other_s += dt_s
        if self._other_s >= _BACK_S and self._most_n:
            self.is_reversed, self._other_s = True, 0.0
            return math.nan
        return force_n
