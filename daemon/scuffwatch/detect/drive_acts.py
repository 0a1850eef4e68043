"""What a drive does to a ring that nothing holds: it brakes it or speeds it up, and draws as much as a held one does.

Reads the sign of the current and the speed, says so to `MotorSigns`.
"""

import math

from scuffwatch.detect.smooth import Rate

_BRAKES_S = 5.0
"""A drive brakes its ring for less; a transducer that is wired the other way round shows the turned sign for ever."""
_NOW_S, _SPEEDS_UP, _FAR_UP = 0.1, 1.03, 1.08
"""Times its usual speed, by the mean of 0.1 s, and by a single value: a ring that turns faster is sped up by what its
motor draws."""


class DriveActs:
    """Follow what tells a drive's own doing.

    What survives a call: for how long the current has had its sign turned, and the mean speed.

    Attributes:
        brakes: whether the current has turned its sign, and not for ever.
    """

    __slots__ = ("_now_rate", "_now_rpm", "_turned_s", "brakes")

    def __init__(self) -> None:
        self._turned_s, self.brakes = 0.0, False
        self._now_rate, self._now_rpm = Rate(_NOW_S), math.nan

    def forget_speed(self) -> None:
        """Begin anew with a motor that starts."""
        self._now_rpm = math.nan

    def take_sign(self, is_turned: bool, dt_s: float) -> None:
        """Take whether the current of a slice has its sign turned beside a ring that turns."""
        self._turned_s = self._turned_s + dt_s if is_turned else 0.0
        self.brakes = 0.0 < self._turned_s <= _BRAKES_S

    def speeds_up(self, speed_rpm: float, usual_rpm: float, dt_s: float) -> bool:
        """Take the speed of a slice, say whether the ring turns faster than usual; a tachometer's values may swing."""
        now_rpm = self._now_rpm
        now_rpm += (speed_rpm - now_rpm) * self._now_rate.share(dt_s)
        self._now_rpm = now_rpm if now_rpm == now_rpm else speed_rpm
        return self._now_rpm > _SPEEDS_UP * usual_rpm or speed_rpm > _FAR_UP * usual_rpm
