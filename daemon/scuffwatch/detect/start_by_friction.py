"""Starts of the ring where neither speed nor current tells of them: a rise of friction that may be one.

Reads the friction track slice by slice, says which rise may be a start and when it has become usual.
"""

import math

from scuffwatch.detect.scuffing_trips import LOG_BOUNDARY
from scuffwatch.detect.track import Track

_MOST = math.log(1.75) + LOG_BOUNDARY
"""A ring that begins to turn may break away at three quarters more than a boundary film's friction."""
_RISES, _FALLS, _LASTS_S = 0.2, 0.3, 1.0
"""Natural logarithms: a rise of so much may be a start, and friction that has fallen by so much a ring at rest."""


class StartByFriction:
    """Follow friction on a rig that has no other sign of motion.

    Only the first rise, or the first after friction has fallen, may be a start: a ring that turns does not start.

    What survives a call: for how long friction has fallen, or has been up, and whether the ring may stand.
    """

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Begin anew: the ring may stand."""
        self._up_s = self._fallen_s = 0.0
        self._may_stand = True

    def is_start(self, track: Track, has_load: bool, dt_s: float) -> bool:
        """Take the next slice; say whether what is above usual now may be a start."""
        self._fallen_s = self._fallen_s + dt_s if track.mean - track.base <= -_FALLS else 0.0
        self._may_stand = self._may_stand or self._fallen_s >= _LASTS_S
        starts = has_load and self._may_stand and track.fast <= _MOST and track.fast - track.base >= _RISES
        self._up_s = self._up_s + dt_s if starts else 0.0
        return starts

    def has_become_usual(self) -> bool:
        """Say, once, that the start has lasted long enough: what it has come to is usual on the ring that turns now."""
        if self._up_s < _LASTS_S:
            return False
        self._up_s, self._may_stand = 0.0, False
        return True
