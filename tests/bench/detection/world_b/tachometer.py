"""What a tachometer shows of a speed: pulses timed or counted, or a small generator.

Reads speed at the ring, gives r/min.
"""

import numpy as np

from .draws import Draw
from .rigs import Sensing
from .sound import hold
from .values import Floats, Tachometer

RPM_PER_RAD_S = 30.0 / np.pi
SILENCE_S = 2.0


def shown_rpm(draw: Draw, sensing: Sensing, t_s: Floats, speed_rad_s: Floats, rate_hz: float) -> Floats:
    """Give the speed as shown, (n,) r/min."""
    if sensing.tachometer is Tachometer.ANALOGUE:
        return _generator(draw, speed_rad_s)
    # The tiny slope lets the pulse times be looked up where the ring is at rest.
    turns = np.cumsum(speed_rad_s) / (rate_hz * 2.0 * np.pi) + 1e-9 * t_s
    if sensing.tachometer is Tachometer.GATE:
        return _counted(sensing, turns, rate_hz)
    return _timed(draw, sensing, t_s, turns, float(speed_rad_s[0]))


def _generator(draw: Draw, speed_rad_s: Floats) -> Floats:
    rpm = speed_rad_s * RPM_PER_RAD_S * (1.0 + 0.01 * draw.normal())
    top_rpm = float(rpm.max(initial=1.0))
    return rpm + top_rpm * (0.003 * draw.normal() + 0.004 * draw.rng.standard_normal(len(rpm)))


def _counted(sensing: Sensing, turns: Floats, rate_hz: float) -> Floats:
    counts = np.floor(turns * sensing.pulses_per_turn)
    every = max(1, round(sensing.gate_s * rate_hz))
    in_gate = counts - np.concatenate((np.full(min(every, len(counts)), np.nan), counts[:-every]))
    in_gate[: every + 1] = in_gate[min(every + 1, len(counts) - 1)]
    return hold(in_gate / sensing.pulses_per_turn * 60.0 * rate_hz / every, sensing.gate_s, rate_hz)


def _timed(draw: Draw, sensing: Sensing, t_s: Floats, turns: Floats, begin_rad_s: float) -> Floats:
    pulses = sensing.pulses_per_turn
    last = np.floor(turns * pulses)
    first_pulse, final_pulse = int(last[0]), int(last[-1])
    if final_pulse - first_pulse > 4 * len(t_s):
        return _smooth_timed(draw, t_s, turns)
    at_s = np.interp(np.arange(first_pulse - 1, final_pulse + 1) / pulses, turns, t_s)
    uneven = 0.01 * np.sin(2.0 * np.pi * np.arange(pulses) / pulses + draw.within(0.0, 6.0)) if pulses > 1 else [0.0]
    period_s = np.maximum(np.diff(at_s), 1e-6) * (1.0 + np.resize(np.asarray(uneven), len(at_s) - 1))
    period_s[:2] = 2.0 * np.pi / (begin_rad_s * pulses) if begin_rad_s > 0.0 else 1e3
    which = np.maximum(last.astype(int) - first_pulse, 0)
    silent_s = t_s - at_s[which + 1]
    shown_s = np.maximum(period_s[which], silent_s)
    rpm = 60.0 / (pulses * shown_s)
    return np.where(silent_s > np.maximum(SILENCE_S, 60.0 / pulses / 20.0), 0.0, rpm)


def _smooth_timed(draw: Draw, t_s: Floats, turns: Floats) -> Floats:
    rpm = np.gradient(turns, t_s) * 60.0
    return np.maximum(rpm * (1.0 + 0.003 * draw.rng.standard_normal(len(t_s))), 0.0)
