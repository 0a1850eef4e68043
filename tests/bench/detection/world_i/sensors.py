"""The sensors and converters of one rig: what they read of the signals before them.

Reads the fields and a noise stream; gives the seven channels as sampled, before anything goes wrong with them.
"""

from dataclasses import dataclass

import numpy as np
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
)

from .draws import Rng, chance, log_uniform, uniform
from .fields import Fields
from .fit_motor import MotorKind
from .plan import Plan
from .rig import Rig
from .spectra import lag, moving_mean, ring
from .tachometers import Tacho, draw_tacho, read_tacho

RAIL_RIPPLE = {
    MotorKind.MAGNETS: 0.03,
    MotorKind.SPEED_LOOP: 0.02,
    MotorKind.UNIVERSAL: 0.02,
    MotorKind.THREE_PHASE: 0.004,
    MotorKind.CAPACITOR_RUN: 0.008,
    MotorKind.INVERTER: 0.012,
}
"""Ripple left in the current reading before averaging, as a share of the current."""


@dataclass(frozen=True, slots=True)
class Chain:
    """One channel from sensor to number, in the channel's unit.

    Attributes:
        full: end of the scale; the reading rails there.
        noise: standard deviation, white, as sampled at 100 Hz.
        offset, gain: what calibration left over.
        warm_drift_k: offset per kelvin of bath temperature.
        lag_s: first-order lag, or the window of an averaging sensor.
        bits: of the converter, over -full to full.
    """

    full: float
    noise: float
    offset: float
    gain: float
    warm_drift_k: float
    lag_s: float
    bits: int


@dataclass(frozen=True, slots=True)
class Sensors:
    """All sensors of a rig."""

    friction: Chain
    load: Chain
    current: Chain
    pin: Chain
    bath: Chain
    cell_hz: float
    cell_damping: float
    crosstalk: float
    backtalk: float
    sound_lag_s: float
    tacho: Tacho
    temperature_step_k: float
    hum: float


def _force(rng: Rng, usual: float, low: float, high: float) -> Chain:
    full = usual * log_uniform(rng, low, high)
    return Chain(
        full=full,
        noise=usual * log_uniform(rng, 0.001, 0.02),
        offset=full * uniform(rng, -0.004, 0.004),
        gain=uniform(rng, 0.985, 1.015),
        warm_drift_k=full * uniform(rng, -1.0, 1.0) * 2e-4,
        lag_s=log_uniform(rng, 0.002, 0.08),
        bits=int(rng.integers(11, 25)),
    )


def _thermocouple(rng: Rng, slow_s: float, fast_s: float) -> Chain:
    return Chain(
        full=float(rng.choice([250.0, 300.0, 400.0])),
        noise=log_uniform(rng, 0.02, 0.25),
        offset=uniform(rng, -1.5, 1.5),
        gain=uniform(rng, 0.995, 1.005),
        warm_drift_k=0.0,
        lag_s=log_uniform(rng, fast_s, slow_s),
        bits=int(rng.integers(12, 19)),
    )


def draw_sensors(rng: Rng, rig: Rig, plan: Plan, usual_current_a: float, peak_current_a: float) -> Sensors:
    """Draw the sensors; the current sensor was chosen by the running current and may rail at a start."""
    current_full = max(usual_current_a * log_uniform(rng, 1.8, 5.0), peak_current_a * uniform(rng, 0.5, 1.4))
    kinds = {h.kind: h.size for h in plan.happenings}
    return Sensors(
        friction=_force(rng, 0.12 * rig.top_load_n, 2.5, 9.0),
        load=_force(rng, rig.top_load_n, 1.6, 3.0),
        current=Chain(
            full=current_full,
            noise=usual_current_a * log_uniform(rng, 0.001, 0.012),
            offset=current_full * uniform(rng, -0.003, 0.003),
            gain=uniform(rng, 0.97, 1.03),
            warm_drift_k=0.0,
            lag_s=log_uniform(rng, 0.02, 0.3),
            bits=int(rng.integers(11, 25)),
        ),
        pin=_thermocouple(rng, 12.0, 1.0),
        bath=_thermocouple(rng, 60.0, 5.0),
        cell_hz=log_uniform(rng, 3.0, 8.0) if chance(rng, 0.25) else log_uniform(rng, 12.0, 300.0),
        cell_damping=log_uniform(rng, 0.05, 0.5),
        crosstalk=uniform(rng, -0.004, 0.004),
        backtalk=uniform(rng, -0.04, 0.04),
        sound_lag_s=1.0 if chance(rng, 0.35) else 0.125,
        tacho=draw_tacho(rng, rig),
        temperature_step_k=0.5 if Kind.COARSE_TEMPERATURE in kinds else float(rng.choice([0.01, 0.0625, 0.1, 0.25])),
        hum=kinds.get(Kind.MAINS_HUM, 0.0) * 0.05,
    )


