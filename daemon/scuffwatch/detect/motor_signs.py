"""What one slice shows of the motor: speed, current, friction, load, and what is usual for each of them.

Reads slices, gives numbers and counts to `MotorWatch`. Decides nothing.
"""

import math

from scuffwatch.detect.contact_friction import EXPLAINS_RATIO, SIGMAS, ContactFriction, ratio
from scuffwatch.detect.drive_acts import DriveActs
from scuffwatch.detect.held_column import HeldColumn
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.noise import Noise
from scuffwatch.detect.off_current import OffCurrent
from scuffwatch.detect.smooth import Rate, Usual
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import MOTOR_CURRENT, NORMAL_LOAD, RING_SPEED, Quality, Reason

_MATURE_S = 1.0
DOWN_SHARE = 0.75
_RISEN_RATIO = 1.15
_AS_AT_START = 0.9
_UNUSUAL_LOW = 0.8
_UNUSUAL_SLOWER = 5.0
_BLIND_SHARE = 0.85
_NOISY_SHARE, _LEVEL_MEMORY_S = 0.3, 0.2
_BEFORE_MEMORY_S = 0.3
_LOAD_SIGMAS, _UNLOADED_SHARE = 5.0, 0.02
_HARD_START_TIMES, _HARD_START_S = 2.5, 0.3
"""A surge of less over the current the start settles at, or one that came later, was the drive's: a weight may draw as
much. Only a motor switched straight on shows at once, but for its transducer's lag, what it draws when it is held."""
_UP_SLICES = 3
_RAN_LEAST_S = 2.0
_SAME_LOAD_SHARE, _LOAD_TIMES_MOST = 0.7, 3.0
_OFF_SHARE, _OFF_UNSEEN_SHARE = 0.5, 0.2
_RELIEVED_SHARE = 0.9
"""Of the usual load; what is less has gone, or is on its way."""
_SLOWED_SHARE = 0.95
"""Of its usual speed; a ring that turns so much slower feels what its motor draws."""
_ROSE_RATIO, _BELIEVED_BEYOND_S = 1.05, 20.0
"""A current whose last third of a second was so much above its usual value rose to the end of its range."""
_FAR_BEYOND = 1.25
"""As many times the current beyond which it is a jam: then it is one though friction has risen by a third or more."""
_HELD_TIMES, _HELD_UNSEEN_TIMES = 4.0, 6.0
"""Times what the motor last ran at: so much that does not fall is drawn by a ring that is held as it is switched on."""
_COASTS_SHARE = 0.9
"""Of its usual speed; a ring that turns slower beside a current of nothing has been switched off."""
_OFF_S, _NEARLY_OFF_S = 0.3, 1.0
"""So long below half of what is off, or below all of it: the noise of a zero of that size is there for less."""
_STEADY_SHARE = 0.1
"""Of its usual value; a running motor's current with no more noise is held against it as it is: a mean misses a dip."""
_BAD = Quality.BAD
"""By a name of its own: to look it up in its class several times a slice takes longer than the comparison."""


