"""How the speed is read: time between pulses, pulses over a gate, or a tachometer generator.

Reads the angle that the pulse disc has turned, gives r/min at the moments of the samples.
"""

from math import pi

import numpy as np
from world_b.values import Floats, Tachometer

from .chance import STEP_S, Dice, between, lagged
from .rig import Sensing

_GIVES_UP_S = 2.5
"""After which a period counter without pulses shows 0; plausible, invented."""
_GENERATOR_S = 0.03


def speed_rpm(dice: Dice, sensing: Sensing, t_s: Floats, speed_rad_s: Floats, at_s: Floats) -> Floats:
    """Give the reading, without noise of the wire.

    Args:
        dice: for the phase of disc and gate.
        sensing: which tachometer.
        t_s, speed_rad_s: (n,) the shaft on which it sits, on the inner clock.
        at_s: (m,) moments of the samples.
    Returns:
        (m,) r/min.
    """
    if sensing.tachometer is Tachometer.ANALOGUE:
        return np.interp(at_s, t_s, lagged(speed_rad_s, _GENERATOR_S)) * 30.0 / pi
    turns = np.cumsum(speed_rad_s) * STEP_S / (2.0 * pi) + dice.random()
    pulses = turns * sensing.pulses_per_turn
    if sensing.tachometer is Tachometer.GATE:
        gate_s = sensing.gate_s
        phase = between(dice, 0.0, 1.0)
        ends = (np.floor((at_s - t_s[0]) / gate_s - phase) + phase) * gate_s + t_s[0]
        counted = np.floor(np.interp(ends, t_s, pulses)) - np.floor(np.interp(ends - gate_s, t_s, pulses))
        early = ends - gate_s < t_s[0]
        shown = counted * 60.0 / (sensing.pulses_per_turn * gate_s)
        return np.where(early, np.interp(at_s, t_s, speed_rad_s) * 30.0 / pi, shown)
    return _by_period(pulses, sensing.pulses_per_turn, t_s, speed_rad_s, at_s)


def _by_period(pulses: Floats, per_turn: int, t_s: Floats, speed_rad_s: Floats, at_s: Floats) -> Floats:
    """Give the pace of the last two pulses; while the next is late, what would be if it came now."""
    whole = np.arange(np.ceil(pulses[0]), np.floor(pulses[-1]) + 1.0)
    steady = pulses + np.arange(len(pulses)) * 1e-12
    moments = np.interp(whole, steady, t_s)
    if len(moments) < 3:
        return np.interp(at_s, t_s, speed_rad_s) * 30.0 / pi * (len(moments) > 0)
    last = np.searchsorted(moments, at_s, side="right") - 1
    known = np.clip(last, 1, None)
    gap_s = np.maximum(moments[known] - moments[known - 1], 1e-6)
    late_s = np.maximum(at_s - moments[known], gap_s)
    shown = 60.0 / (per_turn * np.where(late_s > 1.5 * gap_s, late_s, gap_s))
    shown[late_s > _GIVES_UP_S] = 0.0
    before = last < 1
    shown[before] = np.interp(at_s[before], t_s, speed_rad_s) * 30.0 / pi
    return np.asarray(shown)
