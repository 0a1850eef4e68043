"""Sensors and their converters. Reads true values at the rows, gives readings."""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import DriveKind, Floats, Kind

from .drives import Drive, cage_current_a
from .filters import lag
from .rigs import TYPICAL_FRICTION, Rig, log_uniform
from .scripts import Script


@dataclass(frozen=True, slots=True)
class Instrument:
    """One channel's chain, all in the channel's unit.

    Attributes:
        low, high: ends of the converter.
        lag_s: first-order.
        noise: standard deviation of a row.
        gain, zero: errors of calibration; gain 1 is right.
        step: of the converter.
    """

    low: float
    high: float
    lag_s: float
    noise: float
    gain: float
    zero: float
    step: float

    def read(self, rng: np.random.Generator, true: Floats, rate_hz: float) -> Floats:
        """Give (n,) readings of (n,) true values."""
        late = lag(true, 1.0 / rate_hz, self.lag_s)
        noisy = late * self.gain + self.zero + self.noise * rng.standard_normal(true.size)
        return self.convert(noisy)

    def convert(self, analogue: Floats) -> Floats:
        """Give what the converter makes of a value."""
        return np.clip(np.round(analogue / self.step) * self.step, self.low, self.high)


@dataclass(frozen=True, slots=True)
class Panel:
    """All instruments of a rig.

    Attributes:
        by_channel: name to chain; sound and speed have their own meters before it.
        hum_n: amplitude of mains hum on the friction cell.
        meter_s: time weighting of the sound meter.
    """

    by_channel: dict[str, Instrument]
    hum_n: float
    meter_s: float


def round_up(value: float) -> float:
    """Give the next number of the series 1, 2, 5, 10, in the unit of value."""
    decade = 10.0 ** np.floor(np.log10(value))
    return float(next(decade * digit for digit in (1.0, 2.0, 5.0, 10.0) if decade * digit >= value * 0.9999))


def start_current_a(drive: Drive) -> float:
    """Give the most current the motor takes when it starts, A."""
    if drive.kind is DriveKind.INDUCTION_DIRECT:
        return float(cage_current_a(drive, np.array(drive.free_speed_rad_s)))
    if drive.kind is DriveKind.INDUCTION_INVERTER:
        return float(cage_current_a(drive, np.array(drive.limit_slip_rad_s)))
    return drive.rated_current_a * drive.peak_torque_nm / drive.rated_torque_nm


def draw_panel(rng: np.random.Generator, rig: Rig, script: Script) -> Panel:
    """Give the instruments of a rig, and note what is odd about them."""
    force_n, rated_a = TYPICAL_FRICTION * rig.top_load_n, rig.drive.rated_current_a
    start_a = start_current_a(rig.drive)
    railed = rng.random() < 0.15 and start_a > 2.6 * rated_a
    if railed:
        script.note(Kind.CURRENT_RAIL, 0.0)
    current_high = round_up(2.0 * rated_a) if railed else round_up(1.15 * start_a)
    coarse = rng.random() < 0.15
    if coarse:
        script.note(Kind.COARSE_TEMPERATURE, 0.0)
    hums = rng.random() < 0.15
    if hums:
        script.note(Kind.MAINS_HUM, 0.0)
    speed_high = round_up(1.3 * rig.drive.free_speed_rad_s * 30.0 / np.pi)
    chains = {
        v.NORMAL_LOAD: _cell(rng, round_up(rig.top_load_n * rng.uniform(1.3, 2.5))),
        v.FRICTION_FORCE: _cell(rng, round_up(force_n * rng.uniform(3.5, 7.0))),
        v.MOTOR_CURRENT: Instrument(
            low=-0.05 * current_high,
            high=current_high,
            lag_s=log_uniform(rng, 0.001, 0.08),
            noise=rated_a * log_uniform(rng, 0.002, 0.02),
            gain=float(rng.uniform(0.98, 1.02)),
            zero=current_high * float(rng.uniform(-0.003, 0.003)),
            step=current_high / 2.0 ** int(rng.integers(12, 17)),
        ),
        v.SOUND_LEVEL: Instrument(
            25.0, 130.0, 0.0, log_uniform(rng, 0.02, 0.2), 1.0, float(rng.uniform(-1.5, 1.5)), 0.1
        ),
        v.PIN_TEMPERATURE: _thermocouple(rng, coarse),
        v.BATH_TEMPERATURE: _thermocouple(rng, coarse),
        v.RING_SPEED: Instrument(
            low=-0.02 * speed_high,
            high=speed_high,
            lag_s=float(rng.uniform(0.005, 0.08)),
            noise=speed_high * log_uniform(rng, 0.0003, 0.004),
            gain=float(rng.uniform(0.99, 1.01)),
            zero=speed_high * float(rng.uniform(-0.002, 0.002)),
            step=speed_high / 4096.0,
        ),
    }
    hum_n = force_n * log_uniform(rng, 0.01, 0.08) if hums else 0.0
    return Panel(chains, hum_n, 0.125 if rng.random() < 0.6 else 1.0)


def _cell(rng: np.random.Generator, high_n: float) -> Instrument:
    return Instrument(
        low=-high_n if rng.random() < 0.4 else -0.1 * high_n,
        high=high_n,
        lag_s=log_uniform(rng, 0.001, 0.02),
        noise=high_n * log_uniform(rng, 0.0001, 0.002),
        gain=1.0 + float(rng.uniform(-0.001, 0.001)),
        zero=high_n * float(rng.uniform(-0.003, 0.003)),
        step=high_n / 2.0 ** int(rng.integers(11, 24)),
    )


def _thermocouple(rng: np.random.Generator, coarse: bool) -> Instrument:
    return Instrument(
        low=-20.0,
        high=300.0,
        lag_s=log_uniform(rng, 1.0, 40.0),
        noise=log_uniform(rng, 0.02, 0.2),
        gain=1.0 + float(rng.uniform(-0.004, 0.004)),
        zero=float(rng.uniform(-1.5, 1.5)),
        step=0.5 if coarse else float(rng.choice([0.01, 0.0625, 0.1, 0.25])),
    )
