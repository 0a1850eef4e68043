"""Everything that acts on the ring from outside, on the inner clock. Reads rig and plan, gives courses."""

from dataclasses import dataclass, replace

import numpy as np
from world_b.values import Flags, Floats, Kind, Nuisance

from .chance import BEFORE_S, SLOW_STEPS, STEP_S, Dice, between, chance, eased, spread, wandering
from .harm import Harm, harmed, no_harm
from .lever import hung_n
from .plan import Plan
from .rig import Contact, Rig


@dataclass(frozen=True, slots=True)
class Courses:
    """What acts; each array (n,) on the inner clock, which begins at -BEFORE_S.

    Attributes:
        t_s: inner clock.
        hung_n: see `lever`.
        unrest: factor on healthy friction, with all healthy nuisances of the contact.
        on: the motor is switched on; supply: 0..1 of its voltage.
        outside_nm: a jam's torque.
        harm: see `harm`.
        torn: (slow steps, patches) even draws for the reaction film.
        phases: (6,) of what goes round with the ring, rad.
    """

    t_s: Floats
    hung_n: Floats
    unrest: Floats
    on: Flags
    supply: Floats
    outside_nm: Floats
    harm: Harm
    torn: Floats
    phases: Floats


PATCHES = 40


def clock_s(duration_s: float) -> Floats:
    """Give the inner clock, a whole number of slow steps, s."""
    slow = int(np.ceil((duration_s + BEFORE_S) / (SLOW_STEPS * STEP_S))) + 1
    return np.asarray(np.arange(slow * SLOW_STEPS) * STEP_S - BEFORE_S, dtype=np.float64)


def draw_courses(dices: tuple[Dice, Dice, Dice], rig: Rig, plan: Plan, usual_mu: float) -> Courses:
    """Draw all courses: of the contact, of things that happen, of the event."""
    for_contact, for_things, for_event = dices
    t_s = clock_s(plan.duration_s)
    unrest = _own_unrest(for_contact, rig.contact, len(t_s))
    for thing in plan.nuisances:
        unrest = unrest * _on_friction(for_things, thing, t_s)
    excess = max(rig.contact.scuffed_mu / usual_mu - 1.0, 0.5)
    harm = no_harm(len(t_s)) if plan.harm is None else harmed(for_event, plan.harm, t_s, excess)
    return Courses(
        t_s=t_s,
        hung_n=hung_n(for_things, rig.lever, plan, t_s),
        unrest=np.clip(unrest, 0.3, 1.9),
        on=_on(plan, t_s),
        supply=_supply(for_things, plan, t_s),
        outside_nm=_outside_nm(plan, t_s),
        harm=harm,
        torn=for_contact.random((len(t_s) // SLOW_STEPS, PATCHES)),
        phases=for_contact.uniform(0.0, 2.0 * np.pi, 6),
    )


def first_part(courses: Courses, until_s: float) -> Courses:
    """Give the courses up to a moment."""
    n = (int(np.searchsorted(courses.t_s, until_s)) // SLOW_STEPS + 1) * SLOW_STEPS
    n, harm = min(n, len(courses.t_s)), courses.harm
    return replace(
        courses,
        t_s=courses.t_s[:n],
        hung_n=courses.hung_n[:n],
        unrest=courses.unrest[:n],
        on=courses.on[:n],
        supply=courses.supply[:n],
        outside_nm=courses.outside_nm[:n],
        harm=Harm(harm.scuffed[:n], harm.rough[:n], harm.gain[:n], harm.spot[:n], harm.weld[:n]),
    )


def without_event(courses: Courses, until_s: float) -> Courses:
    """Give the courses up to a moment as they were had nothing failed or jammed."""
    part = first_part(courses, until_s)
    return replace(part, outside_nm=np.zeros(len(part.t_s)), harm=no_harm(len(part.t_s)))


def _own_unrest(dice: Dice, contact: Contact, count: int) -> Floats:
    fast = contact.unrest_share * wandering(dice, count, contact.unrest_s, STEP_S)
    lively = 1.0 + 0.4 * np.clip(wandering(dice, count, 25.0, STEP_S), -1.5, 2.0)
    slow = contact.slow_share * wandering(dice, count, contact.slow_s, STEP_S)
    return np.asarray(1.0 + fast * lively + slow, dtype=np.float64)


def _on_friction(dice: Dice, thing: Nuisance, t_s: Floats) -> Floats | float:
    """Give a healthy nuisance's factor on the friction, 1 where it has none."""
    begin_s, lasts_s = thing.t_s, thing.duration_s
    if thing.kind is Kind.FILM_TRANSITION:
        return 1.0 + between(dice, -0.28, 0.4) * eased(t_s, begin_s, lasts_s)
    if thing.kind is Kind.OIL_TOP_UP:
        gone = np.exp(-np.clip(t_s - begin_s - lasts_s, 0.0, None) / 60.0)
        return 1.0 - between(dice, 0.02, 0.12) * eased(t_s, begin_s, lasts_s) * gone
    if thing.kind is Kind.DEBRIS:
        inside = (t_s >= begin_s) & (t_s <= begin_s + lasts_s)
        hump = np.sin(np.pi * np.clip((t_s - begin_s) / lasts_s, 0.0, 1.0))
        return 1.0 + np.where(inside, between(dice, 0.12, 0.5) * hump, 0.0)
    if thing.kind is Kind.STICK_SLIP:
        hz = spread(dice, 3.0, 18.0)
        phase = np.cumsum(np.full(len(t_s), hz * STEP_S) * (1.0 + 0.1 * wandering(dice, len(t_s), 0.3, STEP_S)))
        teeth = 2.0 * (phase % 1.0) - 1.0
        body = eased(t_s, begin_s, 0.5) - eased(t_s, begin_s + lasts_s - 0.5, 0.5)
        return 1.0 + between(dice, 0.12, 0.45) * body * teeth
    return 1.0


def _on(plan: Plan, t_s: Floats) -> Flags:
    on = np.zeros(len(t_s), dtype=np.bool_)
    for at_s, state in plan.hands.switches:
        on[int(np.searchsorted(t_s, at_s)) :] = state
    return on


def _supply(dice: Dice, plan: Plan, t_s: Floats) -> Floats:
    supply = np.ones(len(t_s))
    for dip in plan.nuisances:
        if dip.kind is Kind.BRIEF_DIP:
            left = between(dice, 0.1, 0.8) if chance(dice, 0.7) else 0.0
            supply[slice(*np.searchsorted(t_s, [dip.t_s, dip.t_s + dip.duration_s]))] = left
    if plan.supply_lost_s == plan.supply_lost_s:
        supply[int(np.searchsorted(t_s, plan.supply_lost_s)) :] = 0.0
    return supply


def _outside_nm(plan: Plan, t_s: Floats) -> Floats:
    if plan.jam is None:
        return np.zeros(len(t_s))
    grown = np.clip((t_s - plan.jam.t_s + STEP_S) / max(plan.jam.grows_s, STEP_S), 0.0, 1.0)
    return np.asarray(plan.jam.torque_nm * grown, dtype=np.float64)
