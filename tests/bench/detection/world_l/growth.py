"""How friction climbs in a scuffing, and what comes before it, as a factor on healthy friction. Reads `plan`."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Precursor

from world_l.plan import Growth, ScuffPlan

GRID_S = 0.05
"""Irregular shapes are drawn on this clock whatever the rate, so the plan does not depend on it."""


@dataclass(frozen=True, slots=True)
class ScuffTraces:
    """(n,) factor on friction, (n,) excess of a patch once a turn, (n,) how far the scuffing has come, 0 to 1."""

    factor: Floats
    patch: Floats
    progress: Floats


def wander(rng: np.random.Generator, t_s: Floats, tau_s: float) -> Floats:
    """Give a first-order wander of unit spread at `t_s`, drawn on `GRID_S`."""
    count = int((t_s[-1] - t_s[0]) / GRID_S) + 2
    keep = math.exp(-GRID_S / tau_s)
    own = np.random.default_rng(int(rng.integers(2**62)))  # so that what is drawn next does not depend on the clock
    driven = own.normal(0.0, 1.0, count)
    driven[1:] *= math.sqrt(1.0 - keep * keep)
    noise = lfilter([1.0], [1.0, -keep], driven)
    wandered: Floats = np.interp(t_s, t_s[0] + GRID_S * np.arange(count), noise)
    return wandered


def scuff_traces(plan: ScuffPlan, factor: float, t_s: Floats) -> ScuffTraces:
    """Give the traces of a scuffing that ends at `factor` times healthy friction."""
    rng = np.random.default_rng(plan.seed)
    x = (t_s - plan.onset_s) / plan.grows_s
    risen = rise(plan.growth, np.clip(x, 0.0, 1.0), rng)
    since_s = np.maximum(t_s - plan.onset_s - plan.grows_s, 0.0)
    scale = 1.0 - plan.after_decline * -np.expm1(-since_s / 20.0)
    unrest = 1.0 + plan.after_unrest * risen * wander(rng, t_s, rng.uniform(0.08, 1.5))
    if plan.welds:
        scale, unrest = 1.0 + 0.5 * since_s / plan.grows_s, np.ones_like(t_s)
    scuffed = 1.0 + (factor - 1.0) * risen * scale * np.clip(unrest, 0.5, 1.6)
    before, patch = _before(plan, t_s, rng)
    return ScuffTraces(before * scuffed, patch, risen)


def rise(growth: Growth, x: Floats, rng: np.random.Generator) -> Floats:
    """Give the rise 0 to 1 of a shape at relative times `x` in 0 to 1."""
    if growth is Growth.JUMP:
        jumped: Floats = -np.expm1(-5.0 * x) / -math.expm1(-5.0)
        return jumped
    if growth is Growth.RUNAWAY:
        power, close = rng.uniform(0.5, 1.5), 0.95
        run: Floats = ((1.0 - close * x) ** -power - 1.0) / ((1.0 - close) ** -power - 1.0)
        return run
    if growth is Growth.PLATEAU_AND_GO:
        level, first, go = rng.uniform(0.2, 0.5), rng.uniform(0.05, 0.2), rng.uniform(0.55, 0.85)
        return np.interp(x, [0.0, first, go, 1.0], [0.0, level, level * 1.05, 1.0])
    if growth is Growth.SAW_TOOTH:
        teeth = int(rng.integers(3, 9))
        peaks = np.linspace(1.0 / teeth, 1.0, teeth)
        ends = np.linspace(1.0 / teeth, 1.0, teeth)
        xs, ys = [0.0], [0.0]
        for end, peak in zip(ends, peaks, strict=True):
            xs += [float(end), float(end) + 0.02 / teeth]
            ys += [float(peak), float(peak * rng.uniform(0.55, 0.85))]
        ys[-1] = ys[-2] = 1.0
        return np.interp(x, xs, ys)
    if growth is Growth.LADDER:
        steps = int(rng.integers(4, 14))
        at = np.concatenate(([0.0], np.sort(rng.uniform(0.02, 1.0, steps)), [1.001]))
        levels = np.concatenate(([0.0], np.cumsum(rng.exponential(1.0, steps + 1))))
        levels /= levels[-1]
        sharp = np.interp(x, np.repeat(at, 2)[1:], np.repeat(levels, 2)[:-1])
        ladder: Floats = 0.6 * sharp + 0.4 * np.interp(x, at, levels)
        ladder[x >= 1.0] = 1.0
        return ladder
    even: Floats = x * x * (3.0 - 2.0 * x)
    return even


def _before(plan: ScuffPlan, t_s: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Give the factor on friction and the patch of a precursor; both fade into the rise after the onset."""
    factor, patch = np.ones_like(t_s), np.zeros_like(t_s)
    ahead_s = plan.onset_s - plan.precursor_s
    x = np.clip((t_s - plan.precursor_s) / max(ahead_s, 1e-9), 0.0, 1.0)
    if plan.precursor is Precursor.CREEP:
        crept = x ** rng.uniform(0.6, 2.5)
        rough = 1.0 + 0.15 * crept * wander(rng, t_s, 0.3)
        factor += np.maximum(0.6 * plan.precursor_size * crept * rough, 0.0)
        fade = np.exp(-np.maximum(t_s - plan.onset_s, 0.0) / 5.0)
        factor = 1.0 + (factor - 1.0) * fade
    elif plan.precursor is Precursor.ONCE_PER_TURN:
        after = np.exp(-np.maximum(t_s - plan.onset_s, 0.0) / (0.5 * plan.grows_s))
        patch = plan.precursor_size * (0.25 + 0.75 * x) * (x > 0.0) * after
    elif plan.precursor is Precursor.BURSTS:
        count = int(np.clip(rng.poisson(4.0 + ahead_s / rng.uniform(3.0, 20.0)), 2, 120))
        times_s = plan.precursor_s + ahead_s * np.sort(rng.random(count)) ** rng.uniform(0.4, 1.0)
        times_s[0] = plan.precursor_s
        for at_s in times_s:
            _add_burst(factor, t_s, float(at_s), rng, plan.precursor_size)
    elif plan.precursor is Precursor.MICRO_SCUFF:
        factor = _micro_scuff(plan, t_s, ahead_s, rng)
    return factor, patch


