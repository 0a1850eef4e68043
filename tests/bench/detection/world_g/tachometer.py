"""How the speed is read: time between pulses, pulses over a gate, or a generator. Reads rad/s, gives r/min."""

import numpy as np
from world_b.values import Floats, Tachometer

from .chance import STEP_S, lagged
from .sensing import Sensing

RPM = 60.0 / (2.0 * np.pi)
GIVES_UP_S = 1.5
"""After which a period counter without pulses shows zero."""


def read_rpm(sensing: Sensing, speed_rad_s: Floats, t_s: Floats) -> Floats:
    """Give (n,) float64, r/min, as shown on the inner clock."""
    if sensing.tachometer is Tachometer.ANALOGUE:
        return lagged(speed_rad_s * RPM, sensing.gate_s, STEP_S)
    pulse_rad = 2.0 * np.pi / sensing.pulses_per_turn
    angle = np.cumsum(speed_rad_s) * STEP_S + np.arange(len(t_s)) * 1e-12
    if sensing.tachometer is Tachometer.GATE:
        return _gated(angle, pulse_rad, sensing.gate_s, t_s)
    last = np.floor(angle / pulse_rad)
    last_s = np.interp(last * pulse_rad, angle, t_s)
    period_s = last_s - np.interp((last - 1.0) * pulse_rad, angle, t_s)
    since_s = t_s - last_s
    read = pulse_rad * RPM / np.maximum(np.maximum(period_s, since_s), 1e-6)
    return np.asarray(np.where((since_s > GIVES_UP_S) | (last < 1.0), 0.0, read), dtype=np.float64)


def _gated(angle: Floats, pulse_rad: float, gate_s: float, t_s: Floats) -> Floats:
    closes_s = np.floor((t_s - t_s[0]) / gate_s) * gate_s + t_s[0]
    counts = [np.floor(np.interp(closes_s - back_s, t_s, angle) / pulse_rad) for back_s in (0.0, gate_s)]
    return np.asarray((counts[0] - counts[1]) * pulse_rad * RPM / gate_s, dtype=np.float64)
