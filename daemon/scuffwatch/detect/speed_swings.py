"""A speed that falls and comes back time and again while the motor's current is steady: no ring does that.

Reads the motor's signs, says whether its tachometer shows no speed: a pulse too few or too many, or noise.
"""

import math

from scuffwatch.detect.motor_signs import MotorSigns
from scuffwatch.detect.motor_start import NOW_MEMORY_S, STEADY_SHARE
from scuffwatch.detect.smooth import Usual

FALLS_TO, _FALLS_LEAST = 0.9, 5
"""From one value to the next; a ring that starts does not fall."""
_STEADY_MEMORY_S, _STEADY_S = 2.0, 15.0


class SpeedSwings:
    """Follow speed and current of a motor that is starting.

    What survives a call: how often the speed has fallen, between which values, and for how long the current has been
    steady meanwhile.

    Attributes:
        low_rpm, high_rpm: of the speed in that time, r/min.
    """

    def __init__(self) -> None:
        self._usual_a, self._now_a = Usual(_STEADY_MEMORY_S), Usual(NOW_MEMORY_S)
        self.reset()

    def reset(self) -> None:
        """Begin anew: the motor is switched off."""
        self._usual_a.forget()
        self._now_a.forget()
        self._begin()

    def _begin(self) -> None:
        self._steady_s, self._falls, self._last_rpm = 0.0, 0, math.nan
        self.low_rpm, self.high_rpm = math.inf, 0.0

    def update(self, signs: MotorSigns, dt_s: float) -> None:
        """Take the next slice's signs."""
        if signs.current_a != signs.current_a:
            return
        usual_a = self._usual_a
        self._now_a.learn(signs.current_a, dt_s)
        usual_a.learn(signs.current_a, dt_s)
        if abs(self._now_a.value - usual_a.value) > STEADY_SHARE * usual_a.value:
            self._begin()
            return
        self._steady_s += dt_s
        rpm = signs.speed_seen_rpm
        if not signs.speed_new or rpm != rpm:
            return
        self._falls += rpm < FALLS_TO * self._last_rpm
        self._last_rpm = rpm
        self.low_rpm, self.high_rpm = min(self.low_rpm, rpm), max(self.high_rpm, rpm)

    @property
    def found(self) -> bool:
        """Say whether it is so."""
        return self._falls >= _FALLS_LEAST and self._steady_s >= _STEADY_S
