"""From the true world to channels: lag, hold, noise, drift, steps of the converter. Gives arrays on the clean clock."""

import math
from dataclasses import dataclass

import numpy as np
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
)

from world_k.core import Trace
from world_k.rig import Rig, between
from world_k.shapes import unrest
from world_k.sound import FAST_S, SLOW_S, weighted_db
from world_k.tachometer import draw_teeth, read_rpm


@dataclass(frozen=True, slots=True)
class Chain:
    """One channel from sensor to number: lag, how often it is read, noise (per reading), step, gain and offset."""

    lag_s: float
    refresh_hz: float
    noise: float
    step: float
    gain: float = 1.0
    offset: float = 0.0


def lagged(values: Floats, rate_hz: float, lag_s: float) -> Floats:
    """Give values after a first-order lag that was settled at the start."""
    keep = math.exp(-1.0 / (max(lag_s, 1e-4) * rate_hz))
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0])


def passed(rng: np.random.Generator, chain: Chain, values: Floats, rate_hz: float) -> Floats:
    """Send values down a chain."""
    seen = lagged(values, rate_hz, chain.lag_s) * chain.gain + chain.offset
    seen = seen + chain.noise * rng.standard_normal(seen.size)
    stepped = np.round(seen / chain.step) * chain.step
    if chain.refresh_hz >= rate_hz:
        return np.asarray(stepped)
    reading = np.floor(np.arange(seen.size) * chain.refresh_hz / rate_hz + rng.random())
    fresh = np.concatenate([[True], np.diff(reading) > 0.0])
    return np.asarray(stepped[np.maximum.accumulate(np.where(fresh, np.arange(seen.size), 0))])


def _force_chain(rng: np.random.Generator, full_n: float, gain: float) -> Chain:
    return Chain(
        lag_s=between(rng, 0.005, 0.06),
        refresh_hz=float(rng.choice([1e4, 100.0, 50.0, 20.0, 10.0], p=[0.45, 0.25, 0.15, 0.1, 0.05])),
        noise=full_n * between(rng, 0.001, 0.01),
        step=full_n / 2.0 ** rng.integers(9, 16),
        gain=1.0 + gain * rng.uniform(-1.0, 1.0),
        offset=full_n * rng.uniform(-0.01, 0.01),
    )


def _temperature_chain(rng: np.random.Generator, coarse: bool, slowest_s: float) -> Chain:
    step_k = 0.5 if coarse else float(rng.choice([0.01, 0.0625, 0.1, 0.25]))
    refresh_hz = float(rng.choice([100.0, 10.0, 4.0, 2.0, 1.0]))
    lag_s = between(rng, slowest_s / 10.0, slowest_s)
    return Chain(lag_s, refresh_hz, between(rng, 0.02, 0.25), step_k, 1.0, rng.uniform(-1.2, 1.2))


def forces(rng: np.random.Generator, rig: Rig, trace: Trace, rate_hz: float, hum: bool) -> dict[str, Floats]:
    """Give load and friction as their cells read them.

    The friction cell's zero follows the bath's temperature; either cell feels a little of the other force.
    """
    full_n, friction_full_n = rig.full_load_n, 0.1 * rig.full_load_n
    zero_n = friction_full_n * rng.uniform(-0.0012, 0.0012) * (trace.bath_degc - trace.bath_degc[0])
    speed_ratio = trace.motor_rad_s / rig.set_speed_rad_s
    rattle_n = friction_full_n * between(rng, 0.001, 0.02) * speed_ratio * unrest(rng, speed_ratio.size, rate_hz, 0.01)
    friction_n = trace.friction_n + zero_n + rattle_n + rng.uniform(-0.002, 0.002) * trace.load_n
    load_n = trace.load_n + rng.uniform(-0.05, 0.05) * trace.friction_n
    friction_n = passed(rng, _force_chain(rng, friction_full_n, 0.03), friction_n, rate_hz)
    if hum:
        t_s = np.arange(friction_n.size) / rate_hz
        mains_hz = float(rng.choice([50.0, 60.0])) + rng.uniform(-0.03, 0.03)
        height_n = friction_full_n * between(rng, 0.01, 0.045)
        friction_n = friction_n + height_n * np.sin(2.0 * np.pi * mains_hz * t_s + rng.uniform(0.0, 6.28))
    return {
        NORMAL_LOAD: passed(rng, _force_chain(rng, full_n, 0.01), load_n, rate_hz),
        FRICTION_FORCE: np.asarray(friction_n),
    }


def current(rng: np.random.Generator, rig: Rig, trace: Trace, rate_hz: float) -> Floats:
    """Give the motor current as the transducer reads it, before its range ends."""
    healthy_a = rig.drive.healthy_a
    ripple = between(rng, 0.003, 0.03) * unrest(rng, trace.current_a.size, rate_hz, between(rng, 0.01, 0.05))
    chain = Chain(
        lag_s=between(rng, 0.015, 0.3),
        refresh_hz=float(rng.choice([1e4, 50.0, 20.0, 10.0], p=[0.5, 0.2, 0.2, 0.1])),
        noise=healthy_a * between(rng, 0.002, 0.012),
        step=healthy_a / 2.0 ** rng.integers(7, 13),
        gain=1.0 + rng.uniform(-0.02, 0.02),
        offset=healthy_a * rng.uniform(-0.01, 0.01),
    )
    return passed(rng, chain, trace.current_a * (1.0 + ripple), rate_hz)


def sound(rng: np.random.Generator, before_db: Floats, rate_hz: float) -> Floats:
    """Give the meter's level, F or S."""
    slow = rng.random() < 0.3
    noisy_db = before_db + between(rng, 0.3, 1.5) * unrest(rng, before_db.size, rate_hz, 0.03)
    level_db = weighted_db(noisy_db, rate_hz, SLOW_S if slow else FAST_S)
    refresh_hz = float(rng.choice([1.0, 2.0, 8.0] if slow else [8.0, 10.0, 20.0, 1e4]))
    return passed(rng, Chain(1e-4, refresh_hz, 0.03, float(rng.choice([0.01, 0.1, 0.5]))), level_db, rate_hz)


def channels_of(
    rng: np.random.Generator, rig: Rig, trace: Trace, before_db: Floats, rate_hz: float, *, hum: bool, coarse: bool
) -> dict[str, Floats]:
    """Give all seven channels, healthy sensors, before ranges end and samples are lost."""
    made = forces(rng, rig, trace, rate_hz, hum)
    made[MOTOR_CURRENT] = current(rng, rig, trace, rate_hz)
    made[SOUND_LEVEL] = sound(rng, before_db, rate_hz)
    made[PIN_TEMPERATURE] = passed(rng, _temperature_chain(rng, coarse, 4.0), trace.pin_degc, rate_hz)
    made[BATH_TEMPERATURE] = passed(rng, _temperature_chain(rng, coarse, 20.0), trace.bath_degc, rate_hz)
    shaft_rad_s = trace.motor_rad_s if rig.tachometer_on_motor else trace.ring_rad_s
    made[RING_SPEED] = read_rpm(rng, rig, draw_teeth(rng, rig), shaft_rad_s, rate_hz)
    return made