def _convert(chain: Chain, signal: Floats, noise: Floats) -> Floats:
    step = 2.0 * chain.full / 2**chain.bits
    read = chain.gain * signal + chain.offset + chain.noise * noise
    return np.clip(np.round(read / step) * step, -chain.full, chain.full)


def read_all(rng: Rng, rig: Rig, sensors: Sensors, fields: Fields) -> dict[str, Floats]:
    """Give every channel at the sampling rate, in the order of all seven."""
    skip, hz = fields.per_sample, fields.rate_hz
    count = fields.t_s[::skip].size
    louder = max(float(np.sqrt(hz / skip / 100.0)), 0.3)

    def noise() -> Floats:
        return louder * rng.standard_normal(count)

    def force(chain: Chain, signal: Floats) -> Floats:
        sprung = ring(signal, hz, sensors.cell_hz, sensors.cell_damping)
        warm = chain.warm_drift_k * (fields.bath_degc - fields.bath_degc[0])
        return _convert(chain, (lag(sprung, hz, chain.lag_s) + warm)[::skip], noise())

    def temperature(chain: Chain, signal: Floats) -> Floats:
        step = sensors.temperature_step_k
        read = (
            chain.gain * lag(signal, hz, chain.lag_s)[::skip] + chain.offset + chain.noise * rng.standard_normal(count)
        )
        return np.clip(np.round(read / step) * step, -50.0, chain.full)

    shaking = 1.0 + 0.012 * rng.standard_normal(fields.t_s.size) * (fields.ring_rad_s > 0)
    hum = sensors.hum * 0.1 * rig.top_load_n * np.sin(2 * np.pi * 50.03 * fields.t_s[::skip])
    chain = sensors.current
    ripple = 1.0 + RAIL_RIPPLE[rig.motor_kind] * rng.standard_normal(fields.t_s.size)
    squared = moving_mean((fields.current_a * ripple) ** 2, max(int(chain.lag_s * hz), 1))
    energy = lag(10.0 ** (fields.sound_db / 10.0), hz, sensors.sound_lag_s)[::skip]
    sound = 10.0 * np.log10(np.maximum(energy, 1e-3)) + 0.15 * rng.standard_normal(count)
    friction = fields.friction_n * shaking + sensors.crosstalk * fields.load_n
    return {
        NORMAL_LOAD: force(sensors.load, fields.load_n + sensors.backtalk * fields.friction_n),
        FRICTION_FORCE: force(sensors.friction, friction) + hum,
        MOTOR_CURRENT: _convert(chain, np.sqrt(np.maximum(squared, 0.0))[::skip], noise()),
        SOUND_LEVEL: np.clip(np.round(sound, 1), 30.0, 130.0),
        PIN_TEMPERATURE: temperature(sensors.pin, fields.pin_degc),
        BATH_TEMPERATURE: temperature(sensors.bath, fields.bath_degc),
        RING_SPEED: read_tacho(rng, sensors.tacho, rig, fields),
    }


def scale_ends(sensors: Sensors, rig: Rig) -> dict[str, tuple[float, float]]:
    """Give the valid values of each channel, as the makers of the sensors state them."""

    def both(chain: Chain) -> tuple[float, float]:
        return (-chain.full, chain.full)

    return {
        NORMAL_LOAD: both(sensors.load),
        FRICTION_FORCE: both(sensors.friction),
        MOTOR_CURRENT: both(sensors.current),
        SOUND_LEVEL: (30.0, 130.0),
        PIN_TEMPERATURE: (-50.0, sensors.pin.full),
        BATH_TEMPERATURE: (-50.0, sensors.bath.full),
        RING_SPEED: (0.0, sensors.tacho.full_rpm),
    }
