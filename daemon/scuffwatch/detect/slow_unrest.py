"""Slow unrest: a drag that wanders from second to second more than it used to, however straight its drift.

Reads the mechanical variable slice by slice, gives how restless its seconds are against what is usual at this load.
"""

import math

from scuffwatch.detect.smooth import Usual, share_of

_BLOCK_S = 1.0
_MEMORY_S, _USUAL_S = 20.0, 60.0
_KNOWN_S = 20.0
_LEAST = 0.003
_MOST_TIMES = 4.0
"""One second counts for no more than so many times the usual: a particle that passes is no unrest."""
_SLOWER_UP = 10.0
"""What is usual grows so much slower than it falls once it is known: else it learns what it is there to show."""


class SlowUnrest:
    """Follow the means of single seconds by their second differences: a straight drift leaves none.

    What survives a call: the unfinished second, the last two, the mean second difference and what is usual for it.

    Attributes:
        ratio: mean second difference over 20 s to the usual one; NaN before that has been learned for 20 s.
    """

    def __init__(self) -> None:
        self._usual = Usual(_USUAL_S, wary=True)
        self._share = share_of(_BLOCK_S, _MEMORY_S)
        self.forget()

    def forget(self) -> None:
        """Begin anew at another level."""
        self._usual.forget()
        self.forget_motion()

    def forget_motion(self) -> None:
        """Begin anew after a stop or a hole; what is usual stays."""
        self._sum = self._lasted_s = 0.0
        self._n = 0
        self._before = self._before_that = self._recent = math.nan
        self.ratio = math.nan

    def update(self, y: float, dt_s: float) -> None:
        """Take a fresh value."""
        self._sum += y
        self._n += 1
        self._lasted_s += dt_s
        if self._lasted_s < _BLOCK_S - 1e-9:
            return
        mean = self._sum / self._n
        self._sum, self._n, self._lasted_s = 0.0, 0, 0.0
        difference = abs(mean - 2.0 * self._before + self._before_that)
        self._before_that, self._before = self._before, mean
        if difference == difference:
            self._take(difference)

    def _take(self, difference: float) -> None:
        usual = self._usual
        is_known = usual.learned_s >= _KNOWN_S
        if is_known:
            difference = min(difference, _MOST_TIMES * max(usual.value, _LEAST))
        recent = difference if self._recent != self._recent else self._recent
        recent = self._recent = recent + (difference - recent) * self._share
        usual.learn(difference, _BLOCK_S, _SLOWER_UP if is_known and recent > usual.value else 1.0)
        self.ratio = recent / max(usual.value, _LEAST) if is_known else math.nan
