"""The load on the contact.

Reads the hands and bumps of a plan, gives newtons at any time.
"""

import numpy as np
from world_b.values import Floats, Kind

from .chance import Chance
from .plan import Hand, Plan


def load_at(plan: Plan, t_s: Floats, chance: Chance) -> Floats:
    """Give the load with its bounces.

    Args:
        plan: with hands in order of time.
        t_s: (n,) ascending, s.
        chance: stream for the size of bumps.
    Returns:
        (n,) N, >= 0.
    """
    load_n = quiet_load_at(plan, t_s)
    before_n = 0.0
    for hand in plan.hands:
        change_n = hand.load_n - before_n
        if hand.ramp_s > 0.0 and hand.load_n > 0.0:
            _ring(load_n, t_s, hand, change_n)
        before_n = hand.load_n
    for at, bump in enumerate(each for each in plan.nuisances if each.kind is Kind.BUMP):
        draw = chance.child(at)
        share = draw.ratio(0.03, 0.35) * draw.one((-1.0, 1.0))
        here = (t_s >= bump.t_s) & (t_s < bump.t_s + 6.0 * bump.duration_s)
        since_s = t_s[here] - bump.t_s
        swing = np.sin(2.0 * np.pi * draw.ratio(1.5, 9.0) * since_s) * np.exp(-3.0 * since_s / bump.duration_s)
        load_n[here] *= 1.0 + share * swing
    return np.maximum(load_n, 0.0)


def quiet_load_at(plan: Plan, t_s: Floats) -> Floats:
    """Give the load without bounces and bumps, (n,) N."""
    knots_s, knots_n = [0.0], [0.0]
    for hand in plan.hands:
        knots_s += [hand.t_s, hand.t_s + max(hand.ramp_s, 1e-6)]
        knots_n += [knots_n[-1], hand.load_n]
    return np.interp(t_s, knots_s, knots_n) if plan.hands else np.zeros(len(t_s))


def _ring(load_n: Floats, t_s: Floats, hand: Hand, change_n: float) -> None:
    """Add the ringing of the lever after one change, in place."""
    landed_s = hand.t_s + hand.ramp_s
    first, last = np.searchsorted(t_s, (landed_s, landed_s + 7.0 * hand.bounce_s))
    since_s = t_s[first:last] - landed_s
    swing = np.sin(2.0 * np.pi * hand.bounce_hz * since_s) * np.exp(-since_s / hand.bounce_s)
    load_n[first:last] += change_n * hand.bounce_share * swing
