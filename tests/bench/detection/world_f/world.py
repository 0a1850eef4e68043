"""One world: contact, ring, heat and sound of one plan, on the fine grid, without any instrument.

Reads a rig, a plan and a seed, gives a `World`; `calm` turns a stretch of it again without its event.
"""

from dataclasses import dataclass, replace
from math import isnan

import numpy as np
from world_b.values import Floats, Kind

from .chance import STEP_S, Dice, fine, grid, slow_means, wander
from .drives import holds_nm
from .film import Film, grow, middling_mu, usual_power_w
from .heat import Heat, temperatures
from .lever import hung_n
from .plan import Plan
from .rig import Rig
from .scuffing import Harm, harm_of
from .sound import ambient, machine
from .turning import Courses, Start, Turned, turn
from .unrest import unrest_of

_WARM_UP_S = 4.0
"""Before the first sign from which a calm stretch is turned, so that its drive has settled."""


@dataclass(frozen=True, slots=True)
class World:
    """Everything that is true, on the fine grid.

    Attributes:
        rig, plan: what it was made from.
        t_s: from 0; that of a calm stretch begins later.
        courses, harm, turned, heat: see there; `heat` is on the slow grid from 0.
        pin_degc, bath_degc: (n,).
        ambient_power, machine_power: of sound; `texture` is the unrest of the latter.
    """

    rig: Rig
    plan: Plan
    t_s: Floats
    courses: Courses
    harm: Harm
    turned: Turned
    heat: Heat
    pin_degc: Floats
    bath_degc: Floats
    ambient_power: Floats
    machine_power: Floats
    texture: Floats


def supply_of(plan: Plan, t_s: Floats) -> Floats:
    """Give the supply of the motor, 0 switched off or lost, 1 healthy, less in a mains dip, (n,)."""
    supply = np.zeros(len(t_s))
    for switch in plan.switches:
        supply[t_s >= switch.t_s] = float(switch.on)
    for dip in plan.of(Kind.BRIEF_DIP):
        supply[(t_s >= dip.t_s) & (t_s < dip.t_s + dip.duration_s)] *= 0.85 - 0.5 * dip.size
    if not isnan(plan.supply_lost_s):
        supply[t_s >= plan.supply_lost_s] = 0.0
    return supply


def make_world(seeds: tuple[Dice, ...], rig: Rig, plan: Plan) -> World:
    """Give the world; the dice are for lever, unrest, damage, shop and machine."""
    for_lever, for_unrest, for_harm, for_shop, for_machine = seeds
    t_s = grid(plan.duration_s)
    hung = hung_n(for_lever, rig, plan, t_s)
    supply = supply_of(plan, t_s)
    film = _film(rig, plan, hung, supply)
    unrest = unrest_of(for_unrest, rig, plan, len(t_s))
    harm = harm_of(for_harm, rig, plan, t_s)
    courses = Courses(
        supply=supply,
        hung_n=hung,
        solid_mu=fine(film.solid_mu, len(t_s)) * unrest * harm.lift,
        fluid_mu=fine(film.fluid_mu, len(t_s)) * unrest * harm.lift,
        thickness=fine(film.thickness, len(t_s)),
        scuffed_share=harm.share,
        scuffed_mu=rig.contact.scuffed_mu * harm.chatter,
        hot=harm.hot,
        weld_n=harm.weld_share * 1.8 * holds_nm(rig.motor) / rig.radius_m,
        outside_nm=_outside_nm(rig, plan, t_s),
        drag_share=1.0 + rig.motor.cold_share * np.exp(-_run_time_s(plan, supply) / rig.motor.warm_s),
    )
    texture = wander(for_machine, len(t_s), 0.15)
    turned = turn(rig, courses, _start(rig, plan))
    heat = temperatures(rig, plan, slow_means(_power_w(rig, turned)))
    return World(
        rig=rig,
        plan=plan,
        t_s=t_s,
        courses=courses,
        harm=harm,
        turned=turned,
        heat=heat,
        pin_degc=fine(heat.pin_degc, len(t_s)),
        bath_degc=fine(heat.bath_degc, len(t_s)),
        ambient_power=ambient(for_shop, rig, plan, t_s),
        machine_power=machine(rig, plan, turned, harm.share, t_s, texture),
        texture=texture,
    )


