"""Hold a value that jumps back for one value: an electrical spike is gone by then, a weight still hangs there.

Reads values of one channel, gives values that can be believed.
"""

import math

from scuffwatch.detect.noise import Noise

_JUMP_SHARE, _JUMP_SIGMAS = 0.2, 8.0
"""Of the larger of both values, and of the noise of one."""
_LONGEST_S = 0.02
"""Of slower rows one is as long as a rise that trips: there nothing is held back."""


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
