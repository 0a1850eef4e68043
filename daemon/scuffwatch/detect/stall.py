"""Stall, jam, lost motor supply, lost speed sensor: what the motor does, told from normal starts and stops.

Reads slices and the contactor's state, gives findings and whether the ring turns.

    stopped ──current flows──► starting ──started──► running ──held still under current──► held still
       ▲                          │                     │                                      │
       └──────current gone────────┴─────────────────────┴──────────────────────────────────────┘

A start is judged by `StartWatch`, a loss of speed by `FallWatch`; what they call a normal start, stop or restart is no
event. Only a running motor can stall: a start surge is no stall. Held still is STALL where friction had risen before
the speed fell, else JAM. A lost tachometer is SPEED_SENSOR_LOST; the current alone then speaks for the motor. Current
gone is a normal stop; where it went at full speed, and 0.5 s later the speed has fallen too and the contactor is known
to be closed, it is MOTOR_SUPPLY_LOST.

Without a tachometer, or with one that is BAD: JAM, or STALL where friction led, on current beyond twice what load and
friction explain, or as high as in the start surge, or a third above its mean while friction has fallen, for 0.3 s.
Beside a tachometer, which may answer only once a turn, the same for 0.15 s where friction is measured; at once where
the current is high and friction has gone at an unchanged load. A motor that draws current after a hole of less than a
second, or of three where it is at its speed under the same load, has run on in it. Where no current is known, a ring
below 80 % of its speed of late coasts unless friction or a weight explains it. A current channel whose value is older
than 0.5 s gives no verdict alone. Below 75 % of its mean the motor may be on the way to a stop and a restart: it is
then judged as starting. A start whose speed swings for ever while the current is steady is a SENSOR_FAULT, and the
current alone speaks until the motor stops. A start without a tachometer whose current does not fall, and is far more
than the motor last ran at, is a STALL.
"""

import math
from enum import Enum

from scuffwatch.detect.doubted_speed import DoubtedSpeed
from scuffwatch.detect.limits import slices_in
from scuffwatch.detect.motor_fall import ABRUPT_S, DOWN_SLICES, Fall, FallWatch
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_says import held_still, not_started, speed_sensor_lost, supply_lost, swinging_speed
from scuffwatch.detect.motor_signs import DOWN_SHARE, MotorSigns
from scuffwatch.detect.motor_start import Start, StartWatch
from scuffwatch.detect.speed_swings import SpeedSwings
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import MOTOR_CURRENT, RING_SPEED
from scuffwatch.model.finding import Finding, Level

__all__ = ["MotorParams", "MotorState", "MotorWatch"]

_HOLE_S = 0.1
"""After a longer hole it is not known what the motor did in it."""
_RAN_ON_S, _RAN_ON_AT_SPEED_S = 1.0, 3.0
"""In a shorter one a motor that ran before and draws current after has run on: no hand stops and starts it so fast. Nor
in the second, where it is at its speed after it, under the same measured load."""
_CURRENT_AGE_S = 0.5
_SUPPLY_WATCH_S = 10.0
_AGAINST_SLICES = 2
_COASTS_NEW = 2
"""So many values in a row below its speed show a ring that slows down; one may be a spike."""
_DROOPS_S, _NOT_S = 3.0, 0.5
"""A motor that has gone on for so long below its speed and above half of it, and never for the second above it, is
slowed down by its weight."""

_RAISED_SHARE = 1.1
"""Times the speed it started at; a motor whose speed is not stated and that goes on so fast has been brought to it."""
_LOWERED_S, _LOWERED_SHARE = 10.0, 1.15
"""A motor that has turned its ring for so long below half of its speed, with no more than this share of its usual
current, has been set to it."""


class MotorState(Enum):
    """What the motor does."""

    STOPPED = "stopped"
    STARTING = "starting"
    RUNNING = "running"
    HELD_STILL = "held still"


