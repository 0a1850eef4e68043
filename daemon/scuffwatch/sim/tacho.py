"""Tachometer of the simulated rig: pulses of a slotted wheel turned into speed by counting periods.

Reads the ring's angle, gives speed as a rig box measures it.
"""

import math

SILENT_S = 0.15
"""No pulse for this long reads as standstill: max(3 expected periods, 0.15 s)."""


class Tachometer:
    """Period counting: whole periods over the time they took, and never more than the silence allows.

    Args:
        pulses_per_rev: slots of the wheel.

    What survives a call: the last pulse and the last speed.
    """

    __slots__ = ("_last_angle", "_last_pulse", "_pulse_t_s", "_slots_per_rad", "_turn_s", "speed_rpm")

    def __init__(self, pulses_per_rev: int) -> None:
        self._slots_per_rad = pulses_per_rev / math.tau
        self._turn_s = 60.0 / pulses_per_rev
        self._last_angle = 0.0
        self._last_pulse = 0
        self._pulse_t_s = -1.0
        self.speed_rpm = 0.0

    def step(self, t_s: float, dt_s: float, angle_rad: float) -> float:
        """Take the angle at `t_s`, `dt_s` after the last one, and give the speed, r/min."""
        slots = angle_rad * self._slots_per_rad
        pulse = int(slots)
        if pulse > self._last_pulse:
            moved = slots - self._last_angle
            pulse_t_s = t_s - dt_s * (slots - pulse) / moved
            since_s = pulse_t_s - self._pulse_t_s
            if since_s < SILENT_S:
                self.speed_rpm = (pulse - self._last_pulse) * self._turn_s / since_s
            self._pulse_t_s = pulse_t_s
            self._last_pulse = pulse
        elif self.speed_rpm:
            silent_s = t_s - self._pulse_t_s
            most_rpm = 0.0 if silent_s > SILENT_S else self._turn_s / silent_s
            self.speed_rpm = min(self.speed_rpm, most_rpm)
        self._last_angle = slots
        return self.speed_rpm
