"""Torque and current of the four drives.

Reads a `Motor`, gives what it pulls and draws at a speed. Brushed motors fall straight from the stall torque to the
idling speed; induction motors follow Kloss (torque by slip over breakdown slip) with a rotor current that goes with
1 / sqrt(1 + (breakdown slip / slip)^2) beside a constant magnetising one; controllers and inverters ramp and limit.
"""

from collections.abc import Callable
from math import sqrt

from world_b.values import DriveKind

from .chance import STEP_S
from .rig import Motor

Pull = Callable[[float, float], tuple[float, float]]
"""From the motor's speed, rad/s, and its supply, 0 off to 1, to torque, N m, and current, A."""

_INVERTER_SLIP = 0.25
"""Breakdown slip of a motor on an inverter, of the set speed."""


def running_a(motor: Motor, friction_nm: float) -> float:
    """Give the current at a steady speed that works against `friction_nm` and the drag, A."""
    torque_nm = friction_nm + motor.drag_nm
    if motor.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
        return motor.idle_a + motor.amps_per_nm * torque_nm
    return sqrt(motor.idle_a**2 + (motor.amps_per_nm * torque_nm) ** 2)


def start_a(motor: Motor) -> float:
    """Give the greatest current of a start, A."""
    if motor.kind is DriveKind.BRUSHED_BARE:
        return motor.idle_a + motor.amps_per_nm * motor.stall_nm
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        rotor_a = _rotor_a(motor)
        return sqrt(motor.idle_a**2 + rotor_a**2 / (1.0 + motor.break_slip**2))
    if motor.kind is DriveKind.BRUSHED_LIMITED:
        return motor.idle_a + motor.amps_per_nm * motor.limit_nm
    return sqrt(motor.idle_a**2 + (motor.amps_per_nm * motor.limit_nm) ** 2) * 1.1


def holds_nm(motor: Motor) -> float:
    """Give the most torque that this drive can bring to the ring, N m."""
    most_nm = {
        DriveKind.BRUSHED_LIMITED: min(motor.limit_nm, 1.2 * motor.stall_nm),
        DriveKind.INDUCTION_INVERTER: min(1.15 * motor.limit_nm, motor.stall_nm),
    }.get(motor.kind, motor.stall_nm)
    return min(most_nm, motor.belt_nm)


def pull_of(motor: Motor, running: bool) -> Pull:
    """Give the drive; `running` means that it has come up before the recording begins."""
    if motor.kind is DriveKind.BRUSHED_BARE:
        return _bare(motor)
    if motor.kind is DriveKind.BRUSHED_LIMITED:
        return _limited(motor, running)
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        return _direct(motor)
    return _inverter(motor, running)


def _rotor_a(motor: Motor) -> float:
    """Give the greatest rotor current; at small slip the current goes with the torque, as `amps_per_nm` says."""
    return motor.amps_per_nm * 2.0 * motor.stall_nm


def _bare(motor: Motor) -> Pull:
    idle_rad_s = motor.set_rad_s / (1.0 - motor.drag_nm / motor.stall_nm)

    def pull(speed_rad_s: float, supply: float) -> tuple[float, float]:
        if supply <= 0.0:
            return 0.0, 0.0
        torque_nm = motor.stall_nm * (supply - speed_rad_s / idle_rad_s)
        if torque_nm < 0.0:
            return 0.3 * torque_nm, motor.idle_a * supply
        return torque_nm, motor.idle_a * supply + motor.amps_per_nm * torque_nm

    return pull


def _limited(motor: Motor, running: bool) -> Pull:
    inertia = motor.motor_kgm2 + motor.ring_kgm2
    firm = 8.0 * inertia / 0.5
    aim_rad_s, held_nm = (motor.set_rad_s, motor.drag_nm) if running else (0.0, 0.0)

    def pull(speed_rad_s: float, supply: float) -> tuple[float, float]:
        nonlocal aim_rad_s, held_nm
        if supply <= 0.0:
            aim_rad_s, held_nm = min(aim_rad_s, speed_rad_s), 0.0
            return 0.0, 0.0
        aim_rad_s = min(aim_rad_s + motor.set_rad_s / motor.ramp_s * STEP_S, motor.set_rad_s)
        behind = aim_rad_s - speed_rad_s
        most_nm = min(motor.limit_nm, motor.stall_nm * max(1.2 * supply - speed_rad_s / motor.set_rad_s, 0.0))
        wanted_nm = held_nm + firm * behind
        torque_nm = min(max(wanted_nm, 0.0), most_nm)
        if torque_nm == wanted_nm:
            held_nm += firm * 4.0 * behind * STEP_S
        return torque_nm, motor.idle_a + motor.amps_per_nm * torque_nm

    return pull


def _direct(motor: Motor) -> Pull:
    low_slip = motor.break_slip * motor.drag_nm / (2.0 * motor.stall_nm)
    synchronous_rad_s = motor.set_rad_s / (1.0 - low_slip)
    rotor_a = _rotor_a(motor)

    def pull(speed_rad_s: float, supply: float) -> tuple[float, float]:
        if supply <= 0.0:
            return 0.0, 0.0
        ratio = (1.0 - speed_rad_s / synchronous_rad_s) / motor.break_slip
        torque_nm = 2.0 * motor.stall_nm * supply**2 * ratio / (1.0 + ratio * ratio)
        rotor = rotor_a * ratio / sqrt(1.0 + ratio * ratio)
        return torque_nm, supply * sqrt(motor.idle_a**2 + rotor**2)

    return pull


def _inverter(motor: Motor, running: bool) -> Pull:
    slip_rad_s = _INVERTER_SLIP * motor.set_rad_s
    low_rad_s = slip_rad_s * motor.drag_nm / (2.0 * motor.stall_nm)
    top_rad_s = motor.set_rad_s + low_rad_s
    field_rad_s = top_rad_s if running else 0.0

    def pull(speed_rad_s: float, supply: float) -> tuple[float, float]:
        nonlocal field_rad_s
        if supply <= 0.0:
            field_rad_s = speed_rad_s
            return 0.0, 0.0
        ratio = (field_rad_s - speed_rad_s) / slip_rad_s
        torque_nm = 2.0 * motor.stall_nm * ratio / (1.0 + ratio * ratio)
        rise = motor.set_rad_s / motor.ramp_s * STEP_S
        if torque_nm > motor.limit_nm * supply:
            field_rad_s = max(field_rad_s - 4.0 * rise, speed_rad_s + slip_rad_s * motor.limit_nm / motor.stall_nm / 2)
        else:
            field_rad_s = min(field_rad_s + rise, top_rad_s)
        torque_nm = max(min(torque_nm, 1.15 * motor.limit_nm * supply), -0.1 * motor.limit_nm)
        return torque_nm, sqrt(motor.idle_a**2 + (motor.amps_per_nm * torque_nm) ** 2)

    return pull
