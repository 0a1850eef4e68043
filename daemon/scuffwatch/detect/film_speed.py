"""A ring whose speed is being changed: the film changes with it, and what it drags is no scuffing.

Reads the ring's speed, says whether it is on its way and whether it has come to another one. By the Stribeck curve a
film that thins as its ring slows down drags up to what a boundary film does; one that is full drags more the faster it
is sheared (Hersey number, viscosity times speed over load).
"""

import math

from scuffwatch.detect.noise import Noise
from scuffwatch.detect.smooth import Rate, Usual
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Quality

_CHANGED_SHARE, _SIGMAS = 0.15, 4.0
"""Of the speed, and of the noise of one value: less is the droop of a motor under its weights."""
_FAST_S, _SLOW_S, _LEVEL_S = 0.1, 1.0, 20.0
_RESTS_SHARE, _RESTS_S = 0.03, 1.0
"""A speed whose means of 0.1 and 1 s have been so near for so long has come to rest."""
_BAD = Quality.BAD


class FilmSpeed:
    """Follow the ring's speed.

    What survives a call: its means, its noise, and the speed at which the film was learned.

    Attributes:
        moves, rises: whether the speed is on its way to another one, and to a higher one.
        has_changed: whether it has come to another one since that was last asked for by `take_change`.
    """

    __slots__ = ("_fast", "_level_rate", "_level_rpm", "_noise", "_rests_s", "_slow", "has_changed", "moves", "rises")

    def __init__(self) -> None:
        self._noise, self._level_rate = Noise(), Rate(_LEVEL_S)
        self._fast, self._slow = Usual(_FAST_S), Usual(_SLOW_S)
        self.forget()

    def forget(self) -> None:
        """Begin anew: the motor was off, or its speed is not known."""
        self._fast.forget()
        self._slow.forget()
        self._level_rpm, self._rests_s = math.nan, 0.0
        self.moves = self.rises = self.has_changed = False

    def take_change(self) -> bool:
        """Say whether the speed has come to another one, once."""
        changed, self.has_changed = self.has_changed, False
        return changed

    def take(self, speed: ChannelSlice | None, dt_s: float) -> None:
        """Take the speed of a slice in which the motor runs."""
        if speed is None or speed.quality is _BAD:
            self.forget()
            return
        rpm = abs(speed.mean)
        if speed.fresh:
            self._noise.learn(rpm, dt_s)
        self._fast.learn(rpm, dt_s)
        self._slow.learn(rpm, dt_s)
        fast_rpm, level_rpm = self._fast.value, self._level_rpm
        if level_rpm != level_rpm:
            self._level_rpm = fast_rpm
            return
        away_rpm = fast_rpm - level_rpm
        if abs(away_rpm) <= max(_CHANGED_SHARE * level_rpm, _SIGMAS * self._noise.sigma):
            self.moves = self.rises = False
            self._rests_s = 0.0
            self._level_rpm = level_rpm + away_rpm * self._level_rate.share(dt_s)
            return
        self.moves, self.rises = True, away_rpm > 0.0
        rests = abs(fast_rpm - self._slow.value) <= _RESTS_SHARE * fast_rpm
        self._rests_s = self._rests_s + dt_s if rests else 0.0
        if self._rests_s >= _RESTS_S:
            self._level_rpm, self._rests_s = fast_rpm, 0.0
            self.moves = self.rises = False
            self.has_changed = True
