"""The sound level at the microphone before the meter: room, motor, contact, and what else makes noise. Reads `plan`."""

import math

import numpy as np
from scipy.signal import lfilter
from world_b.values import Flags, Floats

from world_l.growth import wander
from world_l.plan import Act, Happening, Plan
from world_l.rig import Rig


def sound_level_db(
    rig: Rig, plan: Plan, t_s: Floats, ring_rad_s: Floats, motor_rad_s: Floats, friction_n: Floats, progress: Floats,
    on: Flags, rng: np.random.Generator,
) -> Floats:  # fmt: skip
    """Give the level, (n,) dB; sources add by their powers.

    Source: acoustics texts: L = 10 log10 (sum of 10^(Li / 10)); the exponents of speed and of friction power are
    drawn, for published correlations of sound and friction have either sign.
    """
    speed = np.maximum(ring_rad_s / rig.set_speed_rad_s, 0.0)
    rubbing = speed * friction_n / (0.1 * rig.top_load_n)
    by_power, by_speed = rng.uniform(0.2, 1.3), rng.uniform(1.0, 3.0)
    motor_ratio = np.maximum(motor_rad_s / rig.set_speed_rad_s, 0.0)
    room = 10.0 ** (0.1 * (rig.room_db + rng.uniform(0.2, 1.5) * wander(rng, t_s, 5.0)))
    motor = np.where(motor_ratio > 0.01, 10.0 ** (0.1 * rig.motor_db) * motor_ratio**by_speed, 0.0)
    hum = np.where(on & (motor_ratio < 0.05), 10.0 ** (0.1 * (rig.motor_db - 6.0)), 0.0)
    contact_db = rig.rubbing_db + rng.uniform(0.3, 2.0) * wander(rng, t_s, 0.5)
    if plan.scuff is not None:
        contact_db += plan.scuff.sound_db * progress**0.6
        contact_db += progress * rng.uniform(0.2, 3.0) * wander(rng, t_s, 0.1)
    # a healthy contact's level follows its power; that of a scuffing is set by `sound_db` alone
    followed = np.minimum(rubbing, 1.0 + 0.5 * (1.0 - progress)) if plan.scuff is not None else rubbing
    contact = 10.0 ** (0.1 * contact_db) * np.maximum(followed, 0.0) ** by_power * (speed > 0.01)
    gain_db, loud = np.zeros_like(t_s), np.zeros_like(t_s)
    for happening in plan.happenings:
        _hear(happening, t_s, 10.0 * np.log10(room + motor + contact + hum), loud, gain_db, speed)
    level: Floats = 10.0 * np.log10(room + motor + contact + hum + loud) + gain_db
    return level


def _hear(happening: Happening, t_s: Floats, level_db: Floats, loud: Floats, gain_db: Floats, speed: Floats) -> None:
    """Add the power of one happening; its size is dB above what is heard when it begins."""
    begin, end = (int(k) for k in np.searchsorted(t_s, [happening.t_s, happening.t_s + happening.lasts_s]))
    if happening.act is Act.MIC:
        gain_db[begin:] += happening.size
        return
    if happening.act not in (Act.SQUEAL, Act.SLAM, Act.NEIGHBOUR, Act.VOICES, Act.COVER) or end <= begin:
        return
    rng = np.random.default_rng(happening.seed)
    power = 10.0 ** (0.1 * (float(np.median(level_db[max(begin - 20, 0) : end])) + happening.size))
    tau_s = t_s[begin:end] - happening.t_s
    if happening.act is Act.SLAM:
        room_s = rng.uniform(0.2, 0.8)  # reverberation time: 60 dB
        end = int(np.searchsorted(t_s, happening.t_s + 1.5 * room_s))
        loud[begin:end] += power * 10.0 ** (-6.0 * (t_s[begin:end] - happening.t_s) / room_s)
    elif happening.act is Act.VOICES:
        words = wander(rng, t_s, 0.25)[begin:end] > rng.uniform(-0.3, 0.8)
        loud[begin:end] += power * words * np.exp(0.6 * wander(rng, t_s, 0.15)[begin:end])
    elif happening.act is Act.SQUEAL:
        there = wander(rng, t_s, rng.uniform(0.2, 4.0))[begin:end] > rng.uniform(-2.0, 0.6)
        loud[begin:end] += power * there * (speed[begin:end] > 0.2)
    elif happening.act is Act.NEIGHBOUR:
        cycle_s = rng.uniform(2.0, 30.0)
        working = 1.0 if rng.random() < 0.5 else 0.3 + 0.7 * ((tau_s / cycle_s) % 1.0 < 0.6)
        own = np.exp(rng.uniform(0.1, 0.5) * wander(rng, t_s, 1.0)[begin:end])
        loud[begin:end] += power * working * own * np.minimum(1.0, tau_s / 0.8)
    else:
        loud[begin:end] += power * np.minimum(1.0, np.minimum(tau_s, happening.lasts_s - tau_s) / 0.5)


def weighted_db(level_db: Floats, dt_s: float, tau_s: float) -> Floats:
    """Give what a meter with exponential averaging of power shows (IEC 61672-1: Fast 0.125 s, Slow 1 s)."""
    power = 10.0 ** (0.1 * level_db)
    keep = math.exp(-dt_s / tau_s)
    averaged, _ = lfilter([1.0 - keep], [1.0, -keep], power, zi=[keep * power[0]])
    shown: Floats = 10.0 * np.log10(averaged)
    return shown
