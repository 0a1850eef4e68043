"""The course of one recording of the first world: the simulated rig's own parts, stepped through a plan.

Reads rig and plan, gives the true state at every step. Built from `scuffwatch.sim`'s lever, contact, damage, motor and
heat, without its rig box, so that it runs several hundred times as fast as real time.
"""

import copy
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from world_b.values import Floats

from scuffwatch.sim.friction import Contact, Damage
from scuffwatch.sim.heat import HeatBalance, standing_body_degc
from scuffwatch.sim.lever import Lever
from scuffwatch.sim.noise import memory_of

from .drives import Turning, motor_of
from .plan import Plan
from .rigs import Rig


@dataclass(slots=True)
class Traces:
    """True state at the end of every step, one number a step."""

    load_n: list[float] = field(default_factory=list)
    force_n: list[float] = field(default_factory=list)
    current_a: list[float] = field(default_factory=list)
    speed_rad_s: list[float] = field(default_factory=list)
    angle_rad: list[float] = field(default_factory=list)
    pin_degc: list[float] = field(default_factory=list)
    bath_degc: list[float] = field(default_factory=list)
    powered: list[bool] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Given:
    """What acts on the rig at every step.

    Attributes:
        on: the motor is switched on and has its supply.
        load_factor, friction_factor, scatter, jam_nm: one a step.
        hangs: changes of the weights by step.
        nights: steps at which a night passes.
        heater_from, dry_from: step, or past the end.
    """

    on: Sequence[bool]
    load_factor: Sequence[float]
    friction_factor: Sequence[float]
    scatter: Sequence[float]
    jam_nm: Sequence[float]
    hangs: dict[int, list]
    nights: frozenset[int]
    heater_from: int
    dry_from: int


def given_of(plan: Plan, rig: Rig, steps: int, dt_s: float, seed: int) -> Given:
    """Give what acts at each of `steps` steps of `dt_s`."""
    t_s = np.arange(steps) * dt_s
    on = np.zeros(steps, bool)
    for begin_s, end_s in plan.on:
        on |= (t_s >= begin_s) & (t_s < end_s)
    for begin_s, end_s in plan.supply_off:
        on &= ~((t_s >= begin_s) & (t_s < end_s))
    jam = np.zeros(steps)
    if plan.jam is not None:
        begin_s, torque_nm, ramp_s = plan.jam
        jam = torque_nm * np.clip((t_s - begin_s) / max(ramp_s, 1e-6), 0.0, 1.0)
    hangs: dict[int, list] = {}
    for at_s, hang in sorted(plan.hangs, key=lambda pair: pair[0]):
        hangs.setdefault(int(at_s / dt_s), []).append((at_s, hang))
    at = [steps + 1 if math.isinf(x) else int(x / dt_s) for x in (plan.heater_sticks_s, plan.dry_s)]
    return Given(
        on.tolist(),
        _load_factor(plan, t_s).tolist(),
        _friction_factor(plan, t_s, seed).tolist(),
        _scatter(rig, steps, dt_s, seed),
        jam.tolist(),
        hangs,
        frozenset(int(x / dt_s) for x in plan.days),
        at[0],
        at[1],
    )


def _load_factor(plan: Plan, t_s: Floats) -> Floats:
    factor = np.ones(len(t_s))
    for knock in plan.knocks:
        part = (t_s >= knock.t_s) & (t_s < knock.t_s + 8.0 * knock.decay_s)
        x = t_s[part] - knock.t_s
        factor[part] *= 1.0 + knock.share * np.exp(-x / knock.decay_s) * np.sin(math.tau * knock.hz * x)
    return np.maximum(factor, 0.0)


def _friction_factor(plan: Plan, t_s: Floats, seed: int) -> Floats:
    factor = np.ones(len(t_s))
    for swell in plan.swells:
        x = t_s - swell.t_s
        rise = np.clip(x / swell.rise_s, 0.0, 1.0)
        fall = 0.0 if math.isinf(swell.hold_s) else np.clip((x - swell.rise_s - swell.hold_s) / swell.fall_s, 0.0, 1.0)
        height = rise - fall
        factor *= 1.0 + swell.share * height * height * (3.0 - 2.0 * height)
    draw = np.random.default_rng((seed, 11))
    for swing in plan.swings:
        part = np.flatnonzero((t_s >= swing.t_s) & (t_s < swing.t_s + swing.length_s))
        if not len(part):
            continue
        hz = swing.hz * (1.0 + 0.08 * np.interp(t_s[part], t_s[part][::50], draw.standard_normal(len(part[::50]))))
        cycle = np.cumsum(np.maximum(hz, 0.1)) * (t_s[1] - t_s[0])
        place = cycle % 1.0
        saw = np.where(place < 0.85, place / 0.85 - 0.5, 0.5 - (place - 0.85) / 0.15)
        size = swing.share * draw.uniform(0.6, 1.3, int(cycle[-1]) + 1)[cycle.astype(int)]
        ease = np.clip(np.minimum(np.arange(len(part)), np.arange(len(part))[::-1]) * (t_s[1] - t_s[0]), 0.0, 1.0)
        factor[part] *= 1.0 + 2.0 * saw * size * ease
    return np.maximum(factor, 0.02)


