"""Start permissive: when a motor that draws current has come to speed, and when it has not.

Reads the motor's signs, says how the start stands.
"""

import math
from enum import Enum

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_signs import MotorSigns
from scuffwatch.detect.smooth import Usual

STEADY_SHARE = 0.17
_STEADY_SPEED_SHARE = 0.1
_STEADY_MEMORY_S = 0.3
_GOES_ON_MEMORY_S, _GOES_ON_SHARE = 2.0, 0.05
_LOADED_S, _SLOW_S = 3.0, 10.0
"""A motor whose weight keeps it below its speed has started once it goes on evenly for so long, below half for the
second: else nothing would ever watch the contact."""
_STEP_SHARE = 0.75
"""Of its speed; what swings by more has no speed to show."""
NOW_MEMORY_S = 0.1
"""A mean over so long tells a settled current from its noise, which on a small motor may be a fifth of it."""
_FALLEN_SHARE = 0.7
_NO_SURGE_TIMES = 5.0
_UNKNOWN_TIMES, _GENTLE_TIMES = 3.0, 1.3
_NO_SPEED_TIMES = 2.0
_AS_RUNNING_TIMES = 1.2
_DOUBTED_TIMES = 2.0
_ABOVE_ZERO_TIMES = 1.5
"""A surge of less over what may be the transducer's zero may be its noise."""
_RUBS_S = 60.0
"""A pin presses for less on a ring that stands before its first start; one that rubs goes on."""
_FIRST_S, _GROWN_SIGMAS = 1.0, 3.0
"""What is there in the first second was there before; what is more must be so far out of the noise of one value."""
_OUT_OF_NOISE = 5.0
"""Standard deviations; one value of a noisy current that is less above its mean was no surge."""
_HIGHER = 1.25
"""A surge grows by so much, else it is its noise."""


_TURNED_TIMES, _HELD_AGAIN_S = 20.0, 2.0
"""Times the least speed that counts as turning; a ring that was so fast and stands under current is held: one that is
being started does not stop again."""


class Start(Enum):
    """How a start stands."""

    GOES_ON = "goes on"
    STARTED = "started"
    STOOD_STILL = "stood still"
    NO_SPEED = "runs by its current, without speed"
    BLIND = "neither speed nor current"


