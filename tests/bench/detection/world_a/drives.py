"""Drives of the first world: the simulated rig's own induction motor, and one whose torque falls straight with speed.

Reads supply and resisting torque, gives ring speed and current. Everything is as seen at the ring.
"""

import math
from dataclasses import dataclass
from typing import Protocol

from world_b.values import DriveKind

from scuffwatch.sim.motor import Motor
from scuffwatch.sim.params import RigParams


class Turning(Protocol):
    """What the course needs of a motor; `scuffwatch.sim.motor.Motor` is one."""

    speed_rad_s: float
    angle_rad: float
    torque_nm: float

    def step(self, dt_s: float, powered: bool, resist_nm: float) -> float:
        """Let `dt_s` pass and give the current, A."""
        ...


@dataclass(frozen=True, slots=True)
class StraightLine:
    """A brushed motor, or an inverter drive seen from outside.

    Attributes:
        set_rad_s: speed without load.
        stiffness_nm_s: torque per speed missing.
        inertia_kg_m2: ring, rotor and gear, at the ring.
        torque_limit_nm: of the electronics; infinite where there is none.
        ramp_s: time the set speed takes to come up, 0 for at once.
        current_per_nm: A per N m.
        magnetising_current_a: that is there without torque, at right angles; 0 for a brushed motor.
        lag_s: of the current behind the torque.
    """

    set_rad_s: float
    stiffness_nm_s: float
    inertia_kg_m2: float
    torque_limit_nm: float
    ramp_s: float
    current_per_nm: float
    magnetising_current_a: float
    lag_s: float


class StraightMotor:
    """A motor whose torque grows straight with the speed it lacks, up to a limit; exact over one step.

    What survives a call: speed, angle, torque, the set speed on its ramp, the current.
    """

    __slots__ = ("_current_a", "_line", "_reference_rad_s", "angle_rad", "speed_rad_s", "torque_nm")

    def __init__(self, line: StraightLine) -> None:
        self._line = line
        self._reference_rad_s = 0.0
        self._current_a = 0.0
        self.speed_rad_s = 0.0
        self.angle_rad = 0.0
        self.torque_nm = 0.0

    def step(self, dt_s: float, powered: bool, resist_nm: float) -> float:
        """Let `dt_s` pass; see `Turning`."""
        line, before = self._line, self.speed_rad_s
        if powered:
            rise = line.set_rad_s * dt_s / line.ramp_s if line.ramp_s > 0.0 else line.set_rad_s
            self._reference_rad_s = min(max(self._reference_rad_s, before) + rise, line.set_rad_s)
            after = self._pulled(dt_s, before, resist_nm)
        else:
            self._reference_rad_s = 0.0
            self.torque_nm = 0.0
            after = max(before - resist_nm * dt_s / line.inertia_kg_m2, 0.0)
        self.angle_rad += 0.5 * (before + after) * dt_s
        self.speed_rad_s = after
        wanted_a = math.hypot(self.torque_nm * line.current_per_nm, line.magnetising_current_a) if powered else 0.0
        self._current_a += (wanted_a - self._current_a) * -math.expm1(-dt_s / line.lag_s)
        return self._current_a

    def _pulled(self, dt_s: float, before: float, resist_nm: float) -> float:
        line = self._line
        ends_at = self._reference_rad_s - resist_nm / line.stiffness_nm_s
        after = ends_at + (before - ends_at) * math.exp(-line.stiffness_nm_s * dt_s / line.inertia_kg_m2)
        torque = line.stiffness_nm_s * (self._reference_rad_s - max(after, 0.0))
        if torque > line.torque_limit_nm:
            torque = line.torque_limit_nm
            after = before + (torque - resist_nm) * dt_s / line.inertia_kg_m2
        self.torque_nm = max(torque, 0.0)
        return max(after, 0.0)


def motor_of(kind: DriveKind, params: RigParams, line: StraightLine) -> Turning:
    """Give the motor of a rig, at rest."""
    return Motor(params) if kind is DriveKind.INDUCTION_DIRECT else StraightMotor(line)


def settled(motor: Turning, resist_nm: float, for_s: float = 30.0) -> tuple[float, float]:
    """Give speed, rad/s, and current, A, after a start against a steady torque."""
    current_a = 0.0
    for _ in range(int(for_s / 0.005)):
        current_a = motor.step(0.005, True, resist_nm if motor.speed_rad_s > 0.0 else 0.0)
    return motor.speed_rad_s, current_a
