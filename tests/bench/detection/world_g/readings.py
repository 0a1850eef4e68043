"""What the instruments show: first without noise on the inner clock, then on the recording's clock with it."""

from collections.abc import Mapping

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
)

from .chance import STEP_S, Dice, lagged, wandering
from .rig import Rig
from .sensing import Cell, Sensing
from .sound import metered_db
from .tachometer import read_rpm
from .turning import Turned

TEMPERATURES = (PIN_TEMPERATURE, BATH_TEMPERATURE)


def cells_of(sensing: Sensing) -> Mapping[str, Cell]:
    """Give the cell of every channel."""
    return {
        NORMAL_LOAD: sensing.load,
        FRICTION_FORCE: sensing.friction,
        MOTOR_CURRENT: sensing.current,
        SOUND_LEVEL: sensing.sound,
        PIN_TEMPERATURE: sensing.pin,
        BATH_TEMPERATURE: sensing.bath,
        RING_SPEED: sensing.speed,
    }


def noise_free(rig: Rig, turned: Turned, hung_n: Floats, level_db: Floats) -> dict[str, Floats]:
    """Give every channel's reading without noise on the inner clock, (n,) each in its unit."""
    sensing = rig.sensing
    touch = sensing.pin_touch
    speed = turned.motor_rad_s if sensing.on_motor else turned.ring_rad_s
    load_n = hung_n if sensing.load_on_weights else turned.load_n
    felt = {
        NORMAL_LOAD: load_n + sensing.cross_talk * turned.friction_n,
        FRICTION_FORCE: turned.friction_n,
        MOTOR_CURRENT: _with_play(turned.current_a, sensing.current_play_a),
        PIN_TEMPERATURE: touch * turned.pin_degc + (1.0 - touch) * turned.bath_degc,
        BATH_TEMPERATURE: turned.bath_degc,
    }
    cells = cells_of(sensing)
    read = {name: lagged(course, cells[name].lag_s, STEP_S) for name, course in felt.items()}
    read[SOUND_LEVEL] = metered_db(level_db, sensing.meter_s)
    read[RING_SPEED] = read_rpm(sensing, speed, turned.t_s)
    return {name: read[name] * cell.gain + cell.zero * (name != RING_SPEED) for name, cell in cells.items()}


def shown(dice: Dice, sensing: Sensing, name: str, course: Floats, t_s: Floats) -> Floats:
    """Give one channel as converted: with noise, wander, hum, rails and steps.

    Args:
        dice: of this channel.
        sensing: all instruments.
        name: of the channel.
        course: (n,) without noise on the recording's clock.
        t_s: (n,) that clock, evenly spaced.
    """
    cell, step_s = cells_of(sensing)[name], float(t_s[1] - t_s[0])
    read = course + cell.noise * wandering(dice, len(t_s), cell.noise_lag_s, step_s)
    if cell.wander > 0.0:
        read = read + cell.wander * wandering(dice, len(t_s), cell.wander_s, step_s)
    phase = float(dice.uniform(0.0, 2.0 * np.pi))
    if name == FRICTION_FORCE and sensing.hum_n > 0.0:
        read = read + sensing.hum_n * np.sin(2.0 * np.pi * sensing.hum_hz * t_s + phase)
    if name == MOTOR_CURRENT:
        running = np.minimum(course / max(sensing.ripple_a * 20.0, 1e-9), 1.0)
        read = read + sensing.ripple_a * running * np.sin(2.0 * np.pi * sensing.ripple_hz * t_s + phase)
    if name == RING_SPEED:
        read = np.where(course > 0.0, np.maximum(read, 0.0), 0.0)
    return converted(sensing, name, read)


def converted(sensing: Sensing, name: str, read: Floats) -> Floats:
    """Give a channel within its rails and in the steps of its converter."""
    cell = cells_of(sensing)[name]
    step = sensing.degc_step if name in TEMPERATURES else (cell.high - cell.low) / 2.0**cell.bits
    clipped = np.clip(read, cell.low, cell.high)
    return np.asarray(np.clip(np.round(clipped / step) * step, cell.low, cell.high), dtype=np.float64)


def _with_play(course: Floats, play: float) -> Floats:
    """Give what a sensor with hysteresis shows: it follows only when pushed by more than its play."""
    out, at = [], float(course[0])
    for value in course.tolist():
        at = value - play if at < value - play else value + play if at > value + play else at
        out.append(at)
    return np.array(out)