class StartWatch:
    """Follow one start.

    STARTED: the speed or its mean was at `arm_share` of the set speed for `arm_s`; where the set speed is not known,
    steady for so long; below it, or swinging by one step of the tachometer, even for 3 s, and for 10 s below
    `stall_share` or where that is not known. Without a tachometer: the current has fallen to 70 % of its surge and its
    short mean has since held within 17 % for `arm_s`; where there was no surge, held for five times as long; but not
    while it is far more than the motor last ran at. STOOD_STILL: current flows, as much as one that is held draws, and
    the ring has not turned for `start_max_s`, three times that where nothing is known of the motor and its current came
    gently; without a tachometer, the current has not fallen and been far more than the motor last ran at for as long.
    NO_SPEED: the current has fallen, or is no more than a running motor's, and has held for twice `arm_s`, so the motor
    turns, and the tachometer has said for as long that it does not; or the ring stands by a tachometer that may have
    been lost at rest. What may be the transducer's zero is no start, where the ring has come to rest before the
    tachometer's eyes, or nothing else speaks against it.

    Args:
        params: see `MotorParams`.

    What survives a call: means and timers of the start.

    Attributes:
        lasted_s: time since the current came.
        still_s: time for which the ring has not turned.
        held_s: time for which the current has been one of a ring that is held, where there is no speed.
        at_rpm: the speed it has started at; its mean where the tachometer swings about it.
    """

    def __init__(self, params: MotorParams) -> None:
        self._params = params
        self._set_rpm = params.speed_set_rpm
        self._turning_rpm = params.turning_above_rpm
        self._current_a = Usual(_STEADY_MEMORY_S)
        self._now_a = Usual(NOW_MEMORY_S)
        self._speed_rpm, self._slow_rpm = Usual(_STEADY_MEMORY_S), Usual(_GOES_ON_MEMORY_S)
        self.begin()

    def begin(self, *, was_on: bool = False) -> None:
        """Begin with a new start.

        Args:
            was_on: whether the current was there from the first slice on: then nothing was switched on yet.
        """
        self._was_on, self._has_grown, self._grown_a = was_on, False, 0.0
        self._idle_s = self._age_s = 0.0
        self._first_a = math.inf
        self._current_a.forget()
        self._now_a.forget()
        self._speed_rpm.forget()
        self._slow_rpm.forget()
        self._even_s = self._at_speed_s = self._steady_s = self.still_s = self.held_s = self.lasted_s = 0.0
        self._step_rpm, self._last_rpm = math.inf, math.nan
        self.at_rpm = math.nan
        self._has_fallen = self._has_turned = self._was_fast = False
        self._high_a = 0.0

    def update(self, signs: MotorSigns, dt_s: float, is_at_rest: bool = False) -> Start:
        """Take the next slice's signs; their `surge_a` grows meanwhile.

        Args:
            signs: of the slice.
            dt_s: its length, s.
            is_at_rest: whether the ring was last seen standing, though its tachometer may have gone since.
        """
        self.lasted_s += dt_s
        self._age_s += dt_s
        self._follow_current(signs, dt_s)
        self._follow_growth(signs.noise_a)
        is_zero = self._is_zero(signs)  # no start yet, and so none that lasts too long
        if math.isnan(signs.speed_rpm):
            if math.isnan(signs.current_a):
                return Start.BLIND
            is_off = self._current_is_without_load() and signs.is_too_little(self._current_a.value)
            if is_off or (is_zero and is_at_rest):
                self.still_s = self.lasted_s = 0.0
                return Start.GOES_ON
            self.held_s = self.held_s + dt_s if self._draws_as_held(signs) else 0.0
            if self.held_s:
                return Start.STOOD_STILL if self.held_s >= self._params.start_max_s else Start.GOES_ON
            return Start.STARTED if self._current_has_settled(signs) else Start.GOES_ON
        if signs.speed_rpm > self._turning_rpm:
            self.still_s, self._has_turned = 0.0, True
            self._was_fast = self._was_fast or signs.speed_rpm > _TURNED_TIMES * self._turning_rpm
            return Start.STARTED if self._at_speed(signs, dt_s) else Start.GOES_ON
        self._at_speed_s = self._even_s = 0.0
        if math.isnan(signs.current_a):
            return Start.BLIND
        self.still_s = 0.0 if self._grows(signs.noise_a) else self.still_s + dt_s
        if is_zero or self._is_idle(signs):
            self.still_s = self.lasted_s = 0.0
            self._idle_s = self._idle_s + dt_s if signs.friction.rubs else 0.0
            return Start.NO_SPEED if self._idle_s >= _RUBS_S and not is_zero else Start.GOES_ON
        turns = self._current_has_fallen(signs) or self._current_is_a_running_motors(signs)
        if turns and min(self._steady_s, self.still_s) >= _NO_SPEED_TIMES * self._params.arm_s:
            return Start.NO_SPEED
        if self.still_s < self._still_most_s(signs) or self._current_is_without_load():
            return Start.GOES_ON
        # Its cable may have been torn while the ring stood: a drive that starts gently draws little more then.
        is_doubted = signs.speed_rests and self._current_a.value < _DOUBTED_TIMES * signs.ran_at_a
        return Start.NO_SPEED if is_doubted else Start.STOOD_STILL

    def _still_most_s(self, signs: MotorSigns) -> float:
        """Give for how long a ring may stand under current, s.

        Of a motor of which nothing is known, and whose current came gently, three times as long: on a drive's ramp a
        tachometer of one pulse a turn says nothing for ten seconds, and its current may be that of no load.
        """
        if self._was_fast and not self._current_has_fallen(signs):
            return _HELD_AGAIN_S
        is_known = self._params.no_load_current_a > 0.0 or signs.ran_at_a > 0.0
        mean_a = self._current_a.value
        is_gentle = signs.surge_a < max(_GENTLE_TIMES * mean_a, mean_a + _OUT_OF_NOISE * signs.noise_a)
        return self._params.start_max_s * (_UNKNOWN_TIMES if is_gentle and not is_known else 1.0)

    def hand_over(self, signs: MotorSigns) -> None:
        """Give the signs what the start has taught: the current it settled at, and whether there was a surge."""
        signs.usual_current_a.seed(self._current_a.value, self._params.arm_s)
        signs.surge_seen = self._current_has_fallen(signs)
        signs.started_a = self._current_a.value

    def _follow_current(self, signs: MotorSigns, dt_s: float) -> None:
        mean = self._current_a
        if math.isnan(signs.current_a):
            return
        mean.learn(signs.current_a, dt_s)
        self._now_a.learn(signs.current_a, dt_s)
        off_a = STEADY_SHARE * mean.value
        # A surge that begins late makes all that was steady before it no running motor.
        surges = signs.current_a > max(signs.surge_a, mean.value + off_a)
        steady = not surges and abs(self._now_a.value - mean.value) <= off_a
        signs.surge_a = max(signs.surge_a, signs.current_a)
        if signs.current_a > _HIGHER * self._high_a:
            self._high_a, signs.surge_at_s = signs.current_a, self.lasted_s
        # Nor does what was steady at the height of the surge count once the current falls from it.
        before, self._has_fallen = self._has_fallen, self._current_has_fallen(signs)
        steady = steady and before is self._has_fallen
        self._steady_s = self._steady_s + dt_s if steady else 0.0

    def _is_idle(self, signs: MotorSigns) -> bool:
        """Say whether the current may be all that a motor shows that was never switched on, for all that is known."""
        if self._params.no_load_current_a > 0.0:
            return False  # what its transducer's zero may be is known
        if signs.ran_at_a > 0.0:
            return signs.is_too_little(self._current_a.value)
        return self._was_on and not self._has_grown

    def _follow_growth(self, noise_a: float) -> None:
        """Follow whether the current has grown beyond what it was in its first second, out of its noise."""
        if not self._was_on or self._has_grown:
            return
        if self._age_s < _FIRST_S:
            self._first_a = self._current_a.value
        more_a = self._now_a.value - self._first_a
        self._has_grown = more_a > max((_HIGHER - 1.0) * self._first_a, _GROWN_SIGMAS * noise_a)

    def _grows(self, noise_a: float) -> bool:
        """Say whether the current has grown since it was last said to: a drive's ramp, and the ring will turn."""
        now_a = self._now_a.value
        if not now_a - self._grown_a > max((_HIGHER - 1.0) * self._grown_a, noise_a):
            return False
        self._grown_a = now_a
        return True

    def _current_has_fallen(self, signs: MotorSigns) -> bool:
        mean_a = self._current_a.value
        return mean_a < _FALLEN_SHARE * signs.surge_a and signs.surge_a - mean_a > _OUT_OF_NOISE * signs.noise_a

    def _current_is_a_running_motors(self, signs: MotorSigns) -> bool:
        """Say whether the current is no more than when this motor last ran, or without load: held it draws more."""
        return self._current_a.value <= _AS_RUNNING_TIMES * signs.ran_at_a or self._current_is_without_load()

    def _draws_as_held(self, signs: MotorSigns) -> bool:
        """Say whether the current has not fallen since it came, and is far more than when this motor last ran."""
        return not self._current_has_fallen(signs) and self._current_a.value >= signs.held_at_least_a

    def _current_is_without_load(self) -> bool:
        return self._current_a.value <= _AS_RUNNING_TIMES * self._params.no_load_current_a

    def _is_zero(self, signs: MotorSigns) -> bool:
        """Say whether the current is no more than a transducer may show beside a motor that is switched off.

        Without a surge before it, or a contact that rubs, that its tachometer does not show: else a motor may run.
        """
        p, mean_a = self._params, self._current_a.value
        if not mean_a < p.zero_most_a:
            return False
        if self._has_turned or mean_a < p.any_motors_a:
            return True
        surged = self._has_fallen and signs.surge_a > _ABOVE_ZERO_TIMES * p.zero_most_a
        return not (surged or signs.friction.rubs)

    def _current_has_settled(self, signs: MotorSigns) -> bool:
        times = 1.0 if self._current_has_fallen(signs) else _NO_SURGE_TIMES
        return self._steady_s >= times * self._params.arm_s

    def _at_speed(self, signs: MotorSigns, dt_s: float) -> bool:
        mean = self._speed_rpm
        mean.learn(signs.speed_rpm, dt_s)
        if math.isnan(self._set_rpm):
            reached = abs(signs.speed_rpm - mean.value) <= _STEADY_SPEED_SHARE * mean.value
        else:
            # A tachometer of few pulses swings by a fifth: where it swings below, its mean counts.
            reached = max(signs.speed_rpm, mean.value) >= self._params.arm_share * self._set_rpm
        self._at_speed_s = self._at_speed_s + dt_s if reached else 0.0
        if self._at_speed_s >= self._params.arm_s:
            self.at_rpm = signs.speed_rpm
            return True
        if self._goes_on_below_speed(signs, dt_s):
            self.at_rpm = self._slow_rpm.value
            return True
        return False

    def _goes_on_below_speed(self, signs: MotorSigns, dt_s: float) -> bool:
        """Say whether the ring goes on evenly at a speed that is not the set one.

        What counts few pulses over a gate swings by one of them for ever, which may be a third of the speed.
        """
        slow, p, speed_rpm = self._slow_rpm, self._params, signs.speed_rpm
        slow.learn(speed_rpm, dt_s)
        step_rpm = abs(speed_rpm - self._last_rpm)
        self._last_rpm = speed_rpm
        if 0.0 < step_rpm < self._step_rpm:
            self._step_rpm = step_rpm
        within_rpm = _GOES_ON_SHARE * slow.value
        if self._step_rpm < _STEP_SHARE * slow.value:
            within_rpm = max(within_rpm, self._step_rpm)
        is_even = abs(self._speed_rpm.value - slow.value) <= within_rpm
        self._even_s = self._even_s + dt_s if is_even else 0.0
        return self._even_s >= (_LOADED_S if slow.value >= p.stall_share * self._set_rpm else _SLOW_S)
