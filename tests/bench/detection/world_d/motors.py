"""Torque and current of the four drives.

Reads a `Drive`, gives torque at a speed, and current from torque and speed. Straight line of a brushed motor; Kloss
curve with the rotor current that belongs to it; magnetising current at right angles to the one that makes torque
(Hughes, Drury, Electric Motors and Drives, 4th ed. 2013, chapters 3, 5, 7).
"""

from collections.abc import Callable

import numpy as np
from world_b.values import DriveKind, Flags, Floats

from .rig import Drive

Pull = Callable[[float, bool], tuple[float, float]]
"""Speed in rad/s and whether it was switched on just now, to torque in N m and its fall per rad/s."""


def pull_of(drive: Drive, step_s: float) -> Pull:
    """Give the torque of a drive; what a controller remembers is kept between calls, one each `step_s`."""
    if drive.kind is DriveKind.BRUSHED_BARE:
        return _straight(drive)
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        return _kloss(drive)
    return _controlled(drive, step_s)


def _straight(drive: Drive) -> Pull:
    slope = drive.top_torque_nm / drive.free_speed_rad_s

    def pull(speed_rad_s: float, fresh: bool) -> tuple[float, float]:
        return drive.top_torque_nm - slope * speed_rad_s, slope

    return pull


def _kloss(drive: Drive) -> Pull:
    out, top_nm, sync_rad_s = drive.pull_out_slip, drive.top_torque_nm, drive.free_speed_rad_s

    def pull(speed_rad_s: float, fresh: bool) -> tuple[float, float]:
        slip = 1.0 - speed_rad_s / sync_rad_s
        below = slip * slip + out * out
        steep = 2.0 * top_nm * out * (out * out - slip * slip) / (below * below * sync_rad_s)
        return 2.0 * top_nm * slip * out / below, max(steep, 0.0)

    return pull


def _controlled(drive: Drive, step_s: float) -> Pull:
    """Give a drive whose speed is led up a ramp, with limited torque; a controller also brings the speed back."""
    top_nm, slope, wanted_rad_s = drive.top_torque_nm, drive.slope_nms, drive.free_speed_rad_s
    climbs = wanted_rad_s * step_s / drive.ramp_s
    gain = slope * step_s / (0.1 + 0.2 * drive.ramp_s) if drive.kind is DriveKind.BRUSHED_LIMITED else 0.0
    led_rad_s = held_nm = 0.0

    def pull(speed_rad_s: float, fresh: bool) -> tuple[float, float]:
        nonlocal led_rad_s, held_nm
        if fresh:
            led_rad_s, held_nm = speed_rad_s, 0.0
        asked_nm = slope * (led_rad_s - speed_rad_s) + held_nm
        if asked_nm >= top_nm:
            return top_nm, 0.0
        led_rad_s = min(led_rad_s + climbs, wanted_rad_s)
        if asked_nm <= -0.05 * top_nm:
            held_nm = max(held_nm - gain * (speed_rad_s - led_rad_s), -0.05 * top_nm)
            return -0.05 * top_nm, 0.0
        held_nm += gain * (led_rad_s - speed_rad_s)
        return asked_nm, slope

    return pull


def current_of(drive: Drive, torque_nm: Floats, speed_rad_s: Floats, live: Flags) -> Floats:
    """Give the current, (n,) A; rms of alternating current, 0 where the motor has no supply."""
    if drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
        current_a = np.abs(torque_nm) / drive.torque_per_a
    elif drive.kind is DriveKind.INDUCTION_DIRECT:
        slip = 1.0 - speed_rad_s / drive.free_speed_rad_s
        current_a = np.hypot(drive.magnetising_a, drive.rotor_top_a * slip / np.hypot(slip, drive.pull_out_slip))
    else:
        current_a = np.hypot(drive.magnetising_a, torque_nm / drive.torque_per_a)
    return np.where(live, current_a, 0.0)


def no_load_a(drive: Drive, set_speed_rad_s: float) -> float:
    """Give the current with the pin lifted and everything warm, A."""
    torque, speed = np.array([drive.drag_nm]), np.array([set_speed_rad_s])
    return float(current_of(drive, torque, speed, np.array([True]))[0])
