"""A speed that is not believed: whether it is back, or its ring only stood and starts now.

Reads the motor's signs, says how a speed that was lost stands. One that swung is not believed until the motor stops.
"""

import math

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.motor_signs import MotorSigns

_GROWS = 2
"""A speed that was not believed, and grows from nothing so many values in a row, is a ring's that starts."""


class DoubtedSpeed:
    """Follow the speed while it is distrusted.

    Args:
        params: see `MotorParams`.

    What survives a call: for how long the speed has been back, and how many values in a row it has grown.
    """

    def __init__(self, params: MotorParams) -> None:
        self._arm_share, self._arm_s = params.arm_share, params.arm_s
        self._turning_rpm = params.turning_above_rpm
        self.begin()

    def begin(self) -> None:
        """Begin with a speed that has just been lost."""
        self._at_speed_s, self._seen_rpm, self._grows = 0.0, math.nan, 0

    def is_back(self, signs: MotorSigns, reference_rpm: float, dt_s: float) -> bool:
        """Say whether it has been at speed for long enough."""
        back = signs.speed_seen_rpm >= self._arm_share * reference_rpm
        self._at_speed_s = self._at_speed_s + dt_s if back else 0.0
        return self._at_speed_s >= self._arm_s

    def starts_after_all(self, signs: MotorSigns) -> bool:
        """Say whether it grows from nothing: the ring stood, and the motor starts now."""
        if signs.speed_new:
            seen_rpm, before_rpm = signs.speed_seen_rpm, self._seen_rpm
            grows = seen_rpm > self._turning_rpm and seen_rpm > before_rpm and before_rpm == before_rpm
            self._grows = self._grows + 1 if grows and (self._grows or before_rpm <= self._turning_rpm) else 0
            self._seen_rpm = seen_rpm
        return self._grows >= _GROWS

    @property
    def grows(self) -> bool:
        """Say whether its last value has grown from nothing; held, none does."""
        return self._grows > 0
