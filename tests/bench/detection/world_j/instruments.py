"""Sensors and their converters. Reads true values at the rows, gives readings."""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import Floats, Kind, Tachometer

from .draws import log_uniform
from .drives import Drive, cage_current_a
from .filters import lag
from .rigs import TYPICAL_FRICTION, Rig
from .scripts import Script


@dataclass(frozen=True, slots=True)
class Instrument:
    """One channel's chain, all in the channel's unit."""

    low: float  # ends of the converter
    high: float
    lag_s: float  # first-order
    noise: float  # standard deviation of a row
    gain: float  # errors of calibration; gain 1 is right
    zero: float
    step: float  # of the converter

    def read(self, rng: np.random.Generator, true: Floats, rate_hz: float) -> Floats:
        """Give (n,) readings of (n,) true values."""
        late = lag(true, 1.0 / rate_hz, self.lag_s)
        return self.convert(late * self.gain + self.zero + self.noise * rng.standard_normal(true.size))

    def convert(self, analogue: Floats) -> Floats:
        """Give what the converter makes of a value."""
        return np.clip(np.round(analogue / self.step) * self.step, self.low, self.high)


@dataclass(frozen=True, slots=True)
class Counter:
    """How the speed is read."""

    kind: Tachometer  # see `Tachometer`
    pulses: int  # per turn; 0 for the generator
    gate_s: float  # of the counter; also how often it shows a new number
    silence_s: float  # without a pulse, after which the period reads 0
    on_motor: bool  # whether it sits on the motor's shaft


@dataclass(frozen=True, slots=True)
class Panel:
    """All instruments of a rig."""

    by_channel: dict[str, Instrument]  # name to chain; sound and speed have their own meters before it
    hum_n: float  # amplitude of mains hum on the friction cell
    counter: Counter
    meter_s: float  # time weighting of the sound meter


def draw_counter(rng: np.random.Generator, rig: Rig) -> Counter:
    """Give a tachometer that suits the speed: a gate counts at least 40 pulses, or the period is taken."""
    turns_per_s = rig.drive.free_speed_rad_s / (2.0 * np.pi)
    kind = list(Tachometer)[int(rng.integers(3))]
    pulses = int(rng.choice([1, 1, 2, 4, 6, 8, 20, 30, 60, 100, 200]))
    gate_s = float(rng.choice([0.1, 0.2, 0.5, 1.0]))
    if kind is Tachometer.GATE and pulses * turns_per_s * gate_s < 40.0:
        gate_s = 1.0
        kind = kind if pulses * turns_per_s >= 40.0 else Tachometer.PERIOD
    silence_s = max(1.0, 4.0 / (pulses * turns_per_s))
    on_motor = rig.belt and bool(rng.random() < 0.4)
    pulses = 0 if kind is Tachometer.ANALOGUE else pulses
    return Counter(kind, pulses, gate_s, silence_s, on_motor)


def round_up(value: float) -> float:
    """Give the next number of the series 1, 2, 5, 10, in the unit of value."""
    decade = 10.0 ** np.floor(np.log10(value))
    return float(next(decade * digit for digit in (1.0, 2.0, 5.0, 10.0) if decade * digit >= value * 0.9999))


def start_current_a(drive: Drive) -> float:
    """Give the most current the motor takes when it starts, A."""
    if drive.pull_out_rad_s > 0.0:
        return float(cage_current_a(drive, np.array(drive.limit_slip_rad_s or drive.free_speed_rad_s)))
    return drive.rated_current_a * drive.peak_torque_nm / drive.rated_torque_nm


def draw_panel(rng: np.random.Generator, rig: Rig, script: Script) -> Panel:
    """Give the instruments of a rig, and note what is odd about them."""
    force_n, rated_a = TYPICAL_FRICTION * rig.top_load_n, rig.drive.rated_current_a
    start_a = start_current_a(rig.drive)
    odd = {kind: rng.random() < 0.15 for kind in (Kind.CURRENT_RAIL, Kind.COARSE_TEMPERATURE, Kind.MAINS_HUM)}
    odd[Kind.CURRENT_RAIL] &= start_a > 2.6 * rated_a
    for kind in (kind for kind, there in odd.items() if there):
        script.note(kind, 0.0)
    current_high = round_up(2.0 * rated_a) if odd[Kind.CURRENT_RAIL] else round_up(1.15 * start_a)
    speed_high = round_up(1.3 * rig.drive.free_speed_rad_s * 30.0 / np.pi)
    current_noise = rated_a * log_uniform(rng, 0.002, 0.02)
    current = _chain(rng, -0.05 * current_high, current_high, log_uniform(rng, 0.001, 0.08), current_noise, 0.02, 16)
    speed_noise = speed_high * log_uniform(rng, 0.0003, 0.004)
    speed = _chain(rng, -0.02 * speed_high, speed_high, float(rng.uniform(0.005, 0.08)), speed_noise, 0.01, 16)
    sound_noise, sound_zero = log_uniform(rng, 0.02, 0.2), float(rng.uniform(-1.5, 1.5))
    chains = {
        v.NORMAL_LOAD: _cell(rng, round_up(rig.top_load_n * float(rng.uniform(1.3, 2.5)))),
        v.FRICTION_FORCE: _cell(rng, round_up(force_n * float(rng.uniform(4.0, 8.0)))),
        v.MOTOR_CURRENT: current,
        v.SOUND_LEVEL: Instrument(25.0, 130.0, 0.0, sound_noise, 1.0, sound_zero, 0.1),
        v.PIN_TEMPERATURE: _thermocouple(rng, odd[Kind.COARSE_TEMPERATURE]),
        v.BATH_TEMPERATURE: _thermocouple(rng, odd[Kind.COARSE_TEMPERATURE]),
        v.RING_SPEED: speed,
    }
    hum_n = force_n * log_uniform(rng, 0.01, 0.08) if odd[Kind.MAINS_HUM] else 0.0
    return Panel(chains, hum_n, draw_counter(rng, rig), 0.125 if rng.random() < 0.6 else 1.0)


def _chain(
    rng: np.random.Generator, low: float, high: float, lag_s: float, noise: float, gain_error: float, bits: int
) -> Instrument:
    """Give a chain with a zero off by up to 0.3 % of range and a converter of 12 to `bits` bits."""
    gain, zero = 1.0 + float(rng.uniform(-gain_error, gain_error)), high * float(rng.uniform(-0.003, 0.003))
    return Instrument(low, high, lag_s, noise, gain, zero, (high - low) / 2.0 ** int(rng.integers(12, bits + 1)))


def _cell(rng: np.random.Generator, high_n: float) -> Instrument:
    low_n = -high_n if rng.random() < 0.4 else -0.1 * high_n
    lag_s, noise_n = log_uniform(rng, 0.001, 0.02), high_n * log_uniform(rng, 0.0001, 0.002)
    return _chain(rng, low_n, high_n, lag_s, noise_n, 0.001, 24)


def _thermocouple(rng: np.random.Generator, coarse: bool) -> Instrument:
    lag_s, noise = log_uniform(rng, 1.0, 40.0), log_uniform(rng, 0.02, 0.2)
    step = 0.5 if coarse else float(rng.choice([0.01, 0.0625, 0.1, 0.25]))
    gain, zero = 1.0 + float(rng.uniform(-0.004, 0.004)), float(rng.uniform(-1.5, 1.5))
    return Instrument(-20.0, 300.0, lag_s, noise, gain, zero, step)
