"""Tachometers: pulses timed, pulses counted over a gate, or a voltage.

Reads the turns of the shaft, gives the speed as read.
"""

import numpy as np
from world_b.values import Floats, Tachometer

from .rig import Rig, TachometerFacts
from .rows import Rows, colored

_CLOCK_S = 2e-6


def read_speed(draw: np.random.Generator, rig: Rig, rows: Rows, rate_hz: float) -> Floats:
    """Give the ring's speed as the tachometer has it; (n,) r/min."""
    meter = rig.tachometer
    turns = rows.motor_turns if meter.on_motor else rows.turns
    share = rows.motor_share if meter.on_motor else rows.ring_share
    if meter.kind is Tachometer.ANALOGUE:
        noise = meter.noise_share * (0.2 + share) * draw.standard_normal(len(turns))
        ripple = 0.5 * meter.noise_share * share * np.sin(2.0 * np.pi * 7.0 * turns)
        return np.asarray(rig.ring_speed_rpm * np.maximum(share + noise + ripple, 0.0))
    pulses = turns * meter.pulses_per_turn + draw.uniform()
    if meter.kind is Tachometer.GATE:
        return _counted(pulses, rows.t_s, meter)
    if meter.pulses_per_turn * rig.turns_hz > rate_hz:
        uneven = meter.noise_share * colored(draw, len(turns), 0.01 * rate_hz)
        return _timed_fast(pulses, rows.t_s, meter, rate_hz) * (1.0 + uneven)
    return _timed_slow(draw, pulses, rows.t_s, meter)


def _counted(pulses: Floats, t_s: Floats, meter: TachometerFacts) -> Floats:
    """Count whole pulses over a gate, show the last full gate."""
    gate = np.floor(t_s / meter.gate_s + 1e-9)
    marks_s = meter.gate_s * np.arange(int(gate[-1]) + 1)
    counts = np.diff(np.floor(np.interp(marks_s, t_s, pulses)))
    first = counts[0] if len(counts) else 0.0
    rpm = 60.0 / (meter.gate_s * meter.pulses_per_turn) * np.concatenate([[first], counts])
    return np.asarray(rpm[gate.astype(np.int64)])


def _timed_fast(pulses: Floats, t_s: Floats, meter: TachometerFacts, rate_hz: float) -> Floats:
    """Time the last whole pulses of each row; with none for the time-out the shaft counts as stopped."""
    count = np.floor(pulses)
    whole = np.diff(count, prepend=count[0])
    row_s = 1.0 / rate_hz
    turned = np.diff(pulses, prepend=2.0 * pulses[0] - pulses[1])
    rpm = 60.0 / meter.pulses_per_turn * turned / np.round(row_s / _CLOCK_S) / _CLOCK_S
    last = np.maximum.accumulate(np.where(whole > 0, np.arange(len(t_s)), 0))
    silent_s = t_s - t_s[last]
    most = 60.0 / meter.pulses_per_turn / np.maximum(silent_s, row_s)
    shown = np.where(whole > 0, rpm, np.minimum(rpm[last], most))
    return np.where(silent_s > meter.gate_s, 0.0, shown)


def _timed_slow(draw: np.random.Generator, pulses: Floats, t_s: Floats, meter: TachometerFacts) -> Floats:
    """Time from pulse to pulse; while none comes, no faster than that allows, and 0 after the time-out."""
    rising = np.append(True, np.diff(pulses) > 1e-12)
    edges = np.arange(np.ceil(pulses[0]), np.floor(pulses[-1]) + 1.0)
    if len(edges) < 2:
        return np.zeros(len(t_s))
    edges_s = np.interp(edges, pulses[rising], t_s[rising])
    uneven = 1.0 + meter.noise_share * draw.standard_normal(len(edges) - 1)
    rpm = np.concatenate([[0.0], 60.0 / meter.pulses_per_turn / np.diff(edges_s) * uneven])
    if edges_s[0] < 2.0 * (edges_s[1] - edges_s[0]):
        rpm[0] = rpm[1]
    last = np.searchsorted(edges_s, t_s, side="right") - 1
    silent_s = t_s - np.where(last >= 0, edges_s[np.maximum(last, 0)], t_s[0])
    shown = np.where(last >= 0, rpm[np.maximum(last, 0)], rpm[0])
    most = 60.0 / meter.pulses_per_turn / np.maximum(silent_s, 1e-4)
    return np.where(silent_s > meter.gate_s, 0.0, np.minimum(shown, most))
