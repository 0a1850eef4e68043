"""Spikes between slow rows: what jumps within one row, goes no farther and is back within three is not the contact.

Reads slices, gives slices in which such a value is held back until it has stayed. Slices of 10 ms pass as they are:
there every detector outlasts three rows.
"""

import math
from dataclasses import replace

from scuffwatch.detect.noise import Noise
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    Quality,
    Reason,
)
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

_SLOW_S = 0.0125
"""Rows that are farther apart than a slice."""
_LONGEST_ROWS, _LONGEST_S = 3, 0.35
"""Interference lasts for three rows; rows of a third of a second are no spikes."""
_JUMP_SHARE, _JUMP_SIGMAS = 0.3, 5.0
"""Of the larger of both values, and of the noise: a burst of two fifths more passes."""
_RISE_SHARE, _RISE_SIGMAS = 0.2, 4.0
"""Of the jump, and of the noise: what goes on to rise by more is none."""
_SPEED_SHARE, _SPEED_SIGMAS = 0.08, 8.0
"""A ring whose speed changes in the same rows bears a jump out."""
_HOLE_S = 0.5
_BAD = Quality.BAD
_BEYOND = (Reason.OVER_RANGE, Reason.UNDER_RANGE, Reason.SATURATED)
_TEMPERATURES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_WATCHED = (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT)


def _is_beyond(s: Slice) -> bool:
    """Say whether a temperature shows what no thermocouple here can."""
    for name in _TEMPERATURES:
        channel = s.channels.get(name)
        if channel is not None and channel.quality is _BAD and channel.reason in _BEYOND:
            return True
    return False


class _Channel:
    """One channel: the last slice that was believed, its noise, the jump that is held back, and what was before it.

    Attributes:
        rows: for how many rows a jump has been held back; 0 where there is none.
        held_s: for how long.
    """

    __slots__ = ("_before", "_first_away", "_noise", "believed", "held_s", "rows")

    def __init__(self) -> None:
        self._noise = Noise()
        self._first_away = self._before = math.nan
        self.believed: ChannelSlice | None = None
        self.rows = 0
        self.held_s = 0.0

    def forget(self) -> None:
        """Begin anew behind a hole; the noise stays."""
        self.believed = None
        self._before = math.nan
        self.rows, self.held_s = 0, 0.0

    def believe(self, channel: ChannelSlice, dt_s: float) -> None:
        """Take a value as it comes."""
        self.rows, self.held_s = 0, 0.0
        self.believed = channel
        if channel.quality is not _BAD:
            self._noise.learn(channel.mean, dt_s)

    def jumps(self, channel: ChannelSlice) -> bool:
        """Say whether a value has jumped and, since it did, has gone no farther."""
        believed, noise = self.believed, self._noise
        if believed is None or not noise.is_known:
            return False
        if channel.quality is _BAD:
            return channel.reason in _BEYOND
        value, last, sigma = channel.mean, believed.mean, noise.sigma
        if not _is_far(value, last, sigma) or not _is_far(value, self._before, sigma):
            return False
        away = value - last
        if not self.rows or self._first_away != self._first_away:
            self._first_away, self._before = away, last
        # What falls back, or swings to the other side, may be a spike of any shape.
        farther = away if self._first_away > 0.0 else -away
        return farther <= (1.0 + _RISE_SHARE) * abs(self._first_away) + _RISE_SIGMAS * sigma


def _is_far(value: float, from_value: float, sigma: float) -> bool:
    """Say whether a value is a jump away from another; from none it is."""
    away = abs(value - from_value)
    return not (away <= _JUMP_SHARE * max(abs(value), abs(from_value)) or away <= _JUMP_SIGMAS * sigma)


class SlowSpikes:
    """Hold back what jumps between slow rows until it has stayed for more than three.

    What survives a call: the last believed value of each channel, its noise, for how many rows it has been away, and
    the speed of the ring before.
    """

    def __init__(self) -> None:
        self._channels = {name: _Channel() for name in _WATCHED}
        self._coefficient: ChannelSlice | None = None
        self._speed_rpm = math.nan
        self._speed_noise = Noise()
        self._epoch: int | None = None

    def believed(self, s: Slice, interfered: bool) -> Slice:
        """Give the slice with what may be an electrical spike held back; the slice itself where nothing is.

        A jump that is held back shows the value before it, as an old one. It is let through in its fourth row, once it
        goes on rising, or as soon as the ring's speed changes with it; nothing is held for more than 0.35 s.

        Args:
            s: slice with the derived channels.
            interfered: whether a temperature shows interference: then a speed that has jumped as well says nothing.
        """
        if s.duration_s <= _SLOW_S:
            return s
        if s.gap_before_s > _HOLE_S or s.epoch != self._epoch:
            self._epoch = s.epoch
            self._forget()
        moves = self._speed_moves(s) and not (interfered or _is_beyond(s))
        held: list[str] = []
        for name, one in self._channels.items():
            channel = s.channels.get(name)
            if channel is not None and self._holds(one, channel, s.duration_s, moves):
                held.append(name)
        coefficient = s.channels.get(FRICTION_COEFFICIENT)
        if not held:
            self._coefficient = coefficient
            return s
        channels = s.channels.copy()
        for name in held:
            believed = self._channels[name].believed
            if believed is not None:
                channels[name] = replace(believed, fresh=False)
        is_older = NORMAL_LOAD in held or FRICTION_FORCE in held
        if is_older and coefficient is not None and self._coefficient is not None:
            channels[FRICTION_COEFFICIENT] = replace(self._coefficient, fresh=False)
        return replace(s, channels=channels)

    def _holds(self, one: _Channel, channel: ChannelSlice, dt_s: float, moves: bool) -> bool:
        if channel.quality is _BAD and channel.reason not in _BEYOND:
            one.forget()
            return False
        if not channel.fresh:
            return one.rows > 0
        if one.jumps(channel) and not moves:
            one.rows += 1
            one.held_s += dt_s
            if one.rows <= _LONGEST_ROWS and one.held_s <= _LONGEST_S:
                return True
        one.believe(channel, dt_s)
        return False

    def _speed_moves(self, s: Slice) -> bool:
        speed = s.channels.get(RING_SPEED)
        if speed is None or speed.quality is _BAD or not speed.fresh:
            return False
        rpm, last = abs(speed.mean), self._speed_rpm
        away = abs(rpm - last)
        moves = away > _SPEED_SHARE * max(rpm, last) and away > _SPEED_SIGMAS * self._speed_noise.sigma
        if not any(one.rows for one in self._channels.values()):
            self._speed_rpm = rpm
            self._speed_noise.learn(rpm, s.duration_s)
        return moves

    def _forget(self) -> None:
        for one in self._channels.values():
            one.forget()
        self._coefficient = None
        self._speed_rpm = math.nan
