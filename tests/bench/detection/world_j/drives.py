"""Motors of a workshop, seen at the ring: torque against speed, current. Reads random draws, gives values."""

from dataclasses import dataclass

import numpy as np
from world_b.values import DriveKind, Floats

POWERS_W = (40.0, 60.0, 90.0, 120.0, 180.0, 250.0, 370.0, 550.0, 750.0)


@dataclass(frozen=True, slots=True)
class Drive:
    """A motor with its gear, in quantities of the ring's shaft."""

    kind: DriveKind  # see `DriveKind`
    power_w: float  # on the plate
    free_speed_rad_s: float  # idling (bare DC), set (controlled DC) or synchronous (cage) speed
    rated_torque_nm: float  # power over speed
    peak_torque_nm: float  # at stall (bare DC), at the current limit (controlled DC), at pull-out (cage)
    pull_out_rad_s: float  # slip speed at pull-out; cage motors only
    limit_slip_rad_s: float  # slip speed at the inverter's current limit; inverter only
    ramp_rad_s2: float  # of the commanded speed; controlled drives only
    gain_nm_s: float  # of the speed controller
    reset_s: float  # of its integral part; 0 without one
    rated_current_a: float  # on the plate
    idle_current_a: float  # iron and brush losses (DC), magnetising current (cage)
    start_up_s: float  # time to set speed at rated torque without load, which stands for the inertia

    @property
    def holding_torque_nm(self) -> float:
        """The most torque it can give at any speed."""
        if self.kind is DriveKind.INDUCTION_INVERTER:
            share = min(self.limit_slip_rad_s / self.pull_out_rad_s, 1.0)
            return 2.0 * self.peak_torque_nm * share / (1.0 + share * share)
        return self.peak_torque_nm


def current_a(drive: Drive, torque_nm: Floats, slip_rad_s: Floats, on: Floats, turning: Floats) -> Floats:
    """Give the motor current, A: of the armature (DC), or a phase's effective value; turning is speed over free."""
    if drive.pull_out_rad_s > 0.0:
        return on * cage_current_a(drive, slip_rad_s)
    per_torque = (drive.rated_current_a - drive.idle_current_a) / drive.rated_torque_nm
    return on * (per_torque * torque_nm + drive.idle_current_a * np.clip(turning, 0.0, 1.0))


def cage_current_a(drive: Drive, slip_rad_s: Floats) -> Floats:
    """Give the effective phase current of a cage motor at a slip speed, A.

    Source: equivalent circuit: rotor current goes as s / sqrt(s^2 + pull-out slip^2), at right angles to magnetising.
    """
    rated_slip = rated_slip_rad_s(drive.peak_torque_nm / drive.rated_torque_nm, drive.pull_out_rad_s)
    share = slip_rad_s / np.sqrt(slip_rad_s**2 + drive.pull_out_rad_s**2)
    rated_share = rated_slip / np.hypot(rated_slip, drive.pull_out_rad_s)
    rotor_a = np.sqrt(drive.rated_current_a**2 - drive.idle_current_a**2) / rated_share
    return np.hypot(drive.idle_current_a, rotor_a * share)


def rated_slip_rad_s(overload: float, pull_out_rad_s: float) -> float:
    """Give the slip speed at rated torque, from pull-out over rated torque."""
    return pull_out_rad_s * (overload - float(np.sqrt(overload**2 - 1.0)))


