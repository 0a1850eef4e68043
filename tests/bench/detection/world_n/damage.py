"""Paints what the event does to friction: the way up of scuffing, and the damage that goes ahead of it.

Reads times, turns of the ring and an `Event`, gives factors and shares (n,) without unit.
"""

import math

import numpy as np
from world_b.values import Floats, Precursor

from world_n.curves import bump, decay, logistic, ramp, smooth, wander
from world_n.draws import between, log_between
from world_n.names import Shape
from world_n.scene import Event

UNREST_SPACING_S = 0.04
LONGEST_UNREST_S = 400.0
MAX_BURSTS = 60


def _jerks(dt_s: Floats, event: Event) -> Floats:
    rng = np.random.default_rng(event.seed)
    count = int(rng.integers(3, 9))
    times_s = np.sort(np.concatenate([[0.0], rng.uniform(0.05, 0.95, count - 1) * event.rise_s]))
    shares = rng.dirichlet(np.full(count, 3.0))
    level = np.zeros(len(dt_s))
    for t_s, share in zip(times_s.tolist(), shares.tolist(), strict=True):
        after = dt_s - t_s
        level += share * smooth(after / 0.08) * (1.0 + 0.6 * decay(after, 0.3))
    return level


def _way(dt_s: Floats, event: Event) -> Floats:
    x = dt_s / event.rise_s
    if event.shape is Shape.LOGISTIC:
        return logistic(x)
    if event.shape in (Shape.RAMP, Shape.TEARING):
        return ramp(x)
    if event.shape is Shape.JERKS:
        return _jerks(dt_s, event)
    if event.shape is Shape.OVERSHOOT:
        over = 0.15 + 0.25 * (event.seed % 1000) / 1000.0
        return np.asarray(smooth(x) * (1.0 + over * decay(dt_s - event.rise_s, 2.0 + event.rise_s)))
    return smooth(x)


def growth(t_s: Floats, event: Event, ring: Floats) -> Floats:
    """Give how much of the scuffed level is reached: 0 until `start_s`, then up to about 1, with its unrest.

    Args:
        t_s: (n,) s.
        event: one that scuffs, or another, which gives 0.
        ring: (n,) share of the set speed; unrest rests with the ring.
    """
    if math.isnan(event.rise_s):
        return np.zeros(len(t_s))
    dt_s = t_s - event.start_s
    unrest = wander(np.maximum(dt_s, 0.0), event.seed + 1, UNREST_SPACING_S, LONGEST_UNREST_S)
    return np.asarray(_way(dt_s, event) * np.clip(1.0 + event.unrest * unrest * smooth(ring / 0.05), 0.55, 1.45))


def _bursts(t_s: Floats, event: Event, length_s: float) -> Floats:
    rng = np.random.default_rng(event.seed + 2)
    count = min(MAX_BURSTS, 2 + int(length_s * between(rng, 0.1, 0.7)))
    ends = np.concatenate([[0.0], np.sort(1.0 - rng.uniform(0.0, 1.0, count - 1) ** 1.5)]) * length_s * 0.95
    factor = np.ones(len(t_s))
    for at_s in ends.tolist():
        height, burst_s = between(rng, 0.12, 0.6), log_between(rng, 0.08, 0.8)
        dt_s = t_s - event.precursor_s - at_s
        sharp = smooth(dt_s / 0.03) * decay(dt_s, burst_s / 2.5)
        factor += height * (bump(dt_s, burst_s) if rng.random() < 0.5 else sharp)
    return factor


def _micro_scuff(dt_s: Floats, event: Event, length_s: float) -> Floats:
    stay_s = min(0.5 + 5.0 * event.precursor_size, 0.3 * length_s)
    up = smooth(dt_s / min(0.3, 0.1 * length_s))
    healing = np.where(dt_s > stay_s, decay(dt_s - stay_s, 0.1 * length_s), 1.0)
    return np.asarray(1.0 + (0.5 + 0.8 * event.precursor_size) * up * healing)


def precursor_factor(t_s: Floats, event: Event, turns: Floats | None) -> Floats:
    """Give what the damage ahead of scuffing makes of friction: 1 until `precursor_s`.

    Args:
        t_s: (n,) s.
        event: with or without a precursor.
        turns: (n,) of the ring since the first row; None leaves out what passes once a turn.
    """
    if event.precursor is Precursor.NONE:
        return np.ones(len(t_s))
    length_s = event.start_s - event.precursor_s
    dt_s = t_s - event.precursor_s
    grown = ramp(dt_s / length_s)
    if event.precursor is Precursor.BURSTS:
        return _bursts(t_s, event, length_s)
    if event.precursor is Precursor.MICRO_SCUFF:
        return _micro_scuff(dt_s, event, length_s)
    if event.precursor is Precursor.CREEP:
        unrest = wander(np.maximum(dt_s, 0.0), event.seed + 3, 0.15, LONGEST_UNREST_S)
        rise = (0.15 + 0.45 * event.precursor_size) * grown**1.3
        return np.asarray(1.0 + rise * np.clip(1.0 + 0.35 * unrest, 0.1, 2.0))
    if turns is None:
        return np.ones(len(t_s))
    width = 0.05 + 0.07 * event.precursor_size
    patch = np.exp(-0.5 * ((turns - np.floor(turns) - 0.5) / width) ** 2)
    return np.asarray(1.0 + (dt_s >= 0.0) * (0.08 + 0.45 * grown) * patch)
