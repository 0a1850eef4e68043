"""A load cell that has become mostly noise: told by its steps from value to value, against its own before.

Reads loads, says whether they are still to be believed. A load that is only noise hides more than none would: every
friction coefficient swings with it, and the lever seems to move for ever.
"""

import math

from scuffwatch.detect.noise import SIGMA_OF_STEP
from scuffwatch.detect.smooth import Rate, Usual

_NOW_S, _USUAL_S, _KNOWN_S = 1.0, 60.0, 10.0
_SHARE, _TIMES = 0.2, 6.0
"""Of the load, and times what was usual: so much noise of one value is no rig's own."""
_LASTS_S, _BACK_S = 5.0, 5.0
"""A lever bounces and a hand shakes it for less (common practice, no source)."""
_CLEAR_SHARE = 0.5


class NoisyLoad:
    """Follow the noise of a load cell.

    What survives a call: the mean step now and as usual, and for how long it has been too large, or small again.

    Attributes:
        sigma_n, limit_n: noise of one value now, N, and what it is held against.
        is_noise: whether the load is not to be believed.
    """

    __slots__ = ("_changes_s", "_last_n", "_now", "_now_n", "_usual", "is_noise", "limit_n", "sigma_n")

    def __init__(self) -> None:
        self._last_n = math.nan
        self._now, self._now_n, self._usual = Rate(_NOW_S), 0.0, Usual(_USUAL_S)
        self._changes_s = 0.0
        self.sigma_n = self.limit_n = 0.0
        self.is_noise = False

    def take(self, load_n: float, level_n: float, dt_s: float) -> None:
        """Take a fresh value of a contact under load on a turning ring.

        Args:
            load_n: the value, N.
            level_n: the settled load, N; NaN before there is one.
            dt_s: length of the slice, s.
        """
        step_n = abs(load_n - self._last_n)
        self._last_n = load_n
        if step_n != step_n:
            return
        self._now_n += (step_n - self._now_n) * self._now.share(dt_s)
        self.sigma_n = SIGMA_OF_STEP * self._now_n
        usual = self._usual
        limit_n = _TIMES * SIGMA_OF_STEP * usual.value
        self.limit_n = limit_n if limit_n > _SHARE * level_n else _SHARE * level_n
        is_known = usual.learned_s >= _KNOWN_S and level_n == level_n
        if self.is_noise:
            changes = self.sigma_n < _CLEAR_SHARE * self.limit_n
        else:
            changes = is_known and self.sigma_n > self.limit_n
        self._changes_s = self._changes_s + dt_s if changes else 0.0
        if self._changes_s >= (_BACK_S if self.is_noise else _LASTS_S):
            self.is_noise, self._changes_s = not self.is_noise, 0.0
        if not (self.is_noise or changes):
            usual.learn(step_n, dt_s)
