"""Curves in time: how a load comes on, how a burst looks, unrest with a memory. Pure functions of a rate and a draw."""

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats

from world_k.plan import DROPPED, LIFT, PUMPED, TWICE, WOUND


def smooth(count: int) -> Floats:
    """Give a smooth rise from 0 to 1 in `count` samples."""
    x = np.linspace(0.0, 1.0, max(count, 2))
    return np.asarray(x * x * (3.0 - 2.0 * x))


def unrest(rng: np.random.Generator, count: int, rate_hz: float, memory_s: float) -> Floats:
    """Give noise of unit deviation whose correlation falls to 1/e in `memory_s`."""
    keep = float(np.exp(-1.0 / (memory_s * rate_hz)))
    white = rng.standard_normal(count) * np.sqrt(1.0 - keep * keep)
    start = rng.standard_normal() * keep
    return np.asarray(lfilter([1.0], [1.0, -keep], white, zi=[start])[0])


def ringing(rng: np.random.Generator, rate_hz: float, height: float) -> Floats:
    """Give the lever's bounce: a decaying cosine of 2 to 9 Hz that begins at `height`."""
    memory_s = rng.uniform(0.15, 0.7)
    t_s = np.arange(int(6.0 * memory_s * rate_hz) + 2) / rate_hz
    return np.asarray(height * np.exp(-t_s / memory_s) * np.cos(2.0 * np.pi * rng.uniform(2.0, 9.0) * t_s))


def coming_on(rng: np.random.Generator, rate_hz: float, way: str) -> Floats:
    """Give the part of a load change that is done, from 0 to 1 (beyond it while a lever bounces)."""
    if way == DROPPED:
        return 1.0 + ringing(rng, rate_hz, rng.uniform(-0.75, 0.6))
    if way == TWICE:
        down, held = smooth(int(0.5 * rate_hz)), np.ones(int(rng.uniform(0.2, 0.8) * rate_hz) + 1)
        off = np.full(int(rng.uniform(0.3, 1.5) * rate_hz) + 1, rng.uniform(0.0, 0.4))
        back = 1.0 - (1.0 - off[0]) * smooth(int(0.3 * rate_hz))
        last = off[0] + (1.0 - off[0]) * smooth(int(rng.uniform(0.4, 1.2) * rate_hz))
        return np.concatenate([down, held, back, off, last])
    if way == PUMPED:
        strokes = int(rng.integers(4, 11))
        stroke_s = rng.uniform(0.8, 2.0)
        one = np.concatenate([smooth(int(0.35 * stroke_s * rate_hz)), np.ones(int(0.65 * stroke_s * rate_hz))])
        sag = 1.0 - 0.06 * np.linspace(0.0, 1.0, one.size)
        parts = [(k + one * sag if k else one) / strokes for k in range(strokes)]
        return np.concatenate([np.minimum(np.concatenate(parts), 1.0), smooth(int(0.5 * rate_hz)) * 0.0 + 1.0])
    if way == WOUND:
        wind_s = rng.uniform(5.0, 18.0)
        t_s = np.arange(int(wind_s * rate_hz)) / rate_hz
        hand_hz = rng.uniform(0.5, 1.5)
        wave = 0.9 * np.sin(2.0 * np.pi * hand_hz * t_s) / (2.0 * np.pi * hand_hz)
        return np.asarray(np.clip((t_s + wave) / wind_s, 0.0, 1.0))
    return smooth(int(rng.uniform(0.4, 1.0) * rate_hz if way == LIFT else rng.uniform(1.0, 3.5) * rate_hz))


def hump(count: int) -> Floats:
    """Give a rounded hump from 0 over 1 to 0."""
    return np.asarray(np.sin(np.linspace(0.0, np.pi, max(count, 3))) ** 2)


def burst(count: int) -> Floats:
    """Give a burst: up in an eighth of its time, then dying away."""
    x = np.linspace(0.0, 1.0, max(count, 3))
    return np.asarray(np.minimum(x * 8.0, 1.0) * np.exp(-2.5 * x) * 1.37)


def saw(rng: np.random.Generator, count: int, rate_hz: float, slip_hz: float) -> Floats:
    """Give stick-slip between -1 and 1: slow rise while it sticks, quick fall when it slips, never quite regular."""
    wander = 1.0 + 0.08 * unrest(rng, count, rate_hz, 1.0)
    phase = np.cumsum(slip_hz * np.clip(wander, 0.5, 1.5) / rate_hz) % 1.0
    return np.asarray(np.where(phase < 0.85, phase / 0.85, (1.0 - phase) / 0.15) * 2.0 - 1.0)


def add(into: Floats, at_s: float, rate_hz: float, piece: Floats) -> None:
    """Add a piece to an array in place, cut off at its ends."""
    first = round(at_s * rate_hz)
    skip = max(-first, 0)
    stop = min(first + piece.size, into.size)
    if first + skip < stop:
        into[first + skip : stop] += piece[skip : stop - first]
