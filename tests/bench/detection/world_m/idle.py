"""What the technician reads by hand with the pin lifted, and what the motor draws when held.

Reads `world_m.design`.
"""

from dataclasses import dataclass

from world_m.design import Design
from world_m.grid import STEP_S

SETTLE_S = 40.0


@dataclass(frozen=True, slots=True)
class Idle:
    """The bare rig: idle speed and current, warm; current of the held motor after a second."""

    speed_rad_s: float
    current_a: float
    stall_current_a: float


def idle(design: Design) -> Idle:
    """Run the rig up without load until it is steady, then another one held fast."""
    drive, speed_rad_s, current_a = design.drive.fresh(), 0.0, 0.0
    for _ in range(int(SETTLE_S / STEP_S)):
        torque_nm, current_a = drive.step(speed_rad_s, 1.0, STEP_S)
        drag_nm = design.drag_nm * (0.6 + 0.4 * speed_rad_s / design.idle_rad_s)
        speed_rad_s = max(0.0, speed_rad_s + (torque_nm - drag_nm) / design.inertia_kg_m2 * STEP_S)
    held, stall_a = design.drive.fresh(), 0.0
    for _ in range(int(SETTLE_S / STEP_S)):
        stall_a = held.step(0.0, 1.0, STEP_S)[1]
    return Idle(speed_rad_s, current_a, stall_a)
