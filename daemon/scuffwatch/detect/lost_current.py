"""A motor current that has gone while the ring goes on at its speed: the transducer has, not the motor.

Reads slices and whether the motor is known to run, gives whether the current is to be believed, and a finding once it
is not. Else a current that drifts to nothing looks like a motor that is switched off, and nothing watches the contact.
"""

import math
from dataclasses import replace

from scuffwatch.detect.smooth import Usual
from scuffwatch.detect.words import quantity
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import MOTOR_CURRENT, RING_SPEED, Quality
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

_SPEED_S = 2.0
_GOES_ON_SHARE, _GOES_ON_S, _CHANGES_LEAST = 0.95, 3.0, 10
"""A ring that coasts from full speed is slower by then (a time constant of a minute: own choice); and a tachometer that
holds its last value shows none of the changes that a ring in motion does."""
_BACK_S = 2.0
_HOLE_S = 0.1
_BAD = Quality.BAD


class LostCurrent:
    """Watch for a current that is gone while the ring goes on.

    Args:
        turning_above_rpm: above it the ring turns, r/min.

    What survives a call: the speed at which the motor ran, or the ring turned where it was never seen to run; for how
        long it has gone on without a current, and the current's mean.

    Attributes:
        is_lost: whether the current is not to be believed; until it has been there again for 2 s.
        standing: the finding, while it is so.
    """

    def __init__(self, turning_above_rpm: float = 0.0) -> None:
        self._turning_rpm = turning_above_rpm
        self._ran_rpm = Usual(_SPEED_S)
        self.is_lost = False
        self.reset()

    def reset(self) -> None:
        """Begin anew: what is lost stays lost."""
        self.standing: tuple[Finding, ...] = self.standing if self.is_lost else ()
        self._ran_rpm.forget()
        self._forget()

    def _forget(self) -> None:
        self._goes_on_s = self._gone_as = self._back_s = 0.0
        self._from_rpm = math.nan
        self._changes, self._last_rpm = 0, math.nan

    def believed(self, s: Slice) -> Slice:
        """Give the slice as far as it is to be believed: while the current is lost, without it."""
        if not self.is_lost:
            return s
        return replace(s, channels={name: value for name, value in s.channels.items() if name != MOTOR_CURRENT})

    def update(self, s: Slice, runs: bool, off_current_a: float) -> tuple[Finding, ...]:
        """Take the next slice.

        Args:
            s: the slice as it came.
            runs: whether the motor is known to run at speed.
            off_current_a: at or below it the current is gone, A.
        Returns:
            The finding in the slice in which it became true, else nothing.
        """
        current, speed = s.channels.get(MOTOR_CURRENT), s.channels.get(RING_SPEED)
        if current is None or speed is None or speed.quality is _BAD or s.gap_before_s > _HOLE_S:
            self._forget()
            return ()
        if self.is_lost:
            is_back = current.quality is not _BAD and current.mean > off_current_a
            self._back_s = self._back_s + s.duration_s if is_back else 0.0
            if self._back_s >= _BACK_S:
                self.is_lost = False
                self.reset()
            return ()
        speed_rpm = abs(speed.mean)
        if runs:
            self._ran_rpm.learn(speed_rpm, s.duration_s)
            self._forget()
            return ()
        least_rpm = _GOES_ON_SHARE * self._follow_reference_rpm(speed_rpm)
        if current.quality is _BAD or not speed_rpm >= least_rpm > 0.0:
            self._forget()
            return ()
        self._goes_on_s += s.duration_s
        self._gone_as += current.mean * s.duration_s
        if speed_rpm != self._last_rpm:
            self._last_rpm = speed_rpm
            self._changes += 1
        if self._goes_on_s < _GOES_ON_S or self._changes < _CHANGES_LEAST:
            return ()
        if self._gone_as > off_current_a * self._goes_on_s:  # it flows: a slow start
            self._forget()
            return ()
        self.is_lost = True
        self._forget()
        self.standing = (
            _finding(s.t_rig_s, Evidence(MOTOR_CURRENT, current.mean, off_current_a, "A"), speed_rpm, least_rpm),
        )
        return self.standing

    def _follow_reference_rpm(self, speed_rpm: float) -> float:
        """Give the speed at which the ring has to go on, r/min: as the motor ran, else as it has come to turn.

        A current that is gone before the first start never shows the motor running. NaN where the ring stands.
        """
        ran_rpm = self._ran_rpm.value
        if ran_rpm == ran_rpm:
            return ran_rpm
        speeds_up = not speed_rpm <= self._from_rpm / _GOES_ON_SHARE
        if speeds_up and speed_rpm > self._turning_rpm:
            self._forget()
            self._from_rpm = speed_rpm
        return self._from_rpm


def _finding(t_rig_s: float, current: Evidence, speed_rpm: float, least_rpm: float) -> Finding:
    says = (
        f"Sensor fault: motor current {quantity(MOTOR_CURRENT, current.value)}, and the ring goes on at "
        f"{quantity(RING_SPEED, speed_rpm)}; the current is not believed."
    )
    evidence = (current, Evidence(RING_SPEED, speed_rpm, least_rpm, "r/min"))
    return Finding(FindingKind.SENSOR_FAULT, Level.WARN, t_rig_s, (MOTOR_CURRENT,), evidence, says)
