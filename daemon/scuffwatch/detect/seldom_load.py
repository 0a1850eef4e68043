"""A load that is read so seldom that a weight shows on the friction cell first.

Reads the load's channel, says whether what was found beside it counts: found before its next value, it has to be found
after it as well.
"""

import math

from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Quality

_OLD_S, _COMES_S = 0.25, 0.3
"""A load that is older may be behind; and one that comes again so long without being old is read often enough."""
_BAD = Quality.BAD


class SeldomLoad:
    """Follow the age of the load.

    What survives a call: whether it was old, what was found beside it then, and the time since.

    Attributes:
        is_old: whether the load is an old value: a weight may hang there that it does not show.
        comes: whether it was old until this slice.
    """

    __slots__ = ("_had_found", "_since_s", "comes", "is_old")

    def __init__(self) -> None:
        self.is_old = self.comes = False
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing has been found."""
        self._had_found, self._since_s = False, math.inf

    def take(self, load: ChannelSlice | None) -> None:
        """Take the load of a slice."""
        was_old = self.is_old
        self.is_old = load is not None and load.quality is not _BAD and load.age_s > _OLD_S
        self.comes = was_old and not self.is_old

    def counts(self, has_found: bool, dt_s: float) -> bool:
        """Say whether what was found in a slice counts; to be asked of every slice that is judged."""
        if self.comes:
            self._since_s = 0.0
        if self.is_old:
            self._had_found = has_found
            return False
        self._since_s += dt_s
        return self._had_found or self._since_s > _COMES_S
