"""Four kinds of drive, in units of the ring: what torque they give at what speed, and what current that takes.

Reads nothing; the fast loop in `shaft` asks these functions once a step.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import DriveKind, Floats


@dataclass(frozen=True, slots=True)
class Drive:
    """A motor with its gear or belt, seen at the ring.

    Attributes:
        rated_torque_nm, rated_current_a: name plate, brought to the ring.
        peak_torque_nm: stall torque (bare), torque limit (limited, inverter) or pull-out torque (direct).
        set_speed_rad_s: of the ring with the pin lifted.
        idle_speed_rad_s: without any torque: no-load or synchronous speed.
        magnetising_a: of an induction motor, 0 for a brushed one.
        critical_slip: slip at pull-out, induction on the mains.
        ramp_s: of a controller or an inverter from rest to set speed; 0 none.
        droop_ratio: speed lost at rated torque, controller without integral action, or slip on an inverter.
        integral_s: reset time of a speed controller; 0 none.
        inertia_ring_kgm2, inertia_motor_kgm2: seen at the ring.
        belt_limit_nm: torque at which the belt slips, inf without belt.
        belt_creep_ratio: speed lost in the belt at rated torque.
        brake_nm: torque of a braked stop; 0 coasts.
        overload_s: a stalled motor is switched off after this time, inf never.
        warm_flux_ratio: torque constant of the hot motor over the cold one.
        motor_warming_s: time constant of that.
    """

    kind: DriveKind
    rated_torque_nm: float
    rated_current_a: float
    peak_torque_nm: float
    set_speed_rad_s: float
    idle_speed_rad_s: float
    magnetising_a: float
    critical_slip: float
    ramp_s: float
    droop_ratio: float
    integral_s: float
    inertia_ring_kgm2: float
    inertia_motor_kgm2: float
    belt_limit_nm: float
    belt_creep_ratio: float
    brake_nm: float
    overload_s: float
    warm_flux_ratio: float
    motor_warming_s: float


def kloss_torque_nm(peak_nm: float, critical_slip: float, slip: float) -> float:
    """Give the torque of an induction motor at a slip.

    Source: Kloss 1901: T / Tk = 2 / (s / sk + sk / s).
    """
    x = slip / critical_slip
    return 2.0 * peak_nm * x / (1.0 + x * x)


def kloss_slope(peak_nm: float, critical_slip: float, slip: float) -> float:
    """Give dT/ds of `kloss_torque_nm`."""
    x = slip / critical_slip
    return 2.0 * peak_nm * (1.0 - x * x) / ((1.0 + x * x) ** 2 * critical_slip)


def critical_slip_of(rated_slip: float, pull_out_ratio: float) -> float:
    """Give the slip at pull-out from rated slip and pull-out over rated torque, solved from Kloss."""
    return rated_slip * (pull_out_ratio + math.sqrt(pull_out_ratio * pull_out_ratio - 1.0))


def rotor_current_a(drive: Drive, slip: Floats) -> Floats:
    """Give the rotor current seen by the stator, from the equivalent circuit: I ~ 1 / sqrt((sk / s)^2 + 1).

    It is scaled so that rated torque takes rated current together with the magnetising current.
    """
    k = drive.peak_torque_nm / drive.rated_torque_nm
    rated_slip = drive.critical_slip * (k - math.sqrt(k * k - 1.0))
    at_rated_a = math.sqrt(drive.rated_current_a**2 - drive.magnetising_a**2)
    scale_a = at_rated_a * math.hypot(drive.critical_slip / rated_slip, 1.0)
    rotor: Floats = scale_a * np.abs(slip) / np.hypot(drive.critical_slip, slip)
    return rotor


def current_a(drive: Drive, torque_nm: Floats, motor_speed_rad_s: Floats, supply: Floats, flux: Floats) -> Floats:
    """Give the magnitude of the current of a motor that is switched on, A, from its torque and speed."""
    if drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
        return np.abs(torque_nm) * drive.rated_current_a / (drive.rated_torque_nm * flux)
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        slip = 1.0 - motor_speed_rad_s / drive.idle_speed_rad_s
        direct: Floats = supply * np.hypot(drive.magnetising_a, rotor_current_a(drive, slip))
        return direct
    active_a_per_nm = math.sqrt(drive.rated_current_a**2 - drive.magnetising_a**2) / drive.rated_torque_nm
    inverted: Floats = np.hypot(drive.magnetising_a, active_a_per_nm * torque_nm / flux)
    return inverted
