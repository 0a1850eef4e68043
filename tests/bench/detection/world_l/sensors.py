"""What the sensors are like, drawn once a rig: ranges, filters, errors. Reads `rig`; `readings` applies them."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    DriveKind,
    Tachometer,
)

from world_l.draws import chance, log_uniform, pick
from world_l.rig import Rig


class CurrentSensor(Enum):
    """How the motor current is taken."""

    HALL = "Hall sensor, mean value"
    SHUNT = "shunt, coarse converter"
    TRUE_RMS = "true r.m.s. transmitter, slow"
    TRANSFORMER = "transformer and rectifier: magnitude, dead below its diodes"


@dataclass(frozen=True, slots=True)
class Sensors:
    """All sensors of a rig; ratios are of full scale.

    Attributes:
        ranges: valid values by channel, in its unit.
        cell_hz, cell_damping: resonance of the friction cell on its arm, and its damping; the load cell has the same.
        cell_noise_ratio, cell_zero_ratio: noise, and zero error with its drift over the recording.
        hum_ratio, mains_hz: hum on the friction cell, 0 none.
        cross_talk: part of the friction force that the load cell sees; may be negative.
        current_sensor, current_lag_s, current_noise_ratio, current_dead_ratio, current_gain: of the current.
        ripple_ratio, ripple_hz: commutation or carrier ripple folded down by sampling, relative to the current.
        sound_lag_s, sound_noise_db, sound_step_db: of the meter.
        pin_lag_s, bath_lag_s, temperature_noise_k, temperature_step_k, junction_k: of the thermocouples.
        hold_hz: own sampling rate by channel where slower than the recording; values repeat.
        tachometer, pulses_per_turn, gate_s, tachometer_on_motor, magnet_error, analogue_ripple: of the speed.
    """

    ranges: Mapping[str, tuple[float, float]]
    cell_hz: float
    cell_damping: float
    cell_noise_ratio: float
    cell_zero_ratio: float
    hum_ratio: float
    mains_hz: float
    cross_talk: float
    current_sensor: CurrentSensor
    current_lag_s: float
    current_noise_ratio: float
    current_dead_ratio: float
    current_gain: float
    ripple_ratio: float
    ripple_hz: float
    sound_lag_s: float
    sound_noise_db: float
    sound_step_db: float
    pin_lag_s: float
    bath_lag_s: float
    temperature_noise_k: float
    temperature_step_k: float
    junction_k: float
    hold_hz: Mapping[str, float]
    tachometer: Tachometer
    pulses_per_turn: int
    gate_s: float
    tachometer_on_motor: bool
    magnet_error: float
    analogue_ripple: float


def draw_sensors(rng: np.random.Generator, rig: Rig) -> Sensors:
    """Draw the sensors that somebody would have bought for this rig."""
    drive = rig.drive
    sensor = pick(rng, list(CurrentSensor), (0.4, 0.2, 0.2, 0.2))
    if drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED) and sensor is CurrentSensor.TRANSFORMER:
        sensor = CurrentSensor.HALL  # a transformer sees no direct current
    tachometer = pick(rng, list(Tachometer))
    pulses = 0 if tachometer is Tachometer.ANALOGUE else pick(rng, (1, 2, 4, 6, 12, 20, 60, 100, 360))
    turns_hz = rig.speed_rpm / 60.0
    if tachometer is Tachometer.GATE:
        gates_s = [g for g in (0.1, 0.25, 0.5, 1.0) if g * turns_hz * max(pulses, 1) >= 20.0]
        pulses, gate_s = (pulses, pick(rng, gates_s)) if gates_s else (360, 0.5)
    else:
        gate_s = 0.0
    if tachometer is Tachometer.PERIOD and turns_hz * pulses < 1.5:
        pulses = 4
    return Sensors(
        ranges=_draw_ranges(rng, rig, sensor),
        cell_hz=log_uniform(rng, 2.0, 60.0),
        cell_damping=log_uniform(rng, 0.08, 0.9),
        cell_noise_ratio=log_uniform(rng, 0.0005, 0.006),
        cell_zero_ratio=rng.normal(0.0, 0.003),
        hum_ratio=log_uniform(rng, 0.002, 0.012) if chance(rng, 0.2) else 0.0,
        mains_hz=50.0 + rng.normal(0.0, 0.03),
        cross_talk=rng.normal(0.0, 0.04),
        current_sensor=sensor,
        current_lag_s=log_uniform(rng, 0.2, 1.5) if sensor is CurrentSensor.TRUE_RMS else log_uniform(rng, 0.003, 0.15),
        current_noise_ratio=log_uniform(rng, 0.0005, 0.006),
        current_dead_ratio=rng.uniform(0.003, 0.02) if sensor is CurrentSensor.TRANSFORMER else 0.0,
        current_gain=rng.normal(1.0, 0.02),
        ripple_ratio=log_uniform(rng, 0.002, 0.05),
        ripple_hz=log_uniform(rng, 0.05, 8.0),
        sound_lag_s=pick(rng, (0.125, 1.0)),
        sound_noise_db=log_uniform(rng, 0.1, 1.2),
        sound_step_db=pick(rng, (0.0, 0.1, 0.5)),
        pin_lag_s=log_uniform(rng, 1.0, 20.0),
        bath_lag_s=log_uniform(rng, 3.0, 60.0),
        temperature_noise_k=log_uniform(rng, 0.02, 0.3),
        temperature_step_k=0.5 if chance(rng, 0.25) else pick(rng, (0.0, 0.1)),
        junction_k=rng.normal(0.0, 0.8),
        hold_hz=_draw_holds(rng),
        tachometer=tachometer,
        pulses_per_turn=pulses,
        gate_s=gate_s,
        tachometer_on_motor=not math.isinf(drive.belt_limit_nm) and chance(rng, 0.5),
        magnet_error=rng.uniform(0.0, 0.015),
        analogue_ripple=log_uniform(rng, 0.001, 0.02),
    )


def _draw_holds(rng: np.random.Generator) -> dict[str, float]:
    """Draw the own sampling rates; slow converters are usual for temperatures and digital sound meters."""
    holds = {PIN_TEMPERATURE: log_uniform(rng, 0.5, 12.0)}
    holds[BATH_TEMPERATURE] = holds[PIN_TEMPERATURE]
    if chance(rng, 0.4):
        holds[SOUND_LEVEL] = pick(rng, (1.0, 2.0, 4.0, 8.0, 10.0))
    if chance(rng, 0.25):
        holds[MOTOR_CURRENT] = pick(rng, (2.0, 5.0, 10.0, 20.0))
    if chance(rng, 0.12):
        holds[FRICTION_FORCE] = holds[NORMAL_LOAD] = pick(rng, (10.0, 12.5, 20.0, 40.0))
    return holds


def _draw_ranges(rng: np.random.Generator, rig: Rig, sensor: CurrentSensor) -> dict[str, tuple[float, float]]:
    load_n = _nice(rig.top_load_n * log_uniform(rng, 1.4, 4.0))
    friction_n = _nice(rig.top_load_n * log_uniform(rng, 0.45, 1.6))
    current_a = _nice(rig.drive.rated_current_a * log_uniform(rng, 1.4, 8.0))
    signed = sensor in (CurrentSensor.HALL, CurrentSensor.SHUNT)
    hottest_degc = pick(rng, (250.0, 400.0, 600.0, 1000.0))
    top_rpm = _nice(rig.speed_rpm * log_uniform(rng, 1.3, 4.0))
    return {
        NORMAL_LOAD: (-0.1 * load_n, load_n),
        FRICTION_FORCE: (-friction_n, friction_n) if chance(rng, 0.7) else (-0.1 * friction_n, friction_n),
        MOTOR_CURRENT: (-current_a if signed else 0.0, current_a),
        SOUND_LEVEL: pick(rng, ((30.0, 120.0), (30.0, 110.0), (25.0, 130.0))),
        PIN_TEMPERATURE: (-20.0, hottest_degc),
        BATH_TEMPERATURE: (-20.0, hottest_degc),
        RING_SPEED: (0.0, top_rpm),
    }


def _nice(value: float) -> float:
    """Round up to the next size that sensors are sold in: 1, 1.5, 2, 2.5, 3, 5, 7.5 times a power of ten."""
    decade = 10.0 ** math.floor(math.log10(value))
    return next(float(step * decade) for step in (1.0, 1.5, 2.0, 2.5, 3.0, 5.0, 7.5, 10.0) if step * decade >= value)
