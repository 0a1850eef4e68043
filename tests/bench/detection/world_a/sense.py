"""Sensors of the first world: lags, noise, converters, tachometers, and what goes wrong with them.

Reads the true course, gives the recorded channels. Sound after `scuffwatch.sim.sound`, pulses after
`scuffwatch.sim.tacho`.
"""

import math
from dataclasses import dataclass
from random import Random

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Fault,
    Floats,
    Kind,
    Tachometer,
)

from scuffwatch.sim.heat import Lag
from scuffwatch.sim.motor import RPM_PER_RAD_S
from scuffwatch.sim.noise import memory_of
from scuffwatch.sim.sound import power_of_level
from scuffwatch.sim.tacho import Tachometer as PeriodCounter

from .course import Traces
from .plan import Plan
from .rigs import Rig, log_uniform

_RAIL = 0.02
"""Converters reach this share of the range beyond it."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """One channel's sensor.

    Attributes:
        low, high: range in which a value is valid.
        step: of the converter.
        noise, relative_noise, noise_s: white or correlated, in the unit and of the value.
        zero: offset.
    """

    low: float
    high: float
    step: float
    noise: float
    relative_noise: float
    noise_s: float
    zero: float


def draw_fittings(chance: Random, rig: Rig) -> dict[str, Fitting]:
    """Give a sensor for each channel of the rig."""
    top = rig.top_load_n
    force = rig.top_force_n * (chance.uniform(1.3, 2.5) if chance.random() < 0.12 else chance.uniform(3.5, 12.0))
    locked = _locked_current_a(rig)
    current = 3.0 * rig.running_current_a if chance.random() < 0.14 else max(locked, 1.5 * rig.running_current_a) * 1.15
    load = top * chance.uniform(1.3, 3.0)
    spans = {
        NORMAL_LOAD: (-0.05 * load, load),
        FRICTION_FORCE: (-force, force) if chance.random() < 0.5 else (-0.1 * force, force),
        MOTOR_CURRENT: (-0.1 * current, current),
        SOUND_LEVEL: (20.0, 130.0),
        PIN_TEMPERATURE: (-20.0, 300.0),
        BATH_TEMPERATURE: (-20.0, 250.0),
        RING_SPEED: (0.0, 1.6 * rig.set_rpm),
    }
    noisy = log_uniform(chance, 0.3, 3.0)
    return {name: _fitting(chance, name, spans[name], noisy, rig) for name in CHANNELS_OF[rig.channel_set]}


def _fitting(chance: Random, name: str, span: tuple[float, float], noisy: float, rig: Rig) -> Fitting:
    low, high = span
    full = high - low
    if name.endswith("_degc"):
        step = 0.5 if chance.random() < 0.25 else chance.choice((0.01, 0.0625, 0.1, 0.25))
        return Fitting(low, high, step, chance.uniform(0.01, 0.25), 0.0, 2.0, chance.uniform(-1.0, 1.0))
    step = full / 2 ** chance.choice((12, 14, 16, 16, 18, 20) if name != MOTOR_CURRENT else (10, 12, 16))
    if name == RING_SPEED:
        loose = 0.004 if rig.tachometer is Tachometer.ANALOGUE else 0.0005
        return Fitting(low, high, step, loose * noisy * rig.set_rpm, 0.0005, 0.02, 0.0)
    if name == SOUND_LEVEL:
        return Fitting(low, high, step, 0.1 * noisy, 0.0, 0.01, chance.uniform(-3.0, 3.0))
    if name == MOTOR_CURRENT:
        size = rig.running_current_a * log_uniform(chance, 0.002, 0.03)
        return Fitting(low, high, step, size * noisy, 0.004, 0.01, rig.running_current_a * chance.gauss(0.0, 0.004))
    size = (rig.top_load_n if name == NORMAL_LOAD else rig.top_force_n) * log_uniform(chance, 0.0008, 0.012)
    zero = size * chance.gauss(0.0, 3.0)
    return Fitting(low, high, step, size * noisy, chance.uniform(0.001, 0.004), log_uniform(chance, 0.002, 0.05), zero)


def _locked_current_a(rig: Rig) -> float:
    line = rig.line
    straight = math.hypot(
        line.current_per_nm * min(line.torque_limit_nm, line.stiffness_nm_s * line.set_rad_s),
        line.magnetising_current_a,
    )
    return straight if rig.drive.name != "INDUCTION_DIRECT" else 1.5 * rig.params.locked_current_a


class Channels:
    """Makes the recorded channels of one recording.

    Args:
        rig, fittings, plan: of the recording.
        dt_s: step of the course.
        every: steps a row.
        seed: of the noise.
    """

    def __init__(
        self, rig: Rig, fittings: dict[str, Fitting], plan: Plan, dt_s: float, every: int, seed: int, weighting_s: float
    ) -> None:
        self._rig, self._fittings, self._plan = rig, fittings, plan
        self._dt_s, self._every, self._weighting_s = dt_s, every, weighting_s
        self.row_s = dt_s * every
        self._draw = np.random.default_rng((seed, 21))
        self._seed = seed
        self._chance = Random(f"sense/{seed}")
        self._gate_s = self._chance.choice((0.1, 0.1, 0.2, 0.5))

    def true(self, traces: Traces, begin: int = 0, hurt: bool = True) -> dict[str, Floats]:
        """Give what faultless sensors without noise show, at every row from step `begin` on; `hurt` or a twin's."""
        cut = slice(None, None, self._every)
        found = {
            NORMAL_LOAD: np.array(traces.load_n)[cut],
            FRICTION_FORCE: np.array(traces.force_n)[cut],
            MOTOR_CURRENT: np.array(traces.current_a)[cut],
        }
        params = self._rig.params
        names = self._fittings
        if SOUND_LEVEL in names:
            power = lagged(self._sound_power(traces, begin, hurt), self._weighting_s, self._dt_s)
            found[SOUND_LEVEL] = 10.0 * np.log10(power[cut])
        if PIN_TEMPERATURE in names:
            found[PIN_TEMPERATURE] = lagged(np.array(traces.pin_degc), params.pin_lag_s, self._dt_s)[cut]
        if BATH_TEMPERATURE in names:
            found[BATH_TEMPERATURE] = lagged(np.array(traces.bath_degc), params.bath_lag_s, self._dt_s)[cut]
        if RING_SPEED in names:
            found[RING_SPEED] = self._speed(traces)[cut]
        return {name: found[name] for name in names}

    def record(self, true: dict[str, Floats], top_force_n: float) -> dict[str, Floats]:
        """Give the channels with noise, hum, spikes and converters."""
        row_s = self.row_s
        found = {}
        for name, fitting in self._fittings.items():
            value = true[name]
            noise = _correlated(self._draw, len(value), fitting.noise_s, row_s)
            shown = value + noise * (fitting.noise + fitting.relative_noise * np.abs(value)) + fitting.zero
            if name == RING_SPEED:
                shown = np.where(value > 0.0, shown, 0.0)
            found[name] = shown
        self._hum(found, top_force_n)
        self._spikes(found)
        return {name: converted(found[name], self._fittings[name]) for name in found}

    def _sound_power(self, traces: Traces, begin: int, hurt: bool) -> Floats:
        rig, plan, params = self._rig, self._plan, self._rig.params
        speed = np.array(traces.speed_rad_s)
        t_s = (begin + np.arange(len(speed))) * self._dt_s
        rubbing = power_of_level(params.friction_db_at_10w) / 10.0 * np.ones(len(speed))
        if plan.damage is not None and hurt:
            from_s = plan.damage.onset_t_s
            extent = -np.expm1(-((np.maximum(t_s - from_s, 0.0) / plan.damage.growth_s) ** 2))
            rubbing *= 1.0 + (power_of_level(params.scuffed_db) - 1.0) * extent
            for burst in plan.damage.bursts:
                rubbing[(t_s >= burst.t_s) & (t_s < burst.t_s + burst.length_s)] *= 1.0 + 3.0 * burst.share
        for swing in plan.swings:
            rubbing[(t_s >= swing.t_s) & (t_s < swing.t_s + swing.length_s)] *= power_of_level(swing.louder_db)
        power = np.full(len(speed), power_of_level(params.background_db))
        power += power_of_level(params.motor_db) * (speed * RPM_PER_RAD_S / rig.set_rpm) ** 2
        power += rubbing * np.array(traces.force_n) * speed * params.ring_radius_m
        for noise in plan.noises:
            part = (t_s >= noise.t_s) & (t_s < noise.t_s + noise.length_s)
            power[part] += power_of_level(noise.level_db) * (speed[part] > 0.0 if noise.of_contact else 1.0)
        draw = np.random.default_rng((self._seed, 22, begin))
        return power * np.exp(0.2 * _correlated(draw, len(speed), 0.03, self._dt_s))

    def _speed(self, traces: Traces) -> Floats:
        rig, dt_s = self._rig, self._dt_s
        speed_rpm = np.array(traces.speed_rad_s) * RPM_PER_RAD_S
        if rig.tachometer is Tachometer.ANALOGUE:
            return lagged(speed_rpm, 0.02, dt_s)
        if rig.tachometer is Tachometer.GATE:
            gate = max(1, round(self._gate_s / dt_s))
            pulses = np.floor(np.array(traces.angle_rad) * rig.pulses_per_turn / math.tau)
            ends = pulses[gate - 1 :: gate]
            counted = np.diff(ends, prepend=pulses[0])
            shown = np.repeat(counted * 60.0 / (rig.pulses_per_turn * gate * dt_s), gate)
            held = np.concatenate([np.zeros(gate - 1), shown])[: len(pulses)]
            return np.pad(held, (0, len(pulses) - len(held)), mode="edge")
        counter = PeriodCounter(rig.pulses_per_turn)
        angle_0 = traces.angle_rad[0]
        return np.array([counter.step(i * dt_s, dt_s, a - angle_0) for i, a in enumerate(traces.angle_rad)])

    def _hum(self, found: dict[str, Floats], top_force_n: float) -> None:
        if FRICTION_FORCE in found and self._chance.random() < 0.2:
            row_s = self.row_s
            t_s = np.arange(len(found[FRICTION_FORCE])) * row_s
            size_n = top_force_n * self._chance.uniform(0.003, 0.02)
            found[FRICTION_FORCE] += size_n * np.sin(math.tau * 49.97 * t_s)
            self._plan.note(Kind.MAINS_HUM, float(t_s[-1]), 0.0)

    def _spikes(self, found: dict[str, Floats]) -> None:
        """Put spikes of one to three rows into one electrical channel."""
        electrical = [name for name in found if name in (FRICTION_FORCE, MOTOR_CURRENT, NORMAL_LOAD)]
        if self._chance.random() > 0.35 or not electrical:
            return
        row_s = self.row_s
        name = self._chance.choice(electrical)
        fitting, rows = self._fittings[name], len(found[name])
        for _ in range(1 + int(self._chance.expovariate(1.0) * rows * row_s / 300.0)):
            at, n = self._chance.randrange(rows), self._chance.randint(1, 3)
            size = self._chance.uniform(0.05, 0.6) * (fitting.high - fitting.low) * self._chance.choice((-1, 1))
            found[name][at : at + n] += size
            self._plan.note(Kind.SPIKES, 0.0, at * row_s)


