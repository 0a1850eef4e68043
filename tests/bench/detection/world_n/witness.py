"""On which channels an event can be seen.

Reads a `Scene` and its charts, gives channel names. Works at a rate of its own, whatever the recording's.
"""

import numpy as np
from world_b.values import BATH_TEMPERATURE, CHANNELS_OF, PIN_TEMPERATURE, Fault, Floats, Klass

from world_n.facts import set_ranges
from world_n.logger import write_down
from world_n.picture import Charts, paint
from world_n.scene import Scene
from world_n.sensors import show

RATE_HZ = 100.0
WITHIN_S = 10.0
CLEARLY = 5.0
SMOOTHED = 50
STILL_MOVING = (Fault.DRIFT, Fault.SIGN_FLIP)
"""Faults that leave a channel following what happens."""


def shift_of(moved: Floats) -> float:
    """Give the largest half-second mean of a difference, as an amount ≥ 0."""
    return float(np.max(np.abs(np.convolve(moved, np.ones(SMOOTHED) / SMOOTHED, "valid"))))


def unrest_of(t_s: Floats, written: Floats, step: float) -> float:
    """Give a column's scatter about its straight line, at least a third of its resolution."""
    there = np.isfinite(written)
    if np.count_nonzero(there) < 3:
        return float("inf")
    x = t_s[there] - t_s[there].mean()
    y = written[there] - written[there].mean()
    return max(float(np.std(y - x * (x @ y) / (x @ x))), 0.3 * step)


def _moving(scene: Scene, charts: Charts, begin_s: float) -> tuple[str, ...]:
    end_s = min(begin_s + WITHIN_S, scene.duration_s)
    after_s = np.arange(begin_s - 1.0, end_s, 1.0 / RATE_HZ)
    before_s = np.arange(begin_s - WITHIN_S, begin_s, 1.0 / RATE_HZ)
    hurt = show(paint(after_s, scene, charts.whole), charts.whole, scene)
    well = show(paint(after_s, scene, charts.before, strike=False), charts.before, scene)
    calm = show(paint(before_s, scene, charts.healthy, strike=False, warn=False), charts.healthy, scene)
    written = write_down(before_s, calm, scene, set_ranges(scene), RATE_HZ)
    broken, seen = scene.broken, []
    for name in CHANNELS_OF[scene.rig.channel_set]:
        if broken is not None and broken.channel == name and broken.fault not in STILL_MOVING:
            continue
        unrest = unrest_of(before_s, written[name], scene.rig.readings[name].step)
        if shift_of(hurt[name] - well[name]) > CLEARLY * unrest:
            seen.append(name)
    return tuple(seen)


def seen_by(scene: Scene, charts: Charts, begin_s: float) -> tuple[str, ...]:
    """Give the channels that show scuffing, seizure or jam; after an overheat those that have a temperature limit.

    Args:
        scene: the plan.
        charts: of it.
        begin_s: onset or jam, s; not used without one.
    """
    if scene.event is None or scene.klass is Klass.SUPPLY_LOST:
        return ()
    if scene.klass is Klass.OVERHEAT:
        there = CHANNELS_OF[scene.rig.channel_set]
        return tuple(name for name in (PIN_TEMPERATURE, BATH_TEMPERATURE) if name in there)
    return _moving(scene, charts, begin_s)
