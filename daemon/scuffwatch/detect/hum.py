"""Mains hum on the friction cell: a swing from slice to slice that is electrical, taken out before anything is judged.

Reads the friction force slice by slice, gives it as it is, or where it hums the mean of two slices: of 50 Hz that
leaves nothing where a slice takes 10 ms, of 60 Hz less than a third.
"""

import math

from scuffwatch.detect.smooth import Rate

_MEMORY_S, _KNOWN_AFTER = 20.0, 200
_OUTLIER_TIMES = 4.0
_HUMS_RATIO, _SILENT_RATIO = 0.8, 0.9
"""Steps over two slices against those over one: 1 in white noise, more in anything slower, 0.62 at 60 Hz and next to
nothing at 50 Hz. Derived here for slices of 10 ms."""
_LONGEST_SLICE_S = 0.0125


class Hum:
    """Follow how the force steps over one slice and over two.

    What survives a call: the last two values, both mean steps, whether it hums.

    Attributes:
        hums: whether the mean of two slices is given.
    """

    def __init__(self) -> None:
        self._rate = Rate(_MEMORY_S)
        self._last_n = self._before_n = math.nan
        self._given_n = math.nan
        self._step_n = self._step_of_two_n = 0.0
        self._seen = 0
        self.hums = False

    def take(self, force_n: float, fresh: bool, dt_s: float) -> float:
        """Give the force without hum, N; NaN where there is none.

        Args:
            force_n: with its sign, N; NaN where there is none.
            fresh: whether it is new in the slice; a held value says nothing.
            dt_s: length of the slice, s.
        """
        if force_n != force_n or dt_s > _LONGEST_SLICE_S:
            self._last_n = self._before_n = math.nan
            return force_n
        last_n, before_n = self._last_n, self._before_n
        if not fresh:
            return self._given_n if last_n == last_n else force_n
        self._before_n, self._last_n = last_n, force_n
        if before_n == before_n:
            self._learn(abs(force_n - last_n), abs(force_n - before_n), dt_s)
        given_n = self._given_n = 0.5 * (force_n + last_n) if self.hums and last_n == last_n else force_n
        return given_n

    def _learn(self, step_n: float, step_of_two_n: float, dt_s: float) -> None:
        mean_n, share = self._step_n, self._rate.share(dt_s)
        if self._seen < _KNOWN_AFTER:
            self._seen += 1
            share = max(share, 1.0 / self._seen)
        else:
            most_n = _OUTLIER_TIMES * mean_n
            if step_n > most_n:
                step_n = most_n
            if step_of_two_n > most_n:
                step_of_two_n = most_n
            ratio = _SILENT_RATIO if self.hums else _HUMS_RATIO
            self.hums = self._step_of_two_n < ratio * mean_n
        self._step_n = mean_n + (step_n - mean_n) * share
        self._step_of_two_n += (step_of_two_n - self._step_of_two_n) * share
