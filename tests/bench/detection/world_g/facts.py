"""What the technician knows and would write down about a rig. Reads a rig and the loads set, gives `RigFacts`."""

import math

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    DriveKind,
    RigFacts,
)

from .chance import Dice, between, chance
from .plan import Plan
from .readings import cells_of
from .rig import Motor, Rig
from .tachometer import RPM


def facts_of(dice: Dice, rig: Rig, plan: Plan) -> RigFacts:
    """Give the facts; a no-load current read by hand, limits with the usual margins."""
    sensing, shown = rig.sensing, CHANNELS_OF[rig.channel_set]
    cells = cells_of(sensing)
    limits = limits_of(dice, rig)
    read_a = no_load_a(rig.motor) * between(dice, 0.95, 1.05)
    loads_n = tuple(hang.load_n for hang in plan.hands.hangs if hang.load_n > 0.0)
    return RigFacts(
        ring_diameter_mm=round(2000.0 * rig.radius_m, 2),
        ring_speed_rpm=round(rig.set_rad_s * RPM, 1),
        no_load_current_a=float(f"{read_a:.3g}"),
        ranges={name: (cells[name].low, cells[name].high) for name in shown},
        limits={name: limit for name, limit in limits.items() if name in shown},
        channel_set=rig.channel_set,
        drive=rig.motor.kind,
        belt=math.isfinite(rig.motor.belt_torque_nm),
        tachometer=sensing.tachometer,
        pulses_per_turn=sensing.pulses_per_turn,
        tachometer_on_motor=sensing.on_motor,
        loads_n=loads_n,
    )


def no_load_a(motor: Motor) -> float:
    """Give the current that warm bearings ask for with the pin lifted, A."""
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        slip = motor.drag_torque_nm / (1.75 * motor.most_torque_nm)
        return math.hypot(motor.magnetising_a, 2.0 * motor.most_torque_nm / motor.nm_per_a * slip)
    return math.hypot(motor.magnetising_a, motor.drag_torque_nm / motor.nm_per_a)


def limits_of(dice: Dice, rig: Rig) -> dict[str, float]:
    """Give the limits of a sensible technician, of every channel that gets one, in its unit."""
    warmth = rig.warmth
    rises_k = rig.usual_power_w / warmth.lost_w_k
    bath_degc = warmth.room_degc + 1.25 * rises_k
    if warmth.heater_w > 0.0:
        bath_degc = max(bath_degc, warmth.set_degc + warmth.heater_band_k)
    pin_degc = bath_degc + 1.3 * rig.usual_power_w * warmth.pin_share * warmth.pin_k_w
    limits = {
        PIN_TEMPERATURE: float(round(pin_degc + between(dice, 12.0, 32.0))),
        BATH_TEMPERATURE: float(round(bath_degc + between(dice, 8.0, 22.0))),
    }
    usual_n = (rig.usual_torque_nm - rig.motor.drag_torque_nm) / rig.radius_m
    if chance(dice, 0.6):
        limits[FRICTION_FORCE] = float(f"{max(0.35 * rig.most_load_n, 3.2 * usual_n):.2g}")
    most_a = math.hypot(rig.motor.magnetising_a, rig.motor.most_torque_nm / rig.motor.nm_per_a)
    usual_a = math.hypot(rig.motor.magnetising_a, rig.usual_torque_nm / rig.motor.nm_per_a)
    if chance(dice, 0.4) and rig.motor.kind is DriveKind.INDUCTION_INVERTER and 2.0 * usual_a < most_a:
        limits[MOTOR_CURRENT] = float(f"{max(1.9 * usual_a, 0.85 * most_a):.2g}")
    return limits