def lagged(values: Floats, lag_s: float, dt_s: float) -> Floats:
    """Give a first-order lag, starting from the first value."""
    lag = Lag(lag_s, dt_s, float(values[0]))
    step = lag.step
    return np.array([step(value) for value in values.tolist()])


def converted(values: Floats, fitting: Fitting) -> Floats:
    """Give what a converter makes of values: steps, and rails a little beyond the range."""
    beyond = _RAIL * (fitting.high - fitting.low)
    return np.clip(np.round(values / fitting.step) * fitting.step, fitting.low - beyond, fitting.high + beyond)


def _correlated(draw: np.random.Generator, n: int, correlation_s: float, dt_s: float) -> Floats:
    """Give noise of unit variance; white where the correlation is shorter than a step."""
    white = draw.standard_normal(n)
    if correlation_s < dt_s:
        return white
    memory = memory_of(correlation_s, dt_s)
    drive, value, found = math.sqrt(1.0 - memory**2), 0.0, []
    for step in (drive * white).tolist():
        value = value * memory + step
        found.append(value)
    return np.array(found)


def spoil(chance: Random, read: Floats, fitting: Fitting, fault: Fault, begin: int, row_s: float) -> Floats:
    """Give a channel that goes wrong for good at row `begin`."""
    out, n = read.copy(), len(read) - begin
    beyond = _RAIL * (fitting.high - fitting.low)
    if fault is Fault.STUCK:
        out[begin:] = out[max(begin - 1, 0)]
    elif fault is Fault.SATURATED:
        out[begin:] = fitting.high + beyond if chance.random() < 0.7 else fitting.low - beyond
    elif fault is Fault.OPEN_THERMOCOUPLE:
        out[begin:] = math.nan if chance.random() < 0.5 else fitting.high + beyond
    elif fault is Fault.DROPOUT:
        value = math.nan if chance.random() < 0.6 else 0.0
        gone = np.random.default_rng(chance.randrange(2**32)).random(n // 10 + 1) < chance.uniform(0.5, 1.0)
        gone[0] = True
        out[begin:][np.repeat(gone, 10)[:n]] = value
    elif fault is Fault.DRIFT:
        size = chance.choice((-1, 1)) * chance.uniform(0.15, 0.5) * fitting.high
        ramp = np.clip(np.arange(n) * row_s / log_uniform(chance, 5.0, 90.0), 0.0, 1.0)
        out[begin:] = np.clip(out[begin:] + size * ramp, fitting.low - beyond, fitting.high + beyond)
    elif fault is Fault.SIGN_FLIP:
        out[begin:] = np.maximum(-out[begin:], fitting.low - beyond)
    else:
        out[begin:] = 0.0
    return out
