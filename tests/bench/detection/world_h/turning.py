"""Turns a rig through its acts: ring, motor and contact in fine steps, oil, warmth and surfaces in slow ones.

Reads `Rig` and `Acts`, gives the noise-free `Course`. Semi-implicit: friction never turns the ring backward.
"""

import copy
import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

from .acts import SLOW, Acts
from .drives import DT_S
from .rig import Rig
from .state import State

_TURN = 2.0 * math.pi
FINE = ("friction_n", "normal_n", "current_a", "ring_rad_s", "motor_rad_s", "shaft_nm", "angle_rad")
SLOWLY = ("bath_degc", "pin_degc")
MOST_MU = 2.5
"""Friction coefficient of a contact that has welded all over."""


@dataclass(slots=True)
class Course:
    """The noise-free world: fine arrays every `DT_S`, `bath_degc` and `pin_degc` on the slow grid.

    Attributes:
        friction_n, normal_n: at the contact.
        current_a: of the motor.
        ring_rad_s, motor_rad_s: both as seen at the ring.
        shaft_nm: given by the motor, seen at the ring.
        angle_rad: turned by the ring.
        bath_degc, pin_degc: true temperatures.
        heat_j: put in by friction, stirring and heaters over the course.
    """

    friction_n: Floats
    normal_n: Floats
    current_a: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    shaft_nm: Floats
    angle_rad: Floats
    bath_degc: Floats
    pin_degc: Floats
    heat_j: float = 0.0


def turn(rig: Rig, acts: Acts, state: State, begin: Course | None = None, first_slow: int = 0) -> Course:
    """Give the course of a rig.

    Args:
        rig: see there.
        acts: of the whole course.
        state: at the first slow step; is moved to the end.
        begin: a course whose part before `first_slow` is taken over.
        first_slow: slow step to begin at.
    """
    slow = len(acts.film)
    rows: list[Floats] = []
    degc: list[tuple[float, float]] = []
    feed = [acts.load_n, acts.supply, acts.grip, acts.patch, acts.patch_turn, acts.jam_nm]
    for step in range(first_slow, slow):
        part = slice(step * SLOW, (step + 1) * SLOW)
        state.slow_step(acts, step)
        degc.append((state.bath_degc, state.pin_degc))
        rows.append(np.asarray(_fast(rig, state, zip(*(one[part].tolist() for one in feed), strict=True))))
    found = dict(zip(FINE, np.concatenate(rows).T, strict=True))
    found |= dict(zip(SLOWLY, np.asarray(degc).T, strict=True))
    if begin is not None:
        for name in found:
            until = first_slow * (SLOW if name in FINE else 1)
            found[name] = np.concatenate([getattr(begin, name)[:until], found[name]])
    return Course(**{name: np.ascontiguousarray(values) for name, values in found.items()}, heat_j=state.heat_j)


def turn_until(rig: Rig, acts: Acts, state: State, slow: int) -> tuple[Course, State]:
    """Give the course of the first `slow` slow steps, and a copy of the state at their end."""
    short = acts.copy()
    for name in short.__dataclass_fields__:
        whole = getattr(acts, name)
        setattr(short, name, whole[: slow * (SLOW if len(whole) == len(acts.load_n) else 1)])
    return turn(rig, short, state), copy.deepcopy(state)


def _fast(rig: Rig, state: State, feed: "zip[tuple[float, ...]]") -> list[tuple[float, ...]]:
    drive, motor, lever, contact = state.drive, rig.motor, rig.lever, rig.contact
    sin, radius_m, inertia = math.sin, rig.ring_radius_m, motor.inertia_kgm2
    ring_kgm2 = inertia * motor.ring_share
    rows: list[tuple[float, ...]] = []
    omega, motor_omega, angle = state.ring_rad_s, state.motor_rad_s, state.angle_rad
    work_j, force_n, mu = 0.0, state.force_n, state.mu_at(omega)
    known_rad_s = omega
    for load_n, supply, grip, patch, patch_turn, jam_nm in feed:
        if abs(omega - known_rad_s) > 0.01 * known_rad_s + 1e-6:
            mu, known_rad_s = state.mu_at(omega), omega
        wave = sin(angle)
        pressed_n = load_n * (1.0 + lever.eccentric_ratio * wave)
        normal_n = max(0.2 * pressed_n, pressed_n + lever.pull_in * force_n) if pressed_n > 0.0 else 0.0
        ripple = 1.0 + contact.ripple_ratio * sin(angle + 1.1) + contact.second_ratio * sin(2.0 * angle)
        kinetic_n = min(mu * grip, MOST_MU) * normal_n * ripple
        if patch > 0.0:
            on_patch = (angle / _TURN) % 1.0 / patch_turn
            if on_patch < 1.0:
                kinetic_n *= 1.0 + patch * 4.0 * on_patch * (1.0 - on_patch)
        drag_nm = state.drag_at(omega)
        torque_nm = drive.pull(motor_omega, supply)
        resist_nm = drag_nm + kinetic_n * radius_m + jam_nm
        if motor_omega - omega < 1e-9 or motor.belt_nm == math.inf:
            free = omega + DT_S * torque_nm / inertia
            after = max(0.0, free - DT_S * resist_nm / inertia)
            carried_nm = torque_nm - (1.0 - motor.ring_share) * inertia * (after - omega) / DT_S
            slips = carried_nm > motor.belt_nm
        else:
            slips = True
        if slips:
            after = max(0.0, omega + DT_S * (motor.belt_nm - resist_nm) / ring_kgm2)
            motor_omega = max(0.0, motor_omega + DT_S * (torque_nm - motor.belt_nm) / (inertia - ring_kgm2))
            carried_nm = motor.belt_nm
            if motor_omega <= after:
                motor_omega = after = (motor_omega * (inertia - ring_kgm2) + after * ring_kgm2) / inertia
        else:
            motor_omega = after
        if after > 0.0:
            force_n = kinetic_n
        else:
            held_n = (carried_nm - drag_nm - jam_nm) / radius_m
            state.sprung_n = state.sprung_n * state.relax if omega <= 0.0 else force_n * state.rest_share
            force_n = min(kinetic_n, max(held_n, state.sprung_n, 0.0))
        angle += 0.5 * (omega + after) * DT_S
        work_j += force_n * 0.5 * (omega + after)
        omega = after
        rows.append((force_n, normal_n, drive.current_a, omega, motor_omega, torque_nm, angle))
    state.take(omega, motor_omega, angle, force_n, work_j * radius_m * DT_S)
    return rows
