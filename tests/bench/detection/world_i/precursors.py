"""What roughens the contact: films that tear and heal before scuffing, and the scuffed metal itself.

Reads the plan's event; gives shares of the contact that run on bare metal, as arrays over time.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats, Precursor

from .draws import Rng, log_uniform, uniform
from .events import Event
from .plan import Plan
from .rig import Rig
from .spectra import unrest


@dataclass(frozen=True, slots=True)
class Roughening:
    """Arrays (n,) over the steps, and how the scuff grows.

    Attributes:
        torn_share: share of the contact torn for a while before scuffing, 0 to 1.
        creep_factor: factor on friction of a slow rise.
        patch: rise of friction, as a share, over a hot patch that passes once a turn.
        scuffed_friction: friction coefficient of scuffed metal; a seizure lets it grow.
        seed_share: scuffed share at onset.
        growth_s: time in which a small scuff grows e-fold.
        last_share: scuffed share at the end.
        feedback: power of the friction power (over that at onset) with which growth speeds up.
        patch_width: of a turn.
    """

    torn_share: Floats
    creep_factor: Floats
    patch: Floats
    scuffed_friction: Floats
    seed_share: float
    growth_s: float
    last_share: float
    feedback: float
    patch_width: float


def _bursts(rng: Rng, t_s: Floats, event: Event, torn: Floats) -> None:
    start_s, lead_s = event.sign_s, event.onset_s - event.sign_s
    quiet_s = uniform(rng, 0.04, 0.12) * lead_s
    while start_s < event.onset_s:
        nearness = (start_s - event.sign_s) / lead_s
        duration_s = log_uniform(rng, 0.06, 0.8)
        share = uniform(rng, 0.04, 0.12) + 0.12 * nearness * rng.random()
        x = (t_s - start_s) / duration_s
        inside = (x > 0) & (x < 1)
        torn[inside] = np.maximum(torn[inside], share * np.sin(np.pi * x[inside]))
        start_s += duration_s + float(rng.exponential(max(quiet_s * (1.0 - 0.8 * nearness), 0.1)))


def _micro_scuffs(rng: Rng, t_s: Floats, event: Event, torn: Floats) -> None:
    lead_s = event.onset_s - event.sign_s
    count = 1 + int(rng.integers(0, 3)) if lead_s > 30.0 else 1
    for index in range(count):
        since_s = t_s - event.sign_s - index * lead_s / count * uniform(rng, 0.8, 1.0)
        rise_s = min(uniform(rng, 0.2, 1.5), 0.2 * lead_s)
        heal_s = min(uniform(rng, 2.0, 12.0), 0.3 * lead_s)
        shape = np.where(since_s > 0, np.minimum(since_s / rise_s, 1.0), 0.0)
        torn += uniform(rng, 0.1, 0.25) * shape * np.exp(-np.maximum(since_s - rise_s, 0.0) / heal_s)


def _grown_friction(rng: Rng, t_s: Floats, plan: Plan, rig: Rig) -> Floats:
    event = plan.event
    wild = unrest(rng, plan.duration_s + 1.0, 50.0, 0.3, 15.0, 1.0)
    unquiet = uniform(rng, 0.08, 0.25)
    friction = rig.law.scuffed * np.exp(unquiet * np.interp(t_s, np.arange(wild.size) / 50.0, wild))
    if event.seizes:
        since_s = np.maximum(t_s - event.onset_s, 0.0)
        friction = friction * (1.0 + uniform(rng, 2.0, 5.0) * since_s / log_uniform(rng, 1.0, 15.0))
        return np.minimum(friction, 4.0)
    fall = uniform(rng, 0.0, 0.3)
    return friction * (1.0 - fall * np.clip((t_s - event.onset_s - 10.0) / 40.0, 0.0, 1.0))


def roughening(rng: Rng, t_s: Floats, plan: Plan, rig: Rig) -> Roughening:
    """Lay out how the contact roughens; nothing before the first sign."""
    event = plan.event
    torn, creep, patch = np.zeros(t_s.size), np.ones(t_s.size), np.zeros(t_s.size)
    scuffed = _grown_friction(rng, t_s, plan, rig)
    progress = np.clip((t_s - event.sign_s) / max(np.nan_to_num(event.onset_s - event.sign_s), 1e-3), 0.0, 1.0)
    progress = np.nan_to_num(progress)
    if event.precursor is Precursor.BURSTS:
        _bursts(rng, t_s, event, torn)
    elif event.precursor is Precursor.MICRO_SCUFF:
        _micro_scuffs(rng, t_s, event, torn)
    elif event.precursor is Precursor.ONCE_PER_TURN:
        patch = uniform(rng, 0.25, 0.8) * progress * (t_s < event.onset_s)
    elif event.precursor is Precursor.CREEP:
        wild = unrest(rng, plan.duration_s + 1.0, 25.0, 0.1, 8.0, 1.0)
        shaking = uniform(rng, 0.05, 0.12) * np.interp(t_s, np.arange(wild.size) / 25.0, wild)
        creep = 1.0 + progress * (uniform(rng, 0.15, 0.5) + shaking)
        creep = np.where(t_s < event.onset_s, creep, creep[max(int(np.searchsorted(t_s, event.onset_s)) - 1, 0)])
    sudden = event.precursor is Precursor.NONE
    return Roughening(
        torn_share=torn, creep_factor=creep, patch=patch, scuffed_friction=scuffed,
        seed_share=0.06 if sudden else 0.03,
        growth_s=log_uniform(rng, 0.04, 0.3) if sudden else log_uniform(rng, 0.1, 2.0),
        last_share=uniform(rng, 0.75, 1.0), feedback=uniform(rng, 0.0, 0.8), patch_width=uniform(rng, 0.08, 0.25),
    )  # fmt: skip
