"""Turns the ring: motor, belt, friction and load step by step, with heat and film every half second.

Reads rig, plan and courses; gives the noise-free world on the inner clock. Speeds go on by a step that is implicit in
the motor's own slope, so a stiff motor stays stable.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Floats

from .chance import SLOW_S, SLOW_STEPS, STEP_S
from .courses import Courses
from .drive import Drive
from .plan import Plan
from .rig import Rig
from .slow import Slow


@dataclass(frozen=True, slots=True)
class Turned:
    """The noise-free world, each (n,) on the inner clock.

    Attributes:
        t_s: from -BEFORE_S on.
        load_n, friction_n: at the contact.
        torque_nm, current_a: of the motor, at the ring; mean over a commutation or a mains period.
        ring_rad_s, motor_rad_s: of the ring, and of the motor as seen there.
        pin_degc, bath_degc: true.
        heat_in_j, heat_kept_j: (slow steps + 1,) see `slow`.
    """

    t_s: Floats
    load_n: Floats
    friction_n: Floats
    torque_nm: Floats
    current_a: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    pin_degc: Floats
    bath_degc: Floats
    heat_in_j: Floats
    heat_kept_j: Floats


def first_part_of(turned: Turned, count: int) -> Turned:
    """Give the first inner steps, a whole number of slow ones, of a turned world."""
    slow = count // SLOW_STEPS + 1
    return Turned(
        t_s=turned.t_s[:count],
        load_n=turned.load_n[:count],
        friction_n=turned.friction_n[:count],
        torque_nm=turned.torque_nm[:count],
        current_a=turned.current_a[:count],
        ring_rad_s=turned.ring_rad_s[:count],
        motor_rad_s=turned.motor_rad_s[:count],
        pin_degc=turned.pin_degc[:count],
        bath_degc=turned.bath_degc[:count],
        heat_in_j=turned.heat_in_j[:slow],
        heat_kept_j=turned.heat_kept_j[:slow],
    )


_Rows = list[tuple[float, float, float, float, float, float]]


class _Shaft:
    """Ring, belt and motor shaft; `run` goes through one slow step."""

    __slots__ = ("angle", "belt_slips", "drive", "motor_rad_s", "mu", "rig", "ring_rad_s", "usual_mu")

    def __init__(self, rig: Rig, usual_mu: float) -> None:
        self.rig, self.drive, self.usual_mu = rig, Drive(rig.motor), usual_mu
        self.ring_rad_s = self.motor_rad_s = self.angle = 0.0
        self.mu, self.belt_slips = usual_mu, False

    def run(self, part: Courses, slow: Slow) -> _Rows:
        """Give load, friction, torque, current, ring and motor speed of every inner step."""
        rig, drive, phases = self.rig, self.drive, part.phases.tolist()
        contact, lever, motor = rig.contact, rig.lever, rig.motor
        spots_mu, fluid_mu, scuffed_mu = slow.spots_mu(), contact.fluid_mu, contact.scuffed_mu
        lift, drag_nm, radius_m = slow.lift() / motor.ideal_rad_s, slow.drag_nm(), rig.radius_m
        once, twice, turn = lever.run_out_share, lever.run_out_twice_share, contact.turn_share
        harm, sin, rows, mu, angle = part.harm, math.sin, [], self.mu, self.angle
        for hung, unrest, on, supply, outside, scuffed, rough, gain, spot, weld in zip(
            part.hung_n.tolist(), part.unrest.tolist(), part.on.tolist(), part.supply.tolist(),
            part.outside_nm.tolist(), harm.scuffed.tolist(), harm.rough.tolist(), harm.gain.tolist(),
            harm.spot.tolist(), harm.weld.tolist(), strict=True,
        ):  # fmt: skip
            ring = self.ring_rad_s
            solid = 1.0 / (1.0 + lift * ring)
            well = (solid * spots_mu + (1.0 - solid) * fluid_mu) * unrest * gain
            well *= 1.0 + turn * sin(angle + phases[0])
            if spot > 0.0:
                well *= 1.0 + spot * max(sin(angle + phases[1]), 0.0) ** 6
            mu = (well * (1.0 - scuffed) + scuffed_mu * rough * scuffed) * weld
            drawn = 1.0 + lever.drawn_in * (min(mu, 1.5) - self.usual_mu)
            load = hung * (1.0 + once * sin(angle + phases[2]) + twice * sin(2.0 * angle + phases[3])) * drawn
            if on:
                torque, current, slope = drive.pull(self.motor_rad_s, supply)
                torque *= 1.0 + motor.ripple_share * sin(angle * motor.ripple_per_turn + phases[4])
            else:
                drive.off()
                torque, current, slope = 0.0, 0.0, 0.0
            friction = mu * load
            self._go_on(torque, slope, friction * radius_m + drag_nm + outside)
            if self.ring_rad_s <= 0.0:
                left = (torque - drag_nm - outside) / radius_m
                friction = min(friction, left) if left > 0.0 else 0.0
            angle += self.ring_rad_s * STEP_S
            rows.append((load, friction, torque, current, self.ring_rad_s, self.motor_rad_s))
        self.mu, self.angle = mu, angle
        return rows

    def _go_on(self, torque: float, slope: float, held_nm: float) -> None:
        motor = self.rig.motor
        if not self.belt_slips:
            both = motor.motor_inertia_kgm2 + motor.ring_inertia_kgm2
            speed = self.ring_rad_s + STEP_S * (torque - held_nm) / (both + STEP_S * slope)
            carried = torque - motor.motor_inertia_kgm2 * (speed - self.ring_rad_s) / STEP_S
            if speed <= 0.0 and self.ring_rad_s <= 0.0:
                carried = min(torque, held_nm)
            if carried <= motor.belt_torque_nm:
                self.ring_rad_s = self.motor_rad_s = max(speed, 0.0)
                return
            self.belt_slips = True
        carried = 0.85 * motor.belt_torque_nm
        quick = motor.motor_inertia_kgm2 + STEP_S * slope
        self.motor_rad_s = max(self.motor_rad_s + STEP_S * (torque - carried) / quick, 0.0)
        self.ring_rad_s = max(self.ring_rad_s + STEP_S * (carried - held_nm) / motor.ring_inertia_kgm2, 0.0)
        if self.motor_rad_s <= self.ring_rad_s:
            self.motor_rad_s, self.belt_slips = self.ring_rad_s, False


def turn(rig: Rig, plan: Plan, courses: Courses, slow: Slow, usual_mu: float) -> Turned:
    """Give the noise-free world over the whole of the courses; the state in `slow` goes along."""
    shaft, count = _Shaft(rig, usual_mu), len(courses.t_s)
    rows: _Rows = []
    degc, heat_j = np.empty((2, count // SLOW_STEPS + 1, 2))
    nights = list(plan.hands.nights)
    set_rad_s = rig.set_rad_s
    for k in range(count // SLOW_STEPS):
        part = slice(k * SLOW_STEPS, (k + 1) * SLOW_STEPS)
        now_s = float(courses.t_s[part.start])
        if nights and now_s >= nights[0]:
            nights.pop(0)
            slow.night()
        degc[k] = slow.pin_degc, slow.bath_degc
        heat_j[k] = slow.heat_in_j, slow.heat_kept_j
        new = shaft.run(_part(courses, part), slow)
        rows += new
        turning = sum(row[4] for row in new) / SLOW_STEPS / set_rad_s
        power_w = sum(row[1] * row[4] for row in new) / SLOW_STEPS * rig.radius_m
        slow.step(now_s, power_w, sum(row[0] for row in new) / SLOW_STEPS, turning, plan.trouble)
        slow.tear(courses.torn[k], turning)
    degc[-1] = slow.pin_degc, slow.bath_degc
    heat_j[-1] = slow.heat_in_j, slow.heat_kept_j
    load, friction, torque, current, ring, motor = np.array(rows, dtype=np.float64).T
    slow_s = courses.t_s[0] + np.arange(len(degc)) * SLOW_S
    pin, bath = (np.interp(courses.t_s, slow_s, degc[:, i]) for i in range(2))
    return Turned(courses.t_s, load, friction, torque, current, ring, motor, pin, bath, heat_j[:, 0], heat_j[:, 1])


def _part(courses: Courses, part: slice) -> Courses:
    harm = courses.harm
    return Courses(
        courses.t_s[part], courses.hung_n[part], courses.unrest[part], courses.on[part], courses.supply[part],
        courses.outside_nm[part],
        type(harm)(harm.scuffed[part], harm.rough[part], harm.gain[part], harm.spot[part], harm.weld[part]),
        courses.torn, courses.phases,
    )  # fmt: skip
