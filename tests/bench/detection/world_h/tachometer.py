"""How a speed is read: time between pulses, pulses over a gate, or a generator's voltage.

Reads the course, gives r/min at the times of the rows, without noise.
"""

import math

import numpy as np
from world_b.values import Floats, Tachometer

from .drives import DT_S
from .instruments import Instruments
from .rig import Rig
from .turning import Course

_TURN = 2.0 * math.pi
_RIPPLE_RATIO = 0.004
_EARLIER_S = 10.0
"""How far back pulses are thought of where a recording begins on a turning ring."""
_PATIENCE = 4.0
"""A period this many times the usual one is shown as standstill."""


def read_speed(rig: Rig, instruments: Instruments, course: Course, t_s: Floats) -> Floats:
    """Give the speed a tachometer shows, (n,) float64, r/min."""
    fine_s = np.arange(len(course.angle_rad)) * DT_S
    shown_rad_s = course.motor_rad_s if instruments.on_motor else course.ring_rad_s
    angle = np.cumsum(shown_rad_s) * DT_S
    if instruments.tachometer is Tachometer.ANALOGUE:
        ripple = 1.0 + _RIPPLE_RATIO * np.sin(4.0 * np.interp(t_s, fine_s, angle))
        return np.interp(t_s, fine_s, shown_rad_s) * ripple * 60.0 / _TURN
    pulse_rad = _TURN / instruments.pulses_per_turn
    if instruments.tachometer is Tachometer.GATE:
        end_s = np.floor(t_s / instruments.gate_s) * instruments.gate_s
        counts = [np.floor(np.interp(at_s, fine_s, angle) / pulse_rad) for at_s in (end_s, end_s - instruments.gate_s)]
        first_gate = rig.set_rad_s * (shown_rad_s[0] > 0.0)
        counted = (counts[0] - counts[1]) * pulse_rad / instruments.gate_s
        return np.where(t_s < instruments.gate_s, first_gate, counted) * 60.0 / _TURN
    return _by_period(fine_s, angle, t_s, pulse_rad, rig.set_rad_s) * 60.0 / _TURN


def _by_period(fine_s: Floats, angle: Floats, t_s: Floats, pulse_rad: float, set_rad_s: float) -> Floats:
    """Give rad/s from the last two pulses; as they fail to come it falls, and at last shows standstill."""
    moving = np.concatenate([[True], np.diff(angle) > 0.0])
    earlier_rad = float(angle[0]) / DT_S * _EARLIER_S
    angles = np.concatenate([[angle[0] - earlier_rad], angle[moving]])
    times_s = np.concatenate([[-_EARLIER_S], fine_s[moving]])
    last = np.floor(np.interp(t_s, fine_s, angle) / pulse_rad)
    last_s, before_s = (np.interp(number * pulse_rad, angles, times_s) for number in (last, last - 1.0))
    waited_s = t_s - last_s
    shown = pulse_rad / np.maximum(np.maximum(last_s - before_s, 1e-5), waited_s)
    never = (last < 1.0) & (earlier_rad <= 0.0)
    return np.where(never | (waited_s > _PATIENCE * max(pulse_rad / set_rad_s, 0.05)), 0.0, shown)
