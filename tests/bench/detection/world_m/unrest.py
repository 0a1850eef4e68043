"""What moves the friction of a sound contact: unrest, film growth, particles, stick-slip; and what moves the supply.

Reads `world_m.plan`, `world_m.design`.
"""

from math import isnan

import numpy as np
from world_b.values import DriveKind, Floats, Kind, Klass, Nuisance

from world_m.design import Design
from world_m.grid import STEP_S, ramp, slow_wander, span, wander
from world_m.plan import Plan
from world_m.sprinkle import coast_down_s
from world_m.streams import Stream, between, happens, log_between

DRY_MU = 0.15
"""Boundary friction above which the pair counts as dry, and has no film that could change much."""

LONGEST_PARTICLE_S = 1.6


def friction_factor(rng: Stream, t_s: Floats, plan: Plan, design: Design) -> Floats:
    """Give the factor on the sound contact's friction, (n,), 1 on the whole."""
    contact = design.contact
    level = np.ones(t_s.size)
    factor = 1.0 + contact.unrest * wander(rng, t_s.size, contact.unrest_s, STEP_S)
    factor += between(rng, 0.0, 0.025) * slow_wander(rng, t_s, between(rng, 10.0, 90.0))
    factor *= 1.0 + between(rng, -0.12, 0.06) * (1.0 - np.exp(-t_s / log_between(rng, 100.0, 900.0)))
    most = 1.1 if contact.boundary_mu > DRY_MU else 1.5
    for film in plan.of(Kind.FILM_TRANSITION):
        level *= 1.0 + (between(rng, 0.66, most) - 1.0) * ramp(t_s, film.t_s, film.duration_s)
    factor *= np.minimum(level, most)
    for debris in plan.of(Kind.DEBRIS):
        for begin_s, long_s in _particles(rng, debris):
            where = span(t_s, begin_s, begin_s + long_s)
            hump = np.sin(np.pi * (t_s[where] - begin_s) / long_s)
            factor[where] *= 1.0 + between(rng, 0.1, 0.55) * np.maximum(hump, 0.0) ** 0.7
    for spell in plan.of(Kind.STICK_SLIP):
        where = span(t_s, spell.t_s, spell.t_s + spell.duration_s)
        factor[where] *= 1.0 + _stick_slip(rng, t_s[where] - spell.t_s, spell.duration_s)
    return np.clip(factor, 0.4, 2.2)


def _particles(rng: Stream, debris: Nuisance) -> list[tuple[float, float]]:
    """Give begin and length of each particle: one, or in a long spell a handful of them."""
    if debris.duration_s <= LONGEST_PARTICLE_S:
        return [(debris.t_s, debris.duration_s)]
    count = int(rng.integers(3, 9))
    begins_s = np.sort(rng.uniform(debris.t_s, debris.t_s + debris.duration_s - LONGEST_PARTICLE_S, count))
    return [(float(begin_s), log_between(rng, 0.08, 1.0)) for begin_s in begins_s]


def _stick_slip(rng: Stream, late_s: Floats, duration_s: float) -> Floats:
    """Give the saw tooth of a contact that sticks and slips, about 0, swelling and dying within its spell."""
    hz = log_between(rng, 0.8, 25.0)
    depth = between(rng, 0.12, 0.45) * (1.0 + 0.25 * wander(rng, late_s.size, 0.7, STEP_S))
    phase = hz * late_s + 0.4 * wander(rng, late_s.size, 2.0, STEP_S)
    saw = phase % 1.0
    tooth = np.where(saw < 0.8, saw / 0.8, (1.0 - saw) / 0.2) - 0.5
    window = np.minimum(1.0, np.minimum(late_s, duration_s - late_s) / (0.1 * duration_s))
    return np.clip(depth, 0.0, 0.6) * tooth * np.maximum(window, 0.0)


def supply(rng: Stream, t_s: Floats, plan: Plan) -> Floats:
    """Give the supply of the motor, (n,): 0 off, about 1 on, between in a dip."""
    level = np.where(t_s >= plan.motor_on_s, 1.0, 0.0)
    for kind in (Kind.PAUSE, Kind.DAY_BETWEEN, Kind.RESTART_BEFORE_REST, Kind.INCHING):
        for stop in plan.of(kind):
            level[span(t_s, stop.t_s, stop.t_s + stop.duration_s)] = 0.0
    for inching in plan.of(Kind.INCHING):
        at_s = inching.t_s + 1.5
        while at_s < inching.t_s + inching.duration_s - 1.0:
            level[span(t_s, at_s, at_s + between(rng, 0.1, 0.5))] = 1.0
            at_s += between(rng, 0.8, 2.0)
    for dip in plan.of(Kind.BRIEF_DIP):
        level[span(t_s, dip.t_s, dip.t_s + max(dip.duration_s, STEP_S))] = between(rng, 0.3, 0.7)
    if plan.klass is Klass.SUPPLY_LOST and not isnan(plan.event_s):
        level[span(t_s, plan.event_s, np.inf)] = 0.0
    mains = 1.0 + between(rng, 0.0, 0.012) * slow_wander(rng, t_s, between(rng, 5.0, 60.0))
    return np.asarray(level * mains)


def jam_nm(rng: Stream, t_s: Floats, plan: Plan, design: Design) -> Floats:
    """Give the torque from outside that holds the ring, (n,) N m: a rag, a broken bearing, a loose guard.

    A bare brushed motor, which pulls the harder the slower it turns, is at times only nearly stopped.
    """
    if plan.klass is not Klass.JAM:
        return np.zeros(t_s.size)
    rise_s = max(log_between(rng, 0.02, 4.0), 0.05 * coast_down_s(design, plan))
    strength_nm = design.peak_torque_nm * between(rng, 1.08, 2.2)
    if design.drive.kind is DriveKind.BRUSHED_BARE and not design.belt_nm and happens(rng, 0.4):
        strength_nm = design.peak_torque_nm * between(rng, 0.8, 0.94)
    rub = 1.0 + between(rng, 0.0, 0.08) * wander(rng, t_s.size, 0.1, STEP_S)
    return strength_nm * np.clip((t_s - plan.event_s) / rise_s, 0.0, 1.0) * np.clip(rub, 0.93, 1.2)
