"""The sensors of a rig: how fine, how fast, how noisy, how far they reach.

Reads a generator, the rig and the greatest healthy readings, gives frozen values for `readings`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from numpy.random import Generator
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    DriveKind,
)

from .chance import chance, log_between, one_of
from .rig import Rig

_SIZES = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class Sensor:
    """One channel.

    Attributes:
        low, high: its range, where it saturates.
        step: of its converter.
        noise: white, rms.
        lag_s: of its filter or sheath; the meter's time weighting of sound.
        gain, offset: its error, unknown to anybody.
        drift_per_s: of its zero.
    """

    low: float
    high: float
    step: float
    noise: float
    lag_s: float
    gain: float = 1.0
    offset: float = 0.0
    drift_per_s: float = 0.0


def draw_sensors(rng: Generator, rig: Rig, most: Mapping[str, float]) -> dict[str, Sensor]:
    """Draw the sensor of every channel for the greatest healthy value of each, in its unit."""
    inrush = 2.2 if rig.motor.kind is DriveKind.INDUCTION_DIRECT and chance(rng, 0.6) else rng.uniform(3.0, 9.0)
    celsius_step = 0.5 if chance(rng, 0.18) else one_of(rng, ((0.25, 0.3), (0.1, 0.3), (0.02, 0.4)))
    hot_degc = one_of(rng, ((250.0, 1.0), (400.0, 1.0), (1000.0, 0.5)))
    set_rpm = rig.set_rad_s * 30.0 / math.pi
    tare_n = rng.uniform(-0.006, 0.006)
    return {
        NORMAL_LOAD: _cell(rng, most[NORMAL_LOAD] * rng.uniform(1.3, 3.0), tare_n),
        FRICTION_FORCE: _cell(rng, most[FRICTION_FORCE] * rng.uniform(2.2, 8.0), tare_n),
        MOTOR_CURRENT: _current(rng, max(most[MOTOR_CURRENT], rig.motor.rated_a) * inrush),
        SOUND_LEVEL: Sensor(
            30.0, one_of(rng, ((110.0, 1), (120.0, 1), (130.0, 2))), 0.1, rng.uniform(0.15, 0.9), 0.125
        ),
        PIN_TEMPERATURE: Sensor(
            -20.0,
            hot_degc,
            celsius_step,
            log_between(rng, 0.02, 0.4),
            log_between(rng, 0.4, 5.0),
            1.0,
            rng.normal(0, 0.7),
        ),
        BATH_TEMPERATURE: Sensor(
            -20.0,
            hot_degc,
            celsius_step,
            log_between(rng, 0.02, 0.3),
            log_between(rng, 1.0, 10.0),
            1.0,
            rng.normal(0, 0.7),
        ),
        RING_SPEED: Sensor(0.0, _nice(set_rpm * 1.5), 0.1, log_between(rng, 0.0004, 0.006) * set_rpm, 0.05),
    }


def _cell(rng: Generator, wanted_n: float, tare: float) -> Sensor:
    high = _nice(wanted_n)
    return Sensor(
        low=-high * one_of(rng, ((0.1, 1.0), (1.0, 1.0))),
        high=high,
        step=high / 2.0 ** int(rng.choice([11, 12, 14, 16, 18])),
        noise=high * log_between(rng, 0.0003, 0.006),
        lag_s=log_between(rng, 0.003, 0.06),
        gain=rng.normal(1.0, 0.01),
        offset=high * tare,
        drift_per_s=high * rng.normal(0.0, 3e-6),
    )


def _current(rng: Generator, wanted_a: float) -> Sensor:
    high = _nice(wanted_a)
    return Sensor(
        low=-high if chance(rng, 0.4) else 0.0,
        high=high,
        step=high / 2.0 ** int(rng.choice([9, 11, 12, 14])),
        noise=high * log_between(rng, 0.0005, 0.008),
        lag_s=log_between(rng, 0.005, 0.12),
        gain=rng.normal(1.0, 0.015),
        offset=high * rng.normal(0.0, 0.002),
    )


def _nice(wanted: float) -> float:
    """Give the smallest usual size that is no less."""
    decade = 10.0 ** math.floor(math.log10(wanted))
    return next(decade * size for size in _SIZES if decade * size >= wanted * 0.999)
