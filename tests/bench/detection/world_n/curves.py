"""Brush strokes: the plain formulas of time every channel is painted from.

Reads times (n,) float64 in s, gives values (n,) float64 without unit. Nothing here knows a rig.
"""

import numpy as np
from world_b.values import Floats

WANDER_MARGIN = 4
"""Knots drawn beyond the end, so that rounding never runs out of them."""


def ramp(x: Floats) -> Floats:
    """Give a straight line from 0 at x = 0 to 1 at x = 1, level outside."""
    return np.clip(x, 0.0, 1.0)


def smooth(x: Floats) -> Floats:
    """Give an S from 0 at x = 0 to 1 at x = 1 with level ends, level outside."""
    y = np.clip(x, 0.0, 1.0)
    return np.asarray(y * y * (3.0 - 2.0 * y))


def logistic(x: Floats, steepness: float = 8.0) -> Floats:
    """Give a logistic curve cut off and stretched to run from exactly 0 at x = 0 to 1 at x = 1."""
    foot = 1.0 / (1.0 + np.exp(steepness / 2.0))
    y = 1.0 / (1.0 + np.exp(-steepness * (np.clip(x, 0.0, 1.0) - 0.5)))
    return np.asarray((y - foot) / (1.0 - 2.0 * foot))


def decay(dt_s: Floats, tau_s: float) -> Floats:
    """Give 0 before dt = 0 and exp(-dt / tau) from there on."""
    return np.where(dt_s >= 0.0, np.exp(-np.maximum(dt_s, 0.0) / tau_s), 0.0)


def ringing(dt_s: Floats, frequency_hz: float, tau_s: float) -> Floats:
    """Give a damped sine that starts with 0 at dt = 0."""
    return np.asarray(decay(dt_s, tau_s) * np.sin(2.0 * np.pi * frequency_hz * np.maximum(dt_s, 0.0)))


def bump(dt_s: Floats, duration_s: float) -> Floats:
    """Give one half wave of a sine: 0 at dt = 0, 1 in the middle, 0 from `duration_s` on."""
    return np.asarray(np.sin(np.pi * ramp(dt_s / duration_s)))


def window(dt_s: Floats, duration_s: float, edge_s: float) -> Floats:
    """Give 1 between 0 and `duration_s`, with S-shaped edges of `edge_s` inside it."""
    return np.asarray(smooth(dt_s / edge_s) * smooth((duration_s - dt_s) / edge_s))


def wander(t_s: Floats, seed: int, spacing_s: float, length_s: float) -> Floats:
    """Give a random course: standard normal knots every `spacing_s`, straight lines between, the ends held.

    The knots do not depend on `t_s`, so the course is the same at any rate. Its variance is 2/3.
    """
    knots = np.random.default_rng(seed).standard_normal(int(length_s / spacing_s) + WANDER_MARGIN)
    return np.interp(t_s / spacing_s, np.arange(len(knots)), knots)


def walk(t_s: Floats, seed: int, spacing_s: float, length_s: float) -> Floats:
    """Give a random walk that is pulled back to 0: about standard normal, steps every `spacing_s`."""
    kicks = np.random.default_rng(seed).standard_normal(int(length_s / spacing_s) + WANDER_MARGIN)
    knots = np.convolve(kicks, np.exp(-np.arange(8) / 3.0))[: len(kicks)] * 0.55
    return np.interp(t_s / spacing_s, np.arange(len(knots)), knots)


def saw(turns: Floats) -> Floats:
    """Give stick-slip: a slow rise from -1 to 1 over 85 % of each unit, a fast fall over the rest."""
    x = turns - np.floor(turns)
    return np.where(x < 0.85, 2.0 * x / 0.85 - 1.0, 1.0 - 2.0 * (x - 0.85) / 0.15)


def triangle(turns: Floats) -> Floats:
    """Give an even zigzag between -1 and 1 of one period per unit."""
    x = turns - np.floor(turns)
    return np.asarray(1.0 - 4.0 * np.abs(x - 0.5))


def lagged(values: Floats, step_s: float, tau_s: float) -> Floats:
    """Give what an instrument with a first-order lag shows of evenly spaced values, starting settled.

    Args:
        values: (n,) float64, any unit.
        step_s: between two of them, > 0.
        tau_s: ≥ 0; 0 gives a copy.
    """
    if tau_s <= 0.0:
        return values.copy()
    share = 1.0 - float(np.exp(-step_s / tau_s))
    shown, out = float(values[0]), []
    for value in values.tolist():
        shown += share * (value - shown)
        out.append(shown)
    return np.array(out)
