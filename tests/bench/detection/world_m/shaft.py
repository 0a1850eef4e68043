"""The shaft: motor, belt, ring, seals and contact, one step of the physics after the other.

Reads `world_m.design`, `world_m.drives`, `world_m.damage`. The contact's film moves slowly and is handed in per block.
"""

from dataclasses import dataclass, field
from math import cos, exp, pi, sin

import numpy as np
from world_b.values import Floats

from world_m.damage import Damage
from world_m.design import Design
from world_m.drives import Drive
from world_m.grid import STEP_S
from world_m.oil import SHARE_POWER, SPEED_POWER

REST_SHARE = 1e-3
"""Of idle speed, below which the ring counts as at rest while the torque cannot break it away."""
LEFT_SHARE = 0.15
"""Share of the friction force left in the springs of the rig after the ring has come to rest."""
TURN = 2.0 * pi


@dataclass(frozen=True, slots=True)
class Inputs:
    """Arrays over the clock of the physics, (n,) each: load in N, supply, friction factor, outside torque, damage."""

    load_n: list[float]
    supply: list[float]
    factor: list[float]
    jam_nm: list[float]
    share: list[float]
    scuffed_mu: list[float]
    patch: list[float]


def inputs(load_n: Floats, supply: Floats, factor: Floats, jam_nm: Floats, damage: Damage) -> Inputs:
    """Give the arrays as lists, which a loop reads faster."""
    arrays = (load_n, supply, factor, jam_nm, damage.share, damage.scuffed_mu, damage.patch)
    return Inputs(*(array.tolist() for array in arrays))


@dataclass(slots=True)
class Film:
    """The contact within a block: film over knee is scale x speed^0.7; boundary_mu with running-in."""

    scale: float
    boundary_mu: float
    drag_nm: float


@dataclass(slots=True)
class Output:
    """What came of it, one value a step."""

    load_n: list[float] = field(default_factory=list)
    friction_n: list[float] = field(default_factory=list)
    sound_friction_n: list[float] = field(default_factory=list)
    current_a: list[float] = field(default_factory=list)
    ring_rad_s: list[float] = field(default_factory=list)
    motor_rad_s: list[float] = field(default_factory=list)
    torque_nm: list[float] = field(default_factory=list)
    ring_turns_rad: list[float] = field(default_factory=list)

    def arrays(self) -> dict[str, Floats]:
        return {name: np.asarray(getattr(self, name)) for name in self.__slots__}


