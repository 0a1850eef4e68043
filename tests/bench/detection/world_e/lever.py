"""The load at the contact before the ring shakes it: hands, weights and the lever that swings with them.

Reads dice, a rig and a plan, gives a course of force.
"""

from itertools import pairwise
from math import exp, pi, sqrt

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats, Kind

from .chance import STEP_S, Dice, between, happens, scaled
from .plan import LASTS_S, Load, Plan
from .rig import Rig

_GAP_S = 0.02


def hung_n(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    """Give the normal load that hands and weights bring, with the swing of the lever, (n,) N, never below 0."""
    times, loads = [-1000.0], [0.0]
    for load in plan.loads:
        for t, value in _hand(dice, load, loads[-1]):
            times.append(max(t, times[-1] + 0.001))
            loads.append(value)
    course = np.interp(t_s, times, loads)
    for before, load in pairwise(plan.loads):
        if load.manner is Kind.HARD_SET_DOWN:
            weight_n = max(load.load_n - before.load_n, 0.1 * load.load_n)
            course += _blow(t_s, load.t_s, between(dice, 0.05, 0.12), between(dice, 0.8, 2.5) * weight_n)
    for bump in plan.of(Kind.BUMP):
        push = between(dice, 0.12, 0.6) * (-1.0 if happens(dice, 0.5) else 1.0)
        course *= 1.0 + _blow(t_s, bump.t_s, bump.duration_s, push)
    return np.maximum(_swung(course, rig.lever_hz, rig.lever_damping), 0.0)


def _hand(dice: Dice, load: Load, before_n: float) -> list[tuple[float, float]]:
    """Give the corners of the force as a hand changes the load, (s, N)."""
    ramp_s, t_s, after_n = scaled(dice, 0.15, 1.5), load.t_s, load.load_n
    if load.manner is Kind.LIFTED:
        back_s = t_s + between(dice, 0.3, 0.8) * (LASTS_S[Kind.LIFTED] - 3.0)
        return [(t_s, before_n), (t_s + 0.3, 0.0), (back_s, 0.0), (back_s + ramp_s, after_n)]
    if load.manner is Kind.SET_DOWN_TWICE:
        again_s, down_n = t_s + between(dice, 0.7, 1.4), before_n + 0.1 * (after_n - before_n)
        first = [(t_s, before_n), (t_s + 0.25, before_n + 0.9 * (after_n - before_n)), (again_s - 0.3, after_n)]
        return [*first, (again_s, down_n), (again_s + 0.2, down_n), (again_s + 0.3 + ramp_s, after_n)]
    if load.manner is Kind.TAKEN_OFF_AGAIN:
        off_s, again_s = t_s + 1.6 + between(dice, 0.5, 5.0), t_s + between(dice, 10.0, 17.0)
        first = [(t_s, before_n), (t_s + ramp_s, after_n), (off_s, after_n), (off_s + 0.4, before_n)]
        return [*first, (again_s, before_n), (again_s + ramp_s, after_n)]
    if load.manner is Kind.HARD_SET_DOWN:
        ramp_s = 0.04
    return [(t_s, before_n), (t_s + ramp_s, after_n)]


def _blow(t_s: Floats, begin_s: float, lasts_s: float, height: float) -> Floats:
    """Give half a sine wave of the given height."""
    inside = np.clip((t_s - begin_s) / lasts_s, 0.0, 1.0)
    return height * np.sin(pi * inside)


def _swung(course_n: Floats, lever_hz: float, damping: float) -> Floats:
    """Give the force behind a lever that swings at its own frequency: an impulse-invariant second-order lag."""
    omega = 2.0 * pi * lever_hz
    decay, turn = exp(-damping * omega * STEP_S), omega * sqrt(1.0 - damping**2) * STEP_S
    first, second = 2.0 * decay * np.cos(turn), decay * decay
    gain = 1.0 - first + second
    rest = course_n[0]
    state = [rest * (1.0 - gain), rest * (1.0 - gain - first)]
    return np.asarray(lfilter([gain], [1.0, -first, second], course_n, zi=state)[0])
