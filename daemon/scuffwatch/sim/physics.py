"""One simulated rig: lever, contact, motor, heat, and the sensors on them, stepped at the sampling period.

Reads whether the motor has its supply, gives true values, and readings of seven channels in SI. No clock and no I/O:
a pure function of parameters, seed, rate and what was done to it, step by step.
"""

import math
from dataclasses import dataclass

from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
)
from scuffwatch.sim.friction import Contact, Damage
from scuffwatch.sim.heat import HeatBalance, Lag
from scuffwatch.sim.lever import Lever
from scuffwatch.sim.motor import RPM_PER_RAD_S, Motor
from scuffwatch.sim.noise import Stream, memory_of, normal_rows
from scuffwatch.sim.params import RigParams
from scuffwatch.sim.sound import SoundMeter, power_of_level
from scuffwatch.sim.tacho import Tachometer

READING_NAMES = (
    NORMAL_LOAD,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    SOUND_LEVEL,
    RING_SPEED,
    PIN_TEMPERATURE,
    BATH_TEMPERATURE,
)
"""Order of the readings."""

_ROUGH_NOISE = 6.0
"""A scuffed contact's friction scatters this much more (load-cell ripple up 3-10 times)."""


@dataclass(frozen=True, slots=True)
class Bump:
    """A noise from the room: a door, a neighbour's machine.

    Attributes:
        t_s, length_s: start on the run's clock and length, s.
        level_db: its own level.
    """

    t_s: float
    length_s: float
    level_db: float


class Rig:
    """The rig and its true state.

    Args:
        params: what it is made of.
        seed: of its noise.
        rate_hz: steps a second.
        damage: how its contact will scuff; None for a contact that holds.

    What survives a call: everything below. `t_s` counts from the first start of the motor, and nothing moves before
    it: the bath has been warmed up and is held. `run_t_s` is the run's clock and stands while the motor has no supply.
    """

    def __init__(self, params: RigParams, seed: int, rate_hz: float, damage: Damage | None = None) -> None:
        self.params = params
        self.dt_s = 1.0 / rate_hz
        self.damage = damage
        self.lever, self.motor = Lever(params), Motor(params)
        self.contact, self.heat = Contact(params, self.dt_s), HeatBalance(params)
        self.jam_nm = 0.0
        self.bath_up = True
        self.steps = self.steps_run = 0
        self.t_s = self.run_t_s = 0.0
        self.friction_force_n = 0.0
        self.current_a = 0.0
        self._radius_m = params.ring_radius_m
        self._memory = memory_of(params.friction_noise_s, self.dt_s)
        self._drive = params.friction_noise * math.sqrt(1.0 - self._memory**2)
        self._scatter = 0.0
        self._rows = normal_rows(seed, Stream.PHYSICS, 1)

    @property
    def speed_rpm(self) -> float:
        """Give the true ring speed, r/min."""
        return self.motor.speed_rad_s * RPM_PER_RAD_S

    def step(self, powered: bool) -> None:
        """Let one sampling period pass with or without the motor's supply."""
        motor, heat, params, dt_s = self.motor, self.heat, self.params, self.dt_s
        if powered:
            self.steps_run += 1
            self.run_t_s = self.steps_run * dt_s
        elif not self.steps:
            return
        self.steps += 1
        self.t_s = self.steps * dt_s
        speed_m_s = motor.speed_rad_s * self._radius_m
        load_n = self.lever.step(self.t_s, self.friction_force_n)
        if load_n > 0.0:
            load_n *= 1.0 + params.runout * math.sin(motor.angle_rad)
            self.lever.load_n = load_n
        grip_n = self._coefficient(speed_m_s, load_n) * load_n
        drag_nm = params.drag_nm + params.drag_nm_s * motor.speed_rad_s
        self.current_a = motor.step(dt_s, powered, grip_n * self._radius_m + drag_nm + self.jam_nm)
        if motor.speed_rad_s > 0.0:
            self.friction_force_n = grip_n
        else:
            self.friction_force_n = min(max((motor.torque_nm - drag_nm - self.jam_nm) / self._radius_m, 0.0), grip_n)
        heat.step(dt_s, self.friction_force_n * speed_m_s, powered)

    def _coefficient(self, speed_m_s: float, load_n: float) -> float:
        self._scatter = self._scatter * self._memory + self._drive * next(self._rows)[0]
        healthy = self.contact.coefficient(speed_m_s, load_n, self.heat.body_degc, self.bath_up)
        damage = self.damage
        if damage is None or not healthy:
            return healthy * (1.0 + self._scatter)
        rough = 1.0 + _ROUGH_NOISE * damage.extent(self.run_t_s)
        return max(damage.coefficient(healthy, self.run_t_s) * (1.0 + rough * self._scatter), 0.0)


