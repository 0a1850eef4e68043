"""Runs one attempt after another until a recording is what its class says.  Gives the inner world."""

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from numpy.random import Generator
from world_b.values import NAN, TRIP_WORTHY, Floats, Klass

from world_o import truth
from world_o.damage import TIPS, Excess, work_damage
from world_o.drives import Motion, turn
from world_o.heat import Abnormal, Warmth, find_abnormal, warm
from world_o.nuisances import draw_nuisances, lay_tracks
from world_o.parts import CORE_DT_S, Cause, Plan, Rig, Tracks, stream
from world_o.plan import draw_plan
from world_o.rig import draw_rig, draw_size
from world_o.sound import hear

ATTEMPTS = 60

Cuttable = TypeVar("Cuttable", Tracks, Motion)


@dataclass(frozen=True, slots=True)
class World:
    """A whole inner world, all tracks of one length."""

    plan: Plan
    rig: Rig
    tracks: Tracks
    motion: Motion
    warmth: Warmth
    sound_db: Floats
    onset_s: float
    severe_s: float
    stall_s: float
    overheat_s: float
    limit_degc: dict[str, float]


def _cut(thing: Cuttable, n: int) -> Cuttable:
    """Give the first n steps of every track."""
    return replace(thing, **{f.name: getattr(thing, f.name)[:n] for f in fields(thing)})


def _ends_s(rng: Generator, plan: Plan, onset_s: float) -> float:
    """Give when the recording ends, as far as that is known before the heat."""
    if plan.klass in TIPS:
        return onset_s + plan.tail_s + 22.0
    if plan.klass in (Klass.JAM, Klass.SUPPLY_LOST):
        return plan.event_s + float(rng.uniform(15.0, 60.0))
    return plan.length_s


def _contact_is_right(plan: Plan, rig: Rig, tracks: Tracks, excess: Excess) -> bool:
    """Tell whether the contact stayed healthy as long as it should, and tipped when it should."""
    mu = rig.contact.mu_healthy * tracks.film_ratio * np.exp(excess.log)
    until_s = plan.event_s if plan.klass in TIPS else NAN
    if not (truth.stays_healthy(mu, until_s) and truth.flickers_rarely(excess.log, until_s)):
        return False
    if plan.klass not in TIPS:
        return True
    return bool(not np.isnan(excess.onset_s) and truth.precursor_fits(plan, excess.onset_s))


def _event_is_right(plan: Plan, rig: Rig, tracks: Tracks, motion: Motion, onset_s: float) -> bool:
    """Tell whether motion shows what the class says."""
    if plan.klass not in TIPS and plan.klass is not Klass.JAM:
        return True
    was_n = truth.before_n(plan, motion)
    if np.isnan(was_n) or was_n <= 0.0:
        return False
    from_s = plan.event_s if plan.klass is Klass.JAM else onset_s
    at_s = truth.stall_s(rig, tracks, motion, from_s)
    if plan.klass is Klass.JAM:
        return bool(at_s - from_s < 3.0)
    if plan.klass is Klass.SEIZURE:
        return truth.seizes(motion, onset_s, at_s, was_n)
    if plan.klass is Klass.SCUFFING_SUDDEN:
        wait_s = truth.severe_s(plan, motion, onset_s, 0.1) - plan.event_s
        if not 0.2 <= wait_s <= 6.0:
            return False
    return truth.ends_scuffed(plan, motion, tracks.load_n, onset_s)


def _heat(
    rng: Generator, plan: Plan, rig: Rig, power_w: Floats, bath_w: Floats
) -> tuple[Warmth, dict[str, float], Abnormal | None]:
    """Give temperatures and limits; a limit lies above all that is healthy."""
    thermal = rig.thermal
    healthy = warm(thermal, power_w, bath_w, None, plan.night_s)
    until = healthy.pin_degc.size if np.isnan(plan.event_s) else max(1, int(plan.event_s / CORE_DT_S))
    grain_k = float(rng.choice([1.0, 5.0, 5.0]))
    pin_degc = truth.limits_of(float(healthy.pin_degc[:until].max()), thermal.margin_k, grain_k)
    bath_degc = truth.limits_of(float(healthy.bath_degc[:until].max()), 0.8 * thermal.margin_k, grain_k)
    limits = {"pin_temperature_degc": pin_degc, "bath_temperature_degc": bath_degc}
    if plan.cause is None:
        return healthy, limits, None
    pin = plan.cause is Cause.OIL_LOW or rng.random() < 0.4
    within_s = float(rng.uniform(20.0, 150.0))
    limit = pin_degc if pin else bath_degc
    odd = find_abnormal(thermal, power_w, bath_w, plan.cause, (plan.event_s, within_s), limit, pin, plan.night_s)
    return warm(thermal, power_w, bath_w, odd, plan.night_s), limits, odd


