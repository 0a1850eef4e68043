"""Weights that nobody measured: where no load is fitted, a weight set down looks like a rise of the drag.

Reads the drag while the load is not measured, gives whether it is in motion, and what rise may still be a weight.
"""

import math

from scuffwatch.detect.load_motion import LoadMotion

_MOTION_SHARE = 0.12
_ACCEPT_S = 3.0
"""A level that has been followed for so long was a weight's."""
_WEIGHT_RATIO = 1.1


class UnseenWeights:
    """Follow the drag's level as if it were the load's.

    Args:
        weight_times: a rise of more than this many of the largest weights seen is none.
        weights_least: before so many have been seen, any rise may be one.

    What survives a call: the level, the largest step that was a weight, how many there were.

    Attributes:
        is_open: whether the present level has not yet shown that it stays.
    """

    def __init__(self, weight_times: float, weights_least: int) -> None:
        self._weight_times, self._weights_least = weight_times, weights_least
        self._motion = LoadMotion(_MOTION_SHARE, 0.0)
        self._level = self._largest_step = 0.0
        self._weights = 0
        self._followed_s = 0.0

    @property
    def moving(self) -> bool:
        """Say whether the drag is, or just was, on its way to another level."""
        return self._motion.moving

    @property
    def is_open(self) -> bool:
        """Say whether the present level has not yet shown that it stays."""
        return self._followed_s < _ACCEPT_S

    def forget(self) -> None:
        """Begin anew after a hole."""
        self._motion.forget()

    def update(self, drag: float, fresh: bool, dt_s: float) -> None:
        """Take the slice's drag; NaN where the load is measured or there is no drag."""
        self._motion.update(drag, fresh, dt_s)

    def leave_level(self) -> None:
        """Say that the level has been left."""
        self._followed_s = 0.0

    def stay(self, dt_s: float, is_weight: bool) -> None:
        """Say that the level has lasted another slice; `is_weight`: no load has ever been measured."""
        before_s, self._followed_s = self._followed_s, self._followed_s + dt_s
        level = self._motion.level_n
        if before_s >= _ACCEPT_S or self.is_open or not is_weight or level != level:
            return
        self._weights += level > _WEIGHT_RATIO * self._level
        self._largest_step = max(self._largest_step, level - self._level)
        self._level = level

    @property
    def limit(self) -> float:
        """Give the rise, natural logarithm, beyond which it is no weight; infinite before enough have been seen."""
        if self._weights < self._weights_least:
            return math.inf
        return math.log(1.0 + self._weight_times * self._largest_step / max(self._level, 1e-9))
