"""What the measuring chains make of the true courses.

Reads true courses at even steps, gives readings at the rows: lag, noise, zero, hum, converter, rails.
"""

from math import exp, floor, pi

import numpy as np
from scipy.signal import lfilter
from world_b.values import FRICTION_FORCE, PIN_TEMPERATURE, Floats, Kind

from .chance import Chance
from .plan import Plan
from .rig import Gauge
from .unrest import remembered

_MAINS_HZ = 50.0
COARSE_K = 0.5


def lagged(course: Floats, step_s: float, lag_s: float) -> Floats:
    """Give a course behind a first-order lag, settled at its beginning."""
    if lag_s <= 0.0:
        return course
    keep = exp(-step_s / lag_s)
    behind, _ = lfilter([1.0 - keep], [1.0, -keep], course, zi=[keep * course[0]])
    return np.asarray(behind, dtype=np.float64)


def as_planned(gauge: Gauge, name: str, plan: Plan, chance: Chance) -> Gauge:
    """Give the gauge with the habits the plan speaks of."""
    kinds = {each.kind for each in plan.nuisances}
    hum, step = 0.0, gauge.step
    if name == FRICTION_FORCE and Kind.MAINS_HUM in kinds:
        hum = gauge.noise * chance.ratio(2.0, 12.0)
    if name == PIN_TEMPERATURE and Kind.COARSE_TEMPERATURE in kinds:
        step = COARSE_K
    return Gauge(gauge.low, gauge.high, gauge.noise, step, gauge.lag_s, gauge.zero, gauge.wander, gauge.refresh_s, hum)


def noisy(gauge: Gauge, t_s: Floats, course: Floats, chance: Chance) -> Floats:
    """Add zero, wander, hum and noise to a lagged course at its rows."""
    step_s = float(t_s[1] - t_s[0])
    read = course + gauge.zero + gauge.noise * chance.white(len(course))
    if gauge.wander > 0.0:
        read += gauge.wander * remembered(chance.child(1), len(course), step_s, 300.0)
    if gauge.hum > 0.0:
        off_hz = chance.between(-0.04, 0.04)
        read += gauge.hum * np.sin(2.0 * pi * (_MAINS_HZ + off_hz) * t_s + chance.between(0.0, 2.0 * pi))
    return read


def converted(gauge: Gauge, read: Floats, step_s: float) -> Floats:
    """Hold between conversions, stop at the rails, round to the steps of the converter."""
    rows = max(floor(gauge.refresh_s / step_s + 0.5), 1)
    held = np.repeat(read[::rows], rows)[: len(read)] if rows > 1 else read
    low, high = gauge.rails
    return np.clip(np.round(held / gauge.step) * gauge.step, low, high)


def with_spikes(gauge: Gauge, read: Floats, step_s: float, chance: Chance) -> Floats:
    """Add electrical spikes of one to three rows, a few in ten minutes."""
    spiked = read.copy()
    wide = chance.ratio(0.05, 0.6) * (gauge.high - gauge.low)
    for at_s in chance.moments(0.0, step_s * len(read), chance.ratio(2.0, 30.0)):
        first = int(at_s / step_s)
        spiked[first : first + chance.count(1, 3)] += wide * chance.between(0.3, 1.0) * chance.one((-1.0, 1.0))
    return spiked


def with_dropouts(read: Floats, step_s: float, chance: Chance) -> Floats:
    """Leave out single rows and short runs of rows."""
    gappy = read.copy()
    for at_s in chance.moments(0.0, step_s * len(read), chance.ratio(4.0, 60.0)):
        first = int(at_s / step_s)
        gappy[first : first + max(round(chance.ratio(0.01, 0.4) / step_s), 1)] = np.nan
    return gappy
