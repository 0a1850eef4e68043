"""What the instruments make of the world: first without noise, then as they really read.

Reads course, sound level and instruments, gives channels at the times of the rows.
"""

import math

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
)

from .acts import SLOW_S, Acts
from .drives import DT_S
from .instruments import Instruments
from .rig import Rig
from .sensors import Sensor
from .tachometer import read_speed
from .turning import Course

_FLUTTER_HZ = 2.0
"""Corner of the chance fluctuation of a sound level that is averaged over 125 ms."""
_SHAFT_SHARE = 0.25
"""Part of the contact's fast unrest that comes through inertia and windings to the current."""


def lagged(values: Floats, lag_s: float, step_s: float = DT_S) -> Floats:
    """Give values through a first-order lag, settled at the first value; evenly spaced by `step_s`."""
    keep = math.exp(-step_s / lag_s)
    found, _ = lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])
    return np.asarray(found)


def without_noise(
    rig: Rig, instruments: Instruments, course: Course, level_db: Floats, t_s: Floats
) -> dict[str, Floats]:
    """Give every channel at `t_s` without noise, steps and ends of range; fitted or not."""
    fine_s = np.arange(len(course.friction_n)) * DT_S
    slow_s = np.arange(len(course.bath_degc)) * SLOW_S
    sensors = instruments.sensors
    load_n = course.normal_n + instruments.friction_into_load * course.friction_n
    friction_n = course.friction_n + instruments.load_into_friction * course.normal_n
    sound = np.power(10.0, level_db / 10.0)
    plain = {
        NORMAL_LOAD: lagged(load_n, sensors[NORMAL_LOAD].lag_s),
        FRICTION_FORCE: lagged(friction_n, sensors[FRICTION_FORCE].lag_s),
        MOTOR_CURRENT: lagged(course.current_a, sensors[MOTOR_CURRENT].lag_s),
        SOUND_LEVEL: 10.0 * np.log10(lagged(sound, sensors[SOUND_LEVEL].lag_s)),
    }
    found = {name: np.interp(t_s, fine_s, values) for name, values in plain.items()}
    for name, degc in ((PIN_TEMPERATURE, course.pin_degc), (BATH_TEMPERATURE, course.bath_degc)):
        found[name] = np.interp(t_s, slow_s, lagged(degc, sensors[name].lag_s, SLOW_S))
    angle = np.interp(t_s, fine_s, course.angle_rad)
    found[MOTOR_CURRENT] = found[MOTOR_CURRENT] * (1.0 + instruments.cogging_ratio * np.sin(instruments.poles * angle))
    found[RING_SPEED] = read_speed(rig, instruments, course, t_s)
    for name, sensor in sensors.items():
        found[name] = found[name] * sensor.gain + sensor.offset + sensor.drift_per_s * t_s
    return found


def with_noise(
    rng: Generator, rig: Rig, instruments: Instruments, acts: Acts, plain: dict[str, Floats], t_s: Floats
) -> dict[str, Floats]:
    """Give every channel as it reads.

    Args:
        rng: of the noise.
        rig, instruments, acts: see there; the acts of the course that was read.
        plain: of `without_noise`.
        t_s: of the rows, evenly spaced.
    """
    step_s = float(t_s[1] - t_s[0])
    unrest = rig.contact.unrest_ratio * np.interp(t_s, acts.t_s, acts.unrest)
    turns = np.clip(plain[RING_SPEED] / (0.1 * rig.set_rad_s * 30.0 / math.pi), 0.0, 1.0)
    rough_n = np.abs(plain[FRICTION_FORCE]) * unrest * turns
    found = {}
    for name, sensor in instruments.sensors.items():
        values = plain[name] + rng.normal(0.0, sensor.noise, len(t_s)) * (name != SOUND_LEVEL)
        if name == SOUND_LEVEL:
            values += sensor.noise * _coloured(rng, len(t_s), _FLUTTER_HZ, step_s) * (1.0 + 6.0 * unrest)
        elif name == FRICTION_FORCE:
            values += rough_n * _through(rng, instruments, sensor, len(t_s), step_s)
            values += instruments.hum_n * np.sin(2.0 * np.pi * instruments.hum_hz * t_s)
        elif name == MOTOR_CURRENT:
            a_per_n = (rig.motor.rated_a - rig.motor.idle_a) / rig.motor.rated_nm * rig.ring_radius_m
            values += _SHAFT_SHARE * a_per_n * rough_n * _through(rng, instruments, sensor, len(t_s), step_s)
        found[name] = np.clip(np.round(values / sensor.step) * sensor.step, sensor.low, sensor.high)
    return found


def _through(rng: Generator, instruments: Instruments, sensor: Sensor, count: int, step_s: float) -> Floats:
    """Give the unrest of the contact behind the sensor's filter, relative to its rms at the contact."""
    corner_hz = 1.0 / (1.0 / instruments.unrest_hz + 2.0 * math.pi * sensor.lag_s)
    return math.sqrt(corner_hz / instruments.unrest_hz) * _coloured(rng, count, corner_hz, step_s)


def _coloured(rng: Generator, count: int, corner_hz: float, step_s: float) -> Floats:
    """Give a first-order noise of unit rms and the same spectrum at any rate."""
    keep = math.exp(-2.0 * math.pi * corner_hz * step_s)
    white = rng.normal(0.0, math.sqrt(1.0 - keep * keep), count)
    white[0] = rng.normal()
    return np.asarray(lfilter([1.0], [1.0, -keep], white))
