"""What the technician knows of a rig and writes down, with limits clear of what the healthy run reaches.

Reads a `World` and its instruments, gives `RigFacts`.
"""

import math

import numpy as np
from numpy.random import Generator
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    DriveKind,
    RigFacts,
)

from .instruments import Instruments, fitted
from .promise import averaged
from .rig import Rig
from .world import World

_SECOND_S = 0.5
_START_S = 0.2


def healthy_most(world: World) -> dict[str, float]:
    """Give the greatest value of each channel on the healthy course, starts of the motor left out, in its unit."""
    still = world.still
    up_s = 3.0 + 1.5 * world.rig.motor.ramp_s
    up = averaged((world.still_acts.supply > 0.0).astype(np.float64), up_s) > 0.999
    return {
        NORMAL_LOAD: float(averaged(still.normal_n, _SECOND_S).max()),
        FRICTION_FORCE: float(averaged(still.friction_n, _SECOND_S).max()),
        MOTOR_CURRENT: float(averaged(still.current_a, _SECOND_S)[up].max()),
        SOUND_LEVEL: 100.0,
        PIN_TEMPERATURE: float(still.pin_degc.max()),
        BATH_TEMPERATURE: float(still.bath_degc.max()),
        RING_SPEED: float(still.ring_rad_s.max()) * 30.0 / math.pi,
    }


def write_facts(rng: Generator, world: World, instruments: Instruments) -> RigFacts:
    """Give what is written down."""
    rig, names = world.rig, fitted(instruments)
    most = healthy_most(world)
    start_a = float(averaged(world.still.current_a, _START_S).max())
    limits = {
        FRICTION_FORCE: rng.uniform(1.6, 2.6) * most[FRICTION_FORCE],
        MOTOR_CURRENT: max(rng.uniform(1.6, 2.4) * most[MOTOR_CURRENT], 1.25 * start_a),
        **world.limits_degc,
    }
    set_rpm = rig.set_rad_s * 30.0 / math.pi
    return RigFacts(
        ring_diameter_mm=2000.0 * rig.ring_radius_m,
        ring_speed_rpm=set_rpm * rng.uniform(0.99, 1.01),
        no_load_current_a=no_load_a(rig) * rng.normal(1.0, 0.02),
        ranges={name: (instruments.sensors[name].low, instruments.sensors[name].high) for name in names},
        limits={name: limit for name, limit in limits.items() if name in names},
        channel_set=instruments.channel_set,
        drive=rig.motor.kind,
        belt=math.isfinite(rig.motor.belt_nm),
        tachometer=instruments.tachometer,
        pulses_per_turn=instruments.pulses_per_turn,
        tachometer_on_motor=instruments.on_motor,
        loads_n=tuple(stage.load_n for stage in world.plan.stages),
    )


def no_load_a(rig: Rig) -> float:
    """Give the motor current that turns seals and bearings, pin lifted, warm, A."""
    motor = rig.motor
    if motor.kind is DriveKind.INDUCTION_INVERTER:
        return math.hypot(motor.idle_a, math.sqrt(motor.rated_a**2 - motor.idle_a**2) * motor.drag_nm / motor.rated_nm)
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        slip = motor.drag_nm * motor.breakdown_slip / (2.0 * motor.stall_nm)
        share = slip**2 * (1.0 + motor.breakdown_slip**2) / (slip**2 + motor.breakdown_slip**2)
        return math.sqrt(motor.idle_a**2 + (motor.locked_a**2 - motor.idle_a**2) * share)
    return motor.idle_a + (motor.rated_a - motor.idle_a) * motor.drag_nm / motor.rated_nm