def calm(world: World, begin_s: float, end_s: float) -> World:
    """Give the stretch of a world as it would have been without its event."""
    plan = replace(world.plan, scuffing=None, jam=None)
    begin, end = round((begin_s - _WARM_UP_S) / STEP_S), min(round(end_s / STEP_S), len(world.t_s))
    event, count = world.courses, len(world.t_s)
    lift = world.harm.lift
    courses = replace(
        event,
        solid_mu=event.solid_mu / lift,
        fluid_mu=event.fluid_mu / lift,
        scuffed_share=np.zeros(count),
        hot=np.zeros(count),
        weld_n=np.zeros(count),
        outside_nm=np.zeros(count),
    )
    start = Start(float(world.turned.ring_rad_s[begin]), float(world.turned.turns[begin]))
    turned = turn(world.rig, courses, start, begin, end)
    before_w, after_w = _power_w(world.rig, world.turned), _power_w(world.rig, turned)
    power = before_w.copy()
    power[begin:end] = after_w
    heat = temperatures(world.rig, plan, slow_means(power))
    t_s = world.t_s[begin:end]
    return World(
        rig=world.rig,
        plan=plan,
        t_s=t_s,
        courses=courses,
        harm=world.harm,
        turned=turned,
        heat=heat,
        pin_degc=fine(heat.pin_degc, count)[begin:end],
        bath_degc=fine(heat.bath_degc, count)[begin:end],
        ambient_power=world.ambient_power[begin:end],
        machine_power=machine(world.rig, plan, turned, np.zeros(len(t_s)), t_s, world.texture[begin:end]),
        texture=world.texture[begin:end],
    )


def _power_w(rig: Rig, turned: Turned) -> Floats:
    return np.asarray(turned.friction_n * turned.ring_rad_s * rig.radius_m, np.float64)


def _film(rig: Rig, plan: Plan, hung: Floats, supply: Floats) -> Film:
    """Give the film of the healthy contact; film and heat depend on each other and are found in two rounds."""
    load, turning = slow_means(hung), np.minimum(slow_means(supply), 1.0)
    usual_mu: Floats | float = middling_mu(rig.contact)
    for _ in range(2):
        heat = temperatures(rig, plan, usual_power_w(rig, load, turning, usual_mu))
        film = grow(rig, plan, load, turning, heat.bath_degc)
        usual_mu = film.usual_mu
    return film


def _outside_nm(rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    """Give what a jam holds the ring with; it is complete in 0 to 300 ms, (n,) N m."""
    jam = plan.jam
    if jam is None:
        return np.zeros(len(t_s))
    grown = np.clip((t_s - jam.t_s) / max(jam.grows_s, STEP_S), 0.0, 1.0)
    return np.asarray(jam.strength * holds_nm(rig.motor) * grown, np.float64)


def _run_time_s(plan: Plan, supply: Floats) -> Floats:
    """Give how long the bearings have been warmed by running, (n,) s; they begin anew after a night."""
    ran = np.cumsum(supply > 0.0) * STEP_S + (600.0 if plan.running else 0.0)
    for night_s, _ in plan.nights:
        at = min(round(night_s / STEP_S), len(ran) - 1)
        ran[at:] -= ran[at]
    return np.asarray(ran, np.float64)


def _start(rig: Rig, plan: Plan) -> Start:
    return Start(rig.motor.set_rad_s, 0.0, round(_WARM_UP_S / STEP_S)) if plan.running else Start(0.0, 0.0)
