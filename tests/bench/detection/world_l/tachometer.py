"""Three ways to read a speed: time between pulses, pulses over a gate, a generator. Reads angles."""

import math

import numpy as np
from world_b.values import Floats, Inside, Tachometer

from world_l.sensors import Sensors

TIME_OUT_S = 2.0
"""A period counter that has seen no pulse for this long shows zero."""


def shown_rpm(inside: Inside, angle_rad: Floats, sensors: Sensors, rng: np.random.Generator) -> Floats:
    """Give the speed shown, (n,) r/min of the ring."""
    t_s = inside.t_s
    if sensors.tachometer is Tachometer.ANALOGUE:
        speed = inside.motor_speed_rad_s if sensors.tachometer_on_motor else inside.ring_speed_rad_s
        rpm = speed * 30.0 / math.pi
        ripple = 1.0 + sensors.analogue_ripple * np.sin(7.0 * angle_rad)
        top_rpm = float(np.max(rpm, initial=1.0))
        shown: Floats = rpm * ripple + rng.normal(0.0, 5e-4 * top_rpm, len(rpm))
        return shown
    pitch_rad = 2.0 * math.pi / sensors.pulses_per_turn
    if sensors.tachometer is Tachometer.GATE:
        return _counted_rpm(t_s, angle_rad, pitch_rad, sensors)
    return _timed_rpm(t_s, angle_rad, pitch_rad, sensors, rng)


def _counted_rpm(t_s: Floats, angle_rad: Floats, pitch_rad: float, sensors: Sensors) -> Floats:
    """Give pulses of the last whole gate; resolution is 60 / (pulses a turn x gate) r/min."""
    gates = np.floor(t_s / sensors.gate_s)
    ends_s = gates * sensors.gate_s
    pulses_at_end = np.floor(np.interp(ends_s, t_s, angle_rad) / pitch_rad)
    pulses_before = np.floor(np.interp(ends_s - sensors.gate_s, t_s, angle_rad) / pitch_rad)
    rpm: Floats = (pulses_at_end - pulses_before) * 60.0 / (sensors.pulses_per_turn * sensors.gate_s)
    first = t_s < sensors.gate_s
    settled = t_s[-1] > 2.0 * sensors.gate_s and turns_at_first(angle_rad, t_s, sensors.gate_s)
    if settled and np.any(~first):
        rpm[first] = rpm[~first][0]  # the counter ran before the recording began
    return rpm


def turns_at_first(angle_rad: Floats, t_s: Floats, within_s: float) -> bool:
    """Tell whether the shaft turns from the first row on."""
    early = int(np.searchsorted(t_s, 0.3 * within_s)) + 1
    return bool(angle_rad[min(early, len(angle_rad) - 1)] > angle_rad[0])


def _timed_rpm(t_s: Floats, angle_rad: Floats, pitch_rad: float, sensors: Sensors, rng: np.random.Generator) -> Floats:
    """Give the inverse of the last period; between pulses it decays as the running period outgrows the last one."""
    period_limit_s = 0.02  # dense pulses: the counter averages over at least this long
    rate = float(np.median(np.diff(angle_rad))) / float(t_s[1] - t_s[0]) / pitch_rad
    together = max(int(rate * period_limit_s), 1) if sensors.pulses_per_turn > 1 else 1
    wide_rad = pitch_rad * together
    count = int((angle_rad[-1] - angle_rad[0]) / wide_rad)
    if count < 2:
        return np.zeros_like(t_s)
    errors = rng.normal(0.0, sensors.magnet_error / together, max(sensors.pulses_per_turn, 1))
    numbers = np.arange(count + 1)
    edges_rad = angle_rad[0] + (numbers + errors[numbers * together % len(errors)]) * wide_rad
    pulses_s = np.interp(edges_rad, *_rising(angle_rad, t_s))
    periods_s = np.maximum(np.diff(pulses_s), 1e-6)
    last = np.searchsorted(pulses_s, t_s, side="right") - 1
    period_s = periods_s[np.clip(last - 1, 0, count - 1)]
    waiting_s = t_s - pulses_s[np.clip(last, 0, count)]
    seen_s = np.where(last >= 1, np.maximum(period_s, waiting_s), periods_s[0])
    rpm = 60.0 * together / (sensors.pulses_per_turn * seen_s)
    begun = (last >= 1) | (turns_at_first(angle_rad, t_s, 0.1))
    timed: Floats = np.where((waiting_s < TIME_OUT_S) & begun, rpm, 0.0)
    return timed


def _rising(angle_rad: Floats, t_s: Floats) -> tuple[Floats, Floats]:
    """Give angle and time without the rows at which the shaft stood, so that time is a function of angle."""
    moved = np.concatenate(([True], np.diff(angle_rad) > 1e-12))
    moved |= np.concatenate((moved[1:], [False]))  # the last row at rest, where it sets off again
    return angle_rad[moved] + 1e-13 * np.arange(int(moved.sum())), t_s[moved]
