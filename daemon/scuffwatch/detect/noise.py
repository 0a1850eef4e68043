"""Noise of one channel, told from its signal by the steps between values.

Reads values, gives a standard deviation. Used where a limit must stand out of a channel's own noise.
"""

import math

from scuffwatch.detect.smooth import share_of

_NOISE_MEMORY_S = 20.0
_OUTLIER_TIMES = 4.0
_KNOWN_AFTER = 30
_SIGMA_OF_STEP = 0.886
"""The mean step of white noise is 2/sqrt(pi) of its standard deviation."""


class Noise:
    """Noise of one channel from the steps between values, spikes left out.

    Attributes:
        is_known: whether enough values have been seen.
        sigma: standard deviation of one value.
    """

    __slots__ = ("_dt_s", "_last", "_mean_step", "_seen", "_share", "is_known", "sigma")

    def __init__(self) -> None:
        self._last = math.nan
        self._mean_step = 0.0
        self._seen = 0
        self._dt_s = self._share = 0.0
        self.is_known = False
        self.sigma = 0.0

    def learn(self, x: float, dt_s: float) -> None:
        """Take the next fresh value."""
        step = abs(x - self._last)
        self._last = x
        if step != step:
            return
        mean = self._mean_step
        if self.is_known or self._is_known_now():
            if dt_s != self._dt_s:
                self._dt_s, self._share = dt_s, share_of(dt_s, _NOISE_MEMORY_S)
            most = _OUTLIER_TIMES * mean
            if step > most > 0.0:
                step = most
            mean += (step - mean) * self._share
        else:
            mean += (step - mean) / self._seen
        self._mean_step = mean
        self.sigma = _SIGMA_OF_STEP * mean

    def _is_known_now(self) -> bool:
        self._seen += 1
        self.is_known = self._seen >= _KNOWN_AFTER
        return self.is_known
