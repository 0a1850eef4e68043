"""What the contact's friction tells of the motor: whether it led a fall of speed, explains a current, or is gone.

Reads slices, gives numbers and comparisons to `MotorSigns`. Decides nothing.
"""

import math

from scuffwatch.detect.mechanics import FILM_MOST_COEFFICIENT, LIGHT_SHARE
from scuffwatch.detect.noise import Noise
from scuffwatch.detect.smooth import Usual
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, Quality, Reason
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

_LEAST_COEFFICIENT = 0.02
_LEAD_SLICES = 3
_MATURE_S = 1.0
_NEW_LEVEL_S = 4.0
_WEIGHT_BEFORE_S = 2.0
"""Friction that has gone up with a weight, or so soon after one, and has not risen on for 4 s is a level of its own."""
EXPLAINS_RATIO = 1.3
"""Friction or a load so many times usual explains a current that has risen."""
_FALLEN_SHARE = 0.6
SIGMAS = 4.0
"""What is not so far out of its noise has not changed."""
_BAD = Quality.BAD


class ContactFriction:
    """Friction as the motor feels it, and what is usual for it.

    Args:
        ratio, least_n: `MotorParams.friction_ratio` and `friction_least_n`.

    What survives a call: what is usual, and how many slices in a row it was above that.

    Attributes:
        now: of the slice: the coefficient, or the magnitude of the force where no load was ever measured; NaN where it
            is not fitted, BAD or without a load.
        name: its channel.
        usual: its mean while the motor runs.
        led: its value when it was last well above its usual value while the speed was right.
    """

    def __init__(self, ratio: float, least_n: float) -> None:
        self._more_ratio, self._least_n = ratio - 1.0, least_n
        self.now = self.led = math.nan
        self.name, self._least = FRICTION_COEFFICIENT, _LEAST_COEFFICIENT
        self.usual, self._recent = Usual(15.0), Usual(2.0)
        self._noise = Noise()
        self._has_load = False
        self.forget()

    def forget(self) -> None:
        """Forget what was usual."""
        self.usual.forget()
        self._recent.forget()
        self._lead = 0
        self._since_weight_s = math.inf

    def read(self, s: Slice) -> None:
        """Take the friction of a slice."""
        get = s.channels.get
        self.name, self._least = FRICTION_COEFFICIENT, _LEAST_COEFFICIENT
        friction = get(FRICTION_COEFFICIENT)
        if friction is not None and not self._has_load and _tells_of_load(friction):
            self._has_load = True
            self.forget()
        if not self._has_load:
            self.name, self._least = FRICTION_FORCE, self._least_n
            friction = get(FRICTION_FORCE)
        self.now = math.nan if friction is None or friction.quality is _BAD else abs(friction.mean)

    def learn(self, dt_s: float, slower: float, load_n: float, most_load_n: float, is_same_load: bool) -> None:
        """Learn from a slice in which the motor runs as it should.

        Args:
            dt_s: length of the slice, s.
            slower: how many times slower than usual.
            load_n, most_load_n: load now, and the largest so far, N.
            is_same_load: whether that is as usual.
        """
        now = self.now
        if now == now:
            self._noise.learn(now, dt_s)
        self._since_weight_s = self._since_weight_s + dt_s if is_same_load else 0.0
        self._recent.learn(now, dt_s, slower)
        if not self._is_up(load_n, most_load_n):
            self._lead = 0
            self.usual.learn(now, dt_s)
            return
        self._lead, self.led = self._lead + 1, now
        self.usual.learn(now, dt_s, 4.0)
        lasted_s = self._lead * dt_s
        is_weights = self._since_weight_s <= lasted_s + _WEIGHT_BEFORE_S
        if lasted_s >= _NEW_LEVEL_S and is_weights and not self.explains:
            self.usual.seed(self._recent.value, _MATURE_S)
            self._lead = 0

    def _is_up(self, load_n: float, most_load_n: float) -> bool:
        """Say whether friction is well above its usual value, which must have been learned for a second.

        On a hanger alone, after heavier loads, a few newtons of it are what the cell's zero is off by.
        """
        usual, known = self.usual.value, self.usual.learned_s >= _MATURE_S
        rise = self.now - usual
        if not known or not rise > self._least or not rise > self._more_ratio * usual:
            return False
        if load_n < LIGHT_SHARE * most_load_n and rise * load_n < self._least_n:
            return False
        return rise > self._noise_most

    @property
    def _noise_most(self) -> float:
        """Give the change of friction that its noise may make; nothing before the noise is known."""
        return SIGMAS * self._noise.sigma if self._noise.is_known else 0.0

    @property
    def rubs(self) -> bool:
        """Say whether the contact rubs as one that slides does."""
        return self.now > self._least

    @property
    def is_boundary_film(self) -> bool:
        """Say whether the coefficient is known, and no more than a healthy boundary film's."""
        return self.name == FRICTION_COEFFICIENT and self.now < FILM_MOST_COEFFICIENT

    @property
    def share(self) -> float:
        """Give friction over what it was of late; 1 where either is not known."""
        return ratio(self.now, self._recent.value)

    @property
    def has_fallen(self) -> bool:
        """Say whether friction has fallen, out of its noise, as on a ring that no longer rubs."""
        recent = self._recent
        fallen = self.now < _FALLEN_SHARE * recent.value and recent.learned_s >= _MATURE_S
        return fallen and recent.value - self.now > self._noise_most

    @property
    def explains(self) -> bool:
        """Say whether friction has risen with the current: a weight, or scuffing, but nothing from outside."""
        return self.now > self.explains_limit

    @property
    def explains_limit(self) -> float:
        """Give the friction that explains a higher current: well above the recent one, and out of its noise."""
        recent = self._recent.value
        return max(EXPLAINS_RATIO * recent, recent + self._noise_most)

    @property
    def has_led(self) -> bool:
        """Say whether friction had risen before the speed fell."""
        return self._lead >= _LEAD_SLICES

    @property
    def has_moved(self) -> bool:
        """Say whether friction has changed by half of its usual value, either way."""
        usual = self.usual.value
        return abs(self.now - usual) > max(self._more_ratio * usual, self._least, self._noise_most)


def ratio(now: float, usual: float) -> float:
    """Give one over the other; 1 where either is not known or nothing."""
    return now / usual if usual > 0.0 and now > 0.0 else 1.0


def _tells_of_load(coefficient: ChannelSlice) -> bool:
    """Say whether the load is measured, though there may be none now: then there is no coefficient, and none is BAD."""
    return coefficient.quality is not _BAD or coefficient.reason is Reason.MISSING
