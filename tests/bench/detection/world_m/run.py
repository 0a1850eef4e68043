"""Run a plan on a rig: the physics of a whole recording, free of noise.

Reads every module of the physics; gives `Traces`, on the clock of the physics.
"""

from dataclasses import dataclass
from math import exp, isnan

import numpy as np
from world_b.values import Flags, Floats, Kind, Klass

from world_m.damage import Growth, damage
from world_m.design import Design
from world_m.grid import BLOCK_S, BLOCK_STEPS, STEP_S, clock_s, span
from world_m.loading import load_n
from world_m.oil import SHARE_POWER, film_m
from world_m.plan import Plan
from world_m.shaft import Film, Shaft, inputs
from world_m.streams import Stream, between, stream
from world_m.unrest import friction_factor, jam_nm, supply
from world_m.warmth import Warmth, draw_heating, start


@dataclass(frozen=True, slots=True)
class Traces:
    """What truly went on, (n,) each over t_s.

    Attributes:
        sound_friction_n: friction without damage, at the same load and speed.
        share: scuffed share of the contact, hot patch included; jam_nm: torque from outside.
        abnormal: the cause of an overheat acts.
        ring_turns_rad: angle turned since the beginning.
        friction_j, heater_j, lost_j, bath_j: the book of the heat of the bath, over the recording.
        night_s: when the clock of the stamps jumps to the next day; NaN where it does not.
        growth: how a scuff spread; None without one.
    """

    t_s: Floats
    load_n: Floats
    friction_n: Floats
    sound_friction_n: Floats
    share: Floats
    jam_nm: Floats
    current_a: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    ring_turns_rad: Floats
    supply: Floats
    bath_degc: Floats
    pin_degc: Floats
    abnormal: Flags
    night_s: float
    friction_j: float
    heater_j: float
    lost_j: float
    bath_j: float
    pin_j: float
    growth: Growth | None


class Surface:
    """Running-in of the pair: each load not borne before makes it fresh in part, sliding wears that off."""

    def __init__(self, design: Design, plan: Plan) -> None:
        self._contact = design.contact
        self._most_n = plan.first_load_n if plan.mid_run else 0.0
        self._fresh = 0.0

    def boundary_mu(self, load_n: float, sliding_m_s: float) -> float:
        """Advance by a block; give boundary friction."""
        if load_n > 1.02 * self._most_n:
            self._fresh = min(1.0, self._fresh + (load_n - self._most_n) / load_n)
            self._most_n = load_n
        self._fresh *= exp(-sliding_m_s * BLOCK_S / self._contact.run_in_m)
        return self._contact.boundary_mu * (1.0 + self._contact.run_in_ratio * self._fresh)


def run(seed: int, design: Design, plan: Plan) -> tuple[Plan, Traces]:
    """Run; give the plan back too, cut short where an overheat has been seen for long enough."""
    streams = {name: stream(seed, plan.klass, name) for name in ("load", "factor", "supply", "jam", "damage", "heat")}
    t_s = clock_s(plan.duration_s)
    harm = damage(streams["damage"], t_s, plan, design)
    outside_nm = jam_nm(streams["jam"], t_s, plan, design)
    on = supply(streams["supply"], t_s, plan)
    factor = friction_factor(streams["factor"], t_s, plan, design)
    given = inputs(load_n(streams["load"], t_s, plan, design), on, factor, outside_nm, harm)
    shaft = Shaft(design, design.drive.fresh(), given, plan.mid_run)
    rng = streams["heat"]
    warmth = start(rng, plan, design, draw_heating(rng, plan))
    bath_before, pin_before = warmth.bath_degc, warmth.pin_degc
    bath, pin = _blocks(rng, t_s, plan, design, shaft, warmth)
    done = len(bath) * BLOCK_STEPS
    plan = plan.cut(done * STEP_S)
    traces = Traces(
        t_s=t_s[:done],
        share=(harm.share + harm.patch)[:done],
        jam_nm=outside_nm[:done],
        supply=on[:done],
        bath_degc=_by_step(t_s[:done], [bath_before, *bath], plan.night_s),
        pin_degc=_by_step(t_s[:done], [pin_before, *pin], plan.night_s),
        night_s=plan.night_s,
        abnormal=np.repeat(np.asarray(warmth.abnormal), BLOCK_STEPS),
        friction_j=warmth.friction_j,
        heater_j=warmth.heater_j,
        lost_j=warmth.lost_j,
        bath_j=design.thermal.bath_j_k * (bath[-1] - bath_before),
        pin_j=design.thermal.pin_j_k * (pin[-1] - pin_before),
        growth=harm.growth,
        **shaft.out.arrays(),
    )
    return plan, traces


