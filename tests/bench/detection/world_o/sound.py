"""Sound at the rig before the meter.  Reads plan, motion and excess, gives dB on the core's clock."""

import numpy as np
from numpy.random import Generator
from scipy.signal import lfilter
from world_b.values import Floats, Kind

from world_o.drives import Motion
from world_o.nuisances import window
from world_o.parts import CORE_DT_S, Plan, Rig, log_uniform


def _power(level_db: float | Floats) -> Floats:
    """Give sound power from a level."""
    out: Floats = np.power(10.0, np.asarray(level_db, dtype=np.float64) / 10.0)
    return out


def _shop(rng: Generator, plan: Plan, t_s: Floats, floor_db: float) -> Floats:
    """Give the power of everything that is not the rig."""
    coarse = np.arange(0.0, t_s[-1] + 0.2, 0.1)
    walk = lfilter([np.sqrt(1 - 0.98**2)], [1.0, -0.98], rng.normal(size=coarse.size)) * rng.uniform(0.3, 2.0)
    total = _power(floor_db + np.interp(t_s, coarse, walk))
    for n in plan.listed:
        if n.kind is Kind.DOOR_SLAM:
            since = t_s - n.t_s
            total += np.where(
                since > 0.0, _power(rng.uniform(78.0, 97.0)) * np.exp(-np.maximum(since, 0.0) / 0.12), 0.0
            )
        elif n.kind is Kind.NEIGHBOUR:
            throb = 1.0 + 0.5 * np.sin(2 * np.pi * rng.uniform(0.2, 3.0) * t_s)
            total += _power(floor_db + rng.uniform(3.0, 22.0)) * throb * window(t_s, n.t_s, n.duration_s, 1.0)
        elif n.kind is Kind.VOICES:
            words = np.abs(np.sin(2 * np.pi * 1.7 * t_s + 2.0 * np.sin(t_s)) * np.sin(0.9 * t_s)) ** 2
            total += _power(rng.uniform(58.0, 76.0)) * words * window(t_s, n.t_s, n.duration_s, 0.3)
    for name, at_s, lasts_s, size in plan.oddities:
        if name == "fan":
            total += _power(floor_db + 8.0 * size) * window(t_s, at_s, lasts_s * 6.0, 2.0)
        elif name == "compressor":
            total += _power(floor_db + 9.0 * size) * (np.mod(t_s - at_s, 70.0) < 4.0 + lasts_s)
        elif name == "radio":
            beat = 0.5 + 0.3 * np.sin(2 * np.pi * 1.9 * t_s) + 0.2 * np.sin(2 * np.pi * 0.11 * t_s)
            total += _power(floor_db + 7.0 * size) * beat * (t_s > at_s)
        elif name == "forklift":
            total += _power(floor_db + 14.0 * size) * window(t_s, at_s, lasts_s, lasts_s / 2.5)
    return total


def hear(rng: Generator, plan: Plan, rig: Rig, motion: Motion, excess_log: Floats, wave: Floats) -> Floats:
    """Give the level at the microphone: shop, motor, rubbing, its change, and squeal."""
    t_s: Floats = np.arange(motion.friction_n.size, dtype=np.float64) * CORE_DT_S
    floor_db = rng.uniform(42.0, 64.0)
    turning = np.clip(motion.motor_rad_s / rig.drive.speed_rad_s, 1e-3, 2.0)
    top_n = rig.contact.mu_healthy * max(load_n for _, load_n in plan.steps)
    rubbing = np.clip(motion.friction_n * motion.ring_rad_s / (top_n * rig.drive.speed_rad_s), 1e-6, 100.0)
    motor = _power(floor_db + rng.uniform(-4.0, 14.0)) * turning ** rng.uniform(1.5, 3.0)
    rub_db = floor_db + rng.uniform(-2.0, 16.0)
    rough_db = rng.uniform(2.0, 9.0) if rng.random() < 0.8 else rng.uniform(-4.0, 0.5)
    rub = _power(rub_db + rough_db * np.clip(excess_log, 0.0, 2.0)) * rubbing ** rng.uniform(0.5, 1.1)
    change = np.abs(np.diff(motion.friction_n, prepend=motion.friction_n[0])) / (CORE_DT_S * top_n)
    change = lfilter([0.2], [1.0, -0.8], np.minimum(change, 30.0))
    rub = rub + _power(rub_db) * rng.uniform(0.0, 0.3) * change * (motion.ring_rad_s > 0.0)
    rub = rub * (1.0 + np.clip(wave, -0.5, 0.5) * 1.5)
    total = _shop(rng, plan, t_s, floor_db) + motor + rub
    loaded = np.minimum(rubbing, 1.0) > 1e-3
    for n in plan.listed:
        if n.kind is Kind.SQUEAL:
            beat = 0.6 + 0.4 * np.sin(2 * np.pi * log_uniform(rng, 0.3, 5.0) * t_s)
            total += _power(rub_db + rng.uniform(8.0, 26.0)) * beat * loaded * window(t_s, n.t_s, n.duration_s, 0.4)
    out: Floats = np.clip(10.0 * np.log10(total), 35.0, 104.0)
    return out
