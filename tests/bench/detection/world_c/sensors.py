"""Sensors: what each channel says of the true quantity, before anything breaks.

Reads rows and a rig, gives channels with lag, noise, drift and steps.
"""

import numpy as np
from scipy.signal import lfilter
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
)

from .dice import Dice
from .rig import CellFacts, CurrentFacts, Rig, ThermocoupleFacts
from .rows import Rows, colored, low_pass
from .tachometer import read_speed

MAINS_HZ = 50.0
RAIL_SHARE = 1.02
_DRIFT_LAG_S = 900.0


def ranges_of(rig: Rig) -> dict[str, tuple[float, float]]:
    """Give the valid values of each channel, in its unit."""
    full = {
        NORMAL_LOAD: (-0.1 * rig.load_cell.range_n, rig.load_cell.range_n),
        FRICTION_FORCE: (-rig.friction_cell.range_n, rig.friction_cell.range_n),
        MOTOR_CURRENT: (-0.05 * rig.current.range_a, rig.current.range_a),
        SOUND_LEVEL: rig.sound.range_db,
        PIN_TEMPERATURE: rig.pin.range_degc,
        BATH_TEMPERATURE: rig.bath.range_degc,
        RING_SPEED: (0.0, rig.tachometer.range_rpm),
    }
    return {name: full[name] for name in CHANNELS_OF[rig.channel_set]}


def read_all(dice: Dice, rig: Rig, rows: Rows, level_db: Floats, rate_hz: float) -> dict[str, Floats]:
    """Give every channel that the rig has; (n,) each, in its unit."""
    draw = dice.generator
    rail = {name: (low, high) for name, (low, high) in ranges_of(rig).items()}
    read: dict[str, Floats] = {}
    for name in CHANNELS_OF[rig.channel_set]:
        if name == NORMAL_LOAD:
            values = _cell(draw, rig.load_cell, (rows.load_n, rows.force_n), rows, rate_hz, rings=False)
        elif name == FRICTION_FORCE:
            values = _cell(draw, rig.friction_cell, (rows.force_n, rows.load_n), rows, rate_hz, rings=True)
        elif name == MOTOR_CURRENT:
            values = _current(draw, rig.current, rig, rows, rate_hz)
        elif name == SOUND_LEVEL:
            noisy = level_db + rig.sound.noise_db * draw.standard_normal(len(level_db))
            values = stepped(held(rows.t_s, noisy, rig.sound.refresh_s), rig.sound.step_db)
        elif name == PIN_TEMPERATURE:
            values = _temperature(draw, rig.pin, rows.pin_degc, rows.t_s)
        elif name == BATH_TEMPERATURE:
            values = _temperature(draw, rig.bath, rows.bath_degc, rows.t_s)
        else:
            values = read_speed(draw, rig, rows, rate_hz)
        read[name] = _railed(values, *rail[name])
    return read


def stepped(values: Floats, step: float) -> Floats:
    """Round to the converter's or display's step."""
    return np.asarray(np.round(values / step) * step)


def held(t_s: Floats, values: Floats, refresh_s: float) -> Floats:
    """Hold each reading until the next; 0 leaves as is."""
    if refresh_s <= 0.0:
        return values
    taken = np.searchsorted(t_s, np.floor(t_s / refresh_s + 1e-9) * refresh_s - 1e-9)
    return np.asarray(values[np.minimum(taken, np.arange(len(t_s)))])


def _railed(values: Floats, low: float, high: float) -> Floats:
    margin = (RAIL_SHARE - 1.0) * (high - low)
    return np.clip(values, low - margin, high + margin)


def _cell(
    draw: np.random.Generator, cell: CellFacts, forces_n: tuple[Floats, Floats], rows: Rows, rate_hz: float, rings: bool
) -> Floats:
    """Give a cell's reading: the beam swings where the rows can follow it, and hums of its own noise in any case."""
    values = forces_n[0] + cell.crosstalk_share * forces_n[1]
    if rings and cell.beam_hz < 0.4 * rate_hz:
        values = beam(values, cell.beam_hz, cell.beam_damping, rate_hz)
    values = low_pass(values, rate_hz / (2.0 * np.pi * cell.low_pass_hz))
    zero_n = cell.range_n * (cell.zero_share - cell.drift_share * np.expm1(-rows.t_s / _DRIFT_LAG_S))
    noise_n = cell.range_n * cell.noise_share * (1.0 + rows.shake) * draw.standard_normal(len(values))
    shaking = 0.2 * rows.ring_share * colored(draw, len(values), 0.004 * rate_hz) * cell.noise_share * cell.range_n
    hum_n = cell.range_n * cell.hum_share * _hum(draw, rows.t_s)
    return stepped(values + zero_n + noise_n + shaking + hum_n, cell.step_n)


def beam(true_n: Floats, beam_hz: float, damping_ratio: float, rate_hz: float) -> Floats:
    """Give what a mass on a spring makes of a force that is held over each row; begins at rest in balance.

    Args:
        true_n: (n,) N.
        beam_hz, damping_ratio: of the spring, undamped; below 1.
        rate_hz: of the rows.
    Source:
        Exact discrete form of x'' + 2 zeta omega x' + omega^2 x = omega^2 F for held F; derived here.
    """
    angular_per_s, dt_s = 2.0 * np.pi * beam_hz, 1.0 / rate_hz
    decay = np.exp(-damping_ratio * angular_per_s * dt_s)
    root = np.sqrt(1.0 - damping_ratio**2)
    cosine, sine = np.cos(angular_per_s * root * dt_s), np.sin(angular_per_s * root * dt_s)
    first = 1.0 - decay * (cosine + damping_ratio / root * sine)
    second = decay * decay + decay * (damping_ratio / root * sine - cosine)
    out = lfilter([0.0, first, second], [1.0, -2.0 * decay * cosine, decay * decay], true_n - true_n[0])
    return np.asarray(out + true_n[0])


def _hum(draw: np.random.Generator, t_s: Floats) -> Floats:
    """Give mains hum as sampled: what lies above half the rate is folded by the sampling itself."""
    actual_hz = MAINS_HZ * (1.0 + 4e-4 * draw.uniform(-1.0, 1.0))
    return np.asarray(np.sin(2.0 * np.pi * actual_hz * t_s + draw.uniform(0.0, 6.28)))


def _current(draw: np.random.Generator, sensor: CurrentFacts, rig: Rig, rows: Rows, rate_hz: float) -> Floats:
    phase = 2.0 * np.pi * rows.motor_turns
    ripple = 1.0 + sensor.ripple_share * (np.sin(phase) + 0.5 * np.sin(2.0 * phase + 1.0))
    if sensor.hunt_share:
        hunting = np.sin(2.0 * np.pi * sensor.hunt_hz * rows.t_s + 0.5 * colored(draw, len(phase), 5.0 * rate_hz))
        ripple += sensor.hunt_share * hunting
    share = rows.current_share * ripple + sensor.zero_share
    share += sensor.noise_share * (0.3 + 0.7 * (rows.current_share > 0.01)) * draw.standard_normal(len(phase))
    share += sensor.hum_share * _hum(draw, rows.t_s)
    return stepped(share * rig.drive.full_current_a, sensor.step_a)


def _temperature(draw: np.random.Generator, sensor: ThermocoupleFacts, lagged_degc: Floats, t_s: Floats) -> Floats:
    noisy = lagged_degc + sensor.offset_k + sensor.noise_k * draw.standard_normal(len(t_s))
    return stepped(held(t_s, noisy, sensor.refresh_s), sensor.step_k)
