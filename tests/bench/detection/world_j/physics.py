"""Integrates motor, belt, ring and heat. Reads a rig and what is done to it, gives a `Course`."""

from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats

from .drives import DriveState
from .friction_story import FrictionStory
from .rigs import Rig
from .scripts import Script

STEP_S = 0.005  # implicit in the motor's torque, so that the steep slope of a cage motor stays stable
HEAT_EVERY = 20  # steps
STATIC_SPEED_SHARE = 0.03
MOTOR_SHARE = 0.8  # of inertia


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


@dataclass(frozen=True, slots=True)
class Extra:
    """What comes from outside: (n,) jam torque at the ring in N m, heat into the bath in W, pin conductance factor."""

    jam_nm: Floats
    bath_w: Floats
    pin_factor: Floats


class HeatState:
    """Temperatures of pin, ring and bath, in degC, moved on every HEAT_EVERY steps."""

    def __init__(self, rig: Rig, script: Script, story: FrictionStory, extra: Extra, warm: float) -> None:
        self.rig, self.extra = rig, extra
        heat, top_w = rig.heat, 0.08 * rig.top_load_n * rig.radius_m * rig.drive.free_speed_rad_s
        goal = heat.set_degc if heat.heater_w > 0.0 else heat.ambient_degc + 0.7 * top_w / heat.bath_w_k
        start = warm if heat.heater_w > 0.0 or script.mid_run else 0.1 * warm
        self.bath = heat.ambient_degc + start * (goal - heat.ambient_degc)
        self.pin = self.ring = self.bath
        self.heat_in_j = 0.0
        self.baths, self.pins = list[float](), list[float]()
        self.oil_s, self.oil_k, self.night_s = story.oil_s, story.oil_k, script.day_s
        self.usual_degc = goal

    def thickness(self) -> tuple[float, float]:
        """Give the oil's viscosity against that at the usual temperature, and the seals' drag against the warm one."""
        cold = float(np.clip((60.0 - self.bath) / 40.0, 0.0, 1.0))
        return float(np.exp(-0.022 * (self.bath - self.usual_degc))), 1.0 + self.rig.cold_drag_share * cold

    def advance(self, k: int, energy_j: float) -> None:
        """Move on to step k with the friction work done since the last call."""
        heat, dt = self.rig.heat, STEP_S * HEAT_EVERY
        if k > 0:
            heater_w = self.extra.bath_w[k]
            if heat.heater_w > 0.0:
                heater_w += min(max((heat.set_degc - self.bath) / 4.0, 0.0), 1.0) * heat.heater_w
            from_pin = heat.pin_w_k * self.extra.pin_factor[k] * (self.pin - self.bath)
            from_ring = heat.ring_w_k * (self.ring - self.bath)
            self.pin += (heat.pin_share * energy_j - from_pin * dt) / heat.pin_j_k
            self.ring += ((1.0 - heat.pin_share) * energy_j - from_ring * dt) / heat.ring_j_k
            lost = heat.bath_w_k * (self.bath - heat.ambient_degc)
            self.bath += (from_pin + from_ring + heater_w - lost) * dt / heat.bath_j_k
            self.heat_in_j += energy_j + heater_w * dt
            now_s = k * STEP_S
            if now_s - dt < self.oil_s <= now_s:
                self.bath += self.oil_k
            if now_s - dt < self.night_s <= now_s:
                cold = heat.ambient_degc + (0.9 * (heat.set_degc - heat.ambient_degc) if heat.heater_w > 0.0 else 0.0)
                self.bath = self.pin = self.ring = cold
        self.baths.append(self.bath)
        self.pins.append(self.pin)


class Shafts:
    """Speeds of motor and ring, both at the ring, rad/s; the rest is of the last step, N m."""

    def __init__(self, rig: Rig, running: bool, load_n: float) -> None:
        self.rig, self.free = rig, rig.drive.free_speed_rad_s
        self.drive = DriveState(rig.drive, running, rig.drag_torque_nm + 0.1 * load_n * rig.radius_m, STEP_S)
        whole_j = rig.drive.rated_torque_nm * rig.drive.start_up_s / self.free
        self.motor_j, self.ring_j = MOTOR_SHARE * whole_j, (1.0 - MOTOR_SHARE) * whole_j
        self.inv_static = 1.0 / (STATIC_SPEED_SHARE * self.free)
        self.boundary, self.film = rig.contact.boundary_coefficient, rig.contact.film_coefficient
        self.static, self.strength = rig.contact.static_extra, 0.0
        self.ring = self.motor = 0.97 * self.free if running else 0.0
        self.slipping, self.torque = False, 0.0

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
    radius, drag_nm, energy_j, before, out = rig.radius_m, rig.drag_torque_nm, 0.0, shafts.ring, []
    for k, (load, switched, jam, film, factor, severity, scuffed) in enumerate(steps):
        if k % HEAT_EVERY == 0:
            heat.advance(k, energy_j)
            viscosity, drag = heat.thickness()
            energy_j, drag_nm = 0.0, drag * rig.drag_torque_nm
            shafts.strength = rig.contact.film_strength / shafts.free * viscosity
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
