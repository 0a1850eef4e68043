"""The instruments of a rig: which are fitted, how fine, how fast, how noisy, how far they reach.

Reads a generator, the rig and the greatest healthy readings, gives frozen values for `readings`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from numpy.random import Generator
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
    DriveKind,
    Tachometer,
)

from .chance import chance, log_between, one_of
from .rig import Rig

_SETS = (
    (ChannelSet.ALL, 0.5),
    (ChannelSet.FRICTION_CELL, 0.15),
    (ChannelSet.LOAD_CELL, 0.13),
    (ChannelSet.CURRENT_AND_SPEED, 0.12),
    (ChannelSet.CURRENT_ONLY, 0.1),
)
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


@dataclass(frozen=True, slots=True)
class Instruments:
    """All channels.

    Attributes:
        channel_set: what is fitted.
        sensors: of every channel, fitted or not.
        friction_into_load, load_into_friction: cross-talk of the two cells, relative.
        hum_n, hum_hz: of the mains on the friction cell; 0 without.
        cogging_ratio, poles: of the current, `poles` times a turn.
        tachometer, pulses_per_turn, gate_s, on_motor: see `RigFacts`.
        unrest_hz: corner of the contact's fast unrest.
    """

    channel_set: ChannelSet
    sensors: Mapping[str, Sensor]
    friction_into_load: float
    load_into_friction: float
    hum_n: float
    hum_hz: float
    cogging_ratio: float
    poles: int
    tachometer: Tachometer
    pulses_per_turn: int
    gate_s: float
    on_motor: bool
    unrest_hz: float


def draw_instruments(
    rng: Generator, rig: Rig, most: Mapping[str, float], channel_set: ChannelSet | None
) -> Instruments:
    """Draw the instruments.

    Args:
        rng: of the instruments.
        rig: see there.
        most: the greatest healthy value of each channel, in its unit.
        channel_set: what is fitted; nothing draws it.
    """
    drawn_set = one_of(rng, _SETS)
    tachometer = one_of(rng, ((Tachometer.PERIOD, 0.4), (Tachometer.GATE, 0.35), (Tachometer.ANALOGUE, 0.25)))
    pulses = 0 if tachometer is Tachometer.ANALOGUE else int(one_of(rng, ((1, 2), (2, 1), (4, 1), (12, 1), (60, 2))))
    if tachometer is Tachometer.GATE:
        pulses = max(pulses, int(one_of(rng, ((12, 1), (20, 1), (60, 2)))))
    belted = math.isfinite(rig.motor.belt_nm)
    return Instruments(
        channel_set=drawn_set if channel_set is None else channel_set,
        sensors=_sensors(rng, rig, most),
        friction_into_load=rng.uniform(-0.05, 0.08),
        load_into_friction=rng.uniform(-0.003, 0.004),
        hum_n=log_between(rng, 0.004, 0.06) * most[FRICTION_FORCE] if chance(rng, 0.2) else 0.0,
        hum_hz=one_of(rng, ((50.0, 0.7), (60.0, 0.3))) * rng.uniform(0.999, 1.001),
        cogging_ratio=log_between(rng, 0.001, 0.02),
        poles=int(rng.choice([4, 6, 7, 12])),
        tachometer=tachometer,
        pulses_per_turn=pulses,
        gate_s=one_of(rng, ((0.1, 1.0), (0.25, 1.0), (0.5, 1.0))),
        on_motor=belted and chance(rng, 0.5),
        unrest_hz=log_between(rng, 5.0, 60.0),
    )


def _sensors(rng: Generator, rig: Rig, most: Mapping[str, float]) -> dict[str, Sensor]:
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


def fitted(instruments: Instruments) -> tuple[str, ...]:
    """Give the names of the fitted channels."""
    return CHANNELS_OF[instruments.channel_set]
