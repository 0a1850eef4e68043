"""The ring turns: motor, belt, bearings and contact, step by step on the inner clock.

Reads a rig and courses, gives speed, torque, current and forces. The only loop over all samples.
"""

from dataclasses import dataclass, fields
from math import cos, exp, sin

import numpy as np
from world_b.values import Flags, Floats

from .chance import STEP_S
from .damage import Harm
from .motors import pull_of
from .rig import Rig

_PATCH_SHARPNESS = 6.0
_BELT_SLIPS_ON = 0.85
"""A slipping belt carries less than one that grips; plausible, invented."""


@dataclass(frozen=True, slots=True)
class Courses:
    """What acts on the ring, (n,) each: see the rooms that give them.

    Attributes:
        on, supply: of the motor; supply relative to nominal.
        drag_share: of the bearings relative to warm.
        outside_nm: torque of a jam.
        load_n: hung on the pin.
        film_mu, fluid_ratio: see `film`.
        unrest: factor on friction.
        harm: see `damage`.
    """

    on: Flags
    supply: Floats
    drag_share: Floats
    outside_nm: Floats
    load_n: Floats
    film_mu: Floats
    fluid_ratio: Floats
    unrest: Floats
    harm: Harm

    def until(self, count: int, harm: Harm, unrest: Floats, supply: Floats) -> "Courses":
        """Give the first `count` samples as they would be without a jam, with the given damage and supply."""
        return Courses(
            on=self.on[:count], supply=supply[:count], drag_share=self.drag_share[:count], outside_nm=np.zeros(count),
            load_n=self.load_n[:count], film_mu=self.film_mu[:count], fluid_ratio=self.fluid_ratio[:count],
            unrest=unrest[:count], harm=harm.part(slice(count)),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Turned:
    """What comes of it, (n,) each; speeds as seen at the ring, angle in rad and growing."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    current_a: Floats
    friction_n: Floats
    normal_n: Floats
    angle_rad: Floats

    def after(self, count: int) -> "Turned":
        """Give all but the first samples."""
        return Turned(*(getattr(self, each.name)[count:] for each in fields(self)))

    def power_w(self, rig: Rig) -> Floats:
        """Give the friction power."""
        return self.friction_n * self.ring_rad_s * rig.radius_m


def turn(rig: Rig, courses: Courses, begin_rad_s: float) -> Turned:
    """Turn the ring through all courses, from the given speed."""
    motor, contact, harm, radius = rig.motor, rig.contact, courses.harm, rig.radius_m
    pull, goal, drag = pull_of(motor), motor.set_speed_rad_s, motor.drag_torque_nm
    motor_j, ring_j, belt = motor.motor_inertia_kgm2, motor.ring_inertia_kgm2, motor.belt_torque_nm
    both_j, slow = motor_j + ring_j, 0.03 * motor.set_speed_rad_s
    fluid_mu, static, left_share = contact.fluid_mu, contact.static_share, contact.left_share
    run_out, lift_share, patch_rad = contact.run_out_share, contact.lift_share, harm.patch_rad
    speed = shaft = begin_rad_s
    pull(False, 1.0, speed)  # a controller finds the ring at this speed
    angle, stuck, slipping = 0.0, 0.0, False
    rows: list[tuple[float, float, float, float, float, float, float]] = []
    columns = (courses.on, courses.supply, courses.drag_share, courses.outside_nm, courses.load_n, courses.film_mu,
               courses.fluid_ratio, courses.unrest * harm.lift, harm.spread, harm.scuffed_mu, harm.patch)  # fmt: skip
    for on, supply, stiff, outside, hung, film, fluid, factor, spread, scuffed, patch in zip(
        *(column.tolist() for column in columns), strict=True
    ):
        torque, current = pull(on, supply, shaft)
        share = fluid * speed / goal
        mu = (film + (fluid_mu - film) * share / (1.0 + share)) * factor
        if speed < slow:
            mu *= 1.0 + static * (1.0 - speed / slow)
        if patch > 0.0:
            mu *= 1.0 + patch * exp(_PATCH_SHARPNESS * (cos(angle - patch_rad) - 1.0))
        if spread > 0.0:
            mu += spread * (scuffed - mu)
        stuck = 0.0 if speed > 0.0 else max(mu, stuck)  # where nothing slides, what holds does not let go by itself
        mu = max(mu, stuck)
        normal = hung * (1.0 + run_out * sin(angle)) * (1.0 + lift_share * min(mu, 1.0))
        friction = mu * normal
        rest = drag * stiff * (0.6 + 0.4 * speed / goal) + outside
        hold = rest + friction * radius
        if slipping or shaft > speed:
            carried = _BELT_SLIPS_ON * belt
            shaft = max(0.0, shaft + (torque - carried) / motor_j * STEP_S)
            next_speed = max(0.0, speed + (carried - hold) / ring_j * STEP_S)
            if shaft <= next_speed:
                shaft = next_speed = (motor_j * shaft + ring_j * next_speed) / both_j
                slipping = False
        else:
            gain = (torque - hold) / both_j
            if hold + ring_j * gain > belt:
                slipping, carried, next_speed = True, belt, speed
            else:
                carried = torque
                shaft = next_speed = max(0.0, speed + gain * STEP_S)
        if speed <= 0.0 and next_speed <= 0.0:
            left = left_share * friction
            friction = max(min(friction, (carried - rest) / radius), left) if on else left
        rows.append((speed, shaft, torque, current, friction, normal, angle))
        speed = next_speed
        angle += speed * STEP_S
    table = np.asarray(rows, dtype=np.float64).T
    return Turned(*(np.ascontiguousarray(row) for row in table))
