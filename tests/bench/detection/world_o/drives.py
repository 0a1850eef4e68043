"""Torque balance of motor, belt and ring.  Reads rig and tracks, gives speeds, friction and current."""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import DriveKind, Floats

from world_o.parts import CORE_DT_S, Drive, Rig, Tracks


@dataclass(frozen=True, slots=True)
class Motion:
    """What turned and rubbed, (n,) each; speeds as seen at the ring."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    friction_n: Floats
    torque_nm: Floats
    current_a: Floats


class Motor:
    """Torque of a motor as a line in its speed for one step, with the state of a speed controller."""

    def __init__(self, drive: Drive) -> None:
        """Start at rest with an empty integral."""
        self.drive = drive
        self.integral_nm = 0.0
        self.command_rad_s = 0.0
        ratio = drive.stall_nm / drive.speed_rad_s
        self.gain = 12.0 * ratio
        self.reset = self.gain / 0.4 * CORE_DT_S
        self.synchronous_rad_s = drive.speed_rad_s * 1.02

    def line(self, on: float, supply: float, w: float) -> tuple[float, float]:
        """Give intercept in N m and slope in N m s of torque over speed."""
        d = self.drive
        if on < 0.5 or supply < 0.02:
            self.integral_nm, self.command_rad_s = 0.0, min(w, self.command_rad_s)
            return 0.0, 0.0
        if d.kind is DriveKind.BRUSHED_BARE:
            slope = d.stall_nm / (d.speed_rad_s * (1.0 + d.drag_nm / d.stall_nm))
            return d.stall_nm * supply, slope
        if d.kind is DriveKind.INDUCTION_DIRECT:
            return self._kloss(supply, w)
        most = d.speed_rad_s
        self.command_rad_s = min(most, max(self.command_rad_s, 0.0) + most / d.ramp_s * CORE_DT_S)
        error = self.command_rad_s - w
        wanted = self.gain * error + self.integral_nm
        if wanted >= d.stall_nm * min(1.0, supply + 0.1):
            return d.stall_nm * min(1.0, supply + 0.1), 0.0
        self.integral_nm = min(max(self.integral_nm + self.reset * error, 0.0), d.stall_nm)
        if wanted <= 0.0:
            return 0.0, 0.0
        return self.gain * self.command_rad_s + self.integral_nm, self.gain

    def _kloss(self, supply: float, w: float) -> tuple[float, float]:
        """Give the line through the torque curve of an induction motor (Kloss, from memory)."""
        sync, sb = self.synchronous_rad_s, self.drive.slip_at_peak
        peak = self.drive.peak_nm * supply * supply
        s = max(1.0 - w / sync, -0.5)
        ratio = s / sb
        nm = 2.0 * peak * ratio / (1.0 + ratio * ratio)
        steep = 2.0 * peak / sb * (1.0 - ratio * ratio) / (1.0 + ratio * ratio) ** 2 / sync
        if steep <= 0.0:
            return nm, 0.0
        return nm + steep * w, steep


def currents(drive: Drive, on: Floats, torque_nm: Floats, motor_rad_s: Floats) -> Floats:
    """Give the current of a motor from torque and speed."""
    if drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
        return np.abs(torque_nm) * drive.a_per_nm + drive.idle_a * on
    if drive.kind is DriveKind.INDUCTION_INVERTER:
        return np.hypot(drive.idle_a, torque_nm * drive.a_per_nm) * on
    slip = np.abs(1.0 - motor_rad_s / (drive.speed_rad_s * 1.02))
    share = slip / np.hypot(slip, drive.slip_at_peak) * math.hypot(1.0, drive.slip_at_peak)
    out: Floats = np.hypot(drive.idle_a, share * drive.locked_a) * on
    return out


def idle_current_a(drive: Drive) -> float:
    """Give the current at set speed with the pin lifted."""
    speed = drive.speed_rad_s
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        slip_nm = drive.drag_nm * drive.slip_at_peak / (2.0 * drive.peak_nm)
        speed *= 1.02 * (1.0 - slip_nm)
    one = np.ones(1)
    return float(currents(drive, one, one * drive.drag_nm, one * speed)[0])


def turn(rig: Rig, tracks: Tracks, mu: Floats) -> Motion:
    """Give the motion under a friction coefficient at set speed, by implicit steps.

    At rest the contact carries what share of the motor's torque it can; friction and bearings hold, never drive.
    """
    d, motor, dt = rig.drive, Motor(rig.drive), CORE_DT_S
    capacity = mu * tracks.load_n * rig.radius_m
    running = bool(tracks.on_ratio[0] > 0.5)
    wr = d.speed_rad_s * 0.97 if running else 0.0
    wm = wr
    motor.command_rad_s = motor.integral_nm = 0.0
    if running:
        motor.command_rad_s, motor.integral_nm = d.speed_rad_s, float(capacity[0]) + d.drag_nm
    gain, knee = rig.contact.stribeck_gain, rig.contact.stribeck_ratio * d.speed_rad_s
    jr, jm = d.inertia_kgm2 / dt, d.motor_inertia_kgm2 / dt
    stiff = d.belt_nm / (0.03 * d.speed_rad_s)
    rings: list[float] = []
    motors: list[float] = []
    rubs: list[float] = []
    torques: list[float] = []
    lists = (capacity.tolist(), tracks.on_ratio.tolist(), tracks.supply_ratio.tolist(), tracks.outer_nm.tolist())
    for cap, on, supply, jam in zip(*lists, strict=True):
        rub = cap * (1.0 + gain * math.exp(-wr / knee))
        held = rub + d.drag_nm * (0.6 + 0.4 * wr / d.speed_rad_s) + jam
        top, slope = motor.line(on, supply, wm)
        if d.belt:
            wm, wr = _belt(d, (jm, jr), (top, slope), stiff, held, (wm, wr))
            pull = min(max(stiff * (wm - wr), -d.belt_nm), d.belt_nm)
        else:
            wr = max(0.0, ((jr + jm) * wr + top - held) / (jr + jm + slope))
            wm = wr
            pull = top - slope * wm
        rings.append(wr)
        motors.append(wm)
        torques.append(top - slope * wm)
        rubs.append(rub if wr > 0.0 else rub * min(1.0, max(pull, 0.0) / held))
    torque = np.array(torques)
    current = currents(d, tracks.on_ratio * (tracks.supply_ratio > 0.02), torque, np.array(motors))
    return Motion(np.array(rings), np.array(motors), np.array(rubs) / rig.radius_m, torque, current)


def _belt(
    d: Drive,
    inertia: tuple[float, float],
    line: tuple[float, float],
    stiff: float,
    held: float,
    now: tuple[float, float],
) -> tuple[float, float]:
    """Give speeds of motor and ring one step on, with a belt that creeps and slips at its torque."""
    (jm, jr), (top, slope), (wm, wr) = inertia, line, now
    a, b = jm + slope + stiff, jr + stiff
    p, q = jm * wm + top, jr * wr - held
    det = a * b - stiff * stiff
    new_m, new_r = (p * b + stiff * q) / det, (a * q + stiff * p) / det
    if new_r < 0.0:
        new_r, new_m = 0.0, p / a
    pull = stiff * (new_m - new_r)
    if abs(pull) > d.belt_nm:
        pull = math.copysign(d.belt_nm, pull)
        new_m = max(0.0, (jm * wm + top - pull) / (jm + slope))
        new_r = max(0.0, (jr * wr + pull - held) / jr)
    return max(new_m, 0.0), new_r
