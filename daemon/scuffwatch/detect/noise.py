"""Noise of one channel, told from its signal by the steps between values.

Reads values, gives a standard deviation. Used where a limit must stand out of a channel's own noise.
"""

import math

from scuffwatch.detect.smooth import share_of

_NOISE_MEMORY_S = 20.0
_OUTLIER_TIMES = 4.0
_KNOWN_AFTER = 30
SIGMA_OF_STEP = 0.886
"""The mean step of white noise is 2/sqrt(pi) of its standard deviation."""
_RUN_SHARE, _CHANGE_SHARE, _HELD_LEAST, _HELD_UNEVEN = 0.05, 0.02, 2.5, 0.5
"""Values that repeat for so many rows, and so evenly, are a slow reading's that is held; what flips between two steps
of a converter by chance repeats unevenly: by 0.74 of its mean."""
_HELD_STILL, _UNEVEN_STILL = 2.0, 0.7
"""Once found, so many rows and so evenly are enough."""
_VARY_LEAST = 0.25
"""Of their mean; changes that are all alike are a converter's step, which a runout may make once a turn, and evenly."""


class Noise:
    """Noise of one channel from the steps between values, spikes left out, and repeats of a slow reading.

    Attributes:
        is_known: whether enough values have been seen.
        sigma: standard deviation of one value.
        held_rows: for how many values a slow reading is held; 0 where each is one of its own.
    """

    __slots__ = (
        "_dt_s",
        "_is_held",
        "_last",
        "_mean_change",
        "_mean_run",
        "_mean_step",
        "_repeats",
        "_seen",
        "_share",
        "_uneven",
        "_vary",
        "held_rows",
        "is_known",
        "sigma",
    )

    def __init__(self) -> None:
        self._last = math.nan
        self._mean_step = 0.0
        self._seen = 0
        self._dt_s = self._share = 0.0
        self._is_held, self._repeats, self._mean_run, self._uneven = False, 0.0, 1.0, 0.0
        self._mean_change = self._vary = 0.0
        self.is_known = False
        self.sigma = self.held_rows = 0.0

    def learn(self, x: float, dt_s: float) -> None:
        """Take the next fresh value."""
        step = abs(x - self._last)
        self._last = x
        if step != step:
            return
        if step == 0.0:
            self._repeats += 1.0
        elif self._repeats or self._mean_run > 1.01:
            self._follow_runs(step)
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
        self.sigma = SIGMA_OF_STEP * (self._mean_change if self._is_held else mean)

    def _follow_runs(self, change: float) -> None:
        """Follow for how many rows a value stays, and how far the next one is from it."""
        run, mean_run, mean = self._repeats + 1.0, self._mean_run, self._mean_change
        self._repeats = 0.0
        self._uneven += (abs(run - mean_run) - self._uneven) * _RUN_SHARE
        self._mean_run = mean_run + (run - mean_run) * _RUN_SHARE
        most = _OUTLIER_TIMES * mean
        away = (most if change > most > 0.0 else change) - mean
        self._mean_change = mean + away * (_CHANGE_SHARE if mean else 1.0)
        self._vary += (abs(away) - self._vary) * _RUN_SHARE
        least, uneven = (_HELD_STILL, _UNEVEN_STILL) if self._is_held else (_HELD_LEAST, _HELD_UNEVEN)
        repeats = self._mean_run >= least and self._uneven <= uneven * self._mean_run
        self._is_held = repeats and self._vary >= _VARY_LEAST * self._mean_change
        self.held_rows = self._mean_run if self._is_held else 0.0

    def _is_known_now(self) -> bool:
        self._seen += 1
        self.is_known = self._seen >= _KNOWN_AFTER
        return self.is_known
