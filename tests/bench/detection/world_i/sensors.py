"""The sensors and converters of one rig: what they read of the signals before them.

Reads the fields and a noise stream; gives the seven channels as sampled, before anything goes wrong with them.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import CHANNELS_OF, ChannelSet, Floats, Kind

from .draws import Rng, chance, log_uniform, uniform
from .fields import Fields
from .fit_motor import MotorKind
from .motors import locked_current_a
from .plan import Plan
from .rig import Rig
from .spectra import lag, moving_mean, ring
from .tachometers import Tacho, draw_tacho, read_tacho

CURRENT_RIPPLE = dict(zip(MotorKind, (0.03, 0.02, 0.02, 0.004, 0.008, 0.012), strict=True))
"""Ripple left in the current reading before averaging, as a share of the current."""

SHAKEN_TWICE_MAINS = (MotorKind.UNIVERSAL, MotorKind.CAPACITOR_RUN)
"""Motors on one phase, whose torque swings at twice the mains frequency and shakes the frame."""

MAINS_HZ = 50.03

ALL = CHANNELS_OF[ChannelSet.ALL]


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
    shaken: float


def _force(rng: Rng, usual: float, low: float, high: float) -> Chain:
    full = usual * log_uniform(rng, low, high)
    return Chain(
        full=full,
        noise=usual * log_uniform(rng, 0.001, 0.02),
        offset=full * uniform(rng, -0.004, 0.004),
        gain=uniform(rng, 0.985, 1.015),
        warm_drift_k=full * uniform(rng, -1.0, 1.0) * 2e-4,
        lag_s=log_uniform(rng, 0.002, 0.08),
        bits=int(rng.integers(10, 25)),
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
    """Draw the sensors; the current sensor suits a locked motor, or only running: then it may rail at a start."""
    current_full = max(usual_current_a * log_uniform(rng, 1.8, 5.0), peak_current_a * uniform(rng, 0.6, 1.4))
    if chance(rng, 0.75):
        current_full = max(current_full, locked_current_a(rig.motor) * uniform(rng, 1.1, 1.8))
    kinds = {h.kind: h.size for h in plan.happenings}
    return Sensors(
        friction=_force(rng, 0.12 * rig.top_load_n, 3.0, 10.0),
        load=_force(rng, rig.top_load_n, 1.6, 3.0),
        current=Chain(
            full=current_full,
            noise=usual_current_a * log_uniform(rng, 0.001, 0.012),
            offset=current_full * uniform(rng, -0.003, 0.003),
            gain=uniform(rng, 0.97, 1.03),
            warm_drift_k=0.0,
            lag_s=log_uniform(rng, 0.02, 0.3),
            bits=int(rng.integers(10, 25)),
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
        shaken=log_uniform(rng, 0.003, 0.03),
    )


def _convert(chain: Chain, signal: Floats, noise: Floats) -> Floats:
    step = 2.0 * chain.full / 2**chain.bits
    read = chain.gain * signal + chain.offset + chain.noise * noise
    converted: Floats = np.clip(np.round(read / step) * step, -chain.full, chain.full)
    return converted


def read_all(rng: Rng, rig: Rig, sensors: Sensors, fields: Fields) -> dict[str, Floats]:
    """Give every channel at the sampling rate, in the order of all seven."""
    skip, hz, inside = fields.per_sample, fields.rate_hz, fields.inside
    count, t_s = fields.sample_t_s.size, inside.t_s
    louder = max(float(np.sqrt(hz / skip / 100.0)), 0.3)

    def force(chain: Chain, signal: Floats) -> Floats:
        sprung = ring(signal, hz, sensors.cell_hz, sensors.cell_damping)
        warm = chain.warm_drift_k * (inside.bath_temperature_degc - inside.bath_temperature_degc[0])
        return _convert(chain, (lag(sprung, hz, chain.lag_s) + warm)[::skip], louder * rng.standard_normal(count))

    def temperature(chain: Chain, signal: Floats) -> Floats:
        step, noise = sensors.temperature_step_k, chain.noise * rng.standard_normal(count)
        read = chain.gain * lag(signal, hz, chain.lag_s)[::skip] + chain.offset + noise
        return np.clip(np.round(read / step) * step, -50.0, chain.full)

    shaking = 1.0 + 0.012 * rng.standard_normal(t_s.size) * (inside.ring_speed_rad_s > 0)
    if rig.motor_kind in SHAKEN_TWICE_MAINS:
        shaking += sensors.shaken * np.sin(2 * np.pi * 2.0 * MAINS_HZ * t_s) * inside.on
    hum = sensors.hum * 0.1 * rig.top_load_n * np.sin(2 * np.pi * MAINS_HZ * t_s[::skip])
    chain = sensors.current
    ripple = 1.0 + CURRENT_RIPPLE[rig.motor_kind] * rng.standard_normal(t_s.size)
    squared = moving_mean((inside.motor_current_a * ripple) ** 2, max(int(chain.lag_s * hz), 1))
    energy = lag(10.0 ** (inside.sound_level_db / 10.0), hz, sensors.sound_lag_s)[::skip]
    sound = 10.0 * np.log10(np.maximum(energy, 1e-3)) + 0.15 * rng.standard_normal(count)
    friction = inside.friction_force_n * shaking + sensors.crosstalk * inside.normal_load_n
    read = (
        force(sensors.load, inside.normal_load_n + sensors.backtalk * inside.friction_force_n),
        np.clip(force(sensors.friction, friction) + hum, -sensors.friction.full, sensors.friction.full),
        _convert(chain, np.sqrt(np.maximum(squared, 0.0))[::skip], louder * rng.standard_normal(count)),
        np.clip(np.round(sound, 1), 30.0, 130.0),
        temperature(sensors.pin, inside.pin_temperature_degc),
        temperature(sensors.bath, inside.bath_temperature_degc),
        read_tacho(rng, sensors.tacho, rig, fields),
    )
    return dict(zip(ALL, read, strict=True))


def scale_ends(sensors: Sensors) -> dict[str, tuple[float, float]]:
    """Give the valid values of each channel, as the makers of the sensors state them."""
    forces = [(-chain.full, chain.full) for chain in (sensors.load, sensors.friction, sensors.current)]
    heats = [(-50.0, chain.full) for chain in (sensors.pin, sensors.bath)]
    return dict(zip(ALL, (*forces, (30.0, 130.0), *heats, (0.0, sensors.tacho.full_rpm)), strict=True))
