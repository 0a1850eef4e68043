"""Turns the true traces into what each sensor shows. Reads `sensors`, `tachometer`; gives channels in range."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter, lfilter_zi
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
    Inside,
)

from world_l.clock import even_s
from world_l.growth import wander
from world_l.sensors import CurrentSensor, Sensors
from world_l.sound import weighted_db
from world_l.tachometer import shown_rpm


@dataclass(frozen=True, slots=True)
class Angles:
    """(n,) angle turned, rad, of ring and of motor, both seen at the ring."""

    ring_rad: Floats
    motor_rad: Floats


def readings(inside: Inside, angles: Angles, sensors: Sensors, rng: np.random.Generator) -> dict[str, Floats]:
    """Give all seven channels, (n,) each, noisy, held, stepped and clipped to their ranges."""
    t_s = inside.t_s
    dt_s = float(t_s[1] - t_s[0])
    made = {
        NORMAL_LOAD: _load(inside, sensors, dt_s, rng),
        FRICTION_FORCE: _friction(inside, sensors, dt_s, rng),
        MOTOR_CURRENT: _current(inside, sensors, dt_s, rng),
        SOUND_LEVEL: weighted_db(inside.sound_level_db, dt_s, sensors.sound_lag_s)
        + rng.normal(0.0, sensors.sound_noise_db, len(t_s)),
        PIN_TEMPERATURE: _temperature(inside.pin_temperature_degc, sensors.pin_lag_s, sensors, t_s, rng),
        BATH_TEMPERATURE: _temperature(inside.bath_temperature_degc, sensors.bath_lag_s, sensors, t_s, rng),
        RING_SPEED: shown_rpm(
            inside, angles.motor_rad if sensors.tachometer_on_motor else angles.ring_rad, sensors, rng
        ),
    }
    steps = {
        SOUND_LEVEL: sensors.sound_step_db,
        PIN_TEMPERATURE: sensors.temperature_step_k,
        BATH_TEMPERATURE: sensors.temperature_step_k,
    }
    for name, values in made.items():
        if name in sensors.hold_hz and sensors.hold_hz[name] < 0.9 / dt_s:
            values = values[_held(t_s, sensors.hold_hz[name])]
        if steps.get(name):
            values = np.round(values / steps[name]) * steps[name]
        made[name] = np.clip(values, *sensors.ranges[name])
    return made


def lagged(values: Floats, dt_s: float, tau_s: float) -> Floats:
    """Give a first-order lag that starts settled."""
    keep = math.exp(-dt_s / tau_s)
    out, _ = lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])
    filtered: Floats = out
    return filtered


def resonant(values: Floats, dt_s: float, resonance_hz: float, damping: float) -> Floats:
    """Give a mass on a spring that starts settled; one too quick for the clock is a first-order lag.

    Source: the bilinear transform of w^2 / (s^2 + 2 D w s + w^2), warped to keep the resonance (signal texts).
    """
    omega = 2.0 * math.pi * resonance_hz
    if resonance_hz * dt_s > 0.2:
        return lagged(values, dt_s, 1.0 / omega)
    k = omega / math.tan(0.5 * omega * dt_s)
    a0 = k * k + 2.0 * damping * omega * k + omega * omega
    a = [1.0, 2.0 * (omega * omega - k * k) / a0, (k * k - 2.0 * damping * omega * k + omega * omega) / a0]
    b = np.array([1.0, 2.0, 1.0]) * omega * omega / a0
    out, _ = lfilter(b, a, values, zi=lfilter_zi(b, a) * values[0])
    moved: Floats = out
    return moved


def _held(t_s: Floats, hold_hz: float) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Give the row whose value each row repeats."""
    slots = np.floor(t_s * hold_hz + 1e-6)
    return np.maximum.accumulate(np.where(np.diff(slots, prepend=-1.0) > 0, np.arange(len(t_s)), 0))


def _cell(force_n: Floats, full_n: float, sensors: Sensors, dt_s: float, rng: np.random.Generator) -> Floats:
    """Give a force cell: bandwidth, zero that drifts, noise."""
    t_s = even_s(len(force_n), dt_s)
    zero = sensors.cell_zero_ratio * (1.0 + 0.3 * wander(rng, t_s, 300.0))
    noise = rng.normal(0.0, sensors.cell_noise_ratio, len(force_n))
    cell: Floats = resonant(force_n, dt_s, sensors.cell_hz, sensors.cell_damping) + full_n * (zero + noise)
    return cell


def _load(inside: Inside, sensors: Sensors, dt_s: float, rng: np.random.Generator) -> Floats:
    seen_n = inside.normal_load_n + sensors.cross_talk * inside.friction_force_n
    return _cell(seen_n, sensors.ranges[NORMAL_LOAD][1], sensors, dt_s, rng)


def _friction(inside: Inside, sensors: Sensors, dt_s: float, rng: np.random.Generator) -> Floats:
    full_n = sensors.ranges[FRICTION_FORCE][1]
    hum = full_n * sensors.hum_ratio * np.sin(2.0 * math.pi * sensors.mains_hz * inside.t_s)  # folds by itself
    return _cell(inside.friction_force_n, full_n, sensors, dt_s, rng) + hum


def _current(inside: Inside, sensors: Sensors, dt_s: float, rng: np.random.Generator) -> Floats:
    full_a = sensors.ranges[MOTOR_CURRENT][1]
    rippled = 1.0 + sensors.ripple_ratio * np.sin(2.0 * math.pi * sensors.ripple_hz * inside.t_s)
    shown = lagged(inside.motor_current_a * rippled * sensors.current_gain, dt_s, sensors.current_lag_s)
    shown = shown + full_a * rng.normal(0.0, sensors.current_noise_ratio, len(shown))
    if sensors.current_sensor is CurrentSensor.TRANSFORMER:
        shown = np.where(np.abs(shown) < sensors.current_dead_ratio * full_a, 0.0, np.abs(shown))
    if sensors.current_sensor is CurrentSensor.SHUNT:
        count_a = full_a / 512.0
        shown = np.round(shown / count_a) * count_a
    return shown


def _temperature(true_degc: Floats, lag_s: float, sensors: Sensors, t_s: Floats, rng: np.random.Generator) -> Floats:
    dt_s = float(t_s[1] - t_s[0])
    junction_k = sensors.junction_k * (1.0 + 0.3 * np.sin(t_s / 700.0))
    noise_k = rng.normal(0.0, sensors.temperature_noise_k, len(t_s))
    shown: Floats = lagged(true_degc, dt_s, lag_s) + junction_k + noise_k
    return shown
