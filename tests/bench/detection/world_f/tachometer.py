"""How the speed is read: time between pulses, pulses over a gate, or a generator.

Reads a `World` and the moments at which a row is written, gives r/min. A period grows while no pulse comes; after its
time-out the counter says 0. A gate holds its last count until the next is complete.
"""

import numpy as np
from world_b.values import Floats, Tachometer

from .chance import Dice
from .world import World

_TIME_OUT_S = 1.5
_MARKS_SHARE = 0.01
"""By what the marks are unevenly spaced, of their distance."""


def speed_rpm(dice: Dice, world: World, shown_rpm: Floats, at_s: Floats) -> Floats:
    """Give the speed as read, (n,); `shown_rpm` is what a generator shows on the fine grid."""
    sensing = world.rig.sensing
    if sensing.pulses == 0:
        shown = np.interp(at_s, world.t_s, shown_rpm)
        ripple = 1.0 + 0.004 * np.sin(2.0 * np.pi * 2.0 * np.interp(at_s, world.t_s, _turns(world)))
        return np.asarray(shown * ripple + sensing.gauges["ring_speed_rpm"].noise * dice.standard_normal(len(at_s)))
    marks = _turns(world) * sensing.pulses
    if sensing.tachometer is Tachometer.GATE:
        return _gated(world, marks, at_s)
    return _timed(dice, world, marks, at_s)


def _turns(world: World) -> Floats:
    """Give the angle of the shaft with the tachometer, (n,) turns."""
    if not world.rig.sensing.on_motor:
        return world.turned.turns
    step_s = float(world.t_s[1] - world.t_s[0])
    return np.asarray(np.cumsum(world.turned.motor_rad_s) * step_s / (2.0 * np.pi), np.float64)


def _gated(world: World, marks: Floats, at_s: Floats) -> Floats:
    sensing = world.rig.sensing
    ends_s = np.floor(at_s / sensing.gate_s) * sensing.gate_s
    counted = np.floor(np.interp(ends_s, world.t_s, marks)) - np.floor(
        np.interp(ends_s - sensing.gate_s, world.t_s, marks)
    )
    first = ends_s < sensing.gate_s
    rpm = counted * 60.0 / (sensing.pulses * sensing.gate_s)
    begin_rpm = world.turned.ring_rad_s[0] * 60.0 / (2.0 * np.pi)
    return np.where(first, begin_rpm, rpm)


def _timed(dice: Dice, world: World, marks: Floats, at_s: Floats) -> Floats:
    count = int(marks[-1])
    begin_rpm = world.turned.ring_rad_s[0] * 60.0 / (2.0 * np.pi)
    if count < 3:
        return np.zeros(len(at_s))
    pulses = world.rig.sensing.pulses
    uneven = _MARKS_SHARE * dice.uniform(-1.0, 1.0, pulses)
    numbers = np.arange(1, count + 1)
    rising = marks + 1e-9 * np.arange(len(marks))
    times_s = np.interp(numbers + uneven[numbers % pulses], rising, world.t_s)
    last = np.searchsorted(times_s, at_s, side="right") - 1
    known = last >= 1
    place = np.maximum(last, 1)
    since_s = at_s - times_s[place]
    period_s = np.maximum(times_s[place] - times_s[place - 1], since_s)
    rpm = np.where(since_s > _TIME_OUT_S, 0.0, 60.0 / (np.maximum(period_s, 1e-6) * pulses))
    return np.where(known, rpm, begin_rpm)
