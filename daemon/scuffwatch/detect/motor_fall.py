"""A running motor that loses speed: held still, its tachometer lost, or a normal stop.

Reads the motor's signs, says what the loss of speed is.
"""

import math
from enum import Enum

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_signs import MotorSigns

ABRUPT_S = 0.2
"""A speed that falls from 80 % to 50 % faster than this has not been coasting down under a drive's ramp."""
_SAME_LOW, _SAME_MOVED, _SAME_HIGH, _SAME_LED = 0.7, 0.9, 1.1, 1.2
"""Shares of its usual value within which the current is *as before*: alone, with friction moved, with friction led."""
_KEPT_SHARE = 0.9
"""A current that falls further than this since the speed went is a slow transducer after a normal stop."""
_AFTER_DIP_S = 1.0
_LED_S = 0.05
_RISEN_S = 0.25
"""A drive that brakes its ring draws a little more for so long; one that is held goes on doing so."""
_RAMP_S, _STANDS_S = 0.1, 0.3
"""A ramp takes so long from 80 to 50 % of the speed at least, and the current is gone so soon after its end."""
_SLOWS_S = 0.03
"""A speed that took so long from 80 to 50 % was seen to slow down; a lost tachometer goes at once."""
_RISE_SHARE = 0.1
"""A ring that has gained so much of its speed again is being started, not held."""
_GAINS_SHARE, _AFTER_GAIN_S = 0.01, 0.5
"""A ring that has gained so much of its speed again runs free; the surge that speeds it up is over so long after."""
_BRAKED_S = 1.0
"""A drive that brakes its ring to rest draws current as one that is held does, for less than this."""
_STALLS_S, _STILL_DRAWS, _SLOWED_VALUES = 2.0, 0.9, 4
"""A ring that took no longer from 80 to 50 %, and stands while its motor goes on drawing so much of what is usual, is
held still by a drive at its limit; a tachometer that drifts to nothing takes longer, and one that counts over a gate
and drops out shows fewer values on the way."""
_DROPS_OUT, _DROPOUT_S, _DROPOUTS_MEMORY_S = 2, 0.6, 300.0
"""A ring that was found standing so often, and was at its speed again within the second, has a loose tachometer: no
ring stops and starts so fast. Until so long after the last time, one that stands has to stand for longer than that."""
DOWN_SLICES = 3


class Fall(Enum):
    """What a loss of speed is."""

    NONE = "none: at speed"
    OPEN = "not decided"
    HELD_STILL = "held still under current"
    SPEED_LOST = "the tachometer"
    RESTART = "stopped and started again"
    STOP = "stopped"


