"""Everything that comes to the rig from outside, laid out on the steps of the simulation before it starts.

Reads the plan and the rig; gives arrays over time: load, switch, mains, roughening, torque of a jam, heat paths.
Steps are 4 ms around whatever is quick and 20 ms elsewhere.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats, Kind

from .draws import Rng, log_uniform, uniform
from .events import Cause
from .plan import Plan
from .precursors import Roughening, roughening
from .rig import Rig
from .spectra import unrest

COARSE_S = 0.02
FINE_PER_COARSE = 5
UNREST_RATE_HZ = 25.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """Arrays (n,) over the steps; `t_s` is the begin of each."""

    t_s: Floats
    dt_s: Floats
    dead_load_n: Floats
    on: Flags
    supply: Floats
    friction_factor: Floats
    rough: Roughening
    jam_share: Floats
    pin_shedding: Floats
    extra_heat: Floats
    bath_shift_k: Floats
    day_rest: Flags
    room_sway_k: Floats


def smooth_step(x: Floats) -> Floats:
    """Give 0 below 0, 1 above 1 and a soft rise between."""
    y = np.clip(x, 0.0, 1.0)
    return y * y * (3.0 - 2.0 * y)


def _quick_windows(plan: Plan) -> list[tuple[float, float]]:
    event = plan.event
    windows = [(m.t_s - 0.1, m.t_s + m.duration_s + 2.5) for m in plan.moves]
    windows += [(t, t + 2.0) for t, _ in plan.bumps]
    windows += [(t - 0.1, t + 6.0) for t, _ in plan.switches]
    windows += [
        (h.t_s - 0.1, h.t_s + h.duration_s + 1.0)
        for h in plan.happenings
        if h.kind in (Kind.STICK_SLIP, Kind.DEBRIS, Kind.BRIEF_DIP)
    ]
    if not np.isnan(event.onset_s):
        windows.append((event.onset_s - 0.5, event.end_s))
    elif event.jam_share or event.supply_lost:
        windows.append((event.sign_s - 0.5, event.end_s))
    return windows


def _grid(plan: Plan) -> tuple[Floats, Floats]:
    coarse_s = np.arange(0.0, plan.duration_s + 2 * COARSE_S, COARSE_S)
    fine = np.zeros(coarse_s.size, bool)
    for start_s, end_s in _quick_windows(plan):
        fine[max(int(start_s / COARSE_S), 0) : int(end_s / COARSE_S) + 1] = True
    counts = np.where(fine, FINE_PER_COARSE, 1)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    dt_s = np.repeat(COARSE_S / counts, counts)
    return np.repeat(coarse_s, counts) + (np.arange(first.size) - first) * dt_s, dt_s


def _load(t_s: Floats, plan: Plan, rig: Rig) -> Floats:
    load_n = np.full(t_s.size, plan.moves[0].from_n if plan.moves else 0.0)
    bounce_n = np.zeros(t_s.size)
    omega = 2 * np.pi * rig.lever_hz
    level_n = load_n[0] if t_s.size else 0.0

    def swing(start_s: float, size_n: float) -> None:
        part = slice(int(np.searchsorted(t_s, start_s)), int(np.searchsorted(t_s, start_s + 12.0)))
        since_s = t_s[part] - start_s
        bounce_n[part] += size_n * np.exp(-rig.lever_damping * omega * since_s) * np.sin(omega * since_s)

    for move in plan.moves:
        sticking = 1.0 - rig.lever_hysteresis * np.sign(move.to_n - move.from_n)
        aim_n = move.to_n * sticking
        load_n = load_n + (aim_n - level_n) * smooth_step((t_s - move.t_s) / move.duration_s)
        swing(move.t_s + 0.7 * move.duration_s, move.bounce * abs(aim_n - level_n))
        level_n = aim_n
    for start_s, share in plan.bumps:
        at_n = load_n[min(int(np.searchsorted(t_s, start_s)), t_s.size - 1)]
        swing(start_s, share * at_n)
    return np.maximum(load_n + bounce_n, 0.0)


def _switch(t_s: Floats, plan: Plan) -> Flags:
    on = np.zeros(t_s.size, bool)
    for start_s, value in plan.switches:
        on[np.searchsorted(t_s, start_s - 1e-9) :] = value
    if plan.event.supply_lost:
        on[t_s >= plan.event.sign_s] = False
    return on


def _friction_factor(rng: Rng, t_s: Floats, plan: Plan, rig: Rig) -> Floats:
    law = rig.law
    slow = unrest(rng, plan.duration_s + 1.0, UNREST_RATE_HZ, 0.002, 6.0, law.unrest_slope)
    log_factor = law.unrest * np.interp(t_s, np.arange(slow.size) / UNREST_RATE_HZ, slow)
    ageing, ageing_s = uniform(rng, -0.12, 0.2), log_uniform(rng, 300.0, 2400.0)
    factor = np.exp(log_factor) * (1.0 + ageing * (1.0 - np.exp(-t_s / ageing_s)))
    for happening in plan.happenings:
        x = (t_s - happening.t_s) / max(happening.duration_s, 1e-3)
        inside = (x >= 0) & (x < 1)
        match happening.kind:
            case Kind.FILM_TRANSITION:
                change = 0.35 * happening.size if happening.size > 0 else 0.28 * happening.size
                factor *= 1.0 + change * smooth_step(x)
            case Kind.DEBRIS:
                factor *= 1.0 + inside * 0.4 * happening.size * np.sin(np.pi * np.clip(x, 0, 1)) ** 2
            case Kind.STICK_SLIP:
                phase = (uniform(rng, 3.0, 18.0) * (t_s - happening.t_s)) % 1.0
                saw = np.where(phase < 0.8, phase / 0.8, (1.0 - phase) / 0.2) - 0.5
                soft = np.minimum(1.0, 8.0 * np.minimum(np.clip(x, 0, 1), np.clip(1 - x, 0, 1)))
                factor *= 1.0 + inside * soft * 0.7 * happening.size * saw
            case Kind.OIL_TOP_UP:
                factor *= 1.0 - 0.06 * happening.size * smooth_step(x)
    return factor


def _supply(t_s: Floats, on: Flags, plan: Plan, rng: Rng) -> Floats:
    supply = on.astype(float)
    for happening in plan.happenings:
        if happening.kind is Kind.BRIEF_DIP:
            inside = (t_s >= happening.t_s) & (t_s < happening.t_s + happening.duration_s)
            supply = np.where(inside, supply * uniform(rng, 0.0, 0.75), supply)
    return supply


def lay_out(rng: Rng, event_rng: Rng, plan: Plan, rig: Rig) -> Inputs:
    """Lay everything out; the event has draws of its own, so leaving it out changes nothing else."""
    t_s, dt_s = _grid(plan)
    event = plan.event
    on = _switch(t_s, plan)
    shift_k = np.zeros(t_s.size)
    for happening in plan.happenings:
        if happening.kind is Kind.OIL_TOP_UP:
            part = (t_s >= happening.t_s) & (t_s < happening.t_s + happening.duration_s)
            shift_k[part] -= (1.0 + 4.0 * happening.size) * dt_s[part] / happening.duration_s
    jam = np.zeros(t_s.size)
    if event.jam_share:
        jam = event.jam_share * smooth_step((t_s - event.sign_s) / uniform(event_rng, 0.01, 0.3))
    shedding, extra = np.ones(t_s.size), np.zeros(t_s.size)
    if event.overheat is Cause.OIL_LOST:
        left = uniform(event_rng, 0.03, 0.2)
        shedding = 1.0 - (1.0 - left) * smooth_step((t_s - event.sign_s) / uniform(event_rng, 15.0, 90.0))
    elif event.overheat is Cause.HEATER_STUCK:
        extra = np.where(t_s >= event.sign_s, uniform(event_rng, 0.08, 0.3), 0.0)
    day_rest = np.zeros(t_s.size, bool)
    if not np.isnan(plan.day_gap_s):
        day_rest[np.searchsorted(t_s, plan.day_gap_s)] = True
    return Inputs(
        t_s=t_s, dt_s=dt_s, dead_load_n=_load(t_s, plan, rig), on=on, supply=_supply(t_s, on, plan, rng),
        friction_factor=_friction_factor(rng, t_s, plan, rig), rough=roughening(event_rng, t_s, plan, rig),
        jam_share=jam, pin_shedding=shedding, extra_heat=extra, bath_shift_k=shift_k, day_rest=day_rest,
        room_sway_k=2.0 * np.sin(2 * np.pi * (t_s / uniform(rng, 600.0, 2400.0) + rng.random())),
    )  # fmt: skip
