"""Sound at the microphone, added up as power, and the meter. Reads the turned world, gives dB."""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import Floats, Kind, Nuisance

from .chance import STEP_S, Dice, between, eased, lagged, spread, wandering
from .courses import Courses
from .plan import Plan
from .rig import Rig
from .turning import Turned


@dataclass(frozen=True, slots=True)
class Shop:
    """What is heard whatever the contact does, and how the contact's own sound is coloured.

    Attributes:
        power: (n,) of the shop, 1 at 0 dB.
        colour_db: (n,) added to the contact's sound by its unrest and by stick-slip.
        squeal_db: (n,) of the contact's tone while it turns; -inf where it is silent.
        scuffed_db: by which scuffed metal is louder.
    """

    power: Floats
    colour_db: Floats
    squeal_db: Floats
    scuffed_db: float


def draw_shop(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Shop:
    """Draw all that is independent of the ring's turning."""
    sensing = rig.sensing
    power = power_of(sensing.shop_db + between(dice, 0.3, 1.5) * wandering(dice, len(t_s), 4.0, STEP_S))
    colour = between(dice, 0.4, 2.0) * wandering(dice, len(t_s), 0.5, STEP_S)
    squeal = np.full(len(t_s), -np.inf)
    for thing in plan.nuisances:
        if thing.kind in (Kind.DOOR_SLAM, Kind.VOICES, Kind.NEIGHBOUR, Kind.BUMP):
            power = power + _heard(dice, thing, t_s, sensing.shop_db)
        elif thing.kind is Kind.STICK_SLIP:
            colour += between(dice, 2.0, 9.0) * _body(thing, t_s, 0.3)
        elif thing.kind is Kind.SQUEAL:
            inside = _body(thing, t_s, 0.2) > 0.3
            sings = between(dice, 17.0, 32.0) + 2.0 * wandering(dice, len(t_s), 0.4, STEP_S)
            squeal = np.where(inside, sensing.contact_db + sings, squeal)
    for hang in plan.hands.hangs:
        power = power + _struck(t_s, hang.t_s + 0.6 * hang.takes_s, between(dice, 50.0, 72.0), 0.04)
    if plan.jam is not None:
        power = power + _struck(t_s, plan.jam.t_s, between(dice, 55.0, 85.0), 0.08)
    return Shop(power, colour, squeal, between(dice, 4.0, 20.0))


def part_of(shop: Shop, count: int, without_jam_at_s: float, t_s: Floats) -> Shop:
    """Give the first part of it, with the bang of a jam taken out."""
    power = shop.power[:count].copy()
    if without_jam_at_s == without_jam_at_s:
        begin = int(np.searchsorted(t_s, without_jam_at_s))
        power[begin:] = np.minimum(power[begin:], power[max(begin - 200, 0) : begin].max(initial=1.0))
    return replace(shop, power=power, colour_db=shop.colour_db[:count], squeal_db=shop.squeal_db[:count])


def sound_db(rig: Rig, shop: Shop, courses: Courses, turned: Turned) -> Floats:
    """Give (n,) float64, dB, before the meter."""
    turning = np.clip(turned.ring_rad_s / rig.set_rad_s, 0.0, None)
    drive = np.clip(turned.motor_rad_s / rig.set_rad_s, 0.0, 2.0)
    work = turned.friction_n * turned.ring_rad_s * rig.radius_m / rig.usual_power_w
    scuffed = 10.0 * np.log10(1.0 + (10.0 ** (shop.scuffed_db / 10.0) - 1.0) * courses.harm.scuffed)
    contact = power_of(rig.sensing.contact_db + shop.colour_db + scuffed) * work
    tone = power_of(shop.squeal_db) * (turning > 0.3) * np.minimum(work * 4.0, 1.0)
    total = shop.power + power_of(rig.sensing.drive_db) * drive**2 + contact + tone
    return np.asarray(10.0 * np.log10(np.maximum(total, 1.0)), dtype=np.float64)


def metered_db(level_db: Floats, weighting_s: float, step_s: float = STEP_S) -> Floats:
    """Give (n,) dB as a meter with exponential weighting shows it (IEC 61672-1)."""
    return np.asarray(10.0 * np.log10(lagged(power_of(level_db), weighting_s, step_s)), dtype=np.float64)


def power_of(level_db: Floats | float) -> Floats:
    """Give the power, 1 at 0 dB."""
    return np.asarray(10.0 ** (np.asarray(level_db) / 10.0), dtype=np.float64)


def _body(thing: Nuisance, t_s: Floats, edge_s: float) -> Floats:
    return eased(t_s, thing.t_s, edge_s) - eased(t_s, thing.t_s + thing.duration_s - edge_s, edge_s)


def _heard(dice: Dice, thing: Nuisance, t_s: Floats, shop_db: float) -> Floats:
    if thing.kind is Kind.DOOR_SLAM:
        return _struck(t_s, thing.t_s, between(dice, 70.0, 98.0), spread(dice, 0.05, 0.25))
    if thing.kind is Kind.BUMP:
        return _struck(t_s, thing.t_s, between(dice, 50.0, 72.0), 0.05)
    body = _body(thing, t_s, 0.3)
    if thing.kind is Kind.VOICES:
        talk = between(dice, 52.0, 66.0) + 6.0 * wandering(dice, len(t_s), 0.4, STEP_S)
        return np.asarray(power_of(np.minimum(talk, 84.0)) * body, dtype=np.float64)
    return np.asarray(power_of(shop_db + between(dice, 3.0, 14.0)) * body, dtype=np.float64)


def _struck(t_s: Floats, at_s: float, level_db: float, dies_s: float) -> Floats:
    since_s = t_s - at_s
    dying = np.exp(-np.clip(since_s, 0.0, 50.0 * dies_s) / dies_s)
    return np.asarray(np.where(since_s >= 0.0, power_of(level_db) * dying, 0.0), dtype=np.float64)
