"""What the lever asks the contact to bear.

Reads a rig, a plan and dice, gives the hung load at the contact, N, before friction pulls at the lever and run-out
lifts it. A change comes down in the hands' own time, swings on the contact, and part of it sticks in the pivot.
"""

import numpy as np
from world_b.values import Floats, Kind

from .chance import Dice, smooth_step
from .plan import Hanging, Plan, Way
from .rig import Lever, Rig

_TWICE_S = 1.6
"""From the first touch of a weight that is set down twice to its second."""


def hung_n(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Floats:
    """Give the hung load, (n,) N."""
    lever = rig.lever
    total = np.zeros(len(t_s))
    now_n = 0.0
    for load in plan.loads:
        change_n = load.load_n - now_n
        now_n = load.load_n
        if load.t_s < 0.0:
            total += change_n
            continue
        begin = int(np.searchsorted(t_s, load.t_s))
        total[begin:] += change_n * _rise(dice, lever, load, t_s[begin:] - load.t_s)
    for bump in plan.of(Kind.BUMP):
        begin = int(np.searchsorted(t_s, bump.t_s))
        swing = _swing(lever, t_s[begin:] - bump.t_s, 1.0)
        total[begin:] += total[begin:] * (0.05 + 0.25 * bump.size) * swing
    return np.maximum(total, 0.0)


def _rise(dice: Dice, lever: Lever, load: Hanging, since_s: Floats) -> Floats:
    """Give the share of a change that has come, (n,)."""
    hard = load.way is Way.HARD
    lasts_s = 0.06 if hard else lever.set_down_s * float(dice.uniform(0.6, 1.6))
    share = smooth_step(since_s, 0.0, lasts_s)
    if load.way is Way.TWICE:
        share = np.where(since_s < _TWICE_S, 0.7 * share * (1.0 - smooth_step(since_s, 0.9, 0.4)), 0.0) + smooth_step(
            since_s, _TWICE_S, lasts_s
        )
    landed_s = since_s - lasts_s - (_TWICE_S if load.way is Way.TWICE else 0.0)
    height = float(dice.uniform(0.4, 0.9)) if hard else 0.12 / (1.0 + 4.0 * lasts_s) * float(dice.uniform(0.2, 1.0))
    held = lever.pivot_share * np.exp(-np.maximum(since_s, 0.0) / lever.pivot_s)
    return np.asarray(share * (1.0 - held) + height * _swing(lever, landed_s, 1.0), np.float64)


def _swing(lever: Lever, since_s: Floats, height: float) -> Floats:
    """Give a swing that dies away, (n,)."""
    after = np.maximum(since_s, 0.0)
    dying = np.where(since_s >= 0.0, np.exp(-np.minimum(after / lever.swing_decay_s, 50.0)), 0.0)
    return np.asarray(height * dying * np.sin(2.0 * np.pi * lever.swing_hz * after), np.float64)
