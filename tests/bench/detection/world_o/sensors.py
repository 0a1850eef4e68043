"""Instruments: amplifiers, converters, meters, tachometers.  Reads the inner world, gives what a logger would note."""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from scipy.signal import lfilter
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
    Kind,
    Tachometer,
)

from world_o.parts import Plan, Rig, log_uniform


@dataclass(frozen=True, slots=True)
class Sensor:
    """One channel's chain.

    Attributes:
        low, high: range in its unit.
        cut_hz: of the amplifier, or 1 / (2 pi lag) of a thermocouple.
        zero, gain: error of both.
        noise: standard deviation of one conversion.
        step: of the converter.
        rate_hz: of the converter, held in the rows; 0 for one conversion a row.
        hum: amplitude of mains.
    """

    low: float
    high: float
    cut_hz: float
    zero: float
    gain: float
    noise: float
    step: float
    rate_hz: float
    hum: float = 0.0


def _nice(value: float) -> float:
    """Round up to 1, 2, 3, 5 times a power of ten, as ranges come."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(next(m * power for m in (1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0) if m * power >= value * 0.999))


def _converter(rng: Generator, full: float, signal: float) -> tuple[float, float, float]:
    """Give step, noise and rate of a cheap converter on a cell."""
    if rng.random() < 0.45:
        return full / 2**20, signal * log_uniform(rng, 0.001, 0.01), float(rng.choice([10.0, 80.0, 80.0]))
    bits = int(rng.choice([10, 12, 12, 14, 16, 24]))
    step = 2.0 * full / 2**bits
    return step, max(0.5 * step, signal * log_uniform(rng, 0.001, 0.02)), 0.0


def _cell(rng: Generator, full: float, signal: float, hum: float) -> Sensor:
    """Give a force cell with its amplifier."""
    step, noise, rate_hz = _converter(rng, full, signal)
    zero, gain = signal * rng.normal(0.0, 0.02), 1.0 + rng.normal(0.0, 0.01)
    return Sensor(-full, full, log_uniform(rng, 2.0, 100.0), zero, gain, noise, step, rate_hz, hum)


def draw_sensors(rng: Generator, plan: Plan, rig: Rig, running_a: float) -> dict[str, Sensor]:
    """Give all seven instruments of a rig."""
    whole = {n.kind for n in plan.listed}
    top_n = max(load_n for _, load_n in plan.steps)
    rub_n = rig.contact.mu_healthy * top_n
    hum = rub_n * rng.uniform(0.02, 0.15) if Kind.MAINS_HUM in whole else 0.0
    most_a = max(rig.drive.locked_a, rig.drive.idle_a + rig.drive.peak_nm * rig.drive.a_per_nm) * 1.1
    full_a = _nice(max(running_a * 2.5, most_a * 0.35)) if Kind.CURRENT_RAIL in whole else _nice(most_a)
    full_n = _nice(top_n * rig.contact.mu_scuffed * rng.uniform(1.3, 3.0))
    current_step = full_a / 2 ** int(rng.choice([10, 12, 16]))
    current_noise = max(0.4 * current_step, running_a * log_uniform(rng, 0.002, 0.02))
    coarse = Kind.COARSE_TEMPERATURE in whole
    out = {
        NORMAL_LOAD: _cell(rng, _nice(top_n * rng.uniform(1.4, 3.0)), top_n, 0.0),
        FRICTION_FORCE: _cell(rng, full_n, rub_n, hum),
        MOTOR_CURRENT: Sensor(
            0.0, full_a, log_uniform(rng, 3.0, 60.0), running_a * rng.normal(0.0, 0.01), 1.0 + rng.normal(0.0, 0.02),
            current_noise, current_step, 0.0,
        ),
        SOUND_LEVEL: Sensor(
            30.0, 130.0 if rng.random() < 0.7 else 105.0, 1.0 / (2 * np.pi * (0.125 if rng.random() < 0.6 else 1.0)),
            rng.normal(0.0, 1.0), 1.0, rng.uniform(0.05, 0.4), float(rng.choice([0.1, 0.1, 0.5])),
            float(rng.choice([0.0, 2.0, 8.0, 10.0])),
        ),
    }  # fmt: skip
    for name in (PIN_TEMPERATURE, BATH_TEMPERATURE):
        lag_s = rng.uniform(0.3, 4.0) if name == PIN_TEMPERATURE else rng.uniform(2.0, 30.0)
        step = 0.5 if coarse else float(rng.choice([0.01, 0.0625, 0.1, 0.25]))
        rate_hz = float(rng.choice([0.0, 2.0, 5.0, 10.0]))
        out[name] = Sensor(
            -20.0, float(rng.choice([200.0, 250.0, 400.0])), 1.0 / (2 * np.pi * lag_s), rng.normal(0.0, 0.7), 1.0,
            rng.uniform(0.02, 0.2), step, rate_hz,
        )  # fmt: skip
    speed = rig.speed_rpm
    out[RING_SPEED] = Sensor(
        0.0, _nice(speed * rng.uniform(1.4, 2.5)), log_uniform(rng, 3.0, 20.0), 0.0, 1.0 + rng.normal(0.0, 0.005),
        speed * rng.uniform(0.001, 0.01) if rig.tachometer is Tachometer.ANALOGUE else 0.0,
        speed / 2**9 if rig.tachometer is Tachometer.ANALOGUE else 0.01, float(rng.choice([0.2, 0.25, 0.5, 1.0])),
    )  # fmt: skip
    return out


def low_passed(values: Floats, cut_hz: float, rate_hz: float) -> Floats:
    """Give values through one pole, at rest on the first value."""
    pole = float(np.exp(-2 * np.pi * cut_hz / rate_hz))
    out, _ = lfilter([1.0 - pole], [1.0, -pole], values, zi=[pole * values[0]])
    return np.asarray(out)


def convert(rng: Generator, sensor: Sensor, smooth: Floats, rate_hz: float) -> Floats:
    """Give what the converter notes: held between its own conversions, noisy, in steps, within its range."""
    n = smooth.size
    if 0.0 < sensor.rate_hz < rate_hz:
        tick = (np.arange(n) * (sensor.rate_hz / rate_hz)).astype(np.int64)
        at = np.minimum(np.ceil(np.arange(tick[-1] + 1) * rate_hz / sensor.rate_hz - 1e-9).astype(np.int64), n - 1)
        held = smooth[at] + rng.normal(size=at.size) * sensor.noise
        noisy = held[tick]
    else:
        noisy = smooth + rng.normal(size=n) * sensor.noise
    stepped = np.round((noisy * sensor.gain + sensor.zero) / sensor.step) * sensor.step
    return np.clip(stepped, sensor.low, sensor.high)


def level_passed(level_db: Floats, cut_hz: float, rate_hz: float) -> Floats:
    """Give a level through the weighting of its meter, which works on power (IEC 61672, from memory)."""
    power = low_passed(np.power(10.0, level_db / 10.0), cut_hz, rate_hz)
    out: Floats = 10.0 * np.log10(np.maximum(power, 1e-3))
    return out


def tachometer(rig: Rig, sensor: Sensor, rad_s: Floats, rate_hz: float) -> Floats:
    """Give the speed as pulses tell it, in r/min; the analogue one passes through."""
    rpm = rad_s * 30.0 / np.pi
    if rig.tachometer is Tachometer.ANALOGUE:
        return low_passed(rpm, sensor.cut_hz, rate_hz)
    n, pulses = rad_s.size, rig.pulses_per_turn
    passed = np.cumsum(rad_s) / rate_hz * pulses / (2 * np.pi)
    t_s = np.arange(1, n + 1) / rate_hz
    if rig.tachometer is Tachometer.GATE:
        gate_s = sensor.rate_hz
        edges = np.arange(0.0, t_s[-1] + gate_s, gate_s)
        counts = np.diff(np.floor(np.interp(edges, t_s, passed)), prepend=0.0)
        counts[0] = np.floor(rad_s[0] * gate_s * pulses / (2 * np.pi))
        which = np.minimum((t_s / gate_s + 1e-9).astype(np.int64), counts.size - 1)
        out: Floats = counts[which] * 60.0 / (pulses * gate_s)
        return out
    whole = np.arange(1.0, np.floor(passed[-1]) + 1.0)
    if whole.size < 2:
        return np.zeros(n)
    ever = np.concatenate([[0.0], passed]) + 1e-12 * np.arange(n + 1)
    at = np.interp(whole, ever, np.concatenate([[0.0], t_s]))
    gaps = np.maximum(np.diff(at, prepend=at[0] - 1e9), 1e-4)
    if rad_s[0] > 0.0:
        gaps[0] = 2 * np.pi / (rad_s[0] * pulses)
    seen = np.searchsorted(at, t_s, side="right") - 1
    since = t_s - at[np.maximum(seen, 0)]
    give_up_s = max(1.0, 3.0 * 60.0 / (rig.speed_rpm * pulses))
    shown = np.where(seen >= 0, 60.0 / (pulses * gaps[np.maximum(seen, 0)]), rpm[0])
    return np.where(since > give_up_s, 0.0, shown)