def _finish(rng: Generator, plan: Plan, rig: Rig, tracks: Tracks, motion: Motion, excess: Excess) -> World | None:
    """Give the world with its heat, sound and times; None where an overheat did not come about."""
    power_w = motion.friction_n * rig.radius_m * motion.ring_rad_s
    warmth, limits, odd = _heat(rng, plan, rig, power_w, tracks.bath_w)
    overheat_s = NAN
    if odd is not None:
        over = np.flatnonzero(
            (warmth.pin_degc > limits["pin_temperature_degc"]) | (warmth.bath_degc > limits["bath_temperature_degc"])
        )
        if not over.size or over[0] * CORE_DT_S < plan.event_s:
            return None
        overheat_s = float(over[0] * CORE_DT_S)
        n = min(tracks.t_s.size, int((overheat_s + rng.uniform(25.0, 70.0)) / CORE_DT_S))
        if n * CORE_DT_S - overheat_s < 20.0 or warmth.pin_degc[:n].max() > 170.0:
            return None
        tracks, motion = _cut(tracks, n), _cut(motion, n)
        warmth = warm(rig.thermal, power_w[:n], tracks.bath_w, odd, plan.night_s)
    n = tracks.t_s.size
    sound_db = hear(rng, plan, rig, motion, excess.log[:n], tracks.wave_ratio)
    tips = plan.klass in TIPS
    onset_s = excess.onset_s if tips else NAN
    return World(
        plan, rig, tracks, motion, warmth, sound_db,
        onset_s=onset_s,
        severe_s=truth.severe_s(plan, motion, onset_s, max(0.1, 60.0 / rig.speed_rpm)) if tips else NAN,
        stall_s=_stall_s(plan, rig, tracks, motion, onset_s),
        overheat_s=overheat_s,
        limit_degc=limits,
    )  # fmt: skip


def _stall_s(plan: Plan, rig: Rig, tracks: Tracks, motion: Motion, onset_s: float) -> float:
    """Give when the ring stands for good though the motor pulls."""
    if plan.klass not in TRIP_WORTHY or plan.klass is Klass.OVERHEAT:
        return NAN
    return truth.stall_s(rig, tracks, motion, plan.event_s if plan.klass is Klass.JAM else onset_s)


def _attempt(seed: int, klass: Klass, attempt: int) -> World | None:
    """Give one try at a recording; None where it is not what its class says."""
    rng = stream(seed, klass, "plan", attempt)
    radius_m, speed_rpm, top_n = draw_size(rng, klass)
    plan = draw_plan(rng, klass, top_n, speed_rpm)
    rig = draw_rig(rng, plan, radius_m, speed_rpm)
    if plan.cause is not None and rig.thermal.heater_w == 0.0:
        plan.cause = Cause.OIL_LOW
    if klass is Klass.SEIZURE:
        rub_nm = rig.drive.peak_nm * 1.5 + rig.drive.drag_nm
        bonded = rub_nm / (plan.steps[-1][1] * rig.radius_m)
        rig = replace(rig, contact=replace(rig.contact, mu_scuffed=max(rig.contact.mu_scuffed, bonded)))
    draw_nuisances(rng, plan)
    tracks = lay_tracks(rng, plan, rig)
    excess = work_damage(stream(seed, klass, "contact", attempt), plan, rig, tracks)
    if not _contact_is_right(plan, rig, tracks, excess):
        return None
    ends_s = _ends_s(rng, plan, excess.onset_s)
    n = min(tracks.t_s.size, int(ends_s / CORE_DT_S))
    if klass in TIPS and (n * CORE_DT_S < excess.onset_s + 26.0):
        return None
    tracks = _cut(tracks, n)
    mu = rig.contact.mu_healthy * tracks.film_ratio * (1.0 + tracks.wave_ratio) * np.exp(excess.log[:n])
    motion = turn(rig, tracks, mu)
    if not _event_is_right(plan, rig, tracks, motion, excess.onset_s):
        return None
    return _finish(stream(seed, klass, "finish", attempt), plan, rig, tracks, motion, excess)


def build(seed: int, klass: Klass) -> World:
    """Give the inner world of a seed and a class."""
    for attempt in range(ATTEMPTS):
        world = _attempt(seed, klass, attempt)
        if world is not None:
            return world
    raise RuntimeError(f"seed {seed}, {klass.name}: no attempt of {ATTEMPTS} came out as the class says")
