"""Sensor faults: a channel that gives no value to be believed for longer than it may.

Reads slices, gives findings: a trip where the channel must be there, else a warning that protection is degraded.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scuffwatch.detect.words import number, quantity, words_of
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import MOTOR_CURRENT, RING_SPEED, OnLoss, Quality, Reason
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

_BAD = Quality.BAD
_SURGE_MOST_S, _STIRS_S = 5.0, 1.0
_SLACK_S = 1e-9
_ALREADY_WAITED = (Reason.TOO_OLD, Reason.STUCK)
"""Reasons that are only given once their own time has passed; waiting again would double it."""


@dataclass(frozen=True, slots=True)
class SensorParams:
    """One channel that must speak.

    Attributes:
        channel: name.
        max_age_s: longest time without a value to be believed.
        on_loss: what its loss means.
    """

    channel: str
    max_age_s: float
    on_loss: OnLoss


class SensorFault:
    """Watch one channel's quality.

    BAD time adds up and good time takes away at the same rate, between zero and the maximum age: a fault is found at
    the maximum age and has cleared at zero. So a spike now and then is none, and a channel that is BAD most of the time
    is one though it comes back in between. TOO_OLD and STUCK have waited already and are found at once. Holes count
    with what follows them. A channel that is not in the slice at all counts as never received.

    Args:
        params: see `SensorParams`.

    What survives a call: the BAD time, and what stands.

    Attributes:
        bad_s: the BAD time.
        standing: the finding, while its condition is true.
    """

    __slots__ = ("_params", "bad_s", "standing")

    def __init__(self, params: SensorParams) -> None:
        self._params = params
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands, no BAD time."""
        self.bad_s = 0.0
        self.standing: tuple[Finding, ...] = ()

    def update(self, s: Slice) -> tuple[Finding, ...]:
        """Take the next slice, give the finding where it became true in it."""
        channel = s.channels.get(self._params.channel)
        if channel is not None and channel.quality is not _BAD:
            if self.bad_s > 0.0:
                self._recover(s)
            return ()
        reason = Reason.NEVER_RECEIVED if channel is None else channel.reason
        max_age_s = self._params.max_age_s
        self.bad_s = min(self.bad_s + s.duration_s + s.gap_before_s, max_age_s)
        if reason in _ALREADY_WAITED:
            self.bad_s = max_age_s
        if self.standing or self.bad_s < max_age_s - _SLACK_S:
            return ()
        self.standing = (self._finding(s, channel, reason),)
        return self.standing

    def _recover(self, s: Slice) -> None:
        self.bad_s -= s.duration_s
        if self.bad_s <= _SLACK_S:
            self.bad_s = 0.0
            self.standing = ()

    def _finding(self, s: Slice, channel: ChannelSlice | None, reason: Reason) -> Finding:
        p = self._params
        level = Level.TRIP if p.on_loss is OnLoss.TRIP else Level.WARN
        age_s = max(self.bad_s, channel.age_s) if channel is not None and reason is Reason.TOO_OLD else self.bad_s
        says = f"Sensor fault: {words_of(p.channel)} {_what(p.channel, channel, reason, age_s, p.max_age_s)}."
        evidence = Evidence("age_s", age_s, p.max_age_s, "s")
        return Finding(FindingKind.SENSOR_FAULT, level, s.t_rig_s, (p.channel,), (evidence,), says)


class SensorFaults:
    """Watch all channels that must speak, in one go: one that is good and was good needs no more than a look.

    Args:
        params: see `SensorParams`.

    What survives a call: the state of each, and what stands.

    Attributes:
        standing: findings whose condition is true, in the order of the parameters.
        is_starting: set from outside: the motor is not known to run, so a current beyond its range may be a start's.
        is_at_rest: set from outside: the ring stands, so what does not move need not be stuck; nor need a tachometer
            in the first second after, which has yet to see a pulse. A channel whose loss is a trip must move all the
            same: nothing starts beside a frozen one.
        resting: set from outside: channels that say nothing but their zero and are believed, as the speed of a ring
            that has yet to start again, or the current of a motor that was switched off while its ring coasts.
        trip_channels_good: whether no channel whose loss is a trip was missing or BAD in the last slice.
    """

    def __init__(self, params: Sequence[SensorParams]) -> None:
        self._sensors = tuple((one.channel, one.on_loss is OnLoss.TRIP, SensorFault(one)) for one in params)
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing stands, no BAD time."""
        for _, _, sensor in self._sensors:
            sensor.reset()
        self.standing: tuple[Finding, ...] = ()
        self.trip_channels_good = True
        self.is_starting = self.is_at_rest = False
        self.resting: tuple[str, ...] = ()
        self._surge_s = 0.0
        self._since_rest_s = math.inf

    def update(self, s: Slice) -> tuple[Finding, ...]:
        """Take the next slice, give the findings that became true in it."""
        get, trips_good, restless = s.channels.get, True, False
        surged_s = self._surge_s
        self._since_rest_s = 0.0 if self.is_at_rest else self._since_rest_s + s.duration_s
        new: tuple[Finding, ...] = ()
        for name, trips, sensor in self._sensors:
            channel = get(name)
            is_good = channel is not None and channel.quality is not _BAD
            if is_good and sensor.bad_s == 0.0:
                continue
            restless = True
            rests = channel is not None and channel.reason is Reason.STUCK and self._may_rest(name) and not trips
            if not rests and not self._is_surge(name, channel, s.duration_s):
                new += sensor.update(s)
            if trips and not is_good:
                trips_good = False
        self.trip_channels_good = trips_good
        if surged_s and self._surge_s == surged_s:
            self._surge_s = 0.0  # the current is good again: the next start has seconds of its own
        if restless:
            self.standing = tuple(finding for _, _, sensor in self._sensors for finding in sensor.standing)
        return new

    def _may_rest(self, name: str) -> bool:
        """Say whether a channel that does not move need not be stuck."""
        has_rested = self._since_rest_s <= _STIRS_S if name == RING_SPEED else self.is_at_rest
        return has_rested or name in self.resting

    def _is_surge(self, name: str, channel: ChannelSlice | None, dt_s: float) -> bool:
        """Say whether a motor that is not known to run draws more than its transducer shows: a start, for a while."""
        if name != MOTOR_CURRENT:
            return False
        beyond = self.is_starting and channel is not None and channel.reason is Reason.OVER_RANGE
        self._surge_s = self._surge_s + dt_s if beyond else 0.0
        return beyond and self._surge_s <= _SURGE_MOST_S


def _what(name: str, channel: ChannelSlice | None, reason: Reason, age_s: float, max_age_s: float) -> str:
    limit = f"limit {number(max_age_s, 2)}"
    if channel is None or reason is Reason.NEVER_RECEIVED:
        return f"never received in {number(age_s, 2)} s, {limit}"
    if reason is Reason.TOO_OLD:
        return f"too old: {number(age_s, 2)} s, {limit}"
    if reason is Reason.STUCK:
        return f"stuck at {quantity(name, channel.mean)}"
    if reason is Reason.TOO_FAST:
        return f"{quantity(name, channel.mean)}, where it came faster than anything warms up; it is not believed"
    return f"{reason.value} at {quantity(name, channel.mean)} for {number(age_s, 2)} s, {limit}"
