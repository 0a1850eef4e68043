"""What a careful technician writes down of a rig.

Reads a rig and the loads that were set, gives `RigFacts`.
"""

from math import ceil, pi

from world_b import values as v
from world_b.values import DriveKind, RigFacts

from .chance import Dice, between, happens
from .film import usual_mu
from .motors import pull_of, rated_a, start_a
from .rig import Rig


def ranges_of(rig: Rig) -> dict[str, tuple[float, float]]:
    """Give the valid range of all seven channels, in its unit."""
    sensing, rpm = rig.sensing, rig.motor.set_speed_rad_s * 30.0 / pi
    return {
        v.NORMAL_LOAD: (-0.1 * sensing.load_cell_n, sensing.load_cell_n),
        v.FRICTION_FORCE: (-0.2 * sensing.cell_n, sensing.cell_n),
        v.MOTOR_CURRENT: (-0.02 * sensing.current_full_a, sensing.current_full_a),
        v.SOUND_LEVEL: (30.0, 130.0),
        v.PIN_TEMPERATURE: (-20.0, 350.0),
        v.BATH_TEMPERATURE: (-20.0, 200.0),
        v.RING_SPEED: (0.0, _up(1.3 * rpm, 50.0)),
    }


def warmest_degc(rig: Rig) -> tuple[float, float]:
    """Give the temperatures of bath and pin that the technician expects of a healthy rig at the most load."""
    warmth = rig.warmth
    power_w = (
        1.15
        * usual_mu(rig.contact, max(warmth.held_degc, 45.0))
        * rig.most_load_n
        * rig.radius_m
        * rig.motor.set_speed_rad_s
    )
    bath = max(warmth.ambient_degc + power_w / warmth.bath_w_k, warmth.held_degc)
    return bath, bath + power_w * warmth.pin_share / warmth.pin_w_k


def limits_of(dice: Dice, rig: Rig) -> dict[str, float]:
    """Give the limits the technician would set on temperatures and current, whether the channel is fitted or not."""
    bath, pin = warmest_degc(rig)
    limits = {
        v.BATH_TEMPERATURE: _up(bath + between(dice, 6.0, 18.0), 5.0),
        v.PIN_TEMPERATURE: _up(pin + between(dice, 10.0, 30.0), 5.0),
    }
    known = start_a(rig.motor) < rig.sensing.current_full_a
    soft = rig.motor.kind in (DriveKind.BRUSHED_LIMITED, DriveKind.INDUCTION_INVERTER)
    if happens(dice, 0.6 if soft else 0.3) and known:
        low = 1.12 * start_a(rig.motor)
        limits[v.MOTOR_CURRENT] = float(f"{between(dice, low, max(low, 1.6 * rated_a(rig.motor))):.2g}") + 0.05 * low
    if happens(dice, 0.12):
        del limits[v.BATH_TEMPERATURE]
    return limits


def facts_of(dice: Dice, rig: Rig, limits: dict[str, float], loads_n: tuple[float, ...]) -> RigFacts:
    """Give what is written down; limits and ranges of fitted channels only."""
    sensing, motor = rig.sensing, rig.motor
    fitted = v.CHANNELS_OF[sensing.channel_set]
    return RigFacts(
    ring_diameter_mm=float(f"{2000.0 * rig.radius_m:.3g}"),
    ring_speed_rpm=float(f"{motor.set_speed_rad_s * 30.0 / pi:.3g}"),
    no_load_current_a=float(f"{_idle_a(rig) * between(dice, 0.96, 1.04):.2g}"),
    ranges={channel: bounds for channel, bounds in ranges_of(rig).items() if channel in fitted},
    limits={channel: value for channel, value in limits.items() if channel in fitted},
    channel_set=sensing.channel_set, drive=motor.kind, belt=motor.belt_torque_nm < float("inf"),
    tachometer=sensing.tachometer, pulses_per_turn=sensing.pulses_per_turn,
    tachometer_on_motor=sensing.tachometer_on_motor, loads_n=loads_n,
)  # fmt: skip


def _idle_a(rig: Rig) -> float:
    """Give the current with the pin lifted and the bearings warm, A."""
    motor = rig.motor
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        return pull_of(motor)(True, 1.0, motor.set_speed_rad_s)[1]
    return float((motor.idle_a**2 + (motor.amps_per_nm * motor.drag_torque_nm) ** 2) ** 0.5)


def _up(value: float, step: float) -> float:
    return ceil(value / step) * step
