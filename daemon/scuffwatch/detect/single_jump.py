"""Hold a value that jumps back for one value: an electrical spike is gone by then, a weight still hangs there.

Reads values of one channel, gives values that can be believed; of a slow reading that is held its readings.
"""

import math

from scuffwatch.detect.noise import Noise

_JUMP_SHARE, _JUMP_SIGMAS = 0.2, 8.0
"""Of the larger of both values, and of the noise of one."""
_LONGEST_S = 0.02
"""Of slower rows one is as long as a rise that trips: there nothing is held back."""
_READING_SHARE, _READING_SIGMAS, _READING_TIMES = 0.3, 5.0, 1.5
_ROWS_LEAST = 0.6
"""The same for a reading that is held in the rows; one that stays for more than so many times as long is another, and
no other comes within less than so much of it."""


class SingleJump:
    """Take out spikes of one value.

    What survives a call: the noise, and the last value given.

    Attributes:
        has_held: whether the last value was held back; the next one is taken as it comes.
    """

    __slots__ = ("_last", "_noise", "has_held")

    def __init__(self) -> None:
        self._noise = Noise()
        self._last = math.nan
        self.has_held = False

    def take(self, value: float, fresh: bool, dt_s: float) -> float:
        """Give the value, or the last one where it has jumped just now.

        Args:
            value: of a slice.
            fresh: whether it is new in it.
            dt_s: length of the slice, s.
        """
        last, noise = self._last, self._noise
        if not fresh and last == last:
            return last
        away, size = abs(value - last), abs(value)
        if abs(last) > size:
            size = abs(last)
        jumps = away > _JUMP_SHARE * size and away > _JUMP_SIGMAS * noise.sigma and noise.is_known
        self.has_held = jumps and not self.has_held and dt_s <= _LONGEST_S
        if self.has_held:
            return last
        noise.learn(value, dt_s)
        self._last = value
        return value


class SingleReading:
    """Take out spikes of one reading of a converter that is slower than the rows, and held in them.

    What survives a call: the reading that is given, the one now, and for how many rows it has been away.
    """

    __slots__ = ("_away_rows", "_given", "_reading")

    def __init__(self) -> None:
        self._given = self._reading = math.nan
        self._away_rows = 0

    def take(self, value: float, noise: Noise) -> float:
        """Give the value, or the reading before where it has jumped with this one.

        Args:
            value: of a slice.
            noise: of the channel; says for how many rows a reading is held.
        """
        given, held_rows = self._given, noise.held_rows
        is_next, self._reading = value != self._reading, value
        if not held_rows or value == given:
            self._given, self._away_rows = value, 0
            return value
        away, size = abs(value - given), abs(given) if abs(given) > abs(value) else abs(value)
        if away > _READING_SHARE * size and away > _READING_SIGMAS * noise.sigma:
            self._away_rows += 1
            # What changes sooner than a reading can is a spike of rows.
            is_second = is_next and self._away_rows > _ROWS_LEAST * held_rows
            if not is_second and self._away_rows <= _READING_TIMES * held_rows:
                return given
        self._given, self._away_rows = value, 0
        return value