class Shaft:
    """Turns; holds speed, angle and belt between steps."""

    def __init__(self, design: Design, drive: Drive, given: Inputs, running: bool) -> None:
        self._design, self._drive, self._given = design, drive, given
        self.out = Output()
        self.ring_rad_s = self.motor_rad_s = 0.0
        self._angle_rad = 0.0
        self._friction_n = 0.0
        self._slips = False
        if running:
            self._run_up()

    def _run_up(self) -> None:
        """Bring drive and ring to idle speed before the recording begins."""
        inertia = self._design.inertia_kg_m2
        for _ in range(int(25.0 / STEP_S)):
            torque_nm, _a = self._drive.step(self.ring_rad_s, 1.0, STEP_S)
            self.ring_rad_s += (torque_nm - self._drag_nm(self._design.drag_nm, self.ring_rad_s)) / inertia * STEP_S
        self.motor_rad_s = self.ring_rad_s

    def _drag_nm(self, drag_nm: float, speed_rad_s: float) -> float:
        return drag_nm * (0.6 + 0.4 * speed_rad_s / self._design.idle_rad_s) if speed_rad_s > 0.0 else 0.0

    def advance(self, first: int, last: int, film: Film) -> None:
        """Advance from step `first` up to `last`."""
        design, given, out = self._design, self._given, self.out
        radius_m, idle = design.radius_m, design.idle_rad_s
        for i in range(first, last):
            self._angle_rad += self.ring_rad_s * STEP_S
            load_n = given.load_n[i] * (1.0 + design.contact.run_out * sin(self._angle_rad))
            load_n = max(0.0, load_n + design.contact.lean * self._friction_n) if load_n > 0.0 else 0.0
            moving = self.ring_rad_s > REST_SHARE * idle
            sound_n, friction_n = self._contact(i, load_n, film, moving)
            motor_nm, current_a = self._drive.step(self.motor_rad_s, given.supply[i], STEP_S)
            drag_nm = self._drag_nm(film.drag_nm, self.ring_rad_s) if moving else 0.6 * film.drag_nm
            other_nm = drag_nm + given.jam_nm[i]
            sent_nm = self._turn(motor_nm, friction_n * radius_m + other_nm, moving)
            if self.ring_rad_s <= REST_SHARE * idle:
                carried_n = max(LEFT_SHARE * friction_n, (sent_nm - other_nm) / radius_m)
                friction_n = min(friction_n, carried_n)
            self._friction_n = friction_n
            out.load_n.append(load_n)
            out.friction_n.append(friction_n)
            out.sound_friction_n.append(sound_n)
            out.current_a.append(current_a)
            out.ring_rad_s.append(self.ring_rad_s)
            out.motor_rad_s.append(self.motor_rad_s)
            out.torque_nm.append(motor_nm)
            out.ring_turns_rad.append(self._angle_rad)

    def _contact(self, i: int, load_n: float, film: Film, moving: bool) -> tuple[float, float]:
        """Give the largest friction force the contact can hold, without and with its damage, in N."""
        contact, given = self._design.contact, self._given
        if moving:
            solid = exp(-film.scale * self.ring_rad_s ** (SPEED_POWER * SHARE_POWER))
            mu = contact.fluid_mu + (film.boundary_mu - contact.fluid_mu) * solid
        else:
            mu = film.boundary_mu * contact.static_ratio
        mu *= given.factor[i]
        share = given.share[i]
        if given.patch[i] > 0.0 and moving:
            share += given.patch[i] * max(0.0, cos(self._angle_rad)) ** 6
        return mu * load_n, (mu + share * max(0.0, given.scuffed_mu[i] - mu)) * load_n

    def _turn(self, motor_nm: float, holding_nm: float, moving: bool) -> float:
        """Advance the speeds; give the torque sent to the ring in N m."""
        design = self._design
        inertia = design.inertia_kg_m2
        motor_inertia = inertia * design.motor_inertia_share
        if not design.belt_nm:
            self.ring_rad_s = self.motor_rad_s = _next(self.ring_rad_s, motor_nm, holding_nm, inertia, moving)
            return motor_nm
        if not self._slips:
            speed = _next(self.ring_rad_s, motor_nm, holding_nm, inertia, moving)
            sent_nm = motor_nm - motor_inertia * (speed - self.ring_rad_s) / STEP_S
            self._slips = abs(sent_nm) > design.belt_nm
            if not self._slips:
                self.ring_rad_s = self.motor_rad_s = speed
                return sent_nm
        ahead = self.motor_rad_s >= self.ring_rad_s
        sent_nm = design.belt_nm if ahead else -design.belt_nm
        self.motor_rad_s = max(0.0, self.motor_rad_s + (motor_nm - sent_nm) / motor_inertia * STEP_S)
        self.ring_rad_s = _next(self.ring_rad_s, sent_nm, holding_nm, inertia - motor_inertia, moving)
        if (self.motor_rad_s >= self.ring_rad_s) is not ahead:
            self.ring_rad_s = self.motor_rad_s = min(self.motor_rad_s, self.ring_rad_s)
            self._slips = False
        return sent_nm


def _next(speed_rad_s: float, driving_nm: float, holding_nm: float, inertia_kg_m2: float, moving: bool) -> float:
    """Give the speed one step on; what holds can stop the ring but never turn it back."""
    if not moving and driving_nm <= holding_nm:
        return 0.0
    return max(0.0, speed_rad_s + (driving_nm - holding_nm) / inertia_kg_m2 * STEP_S)