class Sensors:
    """What load cell, transducers, microphone, tachometer and thermocouples make of the rig.

    Args:
        rig: the rig they sit on; they never move it.
        seed: of their own noise.
        stream: which of the seed's streams; the standing rig has its own, so that waiting leaves the run as it is.
        bumps: noises of the room, in order of time.

    What survives a call: lags, the sound meter, correlated noise, a spike in progress.
    """

    def __init__(self, rig: Rig, seed: int, stream: Stream, bumps: tuple[Bump, ...] = ()) -> None:
        params, dt_s = rig.params, rig.dt_s
        self._rig = rig
        self._bumps = bumps
        self._bump = 0
        self._t_s = 0.0
        self._background = power_of_level(params.background_db)
        self._motor_power = power_of_level(params.motor_db) / (600.0 / RPM_PER_RAD_S) ** 2
        self._friction_power = power_of_level(params.friction_db_at_10w) / 10.0
        self._scuffed = power_of_level(params.scuffed_db) - 1.0
        self._meter = SoundMeter(dt_s, self._background)
        self._tacho = Tachometer(params.pulses_per_rev)
        self._current = Lag(params.current_lag_s, dt_s, 0.0)
        self._pin = Lag(params.pin_lag_s, dt_s, rig.heat.body_degc)
        self._bath = Lag(params.bath_lag_s, dt_s, rig.heat.bath_degc)
        self._rows = normal_rows(seed, stream, 6)
        self._memory = memory_of(0.03, dt_s)
        self._drive = math.sqrt(1.0 - self._memory**2)
        self._slow_memory = memory_of(2.0, dt_s)
        self._slow_drive = math.sqrt(1.0 - self._slow_memory**2)
        self._load_noise = self._force_noise = self._sound_noise = self._heat_noise = 0.0
        self._spike_left, self._spike = 0, 0.0
        self.at_rest = True

    def read(self, sounder: bool = False) -> tuple[float, float, float, float, float, float, float]:
        """Give the readings at the end of the rig's last step, in the order of `READING_NAMES`."""
        rig, memory, drive = self._rig, self._memory, self._drive
        self._t_s += rig.dt_s
        n0, n1, n2, n3, n4, n5 = next(self._rows)
        self._load_noise = self._load_noise * memory + drive * n0
        self._force_noise = self._force_noise * memory + drive * n1
        self._sound_noise = self._sound_noise * memory + drive * n3
        self._heat_noise = self._heat_noise * self._slow_memory + self._slow_drive * n4
        force_n, load_n = rig.friction_force_n, rig.lever.load_n
        spike = self._glitch(n5) if n5 > 4.0 or self._spike_left else 0.0
        speed_rpm = self._tacho.step(self._t_s, rig.dt_s, rig.motor.angle_rad)
        self.at_rest = speed_rpm == 0.0
        current_a = self._current.step(rig.current_a)
        return (
            load_n + self._load_noise * (0.25 + 0.002 * load_n) + 0.1 * n2,
            force_n + self._force_noise * (0.06 + 0.003 * force_n) + 0.03 * n5 + 20.0 * spike,
            current_a + 0.008 * n2 + 0.006 * self._force_noise + 2.0 * spike,
            self._meter.step(self._sound_power(sounder)) + 0.05 * n4,
            speed_rpm * (1.0 + 0.0008 * n4),
            self._pin.step(rig.heat.body_degc) + 0.12 * self._heat_noise + 0.02 * n4,
            self._bath.step(rig.heat.bath_degc) + 0.08 * self._heat_noise - 0.02 * n4,
        )

    def _sound_power(self, sounder: bool) -> float:
        rig = self._rig
        speed_rad_s = rig.motor.speed_rad_s
        power = self._background + self._motor_power * speed_rad_s * speed_rad_s
        if speed_rad_s > 0.0:
            share = self._friction_power
            if rig.damage is not None:
                share *= 1.0 + self._scuffed * rig.damage.extent(rig.run_t_s)
            power += share * rig.friction_force_n * speed_rad_s * rig.params.ring_radius_m
        if sounder:
            power += power_of_level(rig.params.sounder_db)
        if self._bumps:
            power += self._room(rig.run_t_s)
        return power * math.exp(0.25 * self._sound_noise)

    def _room(self, t_s: float) -> float:
        while self._bump < len(self._bumps) and t_s > self._bumps[self._bump].t_s + self._bumps[self._bump].length_s:
            self._bump += 1
        if self._bump == len(self._bumps) or t_s < self._bumps[self._bump].t_s:
            return 0.0
        return power_of_level(self._bumps[self._bump].level_db)

    def _glitch(self, draw: float) -> float:
        """Give an electrical spike of one to three samples."""
        if not self._spike_left:
            self._spike_left = 1 + int(draw * 1e6) % 3
            self._spike = 1.0 if int(draw * 1e7) % 2 else -1.0
        self._spike_left -= 1
        return self._spike
