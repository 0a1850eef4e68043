"""One rig through one plan: puts the courses together and turns the ring, with and without what goes wrong.

Reads a rig, a plan and dice, gives the noise-free world and, beside it, the same world without the event.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats, Kind

from .chance import STEP_S, Dice, between, happens, scaled, wander
from .damage import Harm, harm
from .film import film_course, usual_mu
from .heat import Heat, begin_degc, draw_trouble, temperatures
from .lever import hung_n
from .plan import Plan
from .readings import World
from .rig import Rig
from .sound import draw_ear, level_db
from .turning import Courses, turn

LEAD_S = 4.0
"""Turned before the recording begins, so that a rig in mid run has settled."""
BESIDE_S = 12.0
"""How long after the event the world without it is followed."""


@dataclass(frozen=True, slots=True)
class Made:
    """A world and what it would have been.

    Attributes:
        world, calm: with and without the event; `calm` is shorter, and None where nothing goes wrong.
        on: (n,) the motor is switched on and has its supply.
        heat: with the balance.
    """

    world: World
    calm: World | None
    on: Flags
    heat: Heat


def make(dice: Dice, rig: Rig, plan: Plan, limit_degc: float) -> Made:
    """Give the world of a plan on the inner clock, from 0 to its end; the limit is that of the pin."""
    lead = round(LEAD_S / STEP_S)
    t_s: Floats = np.arange(-lead, round(plan.duration_s / STEP_S), dtype=np.float64) * STEP_S
    streams = dice.spawn(6)
    on = _switched(plan, t_s)
    load_n = hung_n(streams[0], rig, plan, t_s)
    hurt, calm = harm(streams[1], rig, plan, t_s)
    supply, kept_up = _supply(streams[2], rig, plan, t_s)
    usual_w_n = usual_mu(rig.contact, rig.warmth.held_degc + 8.0) * rig.radius_m * rig.motor.set_speed_rad_s
    expected_w = usual_w_n * load_n * on
    first_degc = begin_degc(streams[3], rig, 0.9 * float(expected_w.max()))
    trouble = draw_trouble(streams[3], rig, plan, first_degc, expected_w[lead:], limit_degc)
    guess = temperatures(rig.warmth, plan, first_degc, expected_w[lead:], trouble).bath_degc
    guess = np.concatenate((np.full(lead, guess[0]), guess))
    film_mu, fluid_ratio = film_course(streams[3], rig, plan, t_s, load_n, on, guess)
    unrest = _unrest(streams[4], rig, len(t_s))
    courses = Courses(
        on=on, supply=supply, drag_share=_drag(rig, t_s), outside_nm=_outside(streams[2], rig, plan, t_s),
        load_n=load_n, film_mu=film_mu, fluid_ratio=fluid_ratio, unrest=_factor(unrest, hurt), harm=hurt,
    )  # fmt: skip
    ear = draw_ear(streams[5], rig, plan, t_s[lead:])
    begin_rad_s = rig.motor.set_speed_rad_s * float(on[0])

    def finished(given: Courses, has: Harm, wrong: bool) -> tuple[World, Heat]:
        turned = turn(rig, given, begin_rad_s).after(lead)
        heat = temperatures(rig.warmth, plan, first_degc, turned.power_w(rig), trouble if wrong else None)
        count = len(turned.ring_rad_s)
        cut = has.part(slice(lead, lead + count))
        level = level_db(rig, ear.until(count), turned, cut, (given.on & (given.supply > 0.02))[lead:])
        return World(t_s[lead : lead + count], turned, heat.bath_degc, heat.pin_degc, level), heat

    world, heat = finished(courses, hurt, True)
    beside = None
    event = plan.event
    if event is not None and not event.heating_s > 0.0:
        moment_s = event.onset_s if event.onset_s > 0.0 else event.first_s
        count = min(len(t_s), lead + round((moment_s + BESIDE_S) / STEP_S))
        beside = finished(courses.until(count, calm, _factor(unrest, calm), kept_up), calm, False)[0]
    return Made(world, beside, (on & (supply > 0.02))[lead:], heat)


def _switched(plan: Plan, t_s: Floats) -> Flags:
    moments = np.array([t for t, _ in plan.switches])
    states = np.array([False, *(state for _, state in plan.switches)])
    return np.asarray(states[np.searchsorted(moments, t_s, side="right")])


def _supply(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> tuple[Floats, Floats]:
    """Give the supply relative to nominal, and what it would have been had it not been lost."""
    volts = 1.0 + rig.motor.volts_wander_share * wander(dice, len(t_s), 20.0)
    for dip in plan.of(Kind.BRIEF_DIP):
        volts[(t_s >= dip.t_s) & (t_s < dip.t_s + dip.duration_s)] *= between(dice, 0.0, 0.6)
    lost = volts.copy()
    if plan.event is not None and plan.event.supply_s > 0.0:
        lost[t_s >= plan.event.supply_s] = 0.0
    return lost, volts


def _outside(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    """Give the torque of a jam: a bearing that seizes, a rag around the shaft; enough to hold motor and belt."""
    event, motor = plan.event, rig.motor
    if event is None or not event.jam_s > 0.0:
        return np.zeros(len(t_s))
    most_nm = between(dice, 1.1, 2.5) * min(motor.most_torque_nm, motor.belt_torque_nm)
    grown = np.clip((t_s - event.jam_s) / scaled(dice, 0.05, 4.0), 0.0, 1.0)
    return most_nm * grown ** (2.0 if happens(dice, 0.5) else 1.0)


def _drag(rig: Rig, t_s: Floats) -> Floats:
    """Give the drag of the bearings relative to warm; it falls as the grease warms up."""
    cold = 0.0 if rig.mid_run else rig.motor.cold_drag_share
    return 1.0 + cold * np.exp(-np.clip(t_s, 0.0, None) / 240.0)


def _unrest(dice: Dice, rig: Rig, count: int) -> tuple[Floats, Floats]:
    """Give the slow and the fast unrest of friction: wandering on two scales, and quiet and lively spells."""
    contact = rig.contact
    slow = 0.8 * wander(dice, count, contact.slow_s) + 0.6 * wander(dice, count, 12.0 * contact.slow_s)
    lively = np.exp(0.3 * wander(dice, count, 25.0))
    return contact.slow_share * slow, contact.fast_share * lively * wander(dice, count, contact.fast_s)


def _factor(unrest: tuple[Floats, Floats], has: Harm) -> Floats:
    slow, fast = unrest
    return np.asarray(np.exp(slow + fast * has.rough))
