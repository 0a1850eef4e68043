"""What goes wrong in the contact: the scuffed share of it over time, and what it announces itself by.

Reads `world_m.plan`, `world_m.design`. Friction is (1 - share) of the sound contact's and share of the scuffed one's,
so a share of 0 is health and a share of 1 metal on metal all over.
"""

from dataclasses import dataclass
from enum import Enum
from math import isnan

import numpy as np
from world_b.values import SCUFFINGS, Floats, Klass, Precursor

from world_m.design import Design
from world_m.grid import STEP_S, ramp, span, wander
from world_m.plan import Plan
from world_m.streams import Stream, between, log_between


class Growth(Enum):
    """How a scuff spreads."""

    SIGMOID = "slow, fast, slow"
    SATURATING = "fast at first"
    RUNAWAY = "ever faster"
    PATCHES = "patch by patch"
    TEARING = "welds that tear off again and again"
    PEAK = "a peak and a lower plateau"


@dataclass(frozen=True, slots=True)
class Damage:
    """Arrays over the clock of the physics.

    Attributes:
        share: (n,) scuffed share of the contact.
        scuffed_mu: (n,) friction coefficient of the scuffed part.
        patch: (n,) further share while a hot patch is under the pin, once a turn.
        growth: how the scuff spreads; None without one.
    """

    share: Floats
    scuffed_mu: Floats
    patch: Floats
    growth: Growth | None


def damage(rng: Stream, t_s: Floats, plan: Plan, design: Design) -> Damage:
    """Give the damage of a recording; nothing but zeros for a healthy one."""
    share, patch = np.zeros(t_s.size), np.zeros(t_s.size)
    if plan.klass not in SCUFFINGS and plan.klass is not Klass.SEIZURE:
        return Damage(share, share, patch, None)
    scuffed_mu = _scuffed_mu(rng, plan, design)
    _announce(rng, t_s, plan, share, patch)
    growth = list(Growth)[int(rng.integers(len(Growth)))]
    after = span(t_s, plan.event_s, np.inf)
    late_s = t_s[after] - plan.event_s
    if plan.klass is Klass.SEIZURE:
        growth = (Growth.SIGMOID, Growth.RUNAWAY, Growth.PATCHES)[int(rng.integers(3))]
        main = spread(rng, growth, late_s, log_between(rng, 0.4, 20.0))
    else:
        main = spread(rng, growth, late_s, min(log_between(rng, 0.25, 45.0), 0.7 * (plan.duration_s - plan.event_s)))
    share[after] = np.maximum(main, share[after] * np.exp(-late_s))
    patch[after] *= np.exp(-late_s)
    mu = scuffed_mu * (1.0 + _rough(rng, t_s.size))
    return Damage(share, mu, patch, growth)


def _scuffed_mu(rng: Stream, plan: Plan, design: Design) -> float:
    """Draw the friction of the scuffed contact: 0.2 to 0.8, more where it welds the ring fast."""
    mu = max(0.2, min(0.8, design.contact.boundary_mu * log_between(rng, 2.1, 5.5)))
    if plan.klass is Klass.SEIZURE:
        load_n = plan.load_at(plan.event_s)
        return max(mu, between(rng, 1.35, 1.9) * design.peak_torque_nm / (load_n * design.radius_m))
    return mu


def _rough(rng: Stream, size: int) -> Floats:
    """Give the unrest of torn metal, relative, never below -0.3."""
    rough = between(rng, 0.03, 0.15) * wander(rng, size, log_between(rng, 0.03, 0.8), STEP_S)
    return np.clip(rough, -0.3, 0.5)