class MotorSigns:
    """The motor's quantities of the last slice, and what is usual for them.

    A quantity is NaN where its channel is not fitted or BAD, so every comparison with it is false.

    Args:
        params: see `MotorParams`.

    What survives a call: what is usual, and how many slices or samples in a row showed something.

    Attributes:
        speed_rpm, current_a, load_n: of the slice.
        friction: of the contact, see `ContactFriction`.
        speed_seen_rpm: the speed as measured, while `speed_rpm` is NaN because the tachometer is distrusted.
        distrust_speed: set by `MotorWatch`.
        current_age_s: age of the current.
        current_beyond: whether the current is above its range, and believed only beside speed or friction.
        speed_rests: whether the tachometer, which has shown the ring turn before, says nothing but 0; it is believed.
        current_rests: whether the current says nothing but its zero, and did so on a ring that was coming to rest.
        speed_new, current_new: whether the slice has a new sample of them.
        usual_speed_rpm, usual_current_a, usual_load_n: means while the motor runs.
        on, off: slices in a row in which the current was above, or not above, its off value.
        has_been_off, has_turned: whether the current ever was, and the ring ever did by its tachometer.
        up, up_new: slices in a row, and new samples in them, in which the current speaks for a stall.
        risen: slices in a row in which the current is a little above its mean.
        down: slices in a row in which the current is well below its mean.
        alone, alone_new: the same for the current alone, beyond what load and friction explain. One beyond its range
            was seen to rise there, or slows the ring: else it is a broken wire.
        has_answered: whether the tachometer has given another value since `alone` began.
        against: slices in a row in which friction has fallen at an unchanged load while the current is high.
        started_a: current at which the last start settled.
        ran_at_a, ran_at_n: usual current and load when the motor last ran; NaN where it never has.
        surge_a, surge_at_s: highest current of the last start, and how long after its begin it came, s; `surge_seen` is
            whether it fell from there before the motor ran.
    """

    def __init__(self, params: MotorParams) -> None:
        self._params = params
        self._off = OffCurrent(params)
        self.speed_rpm = self.speed_seen_rpm = self.current_a = self.load_n = math.nan
        self._current_column = HeldColumn()
        self.speed_new = self.current_new = self.current_beyond = self.distrust_speed = False
        self.speed_rests = self.current_rests = self.has_turned = False
        self._zero_is_believed: bool | None = None
        self._acts = DriveActs()
        self.has_answered, self._asked_rpm = False, math.nan
        self.has_been_off = False
        self.current_age_s = math.inf
        self.friction = ContactFriction(params.friction_ratio, params.friction_least_n)
        self.usual_speed_rpm = Usual(2.0)
        self.usual_current_a = Usual(2.0)
        self.usual_load_n = Usual(2.0)
        self._most_load_n = 0.0
        self.ran_at_a = self.ran_at_n = self.started_a = math.nan
        self.on = self.off = 0
        self._noise = Noise()
        self._level_a, self._level_rate = 0.0, Rate(_LEVEL_MEMORY_S)
        self._running_noise, self._load_noise = Noise(), Noise()
        self._before_a = self._before_n = math.nan
        self._beyond_s, self._rose = 0.0, False
        self._before_rate = Rate(_BEFORE_MEMORY_S)
        self.forget()

    def forget(self) -> None:
        """Forget what was usual: the motor is starting, or it is not known what it did meanwhile."""
        if self.usual_current_a.learned_s >= _RAN_LEAST_S:
            self.ran_at_a, self.ran_at_n = self.usual_current_a.value, self.usual_load_n.value
        for usual in (self.usual_speed_rpm, self.usual_current_a, self.usual_load_n):
            usual.forget()
        self.friction.forget()
        self.up = self.up_new = self.risen = self.down = self.alone = self.alone_new = self.against = 0
        self._before_a = self._before_n = self.steady_a = math.nan
        self._acts.forget_speed()
        self.surge_a = self.surge_at_s = 0.0
        self.surge_seen = False

    def read(self, s: Slice) -> None:
        """Take the quantities of a slice and count how long the current has been on or off."""
        get = s.channels.get
        speed, current, load = get(RING_SPEED), get(MOTOR_CURRENT), get(NORMAL_LOAD)
        self.speed_rests = speed is not None and speed.quality is _BAD and self._has_come_to_rest(speed)
        if speed is None or (speed.quality is _BAD and not self.speed_rests):
            self.speed_rpm = self.speed_seen_rpm = math.nan
            self.speed_new = False
        else:
            seen_rpm = self.speed_seen_rpm = abs(speed.mean)
            self.speed_rpm = math.nan if self.distrust_speed else seen_rpm
            self.speed_new = speed.fresh
            self.has_turned = self.has_turned or seen_rpm > self._params.turning_above_rpm
        self.friction.read(s)
        self.current_rests = current is not None and self._follow_zero(current)
        if current is None or (current.quality is _BAD and not (self.current_rests or self._is_beyond(current))):
            self.current_a, self.current_new = math.nan, False
            if current is None or current.reason is not Reason.OVER_RANGE:  # else it goes on being beyond, unbelieved
                self._follow_beyond(False, s.duration_s)
            self.on = self.off = 0
        else:
            column = self._current_column
            column.take(current.mean, s.duration_s)
            self.current_a, self.current_new, self.current_age_s = (
                current.mean,
                column.is_new(current.fresh),
                current.age_s,
            )
            # A transducer that has turned its sign shows the same motor; at rest a negative value is its zero error.
            is_turned = current.mean < 0.0 and self.speed_rpm > self._params.turning_above_rpm
            if is_turned:
                self.current_a = -current.mean
            self._acts.take_sign(is_turned, s.duration_s)
            self._follow_beyond(current.quality is _BAD and not self.current_rests, s.duration_s)
            level_a = self._level(current, s.duration_s)
            if not self._off.is_known:
                rubs = self.friction.rubs
                self._off.learn(abs(self.current_a), self._noise.sigma, self.speed_rpm, s.duration_s, rubs=rubs)
            if (-level_a if is_turned else level_a) > self._off.a:
                self.on += 1
                self.off = 0
            else:
                self.on = 0
                self.off += 1
                if not self.has_been_off:
                    least_s = _OFF_S if abs(level_a) <= _OFF_SHARE * self._off.a else _NEARLY_OFF_S
                    self.has_been_off = self.off * s.duration_s >= least_s
        self.load_n = math.nan if load is None or load.quality is _BAD else load.mean
        if self.is_unloaded:
            self.friction.now = math.nan  # a coefficient of a load that does not stand out of its noise

    @property
    def noise_a(self) -> float:
        """Give the standard deviation of one value of the current by its noise, A."""
        return self._noise.sigma

    @property
    def off_current_a(self) -> float:
        """Give the current at or below which the motor is off, A: stated, learned, or what is nothing to most."""
        return self._off.a

    def _follow_zero(self, current: ChannelSlice) -> bool:
        """Say whether a current that says nothing but its zero is believed: a motor that is switched off draws none.

        That is judged once, when it has become too still: a ring that goes on at its speed by then is not switched off.
        """
        if current.reason is not Reason.STUCK or abs(current.mean) > self._off.a:
            self._zero_is_believed = None
        elif self._zero_is_believed is None:
            self._zero_is_believed = self.speed_rpm < _COASTS_SHARE * self.usual_speed_rpm.value
        return self._zero_is_believed is True

    def _has_come_to_rest(self, speed: ChannelSlice) -> bool:
        """Say whether a speed that says nothing but 0 is believed: its ring has turned before the tachometer's eyes."""
        shows = self.has_turned and not self.distrust_speed and speed.reason is Reason.STUCK
        return shows and abs(speed.mean) <= self._params.turning_above_rpm

    @property
    def is_unloaded(self) -> bool:
        """Say whether the load is measured, and within its noise or next to nothing beside the largest so far."""
        return self.load_n < max(_LOAD_SIGMAS * self._load_noise.sigma, _UNLOADED_SHARE * self._most_load_n)

    def _level(self, current: ChannelSlice, dt_s: float) -> float:
        """Follow what tells on from off: the current, or its mean over 0.2 s where its noise would tell it wrongly."""
        noise = self._noise
        if current.fresh:
            noise.learn(current.mean, dt_s)
        if not noise.is_known or noise.sigma <= _NOISY_SHARE * self._off.a:
            self._level_a = current.mean
        else:
            self._level_a += (current.mean - self._level_a) * self._level_rate.share(dt_s)
        return self._level_a

    def _follow_beyond(self, is_beyond: bool, dt_s: float) -> None:
        """Follow a current above its range: it rose there, or its sensor has failed; after a while it has."""
        if not is_beyond:
            self.current_beyond, self._beyond_s = False, 0.0
            return
        if not self.current_beyond:
            self.current_beyond = True
            self._rose = self._before_a > _ROSE_RATIO * self.usual_current_a.value
        self._beyond_s += dt_s

    @property
    def rose_beyond(self) -> bool:
        """Say whether the current is above its range, and was seen to rise there not long ago."""
        return self.current_beyond and self._rose and self._beyond_s <= _BELIEVED_BEYOND_S

    def _is_beyond(self, current: ChannelSlice) -> bool:
        """Say whether the current is above its range while speed or friction can tell a jam from a broken sensor."""
        told = self.speed_rpm == self.speed_rpm or self.friction.now == self.friction.now
        has_failed = self.current_beyond and not self._rose and self._beyond_s > _BELIEVED_BEYOND_S
        return current.reason is Reason.OVER_RANGE and told and not has_failed

    def learn(self, dt_s: float) -> None:
        """Learn from a slice in which the motor runs as it should; with an unusual current slowly."""
        current_a, usual_a = self.current_a, self.usual_current_a.value
        self.usual_speed_rpm.learn(self.speed_rpm, dt_s)
        if self.current_new:
            self._running_noise.learn(current_a, dt_s)
        if current_a == current_a:
            before_a = self._before_a if self._before_a == self._before_a else current_a
            self._before_a = before_a + (current_a - before_a) * self._before_rate.share(dt_s)
        slower = 1.0
        if usual_a > 0.0:
            share = current_a / usual_a
            if (share > self._params.up_ratio or share < _UNUSUAL_LOW) and not self.is_explained:
                slower = _UNUSUAL_SLOWER
        is_same_load = self._is_same_load
        self.usual_current_a.learn(current_a, dt_s, slower)
        self.usual_load_n.learn(self.load_n, dt_s, slower)
        load_n = self.load_n
        if load_n == load_n:
            self._load_noise.learn(load_n, dt_s)
            before_n = self._before_n if self._before_n == self._before_n else load_n
            self._before_n = before_n + (load_n - before_n) * self._before_rate.share(dt_s)
        if self.usual_load_n.value > self._most_load_n and self.usual_load_n.learned_s >= _MATURE_S:
            self._most_load_n = self.usual_load_n.value
        self.friction.learn(dt_s, slower, load_n, self._most_load_n, is_same_load)

    def weigh(self, dt_s: float) -> None:
        """Count how long the current has spoken for a stall; `dt_s` is the length of the slice."""
        p, current, usual = self._params, self.current_a, self.usual_current_a.value
        surge_a = self.surge_a
        at_limit = current >= 0.95 * p.current_limit_a
        as_at_start = current >= _AS_AT_START * surge_a and surge_a > 1.2 * usual
        noise = self._running_noise
        sigma_a = noise.sigma if noise.is_known else 0.0
        out_of_noise = current - usual > SIGMAS * sigma_a
        before = self._before_a if self._before_a > usual else usual
        high = as_at_start or (
            current > p.up_ratio * usual and (current > _RISEN_RATIO * before or not self.is_explained)
        )
        if at_limit or (out_of_noise and high):
            self.up += 1
            self.up_new += self.current_new
        else:
            self.up = self.up_new = 0
        before = max(before, usual * self._load_times)
        self.risen = self.risen + 1 if current - before > max((_RISEN_RATIO - 1.0) * before, SIGMAS * sigma_a) else 0
        is_steady = sigma_a <= _STEADY_SHARE * usual
        steady_a = self.steady_a = current if is_steady else abs(self._level_a)
        self.down = self.down + 1 if steady_a < DOWN_SHARE * usual else 0
        if self._acts.brakes or self._acts.speeds_up(self.speed_rpm, self.usual_speed_rpm.value, dt_s):
            self.up = self.up_new = self.alone = self.alone_new = self.against = 0
            return
        held = self.is_against_friction
        has_speed, has_friction = self.speed_rpm == self.speed_rpm, self.friction.now == self.friction.now
        self.against = self.against + 1 if held and self.up >= _UP_SLICES and self._is_same_load else 0
        if has_speed and not (has_friction and out_of_noise and self._is_same_load):
            self.alone = self.alone_new = 0
        elif held or ((self.alone or self._is_in_range_or_felt) and self._is_beyond_explained(at_limit)):
            self.has_answered = self.alone > 0 and (self.has_answered or self.speed_rpm != self._asked_rpm)
            if not self.alone:
                self._asked_rpm = self.speed_rpm
            self.alone += 1
            self.alone_new += self.current_new
        else:
            self.alone = self.alone_new = 0

    @property
    def _is_in_range_or_felt(self) -> bool:
        """Say whether the current is within its range, or slows the ring: what no ring feels is a broken wire."""
        return not self.current_beyond or self.speed_rpm < _SLOWED_SHARE * self.usual_speed_rpm.value

    def _is_beyond_explained(self, at_limit: bool) -> bool:
        """Say whether the current is beyond what friction explains, or far beyond: a ring that is held may rub more."""
        limit_a = self.alone_limit_a
        if self.friction.explains:
            return self.current_a > _FAR_BEYOND * limit_a
        return at_limit or self.current_a > limit_a

    @property
    def _is_same_load(self) -> bool:
        usual_n, least_n = self.usual_load_n.value, _SAME_LOAD_SHARE * self._before_n
        if self.load_n < least_n:  # a weight that had just been set down goes off again
            return False
        return not (self.load_n < _SAME_LOAD_SHARE * usual_n or self.load_n > EXPLAINS_RATIO * usual_n)

    @property
    def has_usual_load(self) -> bool:
        """Say whether the load is measured, and as usual."""
        return self.load_n == self.load_n and self._is_same_load

    def is_too_little(self, mean_a: float) -> bool:
        """Say whether a mean current is less than half of what the motor last ran at, under as much load: it is off.

        Less than a fifth, where the load is not measured.
        """
        if self.load_n != self.load_n:
            return mean_a < _OFF_UNSEEN_SHARE * self.ran_at_a
        return mean_a < _OFF_SHARE * self.ran_at_a and self.load_n > _SAME_LOAD_SHARE * self.ran_at_n > 0.0

    @property
    def held_at_least_a(self) -> float:
        """Give the current that is no running motor's at the load that hangs there, A; NaN where it never ran."""
        if not self.ran_at_n > 0.0 or self.load_n != self.load_n:  # a weight that nobody measures may have come on
            return _HELD_UNSEEN_TIMES * self.ran_at_a
        return _HELD_TIMES * self.ran_at_a * max(1.0, self.load_n / self.ran_at_n)

    @property
    def is_against_friction(self) -> bool:
        """Say whether the current is high while friction has fallen: a ring that is held no longer rubs."""
        return self.current_a > self.against_limit_a and self.friction.has_fallen

    @property
    def against_limit_a(self) -> float:
        """Give the current that is high while friction has fallen, A; NaN before anything is usual."""
        return EXPLAINS_RATIO * self.usual_current_a.value

    @property
    def current_share(self) -> float:
        """Give the current over its usual value; NaN where either is not known."""
        usual = self.usual_current_a.value
        return self.current_a / usual if usual > 0.0 else math.nan

    @property
    def rise_share(self) -> float:
        """Give the current over what it was just before, or usually where that is more; NaN where it is not known."""
        usual, before = self.usual_current_a.value, self._before_a
        most = (before if before > usual else usual) * self._load_times
        return self.steady_a / most if most > 0.0 else math.nan

    @property
    def _load_times(self) -> float:
        """Give how many times the usual load hangs there now; 1 where it is no new weight, or nothing hung there."""
        usual_n = self.usual_load_n.value
        if not self.load_n > EXPLAINS_RATIO * usual_n or not usual_n > 0.0:
            return 1.0
        return min(self.load_n / usual_n, _LOAD_TIMES_MOST)

    @property
    def alone_limit_a(self) -> float:
        """Give the current beyond which it is a jam without a tachometer, A; NaN before anything is usual.

        `alone_ratio` x what load and friction explain, and at least half of this motor's own start surge. Or as high as
        that surge was, where one was seen, and above 1.5 x what is explained. Where neither load nor friction is
        measured a weight looks like a jam: there only the surge of a hard start counts, and without one the current
        says nothing.
        """
        p, usual = self._params, self.usual_current_a.value
        idle = p.no_load_current_a if 0.0 < p.no_load_current_a < usual else 0.0
        load, friction = ratio(self.load_n, self.usual_load_n.value), self.friction
        explained = idle + (usual - idle) * max(1.0, load, load * friction.share)
        blind = self.load_n != self.load_n and friction.now != friction.now
        if blind:
            surge_a = _BLIND_SHARE * self.surge_a if self.has_started_hard else math.inf
            return max(surge_a, p.alone_ratio * explained)
        came_on = self.usual_load_n.value <= 0.0 < self.load_n and not self.is_unloaded
        if load > _LOAD_TIMES_MOST or came_on:  # what so small a load drew says nothing of so large a one
            return math.inf
        limit_a = max(p.alone_ratio * explained, 0.5 * self.surge_a)
        return min(limit_a, max(_AS_AT_START * self.surge_a, p.up_ratio * explained)) if self.surge_seen else limit_a

    @property
    def has_started_hard(self) -> bool:
        """Say whether the last start showed what the motor draws when it is held."""
        is_hard = self.surge_seen and self.surge_at_s <= _HARD_START_S
        return is_hard and self.surge_a >= _HARD_START_TIMES * self.started_a

    @property
    def is_relieved(self) -> bool:
        """Say whether less than the usual load hangs there: a weight that goes, or bounces, takes current away."""
        return self.load_n < _RELIEVED_SHARE * self.usual_load_n.value

    @property
    def is_explained(self) -> bool:
        """Say whether friction or load has risen with the current."""
        return self.friction.explains or self.load_n > EXPLAINS_RATIO * self.usual_load_n.value
