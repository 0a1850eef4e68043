"""The torque of each kind of drive, one step at a time, with its slope for an implicit step. Reads `drive`."""

from collections.abc import Callable

from world_b.values import DriveKind

from world_l.drive import Drive, kloss_slope, kloss_torque_nm

MotorLaw = Callable[[bool, float, float, float], tuple[float, float]]
"""(on, supply ratio, flux ratio, motor speed in rad/s at the ring) to (torque in Nm, -dT/dspeed in Nm s)."""


def motor_law(drive: Drive, dt_s: float, mid_run: bool, drag_nm: float) -> MotorLaw:
    """Give the law of a drive, fresh, with its own memory of ramp and integral."""
    if drive.kind is DriveKind.BRUSHED_BARE:
        return _bare(drive)
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        return _direct(drive)
    return _controlled(drive, dt_s, mid_run, drag_nm)


def _bare(drive: Drive) -> MotorLaw:
    stall_nm, idle = drive.peak_torque_nm, drive.idle_speed_rad_s

    def law(on: bool, supply: float, flux: float, speed: float) -> tuple[float, float]:
        if not on:
            return 0.0, 0.0
        torque = stall_nm * flux * (supply - flux * speed / idle)
        if torque < 0.0:  # a diode or a supply that does not sink
            return 0.0, 0.0
        return torque, stall_nm * flux * flux / idle

    return law


def _direct(drive: Drive) -> MotorLaw:
    peak_nm, critical, idle = drive.peak_torque_nm, drive.critical_slip, drive.idle_speed_rad_s

    def law(on: bool, supply: float, flux: float, speed: float) -> tuple[float, float]:
        if not on:
            return 0.0, 0.0
        slip = 1.0 - speed / idle
        square = supply * supply
        slope = kloss_slope(peak_nm, critical, slip) * square / idle
        return kloss_torque_nm(peak_nm, critical, slip) * square, max(slope, 0.0)

    return law


def _controlled(drive: Drive, dt_s: float, mid_run: bool, drag_nm: float) -> MotorLaw:
    """Give a speed controller with torque limit, or an inverter: both follow a ramped set speed within a limit."""
    limit_nm = drive.peak_torque_nm
    inverter = drive.kind is DriveKind.INDUCTION_INVERTER
    stiffness = drive.rated_torque_nm / (drive.droop_ratio * drive.set_speed_rad_s)
    goal = drive.set_speed_rad_s + drag_nm / stiffness
    integral_s = 0.0 if inverter else drive.integral_s
    sinks_nm = -0.1 * drive.rated_torque_nm
    per_step = goal * dt_s / drive.ramp_s if drive.ramp_s > 0 else goal
    wanted, integral_nm, was_on = (goal if mid_run else 0.0), 0.0, mid_run
    if integral_s > 0.0:
        goal = drive.set_speed_rad_s

    def law(on: bool, supply: float, flux: float, speed: float) -> tuple[float, float]:
        nonlocal wanted, integral_nm, was_on
        if not on:
            was_on = False
            return 0.0, 0.0
        if not was_on:
            was_on, wanted, integral_nm = True, speed, 0.0
        wanted = min(wanted + per_step, goal)
        error = wanted - speed
        ceiling_nm = limit_nm * min(1.0, 0.5 + 0.6 * supply)
        torque = stiffness * error + integral_nm
        if torque > ceiling_nm:
            return ceiling_nm, 0.0
        if integral_s > 0.0:
            integral_nm += stiffness * error * dt_s / integral_s
        return (torque, stiffness) if torque > sinks_nm else (sinks_nm, 0.0)

    return law
