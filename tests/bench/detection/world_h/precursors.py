"""What a contact shows before it scuffs: bursts, a hot patch, a creeping rise, a small scuff that heals.

Reads acts, first sign and onset, fills `grip`, `patch`, `unrest` and `clang_db`.
"""

import numpy as np
from numpy.random import Generator
from world_b.values import Floats, Precursor

from .acts import Acts
from .chance import chance, log_between, one_of

_LONG = (
    (Precursor.BURSTS, 0.3),
    (Precursor.ONCE_PER_TURN, 0.22),
    (Precursor.CREEP, 0.26),
    (Precursor.MICRO_SCUFF, 0.22),
)


def draw_precursor(rng: Generator) -> Precursor:
    """Draw which of the four kinds a contact shows."""
    return one_of(rng, _LONG)


def announce(rng: Generator, acts: Acts, kind: Precursor, first_s: float, onset_s: float) -> None:
    """Let a precursor act from its first sign to the onset."""
    begin, end = (int(np.searchsorted(acts.t_s, at_s)) for at_s in (first_s, onset_s))
    after_s = acts.t_s[begin:end] - first_s
    part, whole_s = slice(begin, end), onset_s - first_s
    if kind is Precursor.BURSTS:
        shape = _bursts(rng, after_s, whole_s)
        acts.grip[part] *= 1.0 + shape
        acts.unrest[part] *= 1.0 + 3.0 * shape
        acts.clang_db[part] += rng.uniform(2.0, 14.0) * np.minimum(shape, 1.0)
    elif kind is Precursor.ONCE_PER_TURN:
        way = after_s / whole_s
        acts.patch[part] = rng.uniform(0.04, 0.1) + rng.uniform(0.15, 0.9) * way ** rng.uniform(0.7, 2.0)
        acts.patch_turn[begin:] = rng.uniform(0.06, 0.3)
        acts.clang_db[part] += rng.uniform(0.5, 4.0) * way
    elif kind is Precursor.CREEP:
        way = (after_s / whole_s) ** rng.uniform(0.8, 2.0)
        acts.grip[part] *= 1.0 + rng.uniform(0.1, 0.45) * way
        acts.unrest[part] *= 1.0 + rng.uniform(1.0, 4.0) * way
        acts.clang_db[part] += rng.uniform(0.5, 5.0) * way
    elif kind is Precursor.MICRO_SCUFF:
        shape = _micro_scuffs(rng, after_s, whole_s)
        acts.grip[part] *= 1.0 + shape
        acts.unrest[part] *= 1.0 + 2.0 * shape
        acts.clang_db[part] += rng.uniform(2.0, 10.0) * np.minimum(shape, 1.0)


def _bursts(rng: Generator, after_s: Floats, whole_s: float) -> Floats:
    """Rare at first, then thicker; each jumps up and dies away within some tens to hundreds of ms."""
    count = 1 + int(rng.poisson(max(2.0, whole_s * log_between(rng, 0.12, 0.8))))
    times_s = np.concatenate([[0.0], whole_s * rng.uniform(0.0, 1.0, count) ** rng.uniform(0.45, 1.0)])
    shape = np.zeros_like(after_s)
    for at_s in times_s:
        height, fall_s = rng.uniform(0.1, 0.65), log_between(rng, 0.05, 0.6)
        since = after_s - at_s
        shape = np.maximum(shape, np.where(since >= 0.0, height * np.exp(-np.clip(since, 0.0, None) / fall_s), 0.0))
    return shape


def _micro_scuffs(rng: Generator, after_s: Floats, whole_s: float) -> Floats:
    """One to three that heal, the first at once."""
    count = 1 + int(rng.integers(0, 3)) if whole_s > 15.0 and chance(rng, 0.6) else 1
    times_s = [0.0, *np.sort(rng.uniform(0.2, 0.85, count - 1)).tolist()]
    shape = np.zeros_like(after_s)
    for at_share in times_s:
        height, rise_s = rng.uniform(0.3, 1.1), log_between(rng, 0.05, 0.6)
        heal_s = min(log_between(rng, 0.4, 4.0), 0.25 * whole_s)
        since = np.clip(after_s - at_share * whole_s, 0.0, None)
        shape = np.maximum(shape, height * (1.0 - np.exp(-since / rise_s)) * np.exp(-since / heal_s))
    return shape
