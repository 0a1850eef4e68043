"""The healthy contact: how much the oil bears, and how far tribofilm covers what rubs.

Reads a rig, a plan, the load and the bath on the slow grid, gives the courses of film and friction. Spots of roughness
stand up by an exponential law of heights, so that the share exp(-film / roughness) of the load is borne by spots
(Greenwood and Williamson, Proc. R. Soc. A 295 (1966) 300). Tribofilm is a population of patches, some that grow fast
and some slow; a scar that widens under a greater load lays bare fresh metal among them.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
from world_b.values import Floats, Kind

from .chance import SLOW_STEP_S, smooth_step
from .plan import HeatTrouble, Plan
from .rig import Contact, Rig

PATCHES = np.array([0.25, 0.5, 0.8, 1.2, 2.0, 4.0])
"""How fast the kinds of patches grow, of the usual rate; each kind holds a sixth of the scar."""
SPEED_POWER = 0.65
LOAD_POWER = -0.12
"""Of speed times viscosity and of pressure in the film; DOMAIN 6 (Dowson, Higginson), rounded."""


@dataclass(frozen=True, slots=True)
class Film:
    """Courses on the slow grid, (n,).

    Attributes:
        solid_mu: friction coefficient of spots.
        fluid_mu: of what oil bears, at set speed.
        thickness: oil film over roughness at set speed.
        usual_mu: of the whole contact at set speed.
    """

    solid_mu: Floats
    fluid_mu: Floats
    thickness: Floats
    usual_mu: Floats


def grow(rig: Rig, plan: Plan, load_n: Floats, turning: Floats, bath_degc: Floats) -> Film:
    """Give the film under a load, N, a share of set speed and a bath temperature, all on the slow grid, (n,)."""
    contact = rig.contact
    usual_degc = rig.warmth.bath_set_degc + 5.0
    viscosity = np.exp(-contact.thinning_per_k * (bath_degc - usual_degc)) * _poured(plan, len(load_n))
    covered, rough, scar_n = _begin(rig, plan)
    solid, thickness = np.empty(len(load_n)), np.empty(len(load_n))
    bears = 1.0 / contact.bears_mpa_share
    for place, (load, turns, thins) in enumerate(
        zip(load_n.tolist(), turning.tolist(), viscosity.tolist(), strict=True)
    ):
        pressure = max(load, 0.02 * rig.most_load_n) / scar_n
        thick = contact.thickness * thins**SPEED_POWER * (pressure * bears) ** LOAD_POWER / rough
        spots = exp(-thick)
        if turns > 0.05 and load > 0.0:
            widens = max(load / scar_n - 1.0, 0.0) * SLOW_STEP_S / contact.widen_s
            scar_n *= 1.0 + min(widens, 0.2)
            rough += (1.0 - rough) * spots * SLOW_STEP_S / contact.run_in_s
            grown = PATCHES * (spots * SLOW_STEP_S / contact.growth_s)
            worn = SLOW_STEP_S / contact.loss_s * min(pressure, 1.5)
            covered = covered + (1.0 - covered) * grown - covered * (worn + min(widens, 0.2))
        cover = float(covered.mean())
        solid[place] = contact.bare_mu + (contact.film_mu - contact.bare_mu) * cover
        thickness[place] = thick
    solid *= _transitions(plan, len(load_n)) * _starved(plan, len(load_n))
    fluid = contact.fluid_mu * np.sqrt(viscosity)
    spots_share = np.exp(-thickness)
    return Film(solid, fluid, thickness, spots_share * solid + (1.0 - spots_share) * fluid)


def _begin(rig: Rig, plan: Plan) -> tuple[Floats, float, float]:
    """Give cover, roughness and what the scar bears as the recording begins."""
    contact = rig.contact
    first_n = max(plan.loads[0].load_n, rig.lever.arm_n)
    if plan.running:
        return np.full(len(PATCHES), 0.8), 1.0 + 0.2 * (contact.roughness_new - 1.0), first_n
    return np.full(len(PATCHES), 0.1), contact.roughness_new, contact.bears_mpa_share * first_n


def _transitions(plan: Plan, count: int) -> Floats:
    """Give by what slow film transitions multiply friction, up to a third up or down, (n,)."""
    t_s = np.asarray(np.arange(count) * SLOW_STEP_S, np.float64)
    course = np.ones(count)
    for shift in plan.of(Kind.FILM_TRANSITION):
        course *= 1.0 + (0.6 * shift.size - 0.25) * smooth_step(t_s, shift.t_s, shift.duration_s)
    return course


def _starved(plan: Plan, count: int) -> Floats:
    """Give by what a pin without oil around it rubs more, up to a quarter, (n,)."""
    trouble = plan.overheat
    if trouble is None or trouble.trouble is not HeatTrouble.OIL_LOST:
        return np.ones(count)
    return 1.0 + 0.25 * smooth_step(np.asarray(np.arange(count) * SLOW_STEP_S, np.float64), trouble.t_s, 150.0)


def _poured(plan: Plan, count: int) -> Floats:
    """Give by what fresh oil thickens the film for a minute or two, (n,)."""
    t_s = np.asarray(np.arange(count) * SLOW_STEP_S, np.float64)
    course = np.ones(count)
    for pour in plan.of(Kind.OIL_TOP_UP):
        since_s = np.maximum(t_s - pour.t_s, 0.0)
        course *= 1.0 + 0.5 * pour.size * smooth_step(t_s, pour.t_s, pour.duration_s) * np.exp(-since_s / 60.0)
    return course


def usual_power_w(rig: Rig, load_n: Floats, turning: Floats, usual_mu: Floats | float) -> Floats:
    """Give the friction power at set speed, (n,) W, before the ring is turned."""
    speed_m_s = rig.motor.set_rad_s * rig.radius_m
    return np.asarray(load_n * turning * usual_mu * speed_m_s, np.float64)


def middling_mu(contact: Contact) -> float:
    """Give a first guess of the friction coefficient."""
    return contact.film_mu * exp(-0.7 * contact.thickness)