class MotorWatch:
    """Follow the motor.

    Args:
        params: see `MotorParams`.

    What survives a call: the state, its timers, what is usual, what stands.

    Attributes:
        standing: the trip or warning, while its condition is true. A stall or jam ends when the current has gone, the
            contactor is open or the ring is at speed again; a lost speed sensor when the speed is back or the motor
            stops; a lost supply when the contactor opens or current flows again.
        ring_turning: True where the speed is above its threshold for two samples or current flows for three slices;
            False where the speed is below and no current flows, or, without a tachometer, `coast_s` after the current
            has gone; None where nothing is known.
        state: see the module.
    """

    def __init__(self, params: MotorParams) -> None:
        self._params = params
        self._turning_rpm = params.turning_above_rpm
        self._reference_rpm = self._started_rpm = params.speed_set_rpm
        self._signs = MotorSigns(params)
        self._start, self._swings, self._has_swung = StartWatch(params), SpeedSwings(), False
        self._epoch: int | None = None
        self._moving = 0
        self._after_hole = False
        self._coasted_s = self._at_speed_s = 0.0
        self._below_s = self._above_s = 0.0
        self._doubted = DoubtedSpeed(params)
        self._slow_new = 0
        self._fall = FallWatch(params)
        self.ring_turning: bool | None = None
        self.reset()

    def reset(self) -> None:
        """Begin anew with a motor that is not known to run."""
        self.standing: tuple[Finding, ...] = ()
        self._stop(watch_supply=False)

    @property
    def armed(self) -> bool:
        """Say whether start current is over: the motor runs, or has been starting for too long."""
        if self.state is MotorState.STARTING:
            return self._start.lasted_s >= self._params.start_max_s
        # What surges after a dip of the mains is a start too.
        return self.state is MotorState.RUNNING and not (self._fall.has_dipped or self._fall.gains_speed)

    @property
    def off_current_a(self) -> float:
        """Give the current at or below which the motor is off, A."""
        return self._signs.off_current_a

    @property
    def resting(self) -> tuple[str, ...]:
        """Give the channels that are believed, and need not be stuck, although they say nothing but their zero.

        The speed while its ring has yet to start, or is held; the current while the motor is switched off.
        """
        signs, state = self._signs, self.state
        speed = (RING_SPEED,) if signs.speed_rests and state is not MotorState.RUNNING else ()
        return (*speed, MOTOR_CURRENT) if signs.current_rests and state is MotorState.STOPPED else speed

    @property
    def knows_held_current(self) -> bool:
        """Say whether it is known what the motor draws when it is held, so that its current alone can tell."""
        return self._params.current_limit_a < math.inf or self._signs.has_started_hard

    def update(self, s: Slice, contactor_closed: bool | None = None) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: slice with ring speed, motor current, friction and load as far as fitted.
            contactor_closed: state of the contactor that the permit holds; None where it is not known. What happens
                while it is open is no event.
        Returns:
            The finding in the slice in which it became true, else nothing.
        """
        self._signs.read(s)
        self._look_for_turning(s)
        if s.gap_before_s > _HOLE_S or s.epoch != self._epoch:
            epoch, self._epoch = self._epoch, s.epoch
            if self.state is not MotorState.HELD_STILL and not self._ran_on(s, s.epoch == epoch):
                self._stop(watch_supply=False)
                self._after_hole = True
        if contactor_closed is False:
            self.reset()
            return ()
        finding = self._step(s, contactor_closed)
        if finding is None:
            return ()
        if finding.level is not Level.NOTICE:
            self.standing = (finding,)
        return (finding,)

    def _ran_on(self, s: Slice, same_epoch: bool) -> bool:
        """Say whether the motor ran, or was starting, before a short hole and draws current after it."""
        signs, state = self._signs, self.state
        if state is MotorState.STARTING and same_epoch and not signs.off:
            return s.gap_before_s <= _RAN_ON_S
        if not same_epoch or state is not MotorState.RUNNING or not signs.current_share >= DOWN_SHARE:
            return False
        at_speed = signs.speed_rpm >= self._params.arm_share * self._reference_rpm and signs.has_usual_load
        return s.gap_before_s <= (_RAN_ON_AT_SPEED_S if at_speed else _RAN_ON_S)

    def _step(self, s: Slice, contactor_closed: bool | None) -> Finding | None:
        if self.state is MotorState.STOPPED:
            return self._while_stopped(s, contactor_closed)
        if self._signs.off >= 2:
            self._stop(watch_supply=self._was_at_speed() and contactor_closed is True)
            self.standing = ()
            return None
        if self.state is MotorState.STARTING:
            return self._while_starting(s)
        if self.state is MotorState.RUNNING:
            return self._while_running(s)
        self._while_held_still(s)
        return None

    def _look_for_turning(self, s: Slice) -> None:
        signs = self._signs
        if signs.speed_new:
            self._moving = self._moving + 1 if signs.speed_seen_rpm > self._turning_rpm else 0
        elif math.isnan(signs.speed_seen_rpm):
            self._moving = 0
        # A transducer's zero beside a tachometer that says 0, and is then not believed for saying nothing else.
        runs = self.state is MotorState.RUNNING
        is_zero = signs.current_a < (self._params.any_motors_a if runs else self._params.zero_most_a) and (
            signs.speed_rpm <= self._turning_rpm or (self.ring_turning is False and RING_SPEED in s.channels)
        )
        if self._moving >= 2 or (signs.on >= 3 and not is_zero):
            self.ring_turning = True
            self._coasted_s = 0.0
        elif is_zero or not math.isnan(signs.speed_rpm):
            self.ring_turning = False
        elif not math.isnan(signs.current_a):
            self._coasted_s += s.duration_s if signs.off else 0.0
            self.ring_turning = False if self._coasted_s >= self._params.coast_s else None
        else:
            self.ring_turning = None

    # --- stopped and starting -----------------------------------------------------------------------------

    def _stop(self, *, watch_supply: bool) -> None:
        self.state = MotorState.STOPPED
        self._has_swung = False
        self._swings.reset()
        self._watch_supply = watch_supply
        self._gone_s = 0.0

    def _was_at_speed(self) -> bool:
        """Say whether the motor ran at speed just before; a drive's ramp takes the speed away before the current."""
        signs = self._signs
        return self.state is MotorState.RUNNING and not math.isnan(signs.speed_rpm) and self._fall.since_s <= ABRUPT_S

    def _while_stopped(self, s: Slice, contactor_closed: bool | None) -> Finding | None:
        signs = self._signs
        if signs.on >= 2 or (math.isnan(signs.current_a) and self._moving >= 2):
            self._begin_start()
            return None
        self._gone_s += s.duration_s
        if not self._watch_supply or contactor_closed is not True or self._gone_s > _SUPPLY_WATCH_S:
            return None
        fallen = signs.speed_rpm < self._params.arm_share * self._reference_rpm
        if not fallen or not signs.off or self._gone_s < self._params.supply_lost_s:
            return None
        self._watch_supply = False
        return supply_lost(s.t_rig_s, signs, self._params)

    def _begin_start(self) -> None:
        self.state = MotorState.STARTING
        self.standing = ()
        self._signs.distrust_speed = self._signs.distrust_speed and self._after_hole
        self._after_hole = False
        self._signs.forget()
        self._start.begin(was_on=not (self._signs.has_been_off or self._signs.has_turned))

    def _while_starting(self, s: Slice) -> Finding | None:
        signs = self._signs
        stands = self._start.update(signs, s.duration_s, self.ring_turning is False)
        if not self._has_swung:
            self._swings.update(signs, s.duration_s)
            if self._swings.found:
                return self._give_speed_up(s)
        if stands is Start.STARTED:
            set_rpm = self._params.speed_set_rpm
            at_rpm = self._start.at_rpm
            self._reference_rpm = self._started_rpm = at_rpm if math.isnan(set_rpm) else set_rpm
            if at_rpm < self._params.arm_share * set_rpm:
                self._reference_rpm = at_rpm
            self._start.hand_over(signs)
            self._run()
        elif stands is Start.BLIND:
            self._stop(watch_supply=False)
        elif stands is Start.NO_SPEED:
            self._start.hand_over(signs)
            return self._lose_speed(s)
        elif stands is Start.STOOD_STILL:
            self.state = MotorState.HELD_STILL
            return not_started(s.t_rig_s, signs, self._params, max(self._start.still_s, self._start.held_s))
        return None

    # --- running ------------------------------------------------------------------------------------------

    def _run(self) -> None:
        self.state = MotorState.RUNNING
        self._below_s = self._above_s = self._faster_s = 0.0
        self._fall.begin()

    def _while_running(self, s: Slice) -> Finding | None:
        signs = self._signs
        signs.weigh(s.duration_s)
        if math.isnan(signs.speed_rpm):
            return self._by_current_alone(s)
        if self._coasts():
            self._begin_start()
            return None
        self._follow_droop(s.duration_s)
        has_slowed = self._reference_rpm < self._started_rpm
        fall = self._fall.update(signs, self._reference_rpm, s.duration_s, has_slowed=has_slowed)
        if fall is Fall.HELD_STILL:
            return self._hold(s)
        slows = not self._fall.has_dipped and not self._fall.gains_speed
        if fall in (Fall.NONE, Fall.OPEN) and slows and self._is_held_before_the_speed_says(s):
            return self._hold(s)
        if fall is Fall.NONE:
            signs.learn(s.duration_s)
        elif fall is Fall.SPEED_LOST:
            return self._lose_speed(s)
        elif fall is Fall.RESTART:
            self._begin_start()
        elif fall is Fall.STOP:
            self._stop(watch_supply=False)
        return None

    def _coasts(self) -> bool:
        """Say whether a ring slows down whose motor nobody measures, and neither friction nor a weight explains it.

        It has been switched off, and the less speed is left the more its friction rises. Back at speed it has started.
        """
        signs, from_rpm = self._signs, self._reference_rpm
        if signs.usual_speed_rpm.value < from_rpm:  # a contact that drags more and more has slowed it already
            from_rpm = signs.usual_speed_rpm.value
        if signs.current_a == signs.current_a or not signs.speed_rpm < self._params.arm_share * from_rpm:
            self._slow_new = 0
            return False
        self._slow_new += signs.speed_new
        return self._slow_new >= _COASTS_NEW and not (signs.friction.has_led or signs.is_explained)

    def _follow_droop(self, dt_s: float) -> None:
        """Take the speed that a motor goes on at for the one it is held against, up to that it started with."""
        p, speed_rpm, reference_rpm = self._params, self._signs.speed_rpm, self._reference_rpm
        if speed_rpm >= p.arm_share * reference_rpm:
            self._above_s += dt_s
            if self._above_s >= _NOT_S:
                self._below_s = 0.0
            if reference_rpm < speed_rpm:
                self._reference_rpm = min(speed_rpm, self._started_rpm)
            self._follow_raised_speed(dt_s)
        elif speed_rpm >= p.stall_share * reference_rpm:
            self._above_s = 0.0
            self._below_s += dt_s
            if self._below_s >= _DROOPS_S:
                self._reference_rpm, self._below_s = speed_rpm, 0.0
        else:
            self._follow_lowered_speed(dt_s)

    def _follow_raised_speed(self, dt_s: float) -> None:
        """Take a higher speed, where none is set that is known, for the one it is held against: a start in steps."""
        speed_rpm = self._signs.speed_rpm
        is_faster = math.isnan(self._params.speed_set_rpm) and speed_rpm > _RAISED_SHARE * self._started_rpm
        self._faster_s = self._faster_s + dt_s if is_faster else 0.0
        if self._faster_s >= _DROOPS_S:
            self._reference_rpm = self._started_rpm = speed_rpm
            self._faster_s = 0.0

    def _follow_lowered_speed(self, dt_s: float) -> None:
        """Take a speed that somebody has set, less than half of the one before, for the one it is held against.

        A ring that goes on at it, under no more current than before, is not being held.
        """
        signs = self._signs
        goes_on = signs.speed_rpm > self._turning_rpm and not signs.rise_share > _LOWERED_SHARE
        self._above_s = 0.0
        self._below_s = self._below_s + dt_s if goes_on else 0.0
        if self._below_s >= _LOWERED_S:
            self._reference_rpm, self._below_s = signs.speed_rpm, 0.0

    def _is_held_before_the_speed_says(self, s: Slice) -> bool:
        """Say whether current and friction tell that the ring is held while a slow tachometer does not yet."""
        signs, p = self._signs, self._params
        least_s = p.unexplained_s if signs.has_answered else p.unanswered_s
        unexplained = signs.alone >= slices_in(least_s, s.duration_s) and signs.alone_new >= 3
        return unexplained or signs.against >= _AGAINST_SLICES

    def _by_current_alone(self, s: Slice) -> Finding | None:
        signs, p = self._signs, self._params
        if signs.distrust_speed and not self._has_swung and self._is_believed_again(s):
            return None
        if signs.down >= DOWN_SLICES and not signs.distrust_speed:
            self._begin_start()
            return None
        if signs.current_age_s > _CURRENT_AGE_S:
            signs.alone = signs.alone_new = 0
        alone = signs.alone >= slices_in(p.alone_s, s.duration_s) and signs.alone_new >= 3
        if alone or (signs.against >= _AGAINST_SLICES and signs.up_new >= _AGAINST_SLICES):
            return None if signs.distrust_speed and self._doubted.grows else self._hold(s)
        if not signs.alone:
            signs.learn(s.duration_s)
        return None

    def _hold(self, s: Slice) -> Finding:
        self.state = MotorState.HELD_STILL
        self._at_speed_s = 0.0
        low_rpm = self._params.stall_share * self._reference_rpm
        return held_still(s.t_rig_s, self._signs, self._params, low_rpm)

    def _lose_speed(self, s: Slice) -> Finding:
        low_rpm = self._params.stall_share * self._reference_rpm
        finding = speed_sensor_lost(s.t_rig_s, self._signs, self._params, low_rpm)
        self._signs.distrust_speed = True
        self._doubted.begin()
        self._run()
        return finding

    def _give_speed_up(self, s: Slice) -> Finding:
        """Go by the current alone until the motor stops: else a start whose speed swings would last for ever."""
        self._has_swung = True
        self._start.hand_over(self._signs)
        self._signs.distrust_speed = True
        self._run()
        return swinging_speed(s.t_rig_s, self._swings.low_rpm, self._swings.high_rpm)

    def _is_believed_again(self, s: Slice) -> bool:
        if self._doubted.is_back(self._signs, self._reference_rpm, s.duration_s):
            self._signs.distrust_speed = False
            self.standing = ()
            return True
        if self._doubted.starts_after_all(self._signs):
            self._begin_start()
            return True
        return False

    def _while_held_still(self, s: Slice) -> None:
        signs = self._signs
        if math.isnan(signs.speed_rpm):
            free = signs.current_a <= 1.2 * signs.usual_current_a.value
        else:
            free = signs.speed_rpm >= self._params.arm_share * self._reference_rpm
        self._at_speed_s = self._at_speed_s + s.duration_s if free else 0.0
        if self._at_speed_s >= self._params.arm_s:
            self.standing = ()
            self._run()