class FallWatch:
    """Follow the speed from 80 % of its reference downwards. Below `stall_share` of it, in this order:

    - RESTART: the speed rises again by 10 %, or the current has fallen below 75 % of its mean, now or just before, as
      in a dip of the mains: no event;
    - OPEN for 0.6 s where the speed had been gone for less twice in five minutes;
    - HELD_STILL: current above 1.5 x its mean, at its limit, or as high as in the start surge; above 1.15 x its mean
      for 0.25 s where the speed was gone at once; friction that led, or is up, while the motor still pulls. It takes
      two speed samples, or one and three slices of high current, and with nothing on the ring a second: a drive may
      brake it;
    - after `speed_lost_s`, where the speed was gone at once and the current stayed: HELD_STILL where the current is
      10 % higher than usual, or friction has changed by half; else SPEED_LOST;
    - after `arm_s` without turning: HELD_STILL where it slowed down within 2 s and the motor has drawn its usual
      current ever since, and no friction goes on; else STOP, a drive's ramp to standstill.

    Args:
        params: see `MotorParams`.

    What survives a call: timers, the lowest speed and current since the speed went, and how often it was gone and back.

    Attributes:
        since_s: time since the motor was at speed.
    """

    def __init__(self, params: MotorParams) -> None:
        self._params = params
        self._turning_rpm = params.turning_above_rpm
        self._since_dip_s = self._since_gain_s = math.inf
        self._has_slowed = False
        self._dropouts, self._since_dropout_s = 0, math.inf
        self.begin()

    def begin(self) -> None:
        """Begin with a motor at speed."""
        self.since_s = self._fell_s = self._low_s = 0.0
        self._low_new = self._low_current_new = self._values = 0
        self._stands_s, self._value_rpm = 0.0, math.nan
        self._low_current_a = self._lowest_current_a = math.nan
        self._lowest_rpm = self._sagged_rpm = math.inf
        self._was_up = False

    @property
    def has_dipped(self) -> bool:
        """Say whether the current has dipped now or just before: what surges then is a restart."""
        return self._since_dip_s <= _AFTER_DIP_S

    @property
    def gains_speed(self) -> bool:
        """Say whether it has slowed and gains speed, or just did: its mains sagged, and nothing holds it."""
        return self._since_gain_s <= _AFTER_GAIN_S

    def update(self, signs: MotorSigns, reference_rpm: float, dt_s: float, *, has_slowed: bool = False) -> Fall:
        """Take the next slice's signs; the speed is known.

        Args:
            signs: of the slice.
            reference_rpm: the speed the motor is held against, r/min.
            dt_s: length of the slice, s.
            has_slowed: whether that has been taken down since the motor started: a tachometer may be drifting.
        """
        self._has_slowed = has_slowed
        self._since_gain_s += dt_s
        self._since_dropout_s += dt_s
        has_dipped = signs.down >= DOWN_SLICES and not signs.is_relieved
        self._since_dip_s = 0.0 if has_dipped else self._since_dip_s + dt_s
        if signs.speed_rpm >= self._params.arm_share * reference_rpm:
            if self.since_s:
                self._count_dropout()
                self.begin()
            return Fall.NONE
        if not self.since_s:
            self._was_up = signs.friction.explains
        self.since_s += dt_s
        if signs.speed_rpm != self._value_rpm:
            self._value_rpm = signs.speed_rpm
            self._values += 1
        self._sagged_rpm = min(self._sagged_rpm, signs.speed_rpm)
        if signs.speed_rpm > self._sagged_rpm + _GAINS_SHARE * reference_rpm:
            self._since_gain_s = 0.0
        if signs.speed_rpm >= self._params.stall_share * reference_rpm:
            return Fall.OPEN
        self._follow(signs, dt_s)
        rises = signs.speed_rpm > self._lowest_rpm + _RISE_SHARE * reference_rpm
        if rises or self.has_dipped:
            if rises and signs.speed_rpm >= self._params.stall_share * reference_rpm:
                self._count_dropout()
            return Fall.RESTART
        if self._is_loose and self._low_s <= _DROPOUT_S:
            return Fall.OPEN
        sure = self._low_new >= 2 or (self._low_new >= 1 and signs.up >= 3)
        sure = sure and (self._low_s >= _BRAKED_S or not signs.is_unloaded)
        if sure and (self._current_says_held(signs) or self._friction_says_held(signs)):
            return Fall.HELD_STILL
        return self._late(signs) if self._low_s >= self._params.speed_lost_s else Fall.OPEN

    @property
    def _is_loose(self) -> bool:
        """Say whether the speed was gone and back time and again of late."""
        return self._dropouts >= _DROPS_OUT and self._since_dropout_s <= _DROPOUTS_MEMORY_S

    def _count_dropout(self) -> None:
        """Count a speed that was at nothing and is back at once, while the current has never gone."""
        if self._lowest_rpm > self._turning_rpm or self._low_s > _DROPOUT_S or self.has_dipped:
            return
        self._dropouts = self._dropouts + 1 if self._since_dropout_s <= _DROPOUTS_MEMORY_S else 1
        self._since_dropout_s = 0.0

    def _follow(self, signs: MotorSigns, dt_s: float) -> None:
        if self._low_s == 0.0:
            self._fell_s = self.since_s
            self._low_current_a = self._lowest_current_a = signs.steady_a
        self._low_s += dt_s
        self._low_new += signs.speed_new
        self._low_current_new += signs.current_new
        self._stands_s = self._stands_s + dt_s if signs.speed_rpm <= self._turning_rpm else 0.0
        self._lowest_rpm = min(self._lowest_rpm, signs.speed_rpm)
        self._lowest_current_a = min(self._lowest_current_a, signs.steady_a)

    def _late(self, signs: MotorSigns) -> Fall:
        same = signs.current_share
        if same >= _SAME_LOW and self._gone_at_once():
            rose = signs.rise_share >= _SAME_HIGH or (signs.friction.has_moved and same >= _SAME_MOVED)
            rose = rose or signs.current_beyond  # it may draw any current: none is as before
            return Fall.HELD_STILL if rose else Fall.SPEED_LOST
        if self._low_s < self._params.arm_s or signs.speed_rpm > self._turning_rpm:
            return Fall.OPEN
        was_seen = not self._has_slowed and self._fell_s <= _STALLS_S
        was_seen = was_seen and (self._values >= _SLOWED_VALUES or signs.rose_beyond)
        if not was_seen or self._rubs_on(signs) or not self._still_draws(signs):
            return Fall.STOP
        return Fall.HELD_STILL if self._stands_s >= self._params.arm_s else Fall.OPEN

    def _rubs_on(self, signs: MotorSigns) -> bool:
        """Say whether friction is measured and has not moved: then the ring may turn on beside a lost tachometer."""
        return signs.friction.now == signs.friction.now and not signs.friction.has_moved

    def _still_draws(self, signs: MotorSigns) -> bool:
        """Say whether the motor has drawn its usual current ever since the speed fell below half; no stop does."""
        draws = self._lowest_current_a >= _STILL_DRAWS * signs.usual_current_a.value
        return draws and self._low_current_new >= 2 and (not signs.current_beyond or signs.rose_beyond)

    def _current_says_held(self, signs: MotorSigns) -> bool:
        if self._fell_s > _RAMP_S and self._is_a_films(signs) and signs.friction.explains:
            return False
        if signs.up >= 2 and signs.up_new >= 1:
            return True
        return signs.risen >= 2 and self._low_s >= _RISEN_S and self._gone_at_once()

    def _is_a_films(self, signs: MotorSigns) -> bool:
        """Say whether what drags is no more than a film that thins, as somebody or a ramp takes the speed away."""
        return signs.friction.is_boundary_film and self._stands_s <= _STANDS_S

    def _friction_says_held(self, signs: MotorSigns) -> bool:
        """Say whether friction led and the motor still pulls, or nothing is known of its current."""
        if self._is_a_films(signs):
            return False
        same = signs.current_share
        # A motor at the limit of its drive pulls no more, and slows. On a normal way to rest friction rises only then.
        if self._was_up and signs.friction.explains and same >= 1.0 and self._fell_s >= _SLOWS_S:
            return True
        if not signs.friction.has_led:
            return False
        if math.isnan(same) or same > _SAME_LED:
            return True
        return same >= _SAME_LOW and self._low_s >= _LED_S and self._gone_at_once()

    def _gone_at_once(self) -> bool:
        """Say whether the speed fell abruptly while the current, seen since, did not follow it."""
        kept = self._lowest_current_a >= _KEPT_SHARE * self._low_current_a
        return self._fell_s <= ABRUPT_S and kept and self._low_current_new >= 2
