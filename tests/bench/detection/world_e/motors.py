"""Torque and current of the four drives, on the inner clock.

Reads a `Motor`, gives a function that is called once a step. All laws are quasi-static: windings settle within a step
or two, and no current transducer here follows faster.
"""

from collections.abc import Callable

from world_b.values import DriveKind

from .chance import STEP_S
from .rig import Motor

Pull = Callable[[bool, float, float], tuple[float, float]]
"""(switched on, supply as a share of the nominal, motor speed rad/s) to (torque N·m, current A)."""

_FIRMNESS = 9.0
"""Torque of a speed controller per relative speed error, in rated torques; plausible, invented."""
_RESET_S = 0.35
"""Integral time of a speed controller; plausible, invented."""
_DEEP_BAR = 0.45
"""By how much a rotor's deep bars help at rest; plausible, invented."""
_LOCKED = 5.2
"""Locked current of an induction motor in rated currents; 5 to 7 is quoted (DETECTION 1.3)."""


def pull_of(motor: Motor) -> Pull:
    """Give the law of a motor; a controller's law remembers its ramp and its integral from call to call."""
    return {
        DriveKind.BRUSHED_BARE: _bare,
        DriveKind.BRUSHED_LIMITED: _limited,
        DriveKind.INDUCTION_DIRECT: _direct,
        DriveKind.INDUCTION_INVERTER: _inverter,
    }[motor.kind](motor)


def start_a(motor: Motor) -> float:
    """Give the highest current of a start, A."""
    if motor.kind is DriveKind.INDUCTION_DIRECT:
        return _LOCKED * rated_a(motor)
    return float((motor.idle_a**2 + (motor.amps_per_nm * motor.most_torque_nm) ** 2) ** 0.5)


def rated_a(motor: Motor) -> float:
    """Give the current at rated torque, A."""
    return float((motor.idle_a**2 + (motor.amps_per_nm * motor.rated_torque_nm) ** 2) ** 0.5)


def _bare(motor: Motor) -> Pull:
    """Give a brushed motor on a fixed voltage: torque falls in a straight line from stall to idle speed."""
    most, amps = motor.most_torque_nm, motor.amps_per_nm
    ideal_rad_s = motor.set_speed_rad_s / (1.0 - motor.drag_torque_nm / most)

    def pull(on: bool, supply: float, speed: float) -> tuple[float, float]:
        if not on or supply < 0.02:
            return 0.0, 0.0
        torque = max(0.0, most * (supply - speed / ideal_rad_s))
        return torque, amps * torque

    return pull


def _limited(motor: Motor) -> Pull:
    """Give a brushed motor on a speed controller that ramps up, never brakes, and cuts its current off at a limit."""
    goal, most, amps = motor.set_speed_rad_s, motor.most_torque_nm, motor.amps_per_nm
    gain = _FIRMNESS * motor.rated_torque_nm / goal
    ramp = goal / max(motor.ramp_s, STEP_S) * STEP_S
    asked = held = 0.0

    def pull(on: bool, supply: float, speed: float) -> tuple[float, float]:
        nonlocal asked, held
        if not on or supply < 0.3:
            asked, held = speed if not on else asked, 0.0
            return 0.0, 0.0
        asked = min(goal, asked + ramp)
        error = asked - speed
        wanted = gain * error + held
        torque = min(max(wanted, 0.0), most)
        if torque == wanted or error * wanted < 0.0:
            held += gain * error * STEP_S / _RESET_S
        return torque, amps * torque

    return pull


def _direct(motor: Motor) -> Pull:
    """Give an induction motor on the mains: Kloss's curve with deep bars, currents of the simple equivalent circuit."""
    most, peak_slip = motor.most_torque_nm, motor.slip
    no_load_slip = peak_slip * motor.drag_torque_nm / (2.0 * most)
    mains_rad_s = motor.set_speed_rad_s / (1.0 - no_load_slip)
    idle2 = motor.idle_a**2
    locked = (start_a(motor) ** 2 - idle2) ** 0.5 * (1.0 + peak_slip**2) ** 0.5

    def pull(on: bool, supply: float, speed: float) -> tuple[float, float]:
        if not on or supply < 0.02:
            return 0.0, 0.0
        slip = 1.0 - speed / mains_rad_s
        ratio = slip / peak_slip
        torque = 2.0 * most * ratio / (1.0 + ratio * ratio) * (1.0 + _DEEP_BAR * max(slip, 0.0) ** 2)
        rotor2 = (locked * ratio) ** 2 / (1.0 + ratio * ratio)
        return torque * supply * supply, supply * float((idle2 + rotor2) ** 0.5)

    return pull


def _inverter(motor: Motor) -> Pull:
    """Give an induction motor on an inverter: a ramped frequency that gives way where the current limit is reached."""
    stiff = motor.rated_torque_nm / (motor.slip * motor.set_speed_rad_s)
    most, amps, idle2 = motor.most_torque_nm, motor.amps_per_nm, motor.idle_a**2
    goal = motor.set_speed_rad_s + motor.drag_torque_nm / stiff
    ramp = goal / max(motor.ramp_s, STEP_S) * STEP_S
    field = 0.0

    def pull(on: bool, supply: float, speed: float) -> tuple[float, float]:
        nonlocal field
        if not on or supply < 0.3:
            field = speed
            return 0.0, 0.0
        field = min(goal, field + ramp, speed + most / stiff)
        torque = max(0.0, stiff * (field - speed))
        return torque, float((idle2 + (amps * torque) ** 2) ** 0.5)

    return pull
