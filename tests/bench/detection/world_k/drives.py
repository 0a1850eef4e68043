"""The four drives, all referred to the ring. Read speed and supply, give torque and leave the current behind."""

import math
from dataclasses import dataclass
from typing import Protocol

from world_b.values import DriveKind

WINDING_COPPER_PER_K = 0.0039
WINDING_RISE_K = 40.0
WINDING_LAG_S = 400.0


class Drive(Protocol):
    """One step of a motor with whatever feeds it."""

    current_a: float

    def step(self, speed_rad_s: float, live: bool, supply_ratio: float, step_s: float) -> float:
        """Give the torque at the ring in Nm; `current_a` then holds the current of the same moment."""
        ...


@dataclass(frozen=True, slots=True)
class DriveDesign:
    """What a drive is sized by.

    Attributes:
        kind: see `DriveKind`.
        set_speed_rad_s: with the pin lifted.
        drag_nm: at that speed, warm.
        healthy_nm: drag and the friction of the heaviest load.
        capacity_nm: the most the motor gives, at stall or at its pull-out slip.
        healthy_a: current at `healthy_nm`.
        idle_ratio: current that makes no torque (iron and brush loss, magnetising), part of `healthy_a`.
        pull_out_slip: of the induction motors.
        ramp_s: of controller or inverter, from rest to set speed.
        slip_compensation_ratio: of the inverter, 0 none, 1 full.
    """

    kind: DriveKind
    set_speed_rad_s: float
    drag_nm: float
    healthy_nm: float
    capacity_nm: float
    healthy_a: float
    idle_ratio: float
    pull_out_slip: float
    ramp_s: float
    slip_compensation_ratio: float


class BrushedBare:
    """Armature circuit without inductance: u = k w + R i, R rising as the winding warms."""

    def __init__(self, design: DriveDesign) -> None:
        self.current_a = 0.0
        self.idle_a = design.healthy_a * design.idle_ratio
        self.constant_nm_a = design.healthy_nm / (design.healthy_a - self.idle_a)
        stall_a = self.idle_a + design.capacity_nm / self.constant_nm_a
        free_a = self.idle_a + design.drag_nm / self.constant_nm_a
        self.supply_v = self.constant_nm_a * design.set_speed_rad_s / (1.0 - free_a / stall_a)
        self.resistance_ohm = self.supply_v / stall_a
        self.rise_per_a2 = WINDING_RISE_K / design.healthy_a**2
        self.winding_rise_k = 0.0

    def step(self, speed_rad_s: float, live: bool, supply_ratio: float, step_s: float) -> float:
        """Give the torque in Nm."""
        current_a = 0.0
        if live:
            ohm = self.resistance_ohm * (1.0 + WINDING_COPPER_PER_K * self.winding_rise_k)
            current_a = max((self.supply_v * supply_ratio - self.constant_nm_a * speed_rad_s) / ohm, 0.0)
        wanted_k = min(self.rise_per_a2 * current_a * current_a, 120.0)
        self.winding_rise_k += (wanted_k - self.winding_rise_k) * step_s / WINDING_LAG_S
        self.current_a = current_a
        return self.constant_nm_a * max(current_a - self.idle_a, 0.0)


class BrushedLimited:
    """Proportional-integral speed controller over a ramp, its output a current between nought and a limit."""

    def __init__(self, design: DriveDesign) -> None:
        self.current_a = 0.0
        self.idle_a = design.healthy_a * design.idle_ratio
        self.constant_nm_a = design.healthy_nm / (design.healthy_a - self.idle_a)
        self.limit_a = self.idle_a + design.capacity_nm / self.constant_nm_a
        self.set_speed_rad_s = design.set_speed_rad_s
        self.gain_a_s = 8.0 * self.limit_a / design.set_speed_rad_s
        self.reset_s = 0.25
        self.slope_rad_s2 = design.set_speed_rad_s / design.ramp_s
        self.wanted_rad_s = 0.0
        self.integral_a = 0.0

    def step(self, speed_rad_s: float, live: bool, supply_ratio: float, step_s: float) -> float:
        """Give the torque in Nm."""
        if not live:
            self.current_a = self.integral_a = 0.0
            self.wanted_rad_s = speed_rad_s
            return 0.0
        self.wanted_rad_s = min(self.wanted_rad_s + self.slope_rad_s2 * step_s, self.set_speed_rad_s)
        error_rad_s = self.wanted_rad_s - speed_rad_s
        asked_a = self.gain_a_s * error_rad_s + self.integral_a
        ceiling_a = self.limit_a * supply_ratio
        current_a = min(max(asked_a, 0.0), ceiling_a)
        if current_a == asked_a or (asked_a > ceiling_a) != (error_rad_s > 0.0):
            self.integral_a += self.gain_a_s * error_rad_s * step_s / self.reset_s
        self.current_a = current_a
        return self.constant_nm_a * max(current_a - self.idle_a, 0.0)


