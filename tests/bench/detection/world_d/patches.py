"""Damage as scuffed shares of patches around the ring.

Reads a `Damage`, gives for every patch and time the share that is scuffed. Before the onset patches are hurt and heal;
from the onset on the scuffed share grows by itself and by transfer to its neighbours until it has taken everything.
Hot spots that come and go and then stay: Matsuzaki, Yagi, Sugimura, Tribol. Lett. 66 (2018). Sizes and times:
plausible, invented.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Precursor

from .chance import Chance
from .plan import Damage

PATCHES = 24
STEP_S = 0.01
_GROWTH_STEP = 0.05
_GROWTH_STEPS = 400
_SETS_IN_SHARE = 0.25
"""Part of the growth over which the first patches take; nothing jumps at the onset."""


@dataclass(frozen=True, slots=True)
class Scuffed:
    """Scuffed shares, (rows, PATCHES), a row every `STEP_S` from `first_s` on; the last row stays."""

    first_s: float
    shares: Floats

    def row_at(self, t_s: Floats) -> Floats:
        """Give the row that holds at each time; below 0 before the first."""
        rows = np.floor((t_s - self.first_s) / STEP_S + 1e-6)
        return np.minimum(rows, len(self.shares) - 1.0)

    def mean_at(self, t_s: Floats) -> Floats:
        """Give the mean over the ring at each time, (n,)."""
        rows = self.row_at(t_s).astype(np.int64)
        return np.where(rows < 0, 0.0, self.shares.mean(axis=1)[np.maximum(rows, 0)])


def scuffed(chance: Chance, damage: Damage, plateau: float, end_s: float) -> Scuffed:
    """Draw the course of a damage.

    Args:
        chance: stream.
        damage: as planned.
        plateau: coefficient when full grown over the healthy one; the first signs are sized by it.
        end_s: of the recording.
    """
    before = np.clip(_before(chance, damage, plateau), 0.0, 0.9)
    target = 0.9 if plateau < 3.2 else 2.0 / (plateau - 1.0)
    grown = _grown(chance, damage.manner)
    cross = _crossing(grown.mean(axis=1), target)
    n = max(round((end_s - damage.onset_s) / STEP_S), 1)
    at = np.minimum(np.arange(n) * STEP_S / damage.grow_s * cross, _GROWTH_STEPS - 1.0)
    low = np.floor(at).astype(np.int64)
    part = (at - low)[:, None]
    after = grown[low] * (1.0 - part) + grown[np.minimum(low + 1, _GROWTH_STEPS - 1)] * part
    after *= np.minimum(np.arange(n) * STEP_S / (_SETS_IN_SHARE * damage.grow_s), 1.0)[:, None]
    if len(before):
        after = np.maximum(after, before[-1] * np.exp(-np.arange(n) * STEP_S / damage.grow_s)[:, None])
    shares = np.vstack((before, after))
    pin = shares.mean(axis=1, keepdims=True)
    shared = np.concatenate((np.ones(len(before)), np.full(n, damage.pin_share)))[:, None]
    shared[: len(before)] = 0.0
    return Scuffed(damage.onset_s - len(before) * STEP_S, shared * pin + (1.0 - shared) * shares)


def _crossing(mean: Floats, target: float) -> float:
    """Give the step at which a course first reaches the target, with its fraction."""
    at = int(np.argmax(mean >= target))
    return at - (mean[at] - target) / max(mean[at] - mean[at - 1], 1e-9) if at else 1.0


def _grown(chance: Chance, manner: str) -> Floats:
    """Step logistic growth with transfer between neighbours, (steps, PATCHES); time in units of the growth."""
    shares = np.full(PATCHES, 0.008)
    shares[np.arange(chance.count(1, 6)) + chance.count(0, 17)] = chance.between(0.02, 0.15)
    spread, rough = chance.ratio(0.02, 0.6), chance.between(0.1, 1.0)
    noise = chance.rng.standard_normal((_GROWTH_STEPS, PATCHES))
    rates = _rates(chance, manner)
    rows = np.empty((_GROWTH_STEPS, PATCHES))
    for i in range(_GROWTH_STEPS):
        rows[i] = shares
        neighbours = np.roll(shares, 1) + np.roll(shares, -1) - 2.0 * shares
        grows = rates[i] * shares * (1.0 - shares) * (1.0 + rough * noise[i])
        shares = np.clip(shares + _GROWTH_STEP * (grows + spread * neighbours), 0.004, 1.0)
    return rows


def _rates(chance: Chance, manner: str) -> Floats:
    """Give the growth rate at each step: even, in batches of debris, late, or with an attempt to heal on the way."""
    rates = np.ones(_GROWTH_STEPS)
    steps = np.arange(_GROWTH_STEPS)
    if manner == "steps":
        length = chance.count(8, 25)
        rates = np.where((steps // length) % 2 == 0, 1.8, 0.15)
    elif manner == "late":
        rates = np.where(steps < chance.count(60, 120), 0.25, 2.0)
    elif manner == "healing":
        begin = chance.count(75, 110)
        rates[begin : begin + chance.count(8, 22)] = -1.5
    return rates


def _before(chance: Chance, damage: Damage, plateau: float) -> Floats:
    """Give the first signs, (rows, PATCHES)."""
    n = round((damage.onset_s - damage.first_s) / STEP_S)
    if n == 0:
        return np.zeros((0, PATCHES))
    makers = {
        Precursor.BURSTS: _bursts,
        Precursor.ONCE_PER_TURN: _hot_patch,
        Precursor.CREEP: _creep,
        Precursor.MICRO_SCUFF: _micro_scuffs,
    }
    return makers[damage.precursor](chance, n) / (plateau - 1.0)


def _bursts(chance: Chance, n: int) -> Floats:
    """Hurt the pin at a growing rate; each hurt heals within 50 to 800 ms. In shares of the healthy coefficient."""
    rises = np.linspace(0.2, 1.0, n)
    wanted = max(chance.ratio(0.05, 0.6) * n * STEP_S, 4.0)
    kicks = (chance.rng.random(n) < rises / rises.sum() * wanted) * rises * chance.ratio(0.12, 0.7)
    kicks[0] = 0.4 * kicks.max(initial=0.3)
    kicks *= np.exp(0.4 * chance.white(n))
    course = lfilter([1.0], [1.0, -exp(-STEP_S / chance.ratio(0.03, 0.4))], kicks)
    return np.tile(np.minimum(course, 1.6)[:, None], PATCHES)


def _hot_patch(chance: Chance, n: int) -> Floats:
    """Let a patch of the ring swell, with unrest."""
    width = chance.between(1.0, 3.0)
    place = np.abs(np.arange(PATCHES) - chance.count(0, PATCHES - 1))
    shape = np.exp(-0.5 * (np.minimum(place, PATCHES - place) / width) ** 2)
    swell = np.linspace(0.15, 1.0, n) ** chance.between(0.5, 2.0) * chance.between(0.3, 1.2)
    patches: Floats = (swell * np.abs(1.0 + 0.3 * _slow(chance, n, 1.0)))[:, None] * shape
    return patches


def _creep(chance: Chance, n: int) -> Floats:
    """Rise slowly, with growing unrest."""
    rise = np.linspace(0.0, 1.0, n) ** chance.between(0.7, 2.0)
    unrest = 1.0 + chance.between(0.15, 0.5) * _slow(chance, n, chance.ratio(0.05, 1.0))
    return np.tile((rise * chance.between(0.15, 0.6) * np.abs(unrest))[:, None], PATCHES)


def _micro_scuffs(chance: Chance, n: int) -> Floats:
    """Scuff a little and heal, one to four times; the first at once."""
    course = np.zeros(n)
    starts = [0, *(chance.count(0, max(n - 200, 0)) for _ in range(chance.count(0, 3)))]
    for start in starts:
        since_s = np.arange(n - start) * STEP_S
        up_s, heals_s = chance.ratio(0.2, 2.0), chance.ratio(0.6, 5.0)
        shape = np.where(since_s < up_s, since_s / up_s, np.exp(-(since_s - up_s) / heals_s))
        course[start:] = np.maximum(course[start:], chance.between(0.35, 1.5) * shape)
    return np.tile(course[:, None], PATCHES)


def _slow(chance: Chance, n: int, memory_s: float) -> Floats:
    """Give unrest with a memory and a sigma of one."""
    keep = exp(-STEP_S / memory_s)
    course: Floats = lfilter([np.sqrt(1.0 - keep * keep)], [1.0, -keep], chance.white(n))
    return course
