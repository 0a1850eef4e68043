"""What the technician knows of a rig: ranges, limits, loads.

Reads a `Scene` and its healthy chart, gives `RigFacts`.
"""

import math

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    RigFacts,
)

from world_n.contact import listed
from world_n.current import rails
from world_n.draws import between, chance, stream
from world_n.picture import Charts, paint
from world_n.scene import Scene

FULL_SCUFF = 1.6
"""Friction at which nothing is off the scale, as a multiple of the rig's yardstick."""


def _rounded_up(value: float) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return float(f"{math.ceil(value / step) * step:.3g}")


def current_top_a(scene: Scene) -> float:
    """Give the end of the current's range: beyond all that can come, or below the start current."""
    drive = scene.rig.drive
    full_a = drive.no_load_a * (1.0 + drive.gain)
    if rails(scene):
        return _rounded_up(FULL_SCUFF * full_a)
    return _rounded_up(1.3 * max(drive.lock_a, FULL_SCUFF * full_a))


def set_ranges(scene: Scene) -> dict[str, tuple[float, float]]:
    """Give the valid values of each channel the rig has, in its unit."""
    rig = scene.rig
    load_n, top_a = rig.contact.largest_load_n, current_top_a(scene)
    spans = {
        NORMAL_LOAD: (-_rounded_up(0.1 * load_n), _rounded_up(1.8 * load_n)),
        FRICTION_FORCE: (-_rounded_up(load_n), _rounded_up(load_n)),
        MOTOR_CURRENT: (-top_a if rig.signed_current else -0.05 * top_a, top_a),
        SOUND_LEVEL: (25.0, 130.0),
        PIN_TEMPERATURE: (-20.0, 300.0),
        BATH_TEMPERATURE: (-20.0, 200.0),
        RING_SPEED: (0.0, _rounded_up(1.4 * rig.drive.speed_rpm)),
    }
    return {name: spans[name] for name in CHANNELS_OF[rig.channel_set]}


def set_limits_of_channels(scene: Scene, charts: Charts, ranges: dict[str, tuple[float, float]]) -> dict[str, float]:
    """Give what the technician would set: temperatures always, force and current on some rigs."""
    rng = stream(scene.seed, scene.klass, "limits")
    t_s = charts.healthy.t_s
    healthy = paint(t_s, scene, charts.healthy, strike=False, warn=False)
    limits = {PIN_TEMPERATURE: charts.limits.pin_degc, BATH_TEMPERATURE: charts.limits.bath_degc}
    force_n = between(rng, 1.6, 2.5) * float(np.max(healthy.friction_n))
    if chance(rng, 0.5) and force_n < 0.9 * ranges.get(FRICTION_FORCE, (0.0, 0.0))[1]:
        limits[FRICTION_FORCE] = float(f"{force_n:.3g}")
    current_a = between(rng, 1.25, 1.6) * float(np.max(healthy.current_a))
    if chance(rng, 0.5) and current_a < 0.95 * ranges[MOTOR_CURRENT][1]:
        limits[MOTOR_CURRENT] = float(f"{current_a:.3g}")
    return {name: limit for name, limit in limits.items() if name in ranges}


def write_facts(scene: Scene, charts: Charts) -> RigFacts:
    """Give what is known of the rig."""
    rig, drive = scene.rig, scene.rig.drive
    ranges = set_ranges(scene)
    misread = between(stream(scene.seed, scene.klass, "no-load reading"), 0.96, 1.04)
    return RigFacts(
        ring_diameter_mm=rig.contact.diameter_mm,
        ring_speed_rpm=drive.speed_rpm,
        no_load_current_a=float(f"{drive.no_load_a * misread:.3g}"),
        ranges=ranges,
        limits=set_limits_of_channels(scene, charts, ranges),
        channel_set=rig.channel_set,
        drive=drive.kind,
        belt=drive.belt,
        tachometer=drive.tachometer,
        pulses_per_turn=drive.pulses_per_turn,
        tachometer_on_motor=drive.tachometer_on_motor,
        loads_n=tuple(step.load_n for step in listed(scene)),
    )