class Induction:
    """Induction motor by its slip: torque after Kloss, rotor current in quadrature with the magnetising one.

    With `inverter` the field follows a ramp, is slowed where the current passes its limit, and makes up for slip.
    Source: Kloss 2 Tk / (s/sk + sk/s), any textbook on machines (from memory).
    """

    def __init__(self, design: DriveDesign, inverter: bool) -> None:
        self.current_a = 0.0
        self.inverter = inverter
        self.magnetising_a = design.healthy_a * design.idle_ratio
        rotor_a = math.sqrt(design.healthy_a**2 - self.magnetising_a**2)
        pull_out_nm = design.capacity_nm * (1.25 if inverter else 1.0)
        self.pull_out_nm = pull_out_nm
        self.rotor_limit_a = rotor_a * 2.0 * pull_out_nm / design.healthy_nm
        free_slip = design.drag_nm * design.pull_out_slip / (2.0 * pull_out_nm)
        self.field_rad_s = design.set_speed_rad_s / (1.0 - free_slip)
        self.pull_out_rad_s = self.field_rad_s * design.pull_out_slip
        self.slope_rad_s2 = self.field_rad_s / design.ramp_s
        x = 0.5  # pull-out over capacity is 1.25: 2x / (1 + x^2) = 0.8 at x = 0.5
        self.limit_a = math.sqrt(self.magnetising_a**2 + self.rotor_limit_a**2 * x * x / (1.0 + x * x))
        self.compensation = design.slip_compensation_ratio * self.pull_out_rad_s / (2.0 * pull_out_nm)
        self.drag_nm = design.drag_nm
        self.turning_rad_s = 0.0 if inverter else self.field_rad_s
        self.torque_nm = 0.0

    def step(self, speed_rad_s: float, live: bool, supply_ratio: float, step_s: float) -> float:
        """Give the torque in Nm."""
        if not live:
            self.current_a = self.torque_nm = 0.0
            if self.inverter:
                self.turning_rad_s = speed_rad_s  # flying restart: it finds the speed first
            return 0.0
        if self.inverter:
            self._turn_field(speed_rad_s, step_s)
        x = (self.turning_rad_s - speed_rad_s) / self.pull_out_rad_s
        square = x * x / (1.0 + x * x)
        voltage_square = supply_ratio * supply_ratio
        self.current_a = math.sqrt((self.magnetising_a**2 + self.rotor_limit_a**2 * square) * voltage_square)
        torque_nm = 2.0 * self.pull_out_nm * x / (1.0 + x * x) * voltage_square
        self.torque_nm += (torque_nm - self.torque_nm) * min(step_s / 0.05, 1.0)
        return torque_nm

    def _turn_field(self, speed_rad_s: float, step_s: float) -> None:
        if self.current_a > self.limit_a:
            floor_rad_s = speed_rad_s + 0.45 * self.pull_out_rad_s
            self.turning_rad_s = max(self.turning_rad_s - 4.0 * self.slope_rad_s2 * step_s, floor_rad_s)
            return
        extra_rad_s = self.compensation * max(self.torque_nm - self.drag_nm, 0.0)
        goal_rad_s = self.field_rad_s + extra_rad_s
        rise_rad_s = min(self.slope_rad_s2 * step_s, max(goal_rad_s - self.turning_rad_s, -0.01 * goal_rad_s))
        self.turning_rad_s += rise_rad_s


def drive_of(design: DriveDesign) -> Drive:
    """Give a fresh drive, at rest and cold."""
    if design.kind is DriveKind.BRUSHED_BARE:
        return BrushedBare(design)
    if design.kind is DriveKind.BRUSHED_LIMITED:
        return BrushedLimited(design)
    return Induction(design, design.kind is DriveKind.INDUCTION_INVERTER)


def settle(drive: Drive, speed_rad_s: float, load_nm: float) -> None:
    """Bring a drive that is found running to the state it would have at this speed and torque."""
    if isinstance(drive, BrushedLimited):
        drive.wanted_rad_s = drive.set_speed_rad_s
        drive.integral_a = load_nm / drive.constant_nm_a + drive.idle_a
    elif isinstance(drive, Induction) and drive.inverter:
        drive.torque_nm = load_nm
        drive.turning_rad_s = drive.field_rad_s
    elif isinstance(drive, BrushedBare):
        drive.winding_rise_k = 0.7 * WINDING_RISE_K


def free_current_a(design: DriveDesign) -> float:
    """Give the current at set speed with the pin lifted, warm seals, in A."""
    if design.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED):
        idle_a = design.healthy_a * design.idle_ratio
        return idle_a + design.drag_nm * (design.healthy_a - idle_a) / design.healthy_nm
    motor = Induction(design, design.kind is DriveKind.INDUCTION_INVERTER)
    motor.turning_rad_s = motor.field_rad_s
    x = (motor.field_rad_s - design.set_speed_rad_s) / motor.pull_out_rad_s
    return math.sqrt(motor.magnetising_a**2 + motor.rotor_limit_a**2 * x * x / (1.0 + x * x))
