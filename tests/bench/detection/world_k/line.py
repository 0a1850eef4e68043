"""Shaft line from motor to ring: rigid, or over a belt that slips. Reads torques, gives speeds and the friction."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LineDesign:
    """Masses and drag of the line, referred to the ring.

    Attributes:
        ring_kg_m2, motor_kg_m2: inertia on either side of the belt.
        dry_drag_nm, viscous_drag_nm_s: of seals and bearings.
        belt_nm: torque at which the belt slips; infinite without one.
        creep_ratio: speed the belt loses at that torque.
        ring_radius_m: of the track.
    """

    ring_kg_m2: float
    motor_kg_m2: float
    dry_drag_nm: float
    viscous_drag_nm_s: float
    belt_nm: float
    creep_ratio: float
    ring_radius_m: float


class Line:
    """Speeds of ring and motor in rad/s, never backward; `friction_n` is what the contact took in the last step."""

    def __init__(self, design: LineDesign, speed_rad_s: float) -> None:
        self.design = design
        self.ring_rad_s = speed_rad_s
        self.motor_rad_s = speed_rad_s
        self.friction_n = 0.0
        self.slipping = False
        self.dry_drag_nm = design.dry_drag_nm
        self.whole_kg_m2 = design.ring_kg_m2 + design.motor_kg_m2
        self.belted = design.belt_nm < float("inf")

    def step(self, motor_nm: float, grip_n: float, jam_nm: float, step_s: float) -> None:
        """Move on by one step under the motor's torque, the most the contact can hold, and a jam."""
        if not self.slipping:
            before_rad_s = self.ring_rad_s
            after_rad_s = self._brake(before_rad_s, motor_nm, grip_n, jam_nm, self.whole_kg_m2, step_s)
            if not self.belted:
                self.ring_rad_s = self.motor_rad_s = after_rad_s
                return
            passed_nm = motor_nm - self.design.motor_kg_m2 * (after_rad_s - before_rad_s) / step_s
            if abs(passed_nm) <= self.design.belt_nm:
                self.ring_rad_s = after_rad_s
                self.motor_rad_s = after_rad_s * (1.0 + self.design.creep_ratio * passed_nm / self.design.belt_nm)
                return
            self.slipping = True
        belt_nm = self.design.belt_nm if self.motor_rad_s >= self.ring_rad_s else -self.design.belt_nm
        ahead = self.motor_rad_s - self.ring_rad_s
        self.motor_rad_s = max(self.motor_rad_s + (motor_nm - belt_nm) * step_s / self.design.motor_kg_m2, 0.0)
        self.ring_rad_s = self._brake(self.ring_rad_s, belt_nm, grip_n, jam_nm, self.design.ring_kg_m2, step_s)
        if (self.motor_rad_s - self.ring_rad_s) * ahead <= 0.0 and ahead != 0.0:
            self.slipping = False
            self.motor_rad_s = self.ring_rad_s

    def _brake(
        self, speed_rad_s: float, drive_nm: float, grip_n: float, jam_nm: float, inertia_kg_m2: float, step_s: float
    ) -> float:
        design = self.design
        free_rad_s = speed_rad_s + (drive_nm - design.viscous_drag_nm_s * speed_rad_s) * step_s / inertia_kg_m2
        held_nm = self.dry_drag_nm + jam_nm
        lost_rad_s = (grip_n * design.ring_radius_m + held_nm) * step_s / inertia_kg_m2
        if free_rad_s > lost_rad_s:
            self.friction_n = grip_n
            return free_rad_s - lost_rad_s
        to_hold_nm = free_rad_s * inertia_kg_m2 / step_s
        self.friction_n = min(max((to_hold_nm - held_nm) / design.ring_radius_m, 0.0), grip_n)
        return 0.0
