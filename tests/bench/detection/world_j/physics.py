"""Integrates motor, belt, ring and heat. Reads a rig and what is done to it, gives a `Course`.

Rotation in steps of 5 ms, implicit in the motor's torque, so that the steep slope of a cage motor stays stable;
heat in steps of 0.1 s. The scalar loop is the one slow part of this world.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats

from .drive_state import DriveState
from .friction_story import FrictionStory
from .heat import HEAT_EVERY, STEP_S, Extra, HeatState
from .rigs import Rig
from .scripts import Script

STATIC_SPEED_SHARE = 0.03


@dataclass(frozen=True, slots=True)
class Course:
    """What happened on the clock of the physics, each (n,): see `Inside` for names and units.

    Attributes:
        slip_rad_s: of a cage motor.
        heat_in_j, bath_heat_j: as in `Inside`.
    """

    t_s: Floats
    load_n: Floats
    friction_n: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    slip_rad_s: Floats
    bath_degc: Floats
    pin_degc: Floats
    on: Flags
    heat_in_j: float
    bath_heat_j: float


def run(
    rig: Rig, script: Script, story: FrictionStory, t_s: Floats, load_n: Floats, on: Flags, extra: Extra, warm: float
) -> Course:
    """Give the course of a recording; warm (0 to 1) is how warm the bath is at the beginning."""
    drive, contact, dt = rig.drive, rig.contact, STEP_S
    free = drive.free_speed_rad_s
    drive_state = DriveState(drive, script.mid_run, rig.drag_torque_nm + 0.1 * float(load_n[0]) * rig.radius_m)
    motor_j, ring_j = 0.8 * drive.inertia_kg_m2, 0.2 * drive.inertia_kg_m2
    radius, inv_static = rig.radius_m, 1.0 / (STATIC_SPEED_SHARE * free)
    thin = (np.maximum(load_n, 0.02 * rig.top_load_n) / rig.top_load_n) ** -0.3
    loads, ons, jams, thins = load_n.tolist(), on.tolist(), extra.jam_nm.tolist(), thin.tolist()
    factors, severities = story.factor.tolist(), story.severity.tolist()
    scuffeds = story.scuffed_coefficient.tolist()
    n = t_s.size
    rings, motors, torques, slips, frictions = [0.0] * n, [0.0] * n, [0.0] * n, [0.0] * n, [0.0] * n
    state = HeatState(rig, script, story, extra, t_s, warm)
    ring = motor = 0.97 * free if script.mid_run else 0.0
    slipping, energy = False, 0.0
    boundary, film, static = contact.boundary_coefficient, contact.film_coefficient, contact.static_extra
    film_per_speed = contact.film_strength / free
    strength, drag = film_per_speed * state.viscosity(), rig.drag_torque_nm
    for k in range(n):
        if k % HEAT_EVERY == 0:
            state.advance(k, energy)
            energy = 0.0
            strength = film_per_speed * state.viscosity()
            drag = rig.drag_torque_nm * state.drag_factor()
        torque = drive_state.pull(motor, ons[k])
        slope = drive_state.slope
        still = ring * inv_static
        h = strength * ring * thins[k]
        mu = (boundary * (1.0 + static / (1.0 + still * still)) + film * h) / (1.0 + h) * factors[k]
        severity = severities[k]
        if severity > 0.0:
            mu += severity * (max(scuffeds[k], 2.4 * mu) - mu)
        friction = mu * loads[k]
        seals = drag * (0.4 + 0.6 * ring / free)
        resisting = friction * radius + seals + jams[k]
        if slipping:
            belt = 0.8 * rig.belt_torque_nm
            motor = max(motor + dt * (torque - belt) / (motor_j - dt * slope), 0.0)
            new = max(ring + dt * (belt - resisting) / ring_j, 0.0)
            if new >= motor:
                slipping, new = False, motor
            passed = belt
        else:
            new = max(ring + dt * (torque - resisting) / (motor_j + ring_j - dt * slope), 0.0)
            passed = torque
            if rig.belt:
                passed = min(torque, resisting) if new <= 0.0 else resisting + ring_j * (new - ring) / dt
                slipping = passed > rig.belt_torque_nm
            motor = new
        if new <= 0.0 and ring <= 0.0:
            friction = min(max((passed - seals - jams[k]) / radius, 0.0), friction)
        energy += friction * radius * 0.5 * (ring + new) * dt
        ring = new
        rings[k], motors[k], torques[k], slips[k], frictions[k] = ring, motor, torque, drive_state.slip, friction
    creep = 1.0 + rig.belt_creep * np.clip(np.array(torques) / drive.rated_torque_nm, 0.0, 2.0)
    return Course(
        t_s=t_s,
        load_n=load_n,
        friction_n=np.array(frictions),
        ring_rad_s=np.array(rings),
        motor_rad_s=np.array(motors) * creep,
        torque_nm=np.array(torques),
        slip_rad_s=np.array(slips),
        bath_degc=np.interp(np.arange(n), np.arange(len(state.baths)) * HEAT_EVERY, state.baths),
        pin_degc=np.interp(np.arange(n), np.arange(len(state.pins)) * HEAT_EVERY, state.pins),
        on=on,
        heat_in_j=state.heat_in_j,
        bath_heat_j=rig.heat.bath_j_k * (state.baths[-1] - state.baths[0]),
    )
