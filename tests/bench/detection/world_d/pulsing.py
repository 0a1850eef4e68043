"""Tachometers: time between pulses, pulses over a gate, generator.

Reads the true speed at even steps, gives r/min as read.
"""

from math import pi

import numpy as np
from world_b.values import Floats, Tachometer

from .gauges import lagged
from .rig import Gauge, Pulses

RPM = 30.0 / pi


def read_rpm(pulses: Pulses, gauge: Gauge, speed_rad_s: Floats, step_s: float) -> Floats:
    """Give the speed as read, before noise and converter, (n,) r/min."""
    if pulses.kind is Tachometer.ANALOGUE:
        return lagged(speed_rad_s * RPM, step_s, gauge.lag_s)
    turns = np.concatenate(([0.0], np.cumsum(speed_rad_s) * step_s / (2.0 * pi)))
    passed = turns * pulses.per_turn + 0.5
    if pulses.kind is Tachometer.GATE:
        return _counted(pulses, passed, step_s)
    return _timed(pulses, passed, step_s, float(speed_rad_s[0]) * RPM)


def _counted(pulses: Pulses, passed: Floats, step_s: float) -> Floats:
    """Count whole pulses over one gate after the other; the reading is that of the last full gate."""
    n = len(passed) - 1
    gate = max(round(pulses.gate_s / step_s), 1)
    edges = np.floor(passed[::gate])
    rates = np.diff(edges) * 60.0 / (pulses.per_turn * gate * step_s)
    if not len(rates):
        return np.full(n, float(passed[-1] - passed[0]) * 60.0 / (pulses.per_turn * n * step_s))
    return rates[np.clip(np.arange(n) // gate - 1, 0, len(rates) - 1)]


def _timed(pulses: Pulses, passed: Floats, step_s: float, begin_rpm: float) -> Floats:
    """Give the speed from the last two pulses; it sinks while none comes, and is zero after the time-out."""
    n = len(passed) - 1
    t_s = np.arange(n + 1) * step_s
    rising = np.concatenate(([True], np.diff(passed) > 0.0))
    stamps_s = np.interp(np.arange(1.0, np.floor(passed[-1]) + 1.0), passed[rising], t_s[rising])
    seen = np.searchsorted(stamps_s, t_s[1:], side="right")
    if len(stamps_s) < 2:
        return np.full(n, begin_rpm)
    last_s = stamps_s[np.clip(seen - 1, 0, None)]
    between_s = last_s - stamps_s[np.clip(seen - 2, 0, None)]
    since_s = t_s[1:] - last_s
    waited_s = np.maximum(between_s, since_s)
    read = 60.0 / (pulses.per_turn * np.maximum(waited_s, 1e-6))
    read = np.where((between_s > pulses.gate_s) | (since_s > pulses.gate_s), 0.0, read)
    return np.where(seen < 2, begin_rpm, read)
