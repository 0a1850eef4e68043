"""Motors, belts and the parts that turn, all seen at the ring.

Reads a torque or a supply, gives speed and current. Brushed motors: torque proportional to current, speed falling in
a straight line to stall. Induction motors: the Kloss curve T = 2 Tb / (s/sb + sb/s) and the rotor current that belongs
to it. Hughes, Drury, Electric Motors and Drives, 4th ed. 2013, chapters 3, 5 and 7.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from .values import DriveKind, Floats


@dataclass(frozen=True, slots=True)
class Drive:
    """What turns the ring, seen at the ring.

    Attributes:
        kind: see `DriveKind`.
        set_rad_s: speed with the pin lifted.
        full_torque_nm: highest healthy friction torque plus drag.
        drag_nm: of seals and bearings at set speed, warm.
        most_torque_nm: stall torque, torque at the current limit, or breakdown torque.
        full_current_a: at `full_torque_nm`, without the magnetising part.
        magnetising_a: current at no torque; 0 for brushed motors.
        slip_share: slip at full torque, ratio; unused for brushed motors.
        inertia_kg_m2: of everything that turns.
        loop_hz: bandwidth of the speed controller.
        ramp_s: time the controller takes to bring the set speed up.
        ramps_down: whether an inverter brakes by ramp when switched off.
        gives_up_s: time at more than 1.3 times full current after which fuse or inverter opens.
        grip_nm: torque at which the belt slips; inf without a belt.
        creep_share: scale of belt creep, share of set speed.
    """

    kind: DriveKind
    set_rad_s: float
    full_torque_nm: float
    drag_nm: float
    most_torque_nm: float
    full_current_a: float
    magnetising_a: float
    slip_share: float
    inertia_kg_m2: float
    loop_hz: float
    ramp_s: float
    ramps_down: bool
    gives_up_s: float
    grip_nm: float
    creep_share: float

    @property
    def belt(self) -> bool:
        """Tell whether a belt can slip."""
        return bool(np.isfinite(self.grip_nm))

    @property
    def stall_torque_nm(self) -> float:
        """Give the largest torque that reaches the ring, N m."""
        return min(self.most_torque_nm, self.grip_nm)


class Motor(Protocol):
    """A motor that is stepped through time, or asked for its steady state."""

    settle_s: float

    def step(self, speed_rad_s: float, on: bool, dt_s: float) -> tuple[float, float]:
        """Give torque (N m) and current (A) over the next dt_s."""
        ...

    def steady(self, torque_nm: Floats) -> tuple[Floats, Floats]:
        """Give speed (rad/s) and current (A) at these torques; beyond the strongest torque, the values there."""
        ...

    def begin(self, speed_rad_s: float, torque_nm: float) -> None:
        """Take up a steady state."""
        ...


class BareDc:
    """A brushed motor on a fixed voltage: no limit but its own resistance."""

    def __init__(self, drive: Drive) -> None:
        self.a_per_nm = drive.full_current_a / drive.full_torque_nm
        self.stall_nm = drive.most_torque_nm
        self.ideal_rad_s = drive.set_rad_s / (1.0 - drive.drag_nm / drive.most_torque_nm)
        self.settle_s = drive.inertia_kg_m2 * self.ideal_rad_s / self.stall_nm
        self.coil_s = 0.004
        self.torque_nm = 0.0

    def step(self, speed_rad_s: float, on: bool, dt_s: float) -> tuple[float, float]:
        """Give torque and current; the coil lets the current change in about 4 ms."""
        goal = self.stall_nm * (1.0 - speed_rad_s / self.ideal_rad_s) if on else 0.0
        self.torque_nm += (max(goal, 0.0) - self.torque_nm) * min(1.0, dt_s / self.coil_s)
        return self.torque_nm, self.torque_nm * self.a_per_nm

    def steady(self, torque_nm: Floats) -> tuple[Floats, Floats]:
        """Give the straight line from no load to stall."""
        torque = np.minimum(torque_nm, self.stall_nm)
        return self.ideal_rad_s * (1.0 - torque / self.stall_nm), torque * self.a_per_nm

    def begin(self, speed_rad_s: float, torque_nm: float) -> None:
        """Take up a steady state."""
        self.torque_nm = torque_nm


class LimitedDc:
    """A brushed motor on a proportional-integral speed controller that limits the current."""

    def __init__(self, drive: Drive) -> None:
        self.a_per_nm = drive.full_current_a / drive.full_torque_nm
        self.limit_nm = drive.most_torque_nm
        self.set_rad_s = drive.set_rad_s
        self.slope_rad_s2 = drive.set_rad_s / max(drive.ramp_s, 0.01)
        self.gain = drive.inertia_kg_m2 * 2.0 * np.pi * drive.loop_hz
        self.per_s = 2.0 * np.pi * drive.loop_hz / 6.0
        self.settle_s = 1.0 / (2.0 * np.pi * drive.loop_hz)
        self.wanted_rad_s = 0.0
        self.held_nm = 0.0
        self.torque_nm = 0.0

    def step(self, speed_rad_s: float, on: bool, dt_s: float) -> tuple[float, float]:
        """Give torque and current; the integral stops growing at the limit."""
        if on:
            self.wanted_rad_s = min(self.set_rad_s, self.wanted_rad_s + self.slope_rad_s2 * dt_s)
            error = self.wanted_rad_s - speed_rad_s
            asked = self.gain * error + self.held_nm
            goal = min(max(asked, 0.0), self.limit_nm)
            if goal == asked or (asked - goal) * error < 0.0:
                self.held_nm += self.gain * self.per_s * error * dt_s
        else:
            self.wanted_rad_s, self.held_nm, goal = min(speed_rad_s, self.set_rad_s), 0.0, 0.0
        self.torque_nm += (goal - self.torque_nm) * min(1.0, dt_s / 0.003)
        return self.torque_nm, self.torque_nm * self.a_per_nm

    def steady(self, torque_nm: Floats) -> tuple[Floats, Floats]:
        """Give set speed at every torque below the limit."""
        torque = np.minimum(torque_nm, self.limit_nm)
        return np.full_like(torque, self.set_rad_s), torque * self.a_per_nm

    def begin(self, speed_rad_s: float, torque_nm: float) -> None:
        """Take up a steady state."""
        self.wanted_rad_s, self.held_nm, self.torque_nm = speed_rad_s, torque_nm, torque_nm


class DirectInduction:
    """An induction motor on the mains: a surge at every start, the same again when held."""

    def __init__(self, drive: Drive) -> None:
        self.magnetising_a = drive.magnetising_a
        self.breakdown_nm = drive.most_torque_nm
        over = self.breakdown_nm / drive.full_torque_nm
        self.breakdown_slip = drive.slip_share * (over + np.sqrt(over * over - 1.0))
        self.locked_a = drive.full_current_a * float(np.hypot(self.breakdown_slip / drive.slip_share, 1.0))
        drag_over = self.breakdown_nm / drive.drag_nm
        drag_slip = self.breakdown_slip * (drag_over - np.sqrt(drag_over * drag_over - 1.0))
        self.field_rad_s = drive.set_rad_s / (1.0 - drag_slip)
        self.settle_s = drive.inertia_kg_m2 * self.field_rad_s * drive.slip_share / drive.full_torque_nm
        self.since_on_s = 1.0

    def step(self, speed_rad_s: float, on: bool, dt_s: float) -> tuple[float, float]:
        """Give torque and current; the field builds up in 20 ms with an inrush on top."""
        if not on:
            self.since_on_s = 0.0
            return 0.0, 0.0
        self.since_on_s += dt_s
        slip = max(1.0 - speed_rad_s / self.field_rad_s, 1e-6) / self.breakdown_slip
        inrush = float(np.exp(-self.since_on_s / 0.02)) if self.since_on_s < 0.3 else 0.0
        rotor_a = self.locked_a / (1.0 + 1.0 / (slip * slip)) ** 0.5
        torque = 2.0 * self.breakdown_nm / (slip + 1.0 / slip) * (1.0 - inrush)
        return torque, (self.magnetising_a**2 + rotor_a**2) ** 0.5 * (1.0 + 0.5 * inrush)

    def steady(self, torque_nm: Floats) -> tuple[Floats, Floats]:
        """Give the stable branch of the Kloss curve."""
        over = self.breakdown_nm / np.clip(torque_nm, 1e-6 * self.breakdown_nm, 0.999 * self.breakdown_nm)
        slip = over - np.sqrt(over * over - 1.0)
        rotor_a = self.locked_a / np.sqrt(1.0 + 1.0 / (slip * slip))
        return self.field_rad_s * (1.0 - self.breakdown_slip * slip), np.hypot(self.magnetising_a, rotor_a)

    def begin(self, speed_rad_s: float, torque_nm: float) -> None:
        """Take up a steady state."""
        self.since_on_s = 1.0


class InverterInduction:
    """An induction motor on an inverter: ramps, slips a little, and lets the frequency fall rather than the limit."""

    def __init__(self, drive: Drive) -> None:
        self.drive = drive
        self.magnetising_a = drive.magnetising_a
        self.limit_nm = drive.most_torque_nm
        self.a_per_nm = drive.full_current_a / drive.full_torque_nm
        self.field_rad_s = drive.set_rad_s / (1.0 - drive.slip_share * drive.drag_nm / drive.full_torque_nm)
        self.slope_nm_s = drive.full_torque_nm / (drive.slip_share * self.field_rad_s)
        self.settle_s = max(drive.inertia_kg_m2 / self.slope_nm_s, 0.02)
        self.wanted_rad_s = 0.0
        self.excited = 0.0

    def step(self, speed_rad_s: float, on: bool, dt_s: float) -> tuple[float, float]:
        """Give torque and current; switched off it brakes by ramp or lets go, as it is set."""
        ramp = self.field_rad_s / max(self.drive.ramp_s, 0.1) * dt_s
        if on:
            most = speed_rad_s + self.limit_nm / self.slope_nm_s
            self.wanted_rad_s = min(self.field_rad_s, self.wanted_rad_s + ramp, most)
        elif self.drive.ramps_down:
            self.wanted_rad_s = max(self.wanted_rad_s - ramp, 0.0)
        else:
            self.wanted_rad_s = 0.0
        live = on or (self.drive.ramps_down and self.wanted_rad_s > 0.01 * self.field_rad_s)
        self.excited += ((1.0 if live else 0.0) - self.excited) * min(1.0, dt_s / 0.03)
        torque = self.slope_nm_s * (self.wanted_rad_s - speed_rad_s)
        torque = min(max(torque, -0.3 * self.limit_nm if live else 0.0), self.limit_nm)
        current = (self.magnetising_a**2 + (torque * self.a_per_nm) ** 2) ** 0.5
        return torque * self.excited, current * self.excited

    def steady(self, torque_nm: Floats) -> tuple[Floats, Floats]:
        """Give the straight slip line below the limit."""
        torque = np.minimum(torque_nm, self.limit_nm)
        return self.field_rad_s - torque / self.slope_nm_s, np.hypot(self.magnetising_a, torque * self.a_per_nm)

    def begin(self, speed_rad_s: float, torque_nm: float) -> None:
        """Take up a steady state."""
        self.wanted_rad_s, self.excited = speed_rad_s + torque_nm / self.slope_nm_s, 1.0


MOTORS: Mapping[DriveKind, Callable[[Drive], Motor]] = {
    DriveKind.BRUSHED_BARE: BareDc,
    DriveKind.BRUSHED_LIMITED: LimitedDc,
    DriveKind.INDUCTION_DIRECT: DirectInduction,
    DriveKind.INDUCTION_INVERTER: InverterInduction,
}


def motor_of(drive: Drive) -> Motor:
    """Give a motor at rest."""
    return MOTORS[drive.kind](drive)
