"""The unrest of healthy friction: its wander, particles that pass, stick-slip of unchanged mean.

Reads a rig, a plan and dice, gives by what the friction of the contact is multiplied, (n,).
"""

from math import pi

import numpy as np
from world_b.values import Floats, Kind

from .chance import STEP_S, Dice, even, lagged, spread, stretch, wander
from .plan import Plan
from .rig import Rig

_LIVELY_MEMORY_S = 40.0


def unrest_of(dice: Dice, rig: Rig, plan: Plan, count: int) -> Floats:
    """Give the unrest of a recording; its mean is 1 but for particles."""
    contact = rig.contact
    lively = np.exp(0.35 * wander(dice, count, _LIVELY_MEMORY_S))
    quick = contact.unrest_share * lively * wander(dice, count, contact.unrest_memory_s)
    slow = contact.slow_share * wander(dice, count, contact.slow_memory_s)
    course = np.clip(1.0 + quick + slow, 0.6, 1.5)
    for mishap in plan.of(Kind.DEBRIS):
        part = stretch(count, mishap.t_s, mishap.t_s + 6.0 * mishap.duration_s)
        course[part] *= _particle(dice, mishap.size, mishap.duration_s, part.stop - part.start)
    for mishap in plan.of(Kind.STICK_SLIP):
        part = stretch(count, mishap.t_s, mishap.t_s + mishap.duration_s)
        course[part] *= _stick_slip(dice, mishap.size, part.stop - part.start)
    return course


def _particle(dice: Dice, size: float, lasts_s: float, count: int) -> Floats:
    """Give a rise by 15 to 70 % that rattles and goes as the particle is ground, (count,)."""
    t_s = np.arange(count) * STEP_S
    shape = np.minimum(t_s / 0.03, 1.0) * np.exp(-np.maximum(t_s - 0.5 * lasts_s, 0.0) / (0.5 * lasts_s))
    rattle = np.clip(1.0 + 0.3 * wander(dice, count, 0.03), 0.0, 2.0)
    return np.asarray(1.0 + (0.15 + 0.55 * size) * shape * rattle, np.float64)


def _stick_slip(dice: Dice, size: float, count: int) -> Floats:
    """Give saw teeth of 2 to 16 Hz that swell, breathe and fade; their mean is 1, (count,)."""
    if count < 2:
        return np.ones(count)
    t_s = np.arange(count) * STEP_S
    pace_hz = spread(dice, 2.0, 16.0) * np.exp(0.08 * wander(dice, count, 1.5))
    sticks = even(dice, 0.6, 0.9)
    place = (np.cumsum(pace_hz) * STEP_S) % 1.0
    teeth = np.where(place < sticks, place / sticks, (1.0 - place) / (1.0 - sticks)) - 0.5
    breath = np.clip(1.0 + 0.3 * wander(dice, count, 2.0), 0.2, 1.8)
    lasts_s = float(t_s[-1]) + STEP_S
    window = np.sin(pi * np.clip(np.minimum(t_s, lasts_s - t_s) / min(2.0, 0.5 * lasts_s), 0.0, 1.0) / 2.0)
    return 1.0 + (0.3 + 0.9 * size) * lagged(np.asarray(teeth * breath * window, np.float64), 0.006)
