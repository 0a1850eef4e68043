"""A contact that seems to rub and that nothing has watched yet: then scuffing would not be seen, and that is said.

Reads slices, and what motor and scuffing watch make of them; says whether it is so. It comes of a load that reads as
nothing, or of a motor that is never seen to run.
"""

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import NORMAL_LOAD, Quality
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

_TOLD_S = 60.0
"""A ring may turn for less before its first weight is set down (common practice, no source)."""
_WATCHED_S = 5.0
"""What stands out of a cell's noise for less is no load."""
_RUBS_COEFFICIENT = 0.02
_BAD = Quality.BAD


class Unwatched:
    """Count for how long.

    Args:
        knows_cell: whether the load cell's range is stated: then a ring that turns under nothing waits for its first
            weight.

    What survives a call: the time, and whether the contact has ever been watched.

    Attributes:
        has_been_watched: whether it ever was.
    """

    __slots__ = ("_knows_cell", "_unwatched_s", "_watched_s", "has_been_watched")

    def __init__(self, *, knows_cell: bool) -> None:
        self._knows_cell = knows_cell
        self.has_been_watched, self._unwatched_s, self._watched_s = False, 0.0, 0.0

    def take(self, s: Slice, *, watches: bool, turning: bool | None) -> None:
        """Take the next slice; none need be given once the contact has been watched.

        Args:
            s: the slice.
            watches: whether the contact is watched for scuffing.
            turning: whether the ring turns; None where it is not known.
        """
        self._watched_s = self._watched_s + s.duration_s if watches else 0.0
        if watches:
            self.has_been_watched = self._watched_s >= _WATCHED_S
        elif _rubs(s) if not turning else not self._knows_cell and NORMAL_LOAD in s.channels:
            self._unwatched_s += s.duration_s

    @property
    def is_told(self) -> bool:
        """Say whether it has been so for a minute, and never otherwise."""
        return not self.has_been_watched and self._unwatched_s >= _TOLD_S


def _rubs(s: Slice) -> bool:
    friction = s.channels.get(FRICTION_COEFFICIENT)
    return friction is not None and friction.quality is not _BAD and abs(friction.mean) >= _RUBS_COEFFICIENT
