"""Noise of one channel, told from its signal by the steps between values.

Reads values, gives a standard deviation. Used where a limit must stand out of a channel's own noise.
"""

import math

from scuffwatch.detect.smooth import Rate

_NOISE_MEMORY_S = 20.0
_OUTLIER_TIMES = 4.0
_KNOWN_AFTER = 30


class Noise:
    """Noise of one channel from the steps between values, spikes left out."""

    __slots__ = ("_last", "_mean_step", "_rate", "_seen")

    def __init__(self) -> None:
        self._last = math.nan
        self._mean_step = 0.0
        self._seen = 0
        self._rate = Rate(_NOISE_MEMORY_S)

    def learn(self, x: float, dt_s: float) -> None:
        """Take the next fresh value."""
        step = abs(x - self._last)
        self._last = x
        if step != step:
            return
        self._seen += 1
        if self._seen < _KNOWN_AFTER:
            self._mean_step += (step - self._mean_step) / self._seen
            return
        if step > _OUTLIER_TIMES * self._mean_step > 0.0:
            step = _OUTLIER_TIMES * self._mean_step
        self._mean_step += (step - self._mean_step) * self._rate.share(dt_s)

    @property
    def is_known(self) -> bool:
        """Say whether enough values have been seen."""
        return self._seen >= _KNOWN_AFTER

    @property
    def sigma(self) -> float:
        """Give the standard deviation of one value; the mean step of white noise is 2/sqrt(pi) of it."""
        return 0.886 * self._mean_step