def _scatter(rig: Rig, steps: int, dt_s: float, seed: int) -> list[float]:
    memory = memory_of(rig.params.friction_noise_s, dt_s)
    drive = rig.params.friction_noise * math.sqrt(1.0 - memory**2)
    value, found = 0.0, []
    for step in (drive * np.random.default_rng((seed, 12)).standard_normal(steps)).tolist():
        value = value * memory + step
        found.append(value)
    return found


class Course:
    """One rig on its way through a plan.

    Args:
        rig: what it is.
        dt_s: step, s.
        damage: of the contact, or None.

    What survives a call: everything; `twin` gives a copy that goes on undamaged.
    """

    def __init__(self, rig: Rig, dt_s: float, damage: Damage | None) -> None:
        self.dt_s = dt_s
        self._rig = rig
        self._damage = damage
        self._jams = True
        self._lever, self._contact = Lever(rig.params), Contact(rig.params, dt_s)
        self._heat = HeatBalance(rig.params)
        self._motor: Turning = motor_of(rig.drive, rig.params, rig.line)
        self._force_n = 0.0
        self._held_s = 0.0

    def twin(self) -> "Course":
        """Give a copy that nothing befalls from now on."""
        other = copy.deepcopy(self)
        other._damage, other._jams = None, False
        return other

    def play(self, given: Given, begin: int, end: int, traces: Traces) -> None:
        """Step from step `begin` to before step `end` and add to the traces."""
        rig, params, dt_s = self._rig, self._rig.params, self.dt_s
        lever, contact, motor, heat = self._lever, self._contact, self._motor, self._heat
        radius_m, force_n, damage = params.ring_radius_m, self._force_n, self._damage
        runout, drag_nm, drag_nm_s = params.runout, params.drag_nm, params.drag_nm_s
        heat.heater_stuck = heat.heater_stuck or given.heater_from < begin
        loads, forces, currents = traces.load_n.append, traces.force_n.append, traces.current_a.append
        speeds, angles = traces.speed_rad_s.append, traces.angle_rad.append
        pins, baths, supplies = traces.pin_degc.append, traces.bath_degc.append, traces.powered.append
        hurts_from_s = math.inf if damage is None else min([damage.onset_t_s, *(b.t_s for b in damage.bursts)])
        for step in range(begin, end):
            t_s = step * dt_s
            if step in given.hangs:
                for at_s, hang in given.hangs[step]:
                    lever.hang(hang, at_s)
            if step in given.nights:
                self._night()
            if step == given.heater_from:
                heat.heater_stuck = True
            powered = given.on[step] and self._held_s < rig.fuse_s
            speed_rad_s = motor.speed_rad_s
            load_n = lever.step(t_s, force_n)
            if load_n > 0.0:
                load_n *= given.load_factor[step] * (1.0 + runout * math.sin(motor.angle_rad))
            scatter = given.scatter[step]
            speed_m_s = speed_rad_s * radius_m
            mu = contact.coefficient(speed_m_s, load_n, heat.body_degc, step < given.dry_from)
            mu *= given.friction_factor[step]
            if t_s >= hurts_from_s and mu > 0.0 and damage is not None:
                scatter *= 1.0 + rig.rough * damage.extent(t_s)
                mu = damage.coefficient(mu, t_s)
            grip_n = max(mu * (1.0 + scatter), 0.0) * load_n
            outside_nm = drag_nm + drag_nm_s * speed_rad_s + (given.jam_nm[step] if self._jams else 0.0)
            current_a = motor.step(dt_s, powered, grip_n * radius_m + outside_nm)
            if motor.speed_rad_s > 0.0:
                force_n = grip_n
                self._held_s = 0.0
            else:
                force_n = min(max((motor.torque_nm - outside_nm) / radius_m, 0.0), grip_n)
                self._held_s = self._held_s + dt_s if powered else self._held_s
            heat.step(dt_s, force_n * speed_m_s, True)
            loads(load_n)
            forces(force_n)
            currents(current_a)
            speeds(motor.speed_rad_s)
            angles(motor.angle_rad)
            pins(heat.body_degc)
            baths(heat.bath_degc)
            supplies(powered)
        self._force_n = force_n

    def _night(self) -> None:
        """Let a night pass: everything as warm as the thermostat holds it, and the contact runs in again a little."""
        heat, contact = self._heat, self._contact
        heat.bath_degc = self._rig.params.bath_set_degc
        heat.body_degc = standing_body_degc(self._rig.params, heat.bath_degc)
        contact.excess = max(contact.excess, 0.5 * self._rig.params.run_in_limit)