def spread(rng: Stream, growth: Growth, late_s: Floats, rise_s: float) -> Floats:
    """Give the scuffed share from its first moment on: near 1 after rise_s, and it stays above 0.6."""
    u = late_s / rise_s
    if growth is Growth.SIGMOID:
        low = 1.0 / (1.0 + np.exp(4.0))
        curve = 1.0 / (1.0 + np.exp(-8.0 * np.minimum(u, 4.0) + 4.0))
        return np.asarray(np.clip((curve - low) / (1.0 - low), 0.0, 1.0))
    if growth is Growth.RUNAWAY:
        return np.asarray(np.expm1(3.0 * np.minimum(u, 1.0)) / np.expm1(3.0))
    if growth is Growth.PATCHES:
        return _patches(rng, late_s, rise_s)
    saturating = 1.0 - np.exp(-2.5 * u)
    if growth is Growth.TEARING:
        period_s = log_between(rng, 0.12, 1.2)
        phase = (late_s / period_s + 0.3 * np.sin(late_s * between(rng, 0.5, 3.0))) % 1.0
        return saturating * (1.0 - between(rng, 0.1, 0.35) * (1.0 - phase))
    if growth is Growth.PEAK:
        plateau = between(rng, 0.62, 0.85)
        return saturating * (plateau + (1.0 - plateau) * np.exp(-np.maximum(u - 1.0, 0.0) / 1.5))
    return saturating


def _patches(rng: Stream, late_s: Floats, rise_s: float) -> Floats:
    count = int(rng.integers(3, 8))
    times = np.concatenate([[0.0], np.sort(rng.uniform(0.05, 0.9, count - 1))]) * rise_s
    sizes = rng.dirichlet(np.full(count, 3.0))
    parts = [size * ramp(late_s, time, 0.08 * rise_s) for size, time in zip(sizes, times, strict=True)]
    return np.asarray(np.sum(parts, axis=0))


def _announce(rng: Stream, t_s: Floats, plan: Plan, share: Floats, patch: Floats) -> None:
    """Add the precursor, which begins at precursor_s and ends in the scuffing."""
    if isnan(plan.precursor_s):
        return
    where = span(t_s, plan.precursor_s, plan.event_s + 3.0)
    u = np.clip((t_s[where] - plan.precursor_s) / (plan.event_s - plan.precursor_s), 0.0, 1.0)
    if plan.precursor is Precursor.CREEP:
        size = where.stop - where.start
        nervous = 1.0 + between(rng, 0.2, 0.6) * u * wander(rng, size, between(rng, 0.1, 1.0), STEP_S)
        share[where] = between(rng, 0.04, 0.14) * (0.1 * u + 0.9 * u * u) * np.clip(nervous, 0.2, 3.0)
    elif plan.precursor is Precursor.ONCE_PER_TURN:
        patch[where] = between(rng, 0.06, 0.3) * (0.25 + 0.75 * u)
    elif plan.precursor is Precursor.BURSTS:
        _bursts(rng, t_s, plan, share)
    else:
        _small_scuffs(rng, t_s, plan, share)


def _bursts(rng: Stream, t_s: Floats, plan: Plan, share: Floats) -> None:
    """Add hot spots of 50-800 ms that come ever more often; the first is the beginning of the precursor."""
    lead_s = plan.event_s - plan.precursor_s
    count = int(rng.integers(3, 6) + lead_s / between(rng, 4.0, 12.0))
    later = 1.0 - (1.0 - rng.uniform(0.0, 1.0, count)) ** 1.8
    for place in [0.0, *(1.0 - later)]:
        begin_s, long_s = plan.precursor_s + place * lead_s, log_between(rng, 0.05, 0.8)
        where = span(t_s, begin_s, begin_s + long_s)
        hump = np.sin(np.pi * (t_s[where] - begin_s) / long_s) ** 0.6
        share[where] = np.maximum(share[where], between(rng, 0.04, 0.22) * (0.5 + 0.5 * place) * hump)


def _small_scuffs(rng: Stream, t_s: Floats, plan: Plan, share: Floats) -> None:
    """Add one or two scuffs that heal before the one that does not."""
    lead_s = plan.event_s - plan.precursor_s
    for index in range(int(rng.integers(1, 3)) if lead_s > 40.0 else 1):
        begin_s = plan.precursor_s + index * between(rng, 0.4, 0.55) * lead_s
        rise_s, heal_s = between(rng, 0.3, 2.0), min(between(rng, 1.0, 6.0), 0.12 * lead_s)
        late_s = t_s - begin_s
        hump = ramp(t_s, begin_s, rise_s) * np.exp(-np.maximum(late_s - rise_s, 0.0) / heal_s)
        share += between(rng, 0.15, 0.4) * np.where(late_s < min(0.4 * lead_s, 7.0 * heal_s + rise_s), hump, 0.0)
