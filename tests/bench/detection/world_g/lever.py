"""The load that hangs on the contact: hands, swings, the pivot's friction, bumps. Reads a plan, gives N."""

import numpy as np
from world_b.values import Floats, Kind

from .chance import Dice, between, eased
from .plan import Plan
from .rig import Lever


def hung_n(dice: Dice, lever: Lever, plan: Plan, t_s: Floats) -> Floats:
    """Give (n,) float64, N: the load on a ring without run-out, never below zero.

    After a step the pivot's friction withholds a part of it, which vibration shakes loose.
    """
    hangs = plan.hands.hangs
    out, was_n = np.zeros(len(t_s)), 0.0
    swings = 2.0 * np.pi * lever.swings_hz * between(dice, 0.95, 1.05)
    for hang in hangs:
        begin = int(np.searchsorted(t_s, hang.t_s))
        later_s = t_s[begin:]
        step_n = hang.load_n - was_n
        since_s = np.clip(later_s - hang.t_s - 0.6 * hang.takes_s, 0.0, None)
        held = lever.stick_share * np.exp(-since_s / lever.stick_goes_s) if hang.load_n > 0.0 else 0.0
        swing = hang.kick_share * np.exp(-since_s / lever.swing_dies_s) * np.sin(swings * since_s)
        out[begin:] += step_n * (eased(later_s, hang.t_s, hang.takes_s) * (1.0 - held) + swing)
        was_n = hang.load_n
    for bump in plan.nuisances:
        if bump.kind is Kind.BUMP:
            out *= 1.0 + _bump(dice, lever, bump.t_s, bump.duration_s, t_s)
    return np.asarray(np.maximum(out, 0.0), dtype=np.float64)


def _bump(dice: Dice, lever: Lever, at_s: float, lasts_s: float, t_s: Floats) -> Floats:
    height = between(dice, 0.1, 0.45) * (1.0 if dice.random() < 0.5 else -1.0)
    since_s = np.clip(t_s - at_s, 0.0, None)
    push = np.where(since_s < lasts_s, np.sin(np.pi * since_s / lasts_s), 0.0)
    after_s = np.clip(since_s - lasts_s, 0.0, None)
    ring = 0.5 * np.exp(-after_s / lever.swing_dies_s) * np.sin(2.0 * np.pi * lever.swings_hz * after_s)
    return np.asarray(height * (push + np.where(after_s > 0.0, ring, 0.0)), dtype=np.float64)
