"""What the logger writes: noise, hum, ripple, converters and rails.

Reads a `World`, dice for each channel and the moments of the rows, gives all seven channels as read.
"""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    Floats,
    Kind,
)

from .chance import Dice, wander
from .plan import Plan
from .rig import Rig
from .sensing import Gauge
from .tachometer import speed_rpm
from .world import World

TEMPERATURES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_SLOW_MEMORY_S = 6.0
_SLOW_NOISE = 0.4
"""Of the noise of a reading, that part which wanders."""
_SHAKEN = 1.5
"""By what a neighbour machine that shakes the floor multiplies the noise of a cell."""


def read(dice: dict[str, Dice], world: World, shown: dict[str, Floats], at_s: Floats) -> dict[str, Floats]:
    """Give all channels as read, (n,) each, before spikes, holes and faults."""
    rig = world.rig
    rows: dict[str, Floats] = {}
    for name, course in shown.items():
        gauge = rig.sensing.gauges[name]
        if name == RING_SPEED:
            clean = speed_rpm(dice[name], world, course, at_s)
        else:
            clean = np.interp(at_s, world.t_s, course)
            clean = clean + _noise(dice[name], world.plan, gauge, name, at_s)
        if name == FRICTION_FORCE:
            clean = clean + rig.sensing.hum * np.sin(2.0 * np.pi * 49.98 * at_s + 1.0)
        if name == MOTOR_CURRENT:
            clean = clean * (1.0 + _ripple(rig, gauge, at_s))
        step = max(gauge.step, rig.sensing.coarse_degc) if name in TEMPERATURES else gauge.step
        rows[name] = np.clip(np.round(clean / step) * step, gauge.low, gauge.high)
    return rows


def _noise(dice: Dice, plan: Plan, gauge: Gauge, name: str, at_s: Floats) -> Floats:
    step_s = float(at_s[1] - at_s[0])
    quick = dice.standard_normal(len(at_s))
    slow = _SLOW_NOISE * wander(dice, len(at_s), _SLOW_MEMORY_S, step_s)
    noise = gauge.noise * (quick + slow)
    if name in (NORMAL_LOAD, FRICTION_FORCE):
        for machine in plan.of(Kind.NEIGHBOUR):
            part = (at_s >= machine.t_s) & (at_s < machine.t_s + machine.duration_s)
            noise[part] *= 1.0 + (_SHAKEN - 1.0) * machine.size
    return np.asarray(noise, np.float64)


def _ripple(rig: Rig, gauge: Gauge, at_s: Floats) -> Floats:
    """Give the ripple of commutator or mains that comes through the sensor's time constant, as a share, (n,)."""
    sensing = rig.sensing
    pace = 2.0 * np.pi * sensing.ripple_hz
    left = sensing.ripple_share / np.sqrt(1.0 + (pace * gauge.lag_s) ** 2)
    return np.asarray(left * np.sin(pace * at_s), np.float64)
