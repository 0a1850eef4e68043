"""Lets damage work on the contact until it tips.  Reads plan, rig and tracks, gives the log of excess friction.

Nothing here is told when to scuff: damage tilts the potential (or raises the branching, or weakens a patch) and the
onset is looked up in what came of it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from scipy.ndimage import maximum_filter1d
from scipy.signal import lfilter
from world_b.values import SCUFFINGS, Floats, Klass, Precursor

from world_o.contact import (
    FOLD,
    U_FOLD,
    cascade,
    healthy_well,
    log_excess,
    passing,
    patches,
    renewal,
    shaking,
    two_wells,
)
from world_o.parts import CORE_DT_S, Contact, Mechanism, Noise, Plan, Rig, Tracks, log_uniform

COARSE_DT_S = 0.1
PATCH_LOG = 0.5
"""A patch that rubs more than this above health, turn after turn, has begun to scuff."""

TIPS = (*SCUFFINGS, Klass.SEIZURE)


@dataclass(frozen=True, slots=True)
class Excess:
    """What the contact did.

    Attributes:
        log: log of friction over healthy friction under the pin.
        mean_log: the same of the mean round the ring.
        onset_s: last time it left the healthy side; NaN where it never tipped.
    """

    log: Floats
    mean_log: Floats
    onset_s: float


def _worn(plan: Plan, t_s: Floats, power: float) -> Floats:
    """Give the damage: 0 before the event, 1 about when the contact tips, at most 1.6."""
    if plan.klass not in TIPS:
        return np.zeros_like(t_s)
    if plan.precursor is Precursor.NONE:
        return np.where(t_s >= plan.event_s, 1.6, 0.0)
    out: Floats = np.clip((t_s - plan.event_s) / plan.ramp_s, 0.0, 1.6) ** power
    return np.minimum(out, 1.6)


def _kicks(rng: Generator, plan: Plan, rig: Rig, t_s: Floats, worn: Floats) -> Floats:
    """Give the push per step of asperity bursts: rare in health, ever more often and greater with damage."""
    often_hz = np.full_like(t_s, rng.uniform(0.0, 0.3) / 60.0)
    bursts = plan.precursor is Precursor.BURSTS
    if bursts:
        busy_hz = log_uniform(rng, 0.15, 1.2) * max(1.0, 4.0 / plan.ramp_s)
        often_hz = often_hz + np.where(worn > 0.0, 0.1 * busy_hz + busy_hz * np.minimum(worn, 1.0) ** 1.5, 0.0)
    out = np.zeros(t_s.size + 60)
    for k in renewal(rng, often_hz, CORE_DT_S, rng.uniform(0.6, 3.0)):
        hurt = min(float(worn[k]), 1.0)
        log_size = rng.uniform(0.08, 0.25) + (rng.uniform(0.0, 0.3) * hurt if bursts else 0.0)
        steps = int(rng.integers(3, 12))
        out[k : k + steps] += (
            2.0 * log_size / rig.contact.span / steps * (1.0 + 0.5 * steps * CORE_DT_S / rig.contact.return_s)
        )
    return out[: t_s.size]


def _pulsed(rng: Generator, plan: Plan, rig: Rig, worn: Floats, tilt: Floats) -> Floats:
    """Give the tilt with micro scuffs: the film breaks for a moment, then fresh oil heals it."""
    out = tilt.copy()
    often_hz = np.where((worn > 0.0) & (worn < 0.95), max(0.04, 2.0 / plan.ramp_s), 0.0)
    shift = rng.uniform(0.3, 1.0)
    for k in renewal(rng, often_hz, CORE_DT_S, 3.0):
        breaks_s = min(rig.contact.return_s * 2.0 * rng.uniform(0.6, 1.3) / shift, 0.8)
        breaks, heals = max(5, round(breaks_s / CORE_DT_S)), int(rng.uniform(100, 300))
        out[k : k + breaks] += shift
        out[k + breaks : k + breaks + heals] = -0.65
    return out


def _tilt(rng: Generator, plan: Plan, contact: Contact, tracks: Tracks, worn: Floats) -> tuple[Floats, Floats]:
    """Give the tilt of the potential by load and damage, and its part without damage."""
    top_n = max(load_n for _, load_n in plan.steps)
    rest = contact.tilt_rest + contact.tilt_per_load * np.minimum(tracks.load_n / top_n, 1.3)
    over = FOLD * rng.uniform(1.0, 1.15) if plan.precursor is not Precursor.NONE else FOLD * rng.uniform(1.2, 2.0)
    return np.minimum(rest + (over - rest) * worn, 1.9 * FOLD), rest


def _wells(rng: Generator, plan: Plan, rig: Rig, tracks: Tracks) -> Excess:
    """Give the excess of a contact in a potential of two wells."""
    contact, t_s = rig.contact, tracks.t_s
    worn = _worn(plan, t_s, rng.uniform(0.7, 1.6))
    tilt, _ = _tilt(rng, plan, contact, tracks, worn)
    heat = 0.0
    if contact.mechanism is Mechanism.CUSP:
        heat = rng.uniform(0.03, 0.12)
        if plan.precursor is Precursor.MICRO_SCUFF:
            tilt = _pulsed(rng, plan, rig, worn, tilt)
    scale = contact.unrest_ratio * 2.0 / contact.span * np.sqrt(4.0 / contact.return_s)
    pushes = shaking(rng, contact.noise, t_s.size, CORE_DT_S, float(scale)) + _kicks(rng, plan, rig, t_s, worn)
    if plan.precursor is Precursor.NONE and plan.klass in TIPS and rng.random() < 0.5:
        begin, steps = int(plan.event_s / CORE_DT_S), int(rng.uniform(5, 50))
        tilt = np.where(t_s >= plan.event_s, np.minimum(tilt, 0.3), tilt)
        pushes[begin : begin + steps] += rng.uniform(0.85, 1.2) / steps
    growing = rng.uniform(1.0, 5.0) if contact.noise is Noise.MULTIPLICATIVE else 1.0
    start = float(healthy_well(tilt[:1])[0])
    u = two_wells(start, tilt, pushes, (contact.return_s * 2.0, contact.growth_s), growing, heat)
    log = log_excess(contact.span, u) + tracks.flick_log
    return Excess(log, log, _left_s(plan, t_s, u, np.maximum(healthy_well(tilt), -1.0)))


def _cascades(rng: Generator, plan: Plan, rig: Rig, tracks: Tracks) -> Excess:
    """Give the excess of a contact whose asperity events beget events."""
    contact, t_s = rig.contact, tracks.t_s
    worn = _worn(plan, t_s, rng.uniform(0.7, 1.6))
    calm, half = rng.uniform(0.15, 0.35), rng.uniform(60.0, 160.0)
    full = 0.95 if plan.precursor is not Precursor.NONE else rng.uniform(1.2, 1.8)
    keep_s = rng.uniform(0.1, 0.35)
    branching = calm + (full - calm) * worn
    q = cascade(rng, rng.uniform(0.5, 4.0), branching, keep_s, half, rng.uniform(1.7, 2.6))
    u = -1.0 + 2.08 * q / (q + half)
    log = log_excess(contact.span, u) + tracks.flick_log
    return Excess(log, log, _left_s(plan, t_s, u, np.full_like(t_s, -0.75)))


def _sectors(rng: Generator, plan: Plan, rig: Rig, tracks: Tracks) -> Excess:
    """Give the excess of a ring of patches of which one is the weakest."""
    contact, t_s = rig.contact, tracks.t_s
    coarse = t_s[:: round(COARSE_DT_S / CORE_DT_S)]
    worn = _worn(plan, coarse, rng.uniform(0.7, 1.3))
    rest = contact.tilt_rest + contact.tilt_per_load
    count = contact.sectors_count
    apart = np.abs((np.arange(count) - rng.integers(count) + count / 2) % count - count / 2)
    weak = rng.uniform(0.5, 0.7) + 0.9 * np.exp(-((apart / rng.uniform(0.8, 2.5)) ** 2)) + rng.normal(0.0, 0.04, count)
    time_s = rng.uniform(0.3, 1.0)
    coupling = (rng.uniform(0.25, 0.8), rng.uniform(0.1, 0.4))
    unrest = contact.unrest_ratio * 2.0 / contact.span * np.sqrt(4.0 / time_s)
    states = patches(rng, (rest + (FOLD * 1.1 - rest) * worn, weak), time_s, unrest, coupling, COARSE_DT_S)
    turns = np.cumsum(tracks.on_ratio) * CORE_DT_S * rig.speed_rpm / 60.0
    log, mean_log = passing(states, contact, turns, COARSE_DT_S, t_s)
    mean_u = np.interp(t_s, coarse, states.mean(axis=1))
    turn_steps = max(3, round(60.0 / rig.speed_rpm / CORE_DT_S))
    high = maximum_filter1d(log, turn_steps, origin=(turn_steps - 1) // 2)
    left_s = _left_s(plan, t_s, np.where(high <= PATCH_LOG, -1.0, np.maximum(mean_u, -0.9)), np.full_like(t_s, -0.99))
    return Excess(log + tracks.flick_log, mean_log + tracks.flick_log, left_s)


def _left_s(plan: Plan, t_s: Floats, u: Floats, home: Floats) -> float:
    """Give when the state last was at home before it went over for good; NaN where it did not."""
    far = u > 0.4
    if plan.klass not in TIPS or not far[-1]:
        return float("nan")
    back = np.flatnonzero(~far & (u < U_FOLD + 0.2))
    over = int(back[-1]) if back.size else 0
    at_home = np.flatnonzero(u[: over + 1] <= home[: over + 1])
    return float(t_s[at_home[-1]]) if at_home.size else float("nan")


def work_damage(rng: Generator, plan: Plan, rig: Rig, tracks: Tracks) -> Excess:
    """Give what the contact did under load and damage."""
    kinds = {Mechanism.CASCADE: _cascades, Mechanism.SECTORS: _sectors}
    excess = kinds.get(rig.contact.mechanism, _wells)(rng, plan, rig, tracks)
    pole = np.exp(-CORE_DT_S / log_uniform(rng, 0.05, 1.0))
    rough = lfilter([np.sqrt(1.0 - pole**2)], [1.0, -pole], rng.normal(size=tracks.t_s.size)) * rng.uniform(0.02, 0.1)
    bare = np.clip(excess.mean_log / rig.contact.span - 0.3, 0.0, 1.0)
    return Excess(excess.log + rough * bare, excess.mean_log, excess.onset_s)
