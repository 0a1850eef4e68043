"""Stick-slip: a block on a spring, dragged by the ring, whose friction falls with speed.

Reads a rig, gives the spring's force over a spell. The equation is solved once for a dozen cycles on a fine grid and
the limit cycle is then played with wandering pace and strength.
"""

from functools import lru_cache
from math import exp, pi

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats

from .plan import Spell
from .rig import Rig, SlipFacts

_PHASES = 256
_STEP = 0.02
_LONGEST_CYCLES = 14


@lru_cache(maxsize=8)
def limit_cycle(slip: SlipFacts) -> tuple[Floats, float]:
    """Solve the block and give one cycle of the spring's force and its frequency.

    With X = spring force over kinetic friction and time in 1/omega of the holder, X'' + 2 zeta X' + X = friction, which
    is 1 + excess exp(-|v|/fading) at relative speed v = travel - X', and whatever holds the block while v = 0
    (derived here from Newton's law).

    Returns:
        (256,) force over its mean, less 1, one cycle from one slip to the next; frequency, Hz. The travel is halved
        until the block swings by a twentieth, so that it always does.
    """
    travel = slip.travel
    while True:
        forces, slips = _solve(slip, travel)
        if len(slips) > 4:
            cycle = np.asarray(forces[slips[-2] : slips[-1]])
            if np.ptp(cycle) > 0.05:
                break
        travel *= 0.5
    even = np.interp(np.linspace(0.0, len(cycle) - 1.0, _PHASES), np.arange(len(cycle)), cycle)
    period = len(cycle) * _STEP / (2.0 * pi * slip.frequency_hz)
    return even / float(even.mean()) - 1.0, 1.0 / period


def _solve(slip: SlipFacts, travel: float) -> tuple[list[float], list[int]]:
    """Step the block from rest; give the force at each step and the steps at which a slip begins."""
    force = 0.0
    speed = travel
    fading = slip.fading_share * travel
    static = 1.0 + slip.static_excess
    forces, slips = [], []
    stuck = True
    longest = int(_LONGEST_CYCLES * (2.0 * pi + 2.0 * slip.static_excess / travel) / _STEP)
    for step in range(longest):
        if stuck:
            speed = travel
            if force + 2.0 * slip.damping_ratio * travel > static:
                stuck = False
                slips.append(step)
        if not stuck:
            relative = travel - speed
            sign = 1.0 if relative >= 0.0 else -1.0
            friction = sign * (1.0 + slip.static_excess * exp(-abs(relative) / fading))
            speed += _STEP * (friction - force - 2.0 * slip.damping_ratio * speed)
            if (travel - speed) * sign <= 0.0 and abs(force) < static:
                stuck = True
                speed = travel
        force += _STEP * speed
        forces.append(force)
    return forces, slips


def slip_share(draw: np.random.Generator, rig: Rig, spell: Spell, t_s: Floats) -> Floats:
    """Give the swing of friction over a spell.

    Args:
        draw: of the rows.
        rig, spell: see there.
        t_s: (n,) even, s.
    Returns:
        (n,) share of friction, mean about 0, 0 outside the spell.
    """
    cycle, cycle_hz = limit_cycle(rig.slip)
    first, last = np.searchsorted(t_s, [spell.begin_s, spell.begin_s + spell.duration_s])
    inside_s = t_s[first:last] - spell.begin_s
    out = np.zeros(len(t_s))
    if len(inside_s) < 2:
        return out
    pace = np.exp(0.12 * _wander(draw, inside_s, 4.0 / cycle_hz))
    turned = np.cumsum(pace) * (inside_s[1] - inside_s[0]) * cycle_hz
    strength = spell.strength * np.clip(1.0 + 0.2 * _wander(draw, inside_s, 2.0 / cycle_hz), 0.2, 1.6)
    swell = np.clip(np.minimum(inside_s, spell.duration_s - inside_s) / 0.5, 0.0, 1.0)
    place = (turned % 1.0) * (_PHASES - 1)
    out[first:last] = np.interp(place, np.arange(_PHASES), cycle) * strength * swell
    return np.asarray(np.maximum(out, -0.95))


def _wander(draw: np.random.Generator, inside_s: Floats, lag_s: float) -> Floats:
    step_s = lag_s / 4.0
    count = min(int(inside_s[-1] / step_s) + 2, 200_000)
    keep = exp(-0.25)
    draws = draw.standard_normal(count) * (1.0 - keep * keep) ** 0.5
    return np.asarray(np.interp(inside_s, step_s * np.arange(count), lfilter([1.0], [1.0, -keep], draws)))