def _by_step(t_s: Floats, by_block_degc: list[float], night_s: float) -> Floats:
    """Give temperatures known at the ends of blocks at each step; the night's fall lies between two steps."""
    ends_s = np.arange(len(by_block_degc)) * BLOCK_S
    values = np.interp(t_s, ends_s, by_block_degc)
    if not isnan(night_s):
        dusk = span(t_s, night_s - BLOCK_S, night_s)
        values[dusk] = values[dusk.start]
    return values


def _blocks(
    rng: Stream, t_s: Floats, plan: Plan, design: Design, shaft: Shaft, warmth: Warmth
) -> tuple[list[float], list[float]]:
    """Advance shaft and heat in turn; give bath and pin temperature at the end of each block."""
    bath: list[float] = []
    pin: list[float] = []
    surface = Surface(design, plan)
    top_ups = {int(n.t_s / BLOCK_S): between(rng, 0.05, 0.3) for n in plan.of(Kind.OIL_TOP_UP)}
    night = -1 if isnan(plan.night_s) else round(plan.night_s / BLOCK_S) - 1
    hot_for_s, tail_s = 0.0, between(rng, 20.0, 60.0)
    for block in range(t_s.size // BLOCK_STEPS):
        first, last = block * BLOCK_STEPS, (block + 1) * BLOCK_STEPS
        film = _film(design, surface, shaft, warmth, float(t_s[first]))
        shaft.advance(first, last, film)
        turned_n = np.asarray(shaft.out.friction_n[first:last]) * np.asarray(shaft.out.ring_rad_s[first:last])
        warmth.advance(float(t_s[first]), float(turned_n.mean()) * design.radius_m)
        if block in top_ups:
            warmth.top_up(top_ups[block])
        if block == night:
            warmth.rest(plan.day_gap_s)
        bath.append(warmth.bath_degc)
        pin.append(warmth.pin_degc)
        if plan.klass is Klass.OVERHEAT:
            thermal = design.thermal
            hot = warmth.bath_degc > thermal.bath_limit_degc + 1.0 or warmth.pin_degc > thermal.pin_limit_degc + 1.0
            hot_for_s += BLOCK_S * hot
            if hot_for_s > tail_s and _all_hot(design, warmth):
                break
    return bath, pin


def _all_hot(design: Design, warmth: Warmth) -> bool:
    """Tell whether the pin has passed its limit, which it does with the bath as well as without."""
    return warmth.pin_degc > design.thermal.pin_limit_degc + 1.0


def _film(design: Design, surface: Surface, shaft: Shaft, warmth: Warmth, t_s: float) -> Film:
    contact = design.contact
    load_n = shaft.out.load_n[-1] if shaft.out.load_n else 0.0
    boundary_mu = surface.boundary_mu(load_n, shaft.ring_rad_s * design.radius_m)
    contact_degc = min(240.0, 0.5 * (warmth.bath_degc + warmth.pin_degc))
    viscosity = design.oil.viscosity_pa_s(contact_degc)
    at_1_rad_s = film_m(viscosity, design.radius_m, load_n, design.radius_m, contact.width_m)
    scale = (contact.starved * at_1_rad_s / contact.knee_m) ** SHARE_POWER
    drag_nm = design.drag_nm * (1.0 + (design.cold_drag - 1.0) * exp(-t_s / design.drag_s))
    return Film(scale, boundary_mu, drag_nm)