def draw_drive(rng: np.random.Generator, set_speed_rad_s: float, most_power_w: float) -> Drive:
    """Give a drive for a set speed at the ring; most_power_w keeps motors a rig of this size would never have away."""
    kind = list(DriveKind)[int(rng.integers(4))]
    cage = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    power_w = float(rng.choice([p for p in POWERS_W[cage:] if p <= max(most_power_w, 60.0)]))
    speed, torque_nm = set_speed_rad_s, power_w / set_speed_rad_s
    pull_out = limit_slip = ramp = gain = reset = 0.0
    if kind is DriveKind.BRUSHED_BARE:
        peak = torque_nm * float(rng.uniform(3.5, 7.0))
        volts = float(rng.choice([12.0, 24.0, 48.0]) if power_w < 200.0 else rng.choice([48.0, 180.0]))
    elif kind is DriveKind.BRUSHED_LIMITED:
        peak = torque_nm * float(rng.uniform(1.3, 2.5))
        volts = float(rng.choice([24.0, 48.0, 90.0, 180.0]))
        ramp = speed / float(rng.uniform(0.3, 3.0))
        gain = torque_nm / (speed * float(rng.uniform(0.015, 0.05)))
        reset = float(rng.uniform(0.15, 1.0)) if rng.random() < 0.7 else 0.0
    else:
        peak = torque_nm * float(rng.uniform(2.0, 2.8))
        pull_out = speed * float(rng.uniform(0.2, 0.4))
        volts = float(rng.choice([230.0, 400.0]))
    if kind is DriveKind.INDUCTION_INVERTER:
        ramp = speed / float(rng.uniform(0.5, 5.0))
        limit_slip = rated_slip_rad_s(peak / torque_nm, pull_out) * float(rng.uniform(1.5, 2.4))
    efficiency = float(rng.uniform(0.5, 0.7) if power_w < 150.0 else rng.uniform(0.62, 0.78))
    phases = float(np.sqrt(3.0) * rng.uniform(0.62, 0.78)) if cage else 1.0
    rated_a = power_w / (volts * efficiency * phases)
    idle_a = rated_a * float(rng.uniform(0.5, 0.75) if cage else rng.uniform(0.03, 0.09))
    turning = (power_w, speed, torque_nm, peak, pull_out, limit_slip, ramp, gain, reset)
    return Drive(kind, *turning, rated_a, idle_a, float(rng.uniform(0.1, 0.9)))


class DriveState:
    """Holds what a drive remembers, and the last step's slope of torque (N m s, <= 0) and slip (rad/s, cage)."""

    def __init__(self, drive: Drive, running: bool, torque_nm: float, step_s: float) -> None:
        self.kind = drive.kind
        self.free, self.peak, self.pull_out = drive.free_speed_rad_s, drive.peak_torque_nm, drive.pull_out_rad_s
        self.gain, self.limit_slip = drive.gain_nm_s, drive.limit_slip_rad_s
        self.ramp = drive.ramp_rad_s2 * step_s
        self.reset = drive.gain_nm_s / drive.reset_s * step_s if drive.reset_s > 0.0 else 0.0
        self.command = self.free if running else 0.0
        self.integral = torque_nm if running and self.reset > 0.0 else 0.0
        self.slope = self.slip = 0.0

    def pull(self, speed: float, on: bool) -> float:
        """Give the torque at a speed in rad/s, N m."""
        self.slope = self.slip = 0.0
        if not on:
            self.command, self.integral = speed, 0.0
            return 0.0
        if self.kind is DriveKind.BRUSHED_BARE:
            self.slope = -self.peak / self.free
            return self.peak * (1.0 - speed / self.free)
        if self.kind is DriveKind.INDUCTION_DIRECT:
            return self._cage(self.free - speed, steep=True)
        self.command = min(self.command + self.ramp, self.free)
        if self.kind is DriveKind.BRUSHED_LIMITED:
            return self._controlled(self.command - speed)
        slip = self.command - speed
        if slip <= self.limit_slip:
            return self._cage(slip, steep=True)
        self.command = min(self.command, speed + 1.5 * self.limit_slip)
        return self._cage(self.limit_slip, steep=False)

    def _controlled(self, error: float) -> float:
        torque = self.gain * error + self.integral
        if torque >= self.peak:
            return self.peak
        if torque <= 0.0:
            return 0.0
        self.slope = -self.gain
        self.integral += self.reset * error
        return torque

    def _cage(self, slip: float, steep: bool) -> float:
        """Give a cage motor's torque. Source: M. Kloss, formula of pull-out torque and slip, no stator resistance."""
        self.slip = slip
        square, top = slip * slip + self.pull_out * self.pull_out, 2.0 * self.peak * self.pull_out
        if steep:
            self.slope = min(-top * (self.pull_out * self.pull_out - slip * slip) / (square * square), 0.0)
        return top * slip / square
