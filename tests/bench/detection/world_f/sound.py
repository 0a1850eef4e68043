"""What a sound level meter hears: shop, drive, contact, squeal, and people.

Reads a rig, a plan, dice and the turning ring; gives sound power relative to 0 dB, so that sources add. The meter's
time weighting (IEC 61672-1) is an instrument's and comes later.
"""

import numpy as np
from world_b.values import Floats, Kind

from .chance import Dice, even, smooth_step, spread, stretch, wander
from .plan import Plan, Way
from .rig import Rig
from .turning import Turned


def power_of(level_db: Floats | float) -> Floats:
    """Give sound power of a level, relative to 0 dB."""
    return np.asarray(10.0 ** (np.asarray(level_db) / 10.0), np.float64)


def ambient(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    """Give the sound power of the shop, whatever the rig does, (n,)."""
    shop, count = rig.shop, len(t_s)
    power = power_of(shop.background_db + shop.wander_db * wander(dice, count, spread(dice, 3.0, 60.0)))
    for slam in plan.of(Kind.DOOR_SLAM):
        part = stretch(count, slam.t_s, slam.t_s + 3.0)
        power[part] += power_of(74.0 + 20.0 * slam.size) * np.exp(-(t_s[part] - slam.t_s) / 0.08)
    for talk in plan.of(Kind.VOICES):
        part = stretch(count, talk.t_s, talk.t_s + talk.duration_s)
        syllables = 6.0 * wander(dice, part.stop - part.start, 0.25)
        power[part] += power_of(52.0 + 16.0 * talk.size + np.minimum(syllables, 9.0))
    for machine in plan.of(Kind.NEIGHBOUR):
        part = stretch(count, machine.t_s, machine.t_s + machine.duration_s)
        shape = _cycles(dice, t_s[part] - machine.t_s, machine.duration_s)
        power[part] += power_of(shop.background_db + 2.0 + 14.0 * machine.size) * shape
    for load in plan.loads:
        if load.way is Way.HARD and load.t_s > 0.0:
            part = stretch(count, load.t_s, load.t_s + 1.0)
            power[part] += power_of(82.0) * np.exp(-(t_s[part] - load.t_s) / 0.05)
    return power


def _cycles(dice: Dice, since_s: Floats, lasts_s: float) -> Floats:
    """Give a machine that runs through, or a compressor that comes and goes, 0 to 1, (n,)."""
    shape = smooth_step(since_s, 0.0, 1.5) * (1.0 - smooth_step(since_s, lasts_s - 1.5, 1.5))
    if dice.random() < 0.5:
        period_s = even(dice, 12.0, 45.0)
        shape = shape * (np.mod(since_s / period_s, 1.0) < even(dice, 0.4, 0.7))
    return np.asarray(shape, np.float64)


def machine(
    rig: Rig, plan: Plan, turned: Turned, scuffed_share: Floats, t_s: Floats, texture: Floats, squeals: bool = True
) -> Floats:
    """Give the sound power of drive and contact, (n,).

    Args:
        texture: unrest of mean 0 and spread 1, so that a world turned again sounds alike, (n,).
        squeals: False leaves squeal out, to tell how loud it is.
    """
    shop = rig.shop
    share = turned.motor_rad_s / rig.motor.set_rad_s
    work_w = turned.friction_n * turned.ring_rad_s * rig.radius_m
    rough_db = shop.scuffed_db * np.sqrt(np.clip(scuffed_share, 0.0, 1.0)) + 0.8 * texture
    contact = power_of(shop.contact_db + rough_db) * np.maximum(work_w, 0.0)
    power = power_of(shop.motor_db) * np.clip(share, 0.0, 1.2) ** 3 + contact
    if not squeals:
        return power
    rubs = (turned.ring_rad_s > 0.3 * rig.motor.set_rad_s) & (turned.friction_n > 0.002 * rig.most_load_n)
    for bout in plan.of(Kind.SQUEAL):
        part = slice(*np.searchsorted(t_s, [bout.t_s, bout.t_s + bout.duration_s]).tolist())
        shape = smooth_step(t_s[part], bout.t_s, 0.3) * (1.0 - smooth_step(t_s[part], bout.t_s + bout.duration_s, 0.3))
        level_db = loud_db(rig) + 8.0 + 14.0 * bout.size + texture[part]
        power[part] += power_of(level_db) * shape * rubs[part]
    for bout in plan.of(Kind.STICK_SLIP):
        part = slice(*np.searchsorted(t_s, [bout.t_s, bout.t_s + bout.duration_s]).tolist())
        power[part] += contact[part] * (1.0 + 4.0 * bout.size)
    return power


def loud_db(rig: Rig) -> float:
    """Give the usual level at the greatest load, dB."""
    shop = rig.shop
    work_w = rig.contact.film_mu * rig.most_load_n * rig.motor.set_rad_s * rig.radius_m
    total = power_of(shop.background_db) + power_of(shop.motor_db) + power_of(shop.contact_db) * work_w
    return float(10.0 * np.log10(total))
