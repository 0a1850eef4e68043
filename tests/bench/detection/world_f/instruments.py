"""What good instruments would show of a world: time constants, zeros and gains, but no noise.

Reads a `World`, gives courses by channel on its fine grid. Two worlds that differ only in an event are compared by
these.
"""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
)

from .chance import lagged
from .sensing_draws import RPM
from .world import World


def shown_by(world: World, lasting_zero_a: float = 0.0) -> dict[str, Floats]:
    """Give all seven channels, (n,) each; `lasting_zero_a` is what the current sensor kept from before the stretch."""
    sensing, turned = world.rig.sensing, world.turned
    hung = world.courses.hung_n
    if len(hung) != len(turned.load_n):
        begin = round(float(world.t_s[0]) / float(world.t_s[1] - world.t_s[0]))
        hung = hung[begin : begin + len(turned.load_n)]
    load = turned.load_n if sensing.load_at_pin else hung
    speed = turned.motor_rad_s if sensing.on_motor else turned.ring_rad_s
    raw = {
        NORMAL_LOAD: load + sensing.friction_in_load * turned.friction_n,
        FRICTION_FORCE: turned.friction_n,
        MOTOR_CURRENT: turned.current_a,
        PIN_TEMPERATURE: world.pin_degc,
        BATH_TEMPERATURE: world.bath_degc,
        RING_SPEED: speed * RPM,
    }
    courses = {name: _through(world, name, course) for name, course in raw.items()}
    courses[MOTOR_CURRENT] = courses[MOTOR_CURRENT] + np.maximum(_kept_a(world, turned.current_a), lasting_zero_a)
    power = lagged(world.ambient_power + world.machine_power, world.rig.shop.meter_s)
    courses[SOUND_LEVEL] = 10.0 * np.log10(power) + sensing.gauges[SOUND_LEVEL].zero
    return courses


def lasting_zero_a(world: World, until_s: float) -> float:
    """Give the zero that the current sensor keeps from its greatest current up to a moment, A."""
    return float(_kept_a(world, world.turned.current_a[world.t_s <= until_s])[-1])


def _through(world: World, name: str, course: Floats) -> Floats:
    gauge = world.rig.sensing.gauges[name]
    drift = gauge.drift_per_h * world.t_s / 3600.0
    return np.asarray(gauge.gain * lagged(course, gauge.lag_s) + gauge.zero + drift, np.float64)


def _kept_a(world: World, current_a: Floats) -> Floats:
    return np.asarray(world.rig.sensing.remanence_share * np.maximum.accumulate(current_a), np.float64)
