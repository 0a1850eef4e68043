"""Load in motion: whether a weight is being set down, lifted or bumped just now, within hundredths of a second.

Reads the normal load slice by slice. The stages themselves are told by `load_steps`, in its own time.
"""

import math

from scuffwatch.detect.noise import Noise
from scuffwatch.detect.smooth import share_of

_FAST_S, _LEVEL_S = 0.05, 1.0
_FAR_SHARE, _FAR_S = 0.15, 0.2
"""A level so far away is left faster: else the first weight of a run would be in motion for 4 s."""
_STEP_SHARE = 0.1
"""A hand takes the load so far from its mean over 1 s at once; a cell that drifts never does."""
_SIGMAS, _NOISY_TIMES = 3.0, 1.5
_QUIET_S = 0.8
_NEAR_S, _RESTS_S = 0.2, 0.25
_HOLD_MAX_S = 8.0
_SWING_MEMORY_S, _SWING_TIMES, _SWING_MOST = 5.0, 5.5, 0.9
"""Of its mean distance from its level a noisy load is seldom so many times away: 4.4 standard deviations. And what
counts of a distance is at most so many times the least that is a motion."""
_ANEW_TIMES = 3.0
"""A level that is left by so many limits is left anew, however long it has been swinging."""


class LoadMotion:
    """Follow the load.

    In motion where a fast mean is 4 % of the level away from a slower one; for so long after that until it has been
    quiet for 0.8 s, but no longer than 8 s at a stretch: a scuffing in the middle of a bouncing lever must not wait.
    A lever that goes on bouncing is usual then, and only what is far beyond its bounce is a weight again. What stays on
    one side of its level is no bounce.

    Attributes:
        moving: whether the load is, or just was, in motion.
        has_stepped: whether the last motion took the load so far at once as a hand does, and no cell that drifts.
        level_n: mean of the load over 1 s, N; NaN without a load signal.

    Args:
        share, least_n: the load is in motion where it is this share of its level and this much away from it.
    """

    def __init__(self, share: float = 0.04, least_n: float = 0.3) -> None:
        self._share, self._least_n = share, least_n
        self._near_share = 0.0
        self._dt_s = self._fast_share = self._level_share = self._far_share = self._swing_share = 0.0
        self._fast_n = math.nan
        self.level_n = math.nan
        self._noise = Noise()
        self._swing_n = self._one_sided_n = 0.0
        self._quiet_s = math.inf
        self._near_n, self._still_s = math.nan, 0.0
        self._moved_s = 0.0
        self.moving = self.has_stepped = False

    @property
    def sigma_n(self) -> float:
        """Give the standard deviation of one value by its noise."""
        return self._noise.sigma

    @property
    def rests(self) -> bool:
        """Say whether the load stands still, though its mean over 1 s has not come up to it yet."""
        return self._still_s >= _RESTS_S

    @property
    def is_noisy(self) -> bool:
        """Say whether noise hides a weight's first tenths: a motion shows later than on the friction cell."""
        return _SIGMAS * self._noise.sigma > _NOISY_TIMES * self._share * abs(self.level_n)

    def forget(self) -> None:
        """Begin anew after a hole."""
        self._fast_n = self.level_n = math.nan

    def update(self, load_n: float, fresh: bool, dt_s: float) -> None:
        """Take the slice's load; NaN where there is none: then nothing moves that anybody could see."""
        if load_n != load_n:
            self.moving = False
            self.forget()
            return
        if dt_s != self._dt_s:
            self._take_length(dt_s)
        if self._fast_n != self._fast_n:
            self._fast_n = self._near_n = self.level_n = load_n
        if fresh:
            self._noise.learn(load_n, dt_s)
        level_n, swing_n = self.level_n, self._swing_n
        fast_n = self._fast_n = self._fast_n + (load_n - self._fast_n) * self._fast_share
        side_n = fast_n - level_n
        away_n = abs(side_n)
        far = away_n > _FAR_SHARE * abs(level_n)
        level_n += (load_n - level_n) * (self._far_share if far else self._level_share)
        self.level_n = level_n
        least_n = self._least_away_n(abs(level_n))
        near_n = self._near_n
        away_from_near_n = fast_n - near_n
        self._near_n = near_n + (load_n - near_n) * self._near_share
        is_still = -least_n < away_from_near_n < least_n
        self._still_s = self._still_s + dt_s if is_still else 0.0
        limit_n = _SWING_TIMES * (swing_n - abs(self._one_sided_n))
        if limit_n <= least_n:
            limit_n = least_n
        most_n = _SWING_MOST * least_n
        if away_n > most_n:
            side_n = most_n if side_n > 0.0 else -most_n
        self._swing_n = swing_n + (abs(side_n) - swing_n) * self._swing_share
        self._one_sided_n += (side_n - self._one_sided_n) * self._swing_share
        if away_n > limit_n:
            self._quiet_s = 0.0
            if not self.moving:
                self.has_stepped = False
            if away_n > _STEP_SHARE * abs(level_n):
                self.has_stepped = True
            if away_n > _ANEW_TIMES * limit_n and self._moved_s > _HOLD_MAX_S:
                self._moved_s = 0.0
        else:
            self._quiet_s += dt_s
            if self._quiet_s >= _QUIET_S:
                self.moving, self._moved_s = False, 0.0
                return
        self._moved_s += dt_s
        self.moving = self._moved_s <= _HOLD_MAX_S

    def _take_length(self, dt_s: float) -> None:
        """Work out what each mean takes of a slice; slices stay as long as they are."""
        self._dt_s = dt_s
        self._fast_share, self._level_share = share_of(dt_s, _FAST_S), share_of(dt_s, _LEVEL_S)
        self._near_share = share_of(dt_s, _NEAR_S)
        self._far_share, self._swing_share = share_of(dt_s, _FAR_S), share_of(dt_s, _SWING_MEMORY_S)

    def _least_away_n(self, level_n: float) -> float:
        """Give how far from its level a load in motion is at least, N."""
        least_n, noise_n = self._share * level_n, _SIGMAS * self._noise.sigma
        if noise_n > least_n:
            least_n = noise_n
        return least_n if least_n >= self._least_n else self._least_n
