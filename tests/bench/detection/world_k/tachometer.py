"""How a tachometer sees the shaft: time between pulses, pulses over a gate, or a small generator."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Tachometer

from world_k.rig import Rig, between
from world_k.shapes import unrest


@dataclass(frozen=True, slots=True)
class Teeth:
    """A tachometer's habits: pulses averaged, gate, time after which it says nought, tooth error, lag."""

    averaged: int
    gate_s: float
    silence_s: float
    tooth_ratio: float
    lag_s: float


def draw_teeth(rng: np.random.Generator, rig: Rig) -> Teeth:
    """Draw them so that a steady speed reads steady to some per cent."""
    pulses_per_s = max(rig.pulses_per_turn * rig.set_speed_rpm / 60.0, 1.0)
    return Teeth(
        averaged=max(1, math.ceil(0.02 * pulses_per_s)),
        gate_s=max(round(between(rng, 0.1, 0.8), 2), math.ceil(2000.0 / pulses_per_s) / 100.0),
        silence_s=max(between(rng, 0.3, 2.0), 2.5 / pulses_per_s),
        tooth_ratio=between(rng, 0.0005, 0.006),
        lag_s=between(rng, 0.02, 0.2),
    )


def read_rpm(rng: np.random.Generator, rig: Rig, teeth: Teeth, speed_rad_s: Floats, rate_hz: float) -> Floats:
    """Give what the tachometer reads in r/min."""
    rough = 1.0 + teeth.tooth_ratio * unrest(rng, speed_rad_s.size, rate_hz, 0.02)
    if rig.tachometer is Tachometer.ANALOGUE:
        keep = math.exp(-1.0 / (teeth.lag_s * rate_hz))
        lagged = lfilter([1.0 - keep], [1.0, -keep], speed_rad_s, zi=[keep * speed_rad_s[0]])[0]
        set_rpm = rig.set_speed_rpm
        noise_rpm = set_rpm * (rng.uniform(-0.004, 0.004) + 0.002 * rng.standard_normal(speed_rad_s.size))
        return np.asarray(lagged * 30.0 / math.pi * rough + noise_rpm)
    past_s = 5.0
    turns = np.cumsum(speed_rad_s) / (2.0 * math.pi * rate_hz)
    pulses = np.concatenate([[-speed_rad_s[0] / (2.0 * math.pi) * past_s], turns]) * rig.pulses_per_turn
    t_s = np.concatenate([[-past_s], (np.arange(speed_rad_s.size) + 1.0) / rate_hz])
    if rig.tachometer is Tachometer.GATE:
        ends = np.floor(t_s[1:] / teeth.gate_s + rng.random()) * teeth.gate_s
        counted = np.floor(np.interp(ends, t_s, pulses)) - np.floor(np.interp(ends - teeth.gate_s, t_s, pulses))
        return np.asarray(np.maximum(counted, 0.0) * 60.0 / (rig.pulses_per_turn * teeth.gate_s))
    return _between_pulses_rpm(teeth, rig.pulses_per_turn, t_s, pulses) * rough


def _between_pulses_rpm(teeth: Teeth, per_turn: int, t_s: Floats, pulses: Floats) -> Floats:
    steadily = pulses + np.arange(pulses.size) * 1e-9  # a shaft at rest must not make time ambiguous
    last = np.floor(steadily[1:])
    last_s = np.minimum(np.interp(last, steadily, t_s), t_s[1:])
    first_s = np.interp(last - teeth.averaged, steadily, t_s)
    period_s = np.maximum((last_s - first_s) / teeth.averaged, 1e-6)
    waited_s = t_s[1:] - last_s
    rpm = 60.0 / (per_turn * np.maximum(period_s, waited_s))
    return np.where((waited_s > teeth.silence_s) | (last - teeth.averaged < steadily[0]), 0.0, rpm)
