"""Which way friction pulls: a loaded contact on a ring that runs on cannot turn its friction round.

Reads the friction force with its sign, gives what may be believed of it. Wires that are swapped turn the sign at once
and keep the size; a cell that drifts comes through zero; one that springs back does so for a moment.
"""

import math

from scuffwatch.detect.smooth import Rate

_FAST_S, _SIZE_S, _USUAL_S = 0.1, 0.2, 5.0
_ONE_WAY_SHARE = 0.7
"""Of its mean size: a force whose mean is less has noise for its sign."""
_LEAST_COEFFICIENT, _LEAST_ZEROS, _LEAST_SPREADS = 0.03, 3.0, 4.0
"""Less than that, or than so many times what the cell's zero may be off, is its zero: it has shown no way yet. Nor has
what is less than so many of its mean distances from its fast mean: a cell whose range nobody stated has a zero too."""
_SHOWN_S = 1.0
"""A way has been followed for so long before it is one."""
_SWAPPED_SHARE = 0.5
_BACK_SHARE = 0.2
_LASTS_S = 0.2
_HANDS_S = 10.0
"""A weight is set down within; a force that was not to be believed before is not after it either."""


class Way:
    """Follow the sign of the friction force.

    Args:
        zero_n: how far the cell's zero may be off, N.

    What survives a call: means of the force and of its size, whether they have shown a way, and for how long it has
        pulled the other.

    Attributes:
        is_reversed: whether it has come through zero and pulls the other way; it stays so while a weight is set down.
        swaps: how often it has turned its sign at once and kept its size; then its size is believed.
    """

    def __init__(self, zero_n: float = 0.0) -> None:
        self._zero_n = zero_n
        self.swaps = 0
        self._fast_rate, self._size_rate, self._usual_rate = Rate(_FAST_S), Rate(_SIZE_S), Rate(_USUAL_S)
        self.forget()

    def forget(self) -> None:
        """Begin anew after a stop or a lifted lever: nothing is known of the way."""
        self._fast_n = math.nan
        self._size_n = self._usual_n = self._usual_size_n = self._spread_n = 0.0
        self._learned_s = self._other_s = self._off_s = 0.0
        self.is_reversed = self._has_way = False

    def take(self, force_n: float, rubs: bool, load_n: float, dt_s: float) -> float:
        """Give the force, 0 while the cell springs back through zero, or NaN where it is not to be believed.

        Args:
            force_n: with its sign, N; NaN where there is none.
            rubs: whether the ring runs at speed under a load that is measured and at rest.
            load_n: that it rubs under, N.
            dt_s: length of the slice, s.
        """
        fast_n = self._fast_n
        if not rubs:
            self._off_s += dt_s
            if self.is_reversed and self._off_s < _HANDS_S:
                return math.nan
            if fast_n == fast_n:
                self.forget()
            return force_n
        self._off_s = 0.0
        if force_n != force_n:
            return force_n
        size_n = abs(force_n)
        if fast_n != fast_n:
            self._fast_n, self._size_n, self._usual_n, self._usual_size_n = force_n, size_n, force_n, size_n
            return force_n
        away_n = force_n - fast_n
        fast_n = self._fast_n = fast_n + away_n * self._fast_rate.share(dt_s)
        if self.is_reversed:
            self._look_for_return(fast_n, dt_s)
            return math.nan
        self._size_n += (size_n - self._size_n) * self._size_rate.share(dt_s)
        if fast_n * self._usual_n < 0.0 and self._has_way:
            if force_n * self._usual_n < 0.0:  # else it is the mean that remembers a spike
                self._other_s += dt_s
            if self._other_s >= _LASTS_S:
                self._turn()
            return force_n
        self._other_s = 0.0
        share = self._usual_rate.share(dt_s)
        if self._learned_s < _USUAL_S:  # so far the mean of all, as in `Usual`; one share for three means
            self._learned_s += dt_s
            share = dt_s / self._learned_s
        self._usual_n += (force_n - self._usual_n) * share
        self._usual_size_n += (size_n - self._usual_size_n) * share
        self._spread_n += (abs(away_n) - self._spread_n) * share
        if not self._has_way:
            self._has_way = self._learned_s >= _SHOWN_S and self._shows_way(load_n)
        elif force_n * self._usual_n < 0.0:
            return 0.0  # a cell that springs back as a stick-slip lets go: no contact pushes
        return force_n

    def _shows_way(self, load_n: float) -> bool:
        """Say whether the force pulls one way, out of noise and zero; once it has, it has."""
        usual_n = abs(self._usual_n)
        least_n = max(_LEAST_COEFFICIENT * load_n, _LEAST_ZEROS * self._zero_n, _LEAST_SPREADS * self._spread_n)
        return usual_n >= _ONE_WAY_SHARE * self._usual_size_n and usual_n >= least_n

    def _turn(self) -> None:
        """Judge a force that pulls the other way: with the size it had the wires are swapped, else it drifts."""
        self._other_s = 0.0
        if self._size_n >= _SWAPPED_SHARE * self._usual_size_n:
            self._usual_n = -self._usual_n
            self.swaps += 1
        else:
            self.is_reversed = True

    def _look_for_return(self, fast_n: float, dt_s: float) -> None:
        is_back = fast_n * self._usual_n > 0.0 and abs(fast_n) >= _BACK_SHARE * self._usual_size_n
        self._other_s = self._other_s + dt_s if is_back else 0.0
        if self._other_s >= _LASTS_S:
            self.is_reversed, self._other_s = False, 0.0
