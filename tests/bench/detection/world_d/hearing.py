"""The sound level where the microphone stands.

Reads speed, friction power, damage and what is noisy in the room, gives dB; then what a meter with the time weighting
of IEC 61672-1:2013 (Fast 125 ms, Slow 1 s) makes of it.
"""

from math import exp, pi

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Kind, Nuisance

from .chance import Chance
from .plan import Plan
from .rig import Rig
from .unrest import remembered


def level_db(rig: Rig, turns: Floats, friction_w: Floats, share: Floats) -> Floats:
    """Give the level of the rig in a quiet room, without flutter.

    Args:
        rig: whose sound it is.
        turns: (n,) speed of the motor over set speed.
        friction_w: (n,) friction power, W.
        share: (n,) of the contact that is scuffed.
    """
    sound = rig.sound
    motor_db = sound.motor_db + 25.0 * np.log10(np.maximum(turns, 1e-3))
    part = np.maximum(friction_w / sound.top_w, 1e-4)
    contact_db = sound.contact_db + 10.0 * sound.power_law * np.log10(part) + sound.damage_db * np.sqrt(share)
    return added((np.full(len(turns), sound.room_db), motor_db, contact_db))


def added(levels_db: tuple[Floats, ...]) -> Floats:
    """Add levels as powers."""
    power = np.zeros(len(levels_db[0]))
    for level in levels_db:
        power += 10.0 ** (level / 10.0)
    total: Floats = 10.0 * np.log10(power)
    return total


def with_room(rig: Rig, plan: Plan, t_s: Floats, quiet_db: Floats, turning: Floats, chance: Chance) -> Floats:
    """Add doors, neighbours, voices and squeal to a level."""
    level_db = quiet_db.copy()
    makers = {Kind.DOOR_SLAM: _slam, Kind.NEIGHBOUR: _neighbour, Kind.VOICES: _voices, Kind.SQUEAL: _squeal}
    for at, each in enumerate(plan.nuisances):
        maker = makers.get(each.kind)
        if maker is None:
            continue
        rings_s = 1.5 if each.kind is Kind.DOOR_SLAM else each.duration_s
        first, last = np.searchsorted(t_s, (each.t_s, each.t_s + rings_s))
        if last - first > 1:
            base_db = level_db[first:last]
            extra_db = maker(rig, each, t_s[first:last], chance.child(at))
            if each.kind is Kind.SQUEAL:
                extra_db = np.where(turning[first:last] > 0.3, base_db + extra_db, 0.0)
            level_db[first:last] = added((base_db, extra_db))
    return level_db


def _slam(rig: Rig, each: Nuisance, t_s: Floats, chance: Chance) -> Floats:
    """Give a bang that dies in the room (reverberation of half a second or so)."""
    dies: Floats = -60.0 * (t_s - each.t_s) / chance.between(0.4, 1.2)
    return chance.between(70.0, 98.0) + dies


def _neighbour(rig: Rig, each: Nuisance, t_s: Floats, chance: Chance) -> Floats:
    swing: Floats = np.sin(2.0 * pi * chance.ratio(0.2, 2.0) * (t_s - each.t_s))
    return rig.sound.motor_db + chance.between(-6.0, 9.0) + chance.between(0.3, 2.0) * swing


def _voices(rig: Rig, each: Nuisance, t_s: Floats, chance: Chance) -> Floats:
    """Give speech at 1 m: some 60 dB, in syllables and pauses."""
    swing = remembered(chance, len(t_s), float(t_s[1] - t_s[0]), 0.2)
    pause = remembered(chance, len(t_s), float(t_s[1] - t_s[0]), 2.0)
    return chance.between(54.0, 72.0) + 5.0 * swing + np.where(pause > 0.6, -25.0, 0.0)


def _squeal(rig: Rig, each: Nuisance, t_s: Floats, chance: Chance) -> Floats:
    """Give how far the tone stands above the rest; it sets in and breaks off quickly."""
    above = chance.between(3.0, 28.0) + 1.5 * remembered(chance, len(t_s), float(t_s[1] - t_s[0]), 0.5)
    sets_in = np.minimum(1.0, (t_s - t_s[0]) / chance.ratio(0.03, 1.0))
    heard: Floats = above + 12.0 * (sets_in - 1.0)
    return heard


def metered(level_db: Floats, step_s: float, weighting_s: float) -> Floats:
    """Give the level after exponential time weighting of the squared pressure, (n,) dB."""
    power = 10.0 ** (level_db / 10.0)
    keep = exp(-step_s / weighting_s)
    smooth, _ = lfilter([1.0 - keep], [1.0, -keep], power, zi=[keep * power[0]])
    weighted: Floats = 10.0 * np.log10(np.maximum(smooth, 1e-12))
    return weighted
