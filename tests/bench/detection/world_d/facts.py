"""What the technician knows of a rig.

Reads rig, plan and the healthy course, gives `RigFacts` and the limits he would set.
"""

from math import ceil, inf, pi
from typing import NamedTuple

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    Floats,
    RigFacts,
)

from .chance import Chance
from .motors import current_of, no_load_a
from .plan import Plan
from .rig import Rig
from .warmth import Slow


class Limits(NamedTuple):
    """Limits in the unit of each channel, and the temperatures by which overheat is judged (infinite: not judged)."""

    by_channel: dict[str, float]
    pin_degc: float
    bath_degc: float


def limits_of(rig: Rig, healthy: Slow, load_n: Floats, chance: Chance) -> Limits:
    """Give what the technician would set: well above healthy running, within the range of the sensor."""
    pin_degc = _above(healthy.pin_degc, chance)
    bath_degc = _above(healthy.bath_degc, chance)
    limits: dict[str, float] = {}
    if PIN_TEMPERATURE in rig.gauges:
        limits[PIN_TEMPERATURE] = pin_degc
    if BATH_TEMPERATURE in rig.gauges:
        limits[BATH_TEMPERATURE] = bath_degc
    static_n = rig.film.boundary_ratio * rig.film.rest_ratio * float(load_n.max())
    force_n = max(float((healthy.ratio * load_n).max()), static_n)
    _maybe(limits, rig, FRICTION_FORCE, force_n * chance.between(1.4, 2.4), chance.yes(0.5))
    _maybe(limits, rig, MOTOR_CURRENT, _current_at_a(rig, force_n) * chance.between(1.5, 2.5), chance.yes(0.6))
    by_pin, by_bath = PIN_TEMPERATURE in limits, BATH_TEMPERATURE in limits
    return Limits(limits, pin_degc if by_pin else inf, bath_degc if by_bath or not by_pin else inf)


def _above(course_degc: Floats, chance: Chance) -> float:
    """Give a limit 12 to 35 K above the warmest healthy moment, in steps of 5 degC."""
    return 5.0 * ceil((float(course_degc.max()) + chance.between(12.0, 30.0)) / 5.0)


def _maybe(limits: dict[str, float], rig: Rig, name: str, wanted: float, is_set: bool) -> None:
    """Set a limit of three digits, unless the sensor cannot reach it."""
    if is_set and name in rig.gauges and wanted < 0.95 * rig.gauges[name].high:
        limits[name] = float(f"{wanted:.3g}")


def _current_at_a(rig: Rig, force_n: float) -> float:
    """Give the current in steady running under a friction force, A."""
    drive = rig.drive
    torque_nm = min(force_n * rig.radius_m + drive.drag_nm, drive.top_torque_nm)
    slip = drive.pull_out_slip * torque_nm / (2.0 * drive.top_torque_nm)
    torque, speed = np.array([torque_nm]), np.array([drive.free_speed_rad_s * (1.0 - slip)])
    return float(current_of(drive, torque, speed, np.array([True]))[0])


def facts_of(rig: Rig, plan: Plan, limits: Limits, chance: Chance) -> RigFacts:
    """Give the facts; the no-load current is read by hand, a few per cent wrong."""
    read_wrong = 1.0 + min(max(0.025 * float(chance.white(1)[0]), -0.06), 0.06)
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.radius_m, 1),
        ring_speed_rpm=round(rig.set_speed_rad_s * 30.0 / pi, 1),
        no_load_current_a=float(f"{no_load_a(rig.drive, rig.set_speed_rad_s) * read_wrong:.3g}"),
        ranges={name: (gauge.low, gauge.high) for name, gauge in rig.gauges.items()},
        limits=limits.by_channel,
        channel_set=rig.channel_set,
        drive=rig.drive.kind,
        belt=rig.drive.belt_nm < inf,
        tachometer=rig.pulses.kind,
        pulses_per_turn=rig.pulses.per_turn,
        tachometer_on_motor=rig.pulses.on_motor,
        loads_n=plan.loads_n,
    )