def _add_burst(factor: Floats, t_s: Floats, at_s: float, rng: np.random.Generator, size: float) -> None:
    """Add one burst: up within a tenth of its time, down along the rest."""
    lasts_s, high = rng.uniform(0.05, 1.2), size * rng.uniform(0.4, 1.2)
    i, j = np.searchsorted(t_s, [at_s, at_s + lasts_s])
    x = (t_s[i:j] - at_s) / lasts_s
    factor[i:j] += high * np.minimum(x / 0.1, 1.0) * (1.0 - x)


def _micro_scuff(plan: ScuffPlan, t_s: Floats, ahead_s: float, rng: np.random.Generator) -> Floats:
    """Give a small scuff that rises, holds a while, heals, and leaves a rougher track."""
    up_s = min(rng.uniform(0.1, 3.0), 0.2 * ahead_s)
    hold_s = min(rng.uniform(0.3, 6.0), 0.25 * ahead_s)
    heal_s = min(rng.uniform(0.5, 15.0), 0.35 * ahead_s)
    high = 1.0 + plan.precursor_size * rng.uniform(1.0, 2.2)
    left = 1.0 + rng.uniform(-0.1, 0.25) * (high - 1.0)
    corners_s = plan.precursor_s + np.array([0.0, up_s, up_s + hold_s, up_s + hold_s + heal_s])
    end_s = plan.onset_s + plan.grows_s
    healed = np.interp(t_s, [*corners_s, plan.onset_s, end_s], [1.0, high, high * 0.95, left, left, 1.0])
    for _ in range(int(rng.integers(0, 3)) if ahead_s > 20.0 else 0):  # it may come back once or twice, smaller
        again_s = rng.uniform(corners_s[-1], plan.onset_s - 0.1 * ahead_s)
        healed += rng.uniform(0.2, 0.6) * (high - 1.0) * _hump(t_s - again_s, up_s, heal_s)
    return healed


def _hump(tau_s: Floats, up_s: float, down_s: float) -> Floats:
    hump: Floats = np.interp(tau_s, [0.0, up_s, up_s + down_s], [0.0, 1.0, 0.0])
    return hump
