"""The slow integration: heat, oil, surface film, running-in, wear, over steps of a quarter second. Reads `rig`, `plan`.

It runs at the planned speed; the temperatures are computed once more afterwards from the friction power that
really was (`true_temperatures`), so that a stalled ring heats nothing.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats

from world_l.clock import even_s
from world_l.contact import (
    asperity_share,
    boundary_coefficient,
    crowding,
    film_ratio,
    surface_film_rate_per_s,
    worn_mm3,
)
from world_l.heat import HeatPaths, HeatState, ambient_degc, step
from world_l.plan import Plan, trouble_at
from world_l.rig import Rig

STEP_S = 0.25


@dataclass(frozen=True, slots=True)
class SlowTraces:
    """(m,) on the slow clock: coefficients of asperities and oil, film ratio at set speed, cold drag, temperatures."""

    t_s: Floats
    boundary: Floats
    traction: Floats
    film: Floats
    drag_ratio: Floats
    pin_degc: Floats
    bath_degc: Floats


@dataclass(frozen=True, slots=True)
class Trouble:
    """How bad the heat trouble of a plan is made."""

    strength: float = 0.0
    watts: float = 0.0


def start_heat(rig: Rig, plan: Plan, friction_w: float) -> HeatState:
    """Give the temperatures at the start: some way from the air's to where a long run at this power ends."""
    paths = rig.heat
    over_k = friction_w / paths.bath_to_air_w_per_k
    if not math.isnan(paths.heater_set_degc):
        over_k = max(over_k, paths.heater_set_degc - paths.ambient_degc)
        warm = max(plan.warm, 0.9)  # the operator waits for a heated bath
    else:
        warm = plan.warm
    bath_degc = paths.ambient_degc + warm * over_k
    pin_k = paths.pin_share * friction_w / (paths.pin_to_bath_w_per_k + paths.pin_to_air_w_per_k)
    running = plan.switched[0][0] < 0
    return HeatState(bath_degc + (pin_k if running else 0.0), bath_degc)


def run_slow(rig: Rig, plan: Plan, load_n: Floats, gain: Floats, on: Flags, trouble: Trouble) -> SlowTraces:
    """Integrate; `load_n`, `gain` and `on` are (m,) on the slow clock."""
    t_s = even_s(len(load_n), STEP_S)
    contact, paths = rig.contact, rig.heat
    air_degc = ambient_degc(paths, t_s).tolist()
    start_w = 0.1 * float(load_n[0]) * rig.sliding_m_s if plan.switched[0][0] < 0 else 0.0
    heat = start_heat(rig, plan, start_w)
    warm_nu = rig.oil.viscosity_mm2_s(contact.temperature_ref_degc)
    surface, cold = 0.8 * plan.warm, rig.drag_cold_ratio * (1.0 - plan.warm)
    worn, blunt_mm3 = 0.0, worn_mm3(contact.wear_mm3_per_nm, rig.top_load_n, 300.0 * rig.sliding_m_s)
    bedded_n, excess = float(load_n[0]), 0.0 if plan.switched[0][0] < 0 else contact.run_in_excess
    day = int(plan.day_at_s / STEP_S) if not math.isnan(plan.day_at_s) else -1
    slid_m = rig.sliding_m_s * STEP_S
    forget_in, forget_cold = math.exp(-slid_m / contact.run_in_m), math.exp(-STEP_S / rig.drag_warming_s)
    rows = []
    for i, (load, factor, turning) in enumerate(zip(load_n.tolist(), gain.tolist(), on.tolist(), strict=True)):
        if i == day:
            cool_down(heat, paths)
            cold = rig.drag_cold_ratio
        if load > 1.05 * bedded_n:
            fresh = load / max(bedded_n, 0.2 * rig.top_load_n) - 1.0
            excess += contact.run_in_excess * min(max(fresh, 0.0), 1.0)
            surface *= 0.85
            bedded_n = load
        nu = rig.oil.viscosity_mm2_s(0.5 * (heat.pin_degc + heat.bath_degc))
        bare = boundary_coefficient(contact, heat.pin_degc, load, surface) * (1.0 + excess)
        oily = contact.traction * (nu / warm_nu) ** 0.25
        lam = film_ratio(contact, nu / warm_nu, 1.0, load * crowding(worn, blunt_mm3)) / (1.0 + excess)
        rows.append((bare, oily, lam, 1.0 + cold, heat.pin_degc, heat.bath_degc))
        power_w = 0.0
        if turning:
            share = asperity_share(lam)
            power_w = (share * bare + (1.0 - share) * oily) * factor * load * rig.sliding_m_s
            excess *= forget_in
            cold *= forget_cold
            surface += (1.0 - surface) * surface_film_rate_per_s(contact, heat.pin_degc) * STEP_S
            worn += worn_mm3(contact.wear_mm3_per_nm, load, slid_m)
        at = trouble_at(plan.overheat, trouble.strength, trouble.watts, float(i) * STEP_S)
        step(heat, paths, power_w, air_degc[i], at, STEP_S)
    columns: Floats = np.array(rows, dtype=np.float64).T
    return SlowTraces(t_s, *columns)


def cool_down(heat: HeatState, paths: HeatPaths) -> None:
    """Let a night pass: everything is as warm as the air, or as the heater keeps it."""
    night_degc = paths.ambient_degc if math.isnan(paths.heater_set_degc) else paths.heater_set_degc
    heat.given_off_j += paths.pin_j_per_k * (heat.pin_degc - night_degc)
    heat.given_off_j += paths.bath_j_per_k * (heat.bath_degc - night_degc)
    heat.pin_degc = heat.bath_degc = night_degc


def true_temperatures(
    rig: Rig, plan: Plan, friction_w: Floats, start: tuple[float, float], trouble: Trouble
) -> tuple[Floats, Floats, HeatState]:
    """Give pin and bath on the slow clock, (m + 1,), from the mean friction power of each step, and the final state."""
    air_degc = ambient_degc(rig.heat, even_s(len(friction_w), STEP_S)).tolist()
    heat = HeatState(*start)
    day = int(plan.day_at_s / STEP_S) if not math.isnan(plan.day_at_s) else -1
    rows = [(heat.pin_degc, heat.bath_degc)]
    for i, power_w in enumerate(friction_w.tolist()):
        if i == day:
            cool_down(heat, rig.heat)
        at = trouble_at(plan.overheat, trouble.strength, trouble.watts, i * STEP_S)
        step(heat, rig.heat, power_w, air_degc[i], at, STEP_S)
        rows.append((heat.pin_degc, heat.bath_degc))
    pin_degc, bath_degc = np.array(rows).T
    return pin_degc, bath_degc, heat
