"""Integrates motor, belt, ring and heat. Reads a rig and what is done to it, gives a `Course`.

Rotation in steps of 5 ms, implicit in the motor's torque, so that the steep slope of a cage motor stays stable;
heat in steps of 0.1 s. The scalar loop is the one slow part of this world.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats

from .drives import DriveState
from .friction_story import FrictionStory
from .heat import HEAT_EVERY, STEP_S, Extra, HeatState
from .rigs import Rig
from .scripts import Script

STATIC_SPEED_SHARE = 0.03
MOTOR_SHARE = 0.8


@dataclass(frozen=True, slots=True)
class Course:
    """What happened on the clock of the physics, each (n,): see `Inside` for names and units."""

    t_s: Floats
    load_n: Floats
    friction_n: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    slip_rad_s: Floats  # of a cage motor
    bath_degc: Floats
    pin_degc: Floats
    on: Flags
    heat_in_j: float  # as in `Inside`
    bath_heat_j: float


class Shafts:
    """Speeds of motor and ring, both at the ring, rad/s; the rest is of the last step, N m."""

    def __init__(self, rig: Rig, running: bool, load_n: float) -> None:
        self.rig, self.free = rig, rig.drive.free_speed_rad_s
        self.drive = DriveState(rig.drive, running, rig.drag_torque_nm + 0.1 * load_n * rig.radius_m, STEP_S)
        self.motor_j, self.ring_j = (share * rig.drive.inertia_kg_m2 for share in (MOTOR_SHARE, 1.0 - MOTOR_SHARE))
        self.inv_static = 1.0 / (STATIC_SPEED_SHARE * self.free)
        self.boundary, self.film = rig.contact.boundary_coefficient, rig.contact.film_coefficient
        self.static, self.strength = rig.contact.static_extra, 0.0
        self.ring = self.motor = 0.97 * self.free if running else 0.0
        self.slipping, self.torque = False, 0.0

    def thicken(self, viscosity: float) -> None:
        """Take the oil's viscosity against that at the usual temperature."""
        self.strength = self.rig.contact.film_strength / self.free * viscosity

    def healthy_coefficient(self, film: float) -> float:
        """Give the friction coefficient at the ring's speed; film is how the load thins the film, -.

        Source: the mixed part of a Stribeck curve as a mean of two coefficients, weighted by film over roughness.
        """
        still, h = self.ring * self.inv_static, self.strength * self.ring * film
        return (self.boundary * (1.0 + self.static / (1.0 + still * still)) + self.film * h) / (1.0 + h)

    def turn(self, on: bool, friction_n: float, drag_nm: float, jam_nm: float) -> float:
        """Move on by a step; give the friction force, which at rest is only what the motor presses against, N."""
        rig, ring = self.rig, self.ring
        self.torque = torque = self.drive.pull(self.motor, on)
        held_nm = drag_nm * (0.4 + 0.6 * ring / self.free) + jam_nm
        resisting = friction_n * rig.radius_m + held_nm
        if self.slipping:
            passed = 0.8 * rig.belt_torque_nm
            self.motor = max(self.motor + STEP_S * (torque - passed) / (self.motor_j - STEP_S * self.drive.slope), 0.0)
            self.ring = max(ring + STEP_S * (passed - resisting) / self.ring_j, 0.0)
            if self.ring >= self.motor:
                self.slipping, self.ring = False, self.motor
        else:
            inertia = self.motor_j + self.ring_j - STEP_S * self.drive.slope
            self.ring = self.motor = max(ring + STEP_S * (torque - resisting) / inertia, 0.0)
            passed = torque
            if rig.belt:
                speeding = self.ring_j * (self.ring - ring) / STEP_S
                passed = resisting + speeding if self.ring > 0.0 else min(torque, resisting)
                self.slipping = passed > rig.belt_torque_nm
        if self.ring <= 0.0 and ring <= 0.0:
            return min(max((passed - held_nm) / rig.radius_m, 0.0), friction_n)
        return friction_n


def run(
    rig: Rig, script: Script, story: FrictionStory, t_s: Floats, load_n: Floats, on: Flags, extra: Extra, warm: float
) -> Course:
    """Give the course of a recording; warm (0 to 1) is how warm the bath is at the beginning."""
    thin = (np.maximum(load_n, 0.02 * rig.top_load_n) / rig.top_load_n) ** -0.3
    fine = (load_n, on, extra.jam_nm, thin, story.factor, story.severity, story.scuffed_coefficient)
    steps = zip(*(values.tolist() for values in fine), strict=True)
    heat = HeatState(rig, script, story, extra, warm)
    shafts = Shafts(rig, script.mid_run, float(load_n[0]))
    radius, energy_j, before, out = rig.radius_m, 0.0, shafts.ring, []
    drag_nm = rig.drag_torque_nm
    for k, (load, switched, jam, film, factor, severity, scuffed) in enumerate(steps):
        if k % HEAT_EVERY == 0:
            heat.advance(k, energy_j)
            energy_j, drag_nm = 0.0, rig.drag_torque_nm * heat.drag_factor()
            shafts.thicken(heat.viscosity())
        mu = shafts.healthy_coefficient(film) * factor
        if severity > 0.0:
            mu += severity * (max(scuffed, 2.4 * mu) - mu)
        friction = shafts.turn(switched, mu * load, drag_nm, jam)
        energy_j += friction * radius * 0.5 * (before + shafts.ring) * STEP_S
        before = shafts.ring
        out.append((before, shafts.motor, shafts.torque, shafts.drive.slip, friction))
    ring, motor, torque, slip, force = np.array(out).T
    motor = motor * (1.0 + rig.belt_creep * np.clip(torque / rig.drive.rated_torque_nm, 0.0, 2.0))
    every = np.arange(len(heat.baths)) * HEAT_EVERY
    bath, pin = (np.interp(np.arange(t_s.size), every, kept) for kept in (heat.baths, heat.pins))
    kept_j = rig.heat.bath_j_k * (heat.baths[-1] - heat.baths[0])
    return Course(t_s, load_n, force, ring, motor, torque, slip, bath, pin, on, heat.heat_in_j, kept_j)
