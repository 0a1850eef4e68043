"""Sensors that go wrong for good.

Reads readings and a `SensorTrouble`, gives the readings with the fault.
"""

import numpy as np
from world_b.values import Fault, Floats

from .chance import Chance
from .plan import SensorTrouble
from .rig import Gauge


def broken(read: Floats, t_s: Floats, gauge: Gauge, trouble: SensorTrouble, chance: Chance) -> Floats:
    """Give the readings of a channel whose sensor goes wrong.

    Args:
        read: (n,) healthy.
        t_s: (n,) s, at even steps.
        gauge: of the channel.
        trouble: kind, time and strength.
        chance: stream.
    """
    first = int(np.searchsorted(t_s, trouble.t_s))
    if first >= len(read):
        return read
    wrong = read.copy()
    tail = wrong[first:]
    since_s = t_s[first:] - trouble.t_s
    low, high = gauge.rails
    if trouble.fault is Fault.STUCK:
        before = read[:first][np.isfinite(read[:first])]
        tail[:] = before[-1] if len(before) else gauge.zero
    elif trouble.fault is Fault.SATURATED:
        tail[:] = high if trouble.strength < 0.8 or gauge.low >= 0.0 else low
    elif trouble.fault is Fault.OPEN_THERMOCOUPLE:
        tail[:] = high if trouble.strength < 0.7 else np.nan
    elif trouble.fault is Fault.DROPOUT:
        tail[:] = np.nan if trouble.strength < 0.5 else _loose(tail, since_s, chance)
    elif trouble.fault is Fault.DRIFT:
        reach = (0.1 + 0.5 * trouble.strength) * (high - low)
        tail[:] = np.clip(tail + reach * since_s / trouble.lag_s, low, high)
    elif trouble.fault is Fault.SIGN_FLIP:
        tail[:] = np.clip(-tail, low, high)
    elif trouble.fault is Fault.TACHOMETER_LOST:
        tail[:] = 0.0
    return wrong


def _loose(read: Floats, since_s: Floats, chance: Chance) -> Floats:
    """Give a contact that is open most of the time and closes for moments."""
    rolls = chance.rng.random(int(since_s[-1] / 0.2) + 2)
    closed = rolls[(since_s / 0.2).astype(np.int64)] < 0.25
    closed[0] = False
    return np.where(closed, read, np.nan)
