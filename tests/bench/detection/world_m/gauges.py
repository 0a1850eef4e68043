"""The sensors as bought and wired: ranges, lags, noise, converters.

Reads `world_m.design`. Drawn once for a rig, before it is known which of them are connected.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    DriveKind,
    Tachometer,
)

from world_m.design import Design
from world_m.streams import Stream, between, happens, log_between


@dataclass(frozen=True, slots=True)
class Gauge:
    """One sensor with its amplifier and converter.

    Attributes:
        low, high: valid values; the converter rails there.
        gain, offset: of the calibration, 1 and 0 at best; creep: offset gained per hour.
        lag_s: first-order.
        white, pink, pink_s: standard deviations of white and of correlated noise, and the latter's time constant.
        hum, hum_hz: amplitude left of the mains, and its frequency.
        step: of the converter.
        converter_hz: its own rate; 0 where it follows the rows.
        cross: newtons of friction shown per newton of load, and the other way round.
    """

    low: float
    high: float
    gain: float
    offset: float
    creep: float
    lag_s: float
    white: float
    pink: float
    pink_s: float
    hum: float
    hum_hz: float
    step: float
    converter_hz: float
    cross: float = 0.0


@dataclass(frozen=True, slots=True)
class SpeedGauge:
    """The tachometer.

    Attributes:
        kind: see `Tachometer`.
        pulses_per_turn: 0 for the analogue one; gate_s: of the counter; quiet_s: without a pulse it shows zero.
        on_motor: on the motor's shaft.
    """

    kind: Tachometer
    pulses_per_turn: int
    gate_s: float
    quiet_s: float
    on_motor: bool


@dataclass(frozen=True, slots=True)
class Gauges:
    """All of a rig; `of` by channel, speed included for its noise, range and converter."""

    of: Mapping[str, Gauge]
    speed: SpeedGauge


def draw_gauges(rng: Stream, design: Design, hum: bool, coarse: bool, stall_current_a: float) -> Gauges:
    """Draw them; hum on the friction cell and coarse temperatures as the plan has it."""
    peak_n = max(0.9 * design.top_load_n, design.peak_torque_nm / design.radius_m)
    load_high = design.top_load_n * between(rng, 1.3, 3.0)
    friction_high = peak_n * between(rng, 1.05, 1.8)
    rails = design.drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.INDUCTION_DIRECT)
    rail = happens(rng, 0.35) and rails
    current_high = stall_current_a * (between(rng, 0.45, 0.85) if rail else between(rng, 1.1, 2.0))
    idle_rpm = design.idle_rad_s * 30.0 / pi
    of = {
        NORMAL_LOAD: _force(rng, load_high, design.top_load_n, between(rng, 0.0003, 0.012), 0.0, 0.04),
        FRICTION_FORCE: _force(
            rng,
            friction_high,
            design.contact.boundary_mu * design.top_load_n,
            log_between(rng, 0.003, 0.06),
            between(rng, 0.05, 0.25) if hum else 0.0,
            0.012,
        ),
        MOTOR_CURRENT: _current(rng, design, current_high),
        SOUND_LEVEL: _sound(rng),
        PIN_TEMPERATURE: _thermocouple(rng, coarse, between(rng, 0.3, 4.0)),
        BATH_TEMPERATURE: _thermocouple(rng, coarse, between(rng, 2.0, 15.0)),
        RING_SPEED: _tacho_electronics(rng, idle_rpm),
    }
    return Gauges(of, _tachometer(rng, design))


def _force(rng: Stream, high: float, usual: float, noise: float, hum: float, cross: float) -> Gauge:
    step = 2.0 * high / 2.0 ** float(rng.choice([12, 14, 16, 20]))
    return Gauge(
        low=-high,
        high=high,
        gain=between(rng, 0.97, 1.03),
        offset=usual * between(rng, -0.02, 0.02),
        creep=usual * between(rng, -0.04, 0.04),
        lag_s=log_between(rng, 0.002, 0.15),
        white=noise * usual,
        pink=noise * usual * between(rng, 0.0, 0.6),
        pink_s=log_between(rng, 0.05, 5.0),
        hum=hum * usual,
        hum_hz=_mains_hz(rng),
        step=step,
        converter_hz=_converter_hz(rng, (10.0, 12.5, 80.0, 320.0), 0.35),
        cross=between(rng, -cross, cross),
    )


def _current(rng: Stream, design: Design, high: float) -> Gauge:
    brushed = design.drive.kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    noise = high * log_between(rng, 0.0006, 0.008)
    return Gauge(
        low=-high if brushed else -0.02 * high,
        high=high,
        gain=between(rng, 0.97, 1.03),
        offset=high * between(rng, -0.006, 0.006),
        creep=high * between(rng, -0.004, 0.004),
        lag_s=log_between(rng, 0.003, 0.1) if brushed else log_between(rng, 0.05, 0.3),
        white=noise,
        pink=noise * between(rng, 0.0, 1.0),
        pink_s=log_between(rng, 0.02, 3.0),
        hum=high * between(rng, 0.0, 0.004),
        hum_hz=_mains_hz(rng),
        step=high / 2.0 ** float(rng.choice([9, 11, 13, 15])),
        converter_hz=_converter_hz(rng, (5.0, 20.0, 60.0, 860.0), 0.25),
    )


def _sound(rng: Stream) -> Gauge:
    lag_s = float(rng.choice([0.125, 1.0, 0.035], p=[0.6, 0.2, 0.2]))
    white = between(rng, 0.1, 1.2)
    converter_hz = _converter_hz(rng, (2.0, 8.0, 10.0, 32.0), 0.7)
    return Gauge(28.0, 130.0, 1.0, between(rng, -1.5, 1.5), 0.0, lag_s, white, 0.3, 0.5, 0.0, 50.0, 0.1, converter_hz)


def _thermocouple(rng: Stream, coarse: bool, lag_s: float) -> Gauge:
    step = 0.5 if coarse else float(rng.choice([0.01, 0.0625, 0.1, 0.25]))
    high = float(rng.choice([250.0, 400.0, 800.0, 1250.0]))
    white = between(rng, 0.02, 0.3)
    offset = between(rng, -1.5, 1.5)
    rate_hz = _converter_hz(rng, (1.0, 4.0, 7.0, 10.0), 0.8)
    return Gauge(-20.0, high, 1.0, offset, 0.0, lag_s, white, 0.05, 10.0, 0.0, 50.0, step, rate_hz)


def _tacho_electronics(rng: Stream, idle_rpm: float) -> Gauge:
    high = idle_rpm * between(rng, 1.3, 2.5)
    gain = between(rng, 0.98, 1.02)
    white = idle_rpm * log_between(rng, 0.0005, 0.008)
    return Gauge(-0.03 * high, high, gain, 0.0, 0.0, 0.02, white, 0.0, 1.0, 0.0, 50.0, high / 4096.0, 0.0)


def _tachometer(rng: Stream, design: Design) -> SpeedGauge:
    kind = list(Tachometer)[int(rng.integers(3))]
    turn_s = 2.0 * pi / design.idle_rad_s
    if kind is Tachometer.ANALOGUE:
        pulses, gate_s = 0, 0.0
    elif kind is Tachometer.PERIOD:
        pulses, gate_s = int(rng.choice([1, 2, 4, 12, 60])), 0.0
    else:
        gate_s = float(rng.choice([0.1, 0.25, 0.5, 1.0]))
        enough = [p for p in (1, 6, 20, 60, 200, 500) if p * gate_s / turn_s > 12.0] or [1000]
        pulses = enough[int(rng.integers(min(3, len(enough))))]
    quiet_s = max(between(rng, 0.5, 2.0), 2.5 * turn_s / max(1, pulses))
    return SpeedGauge(kind, pulses, gate_s, quiet_s, happens(rng, 0.4))


def _mains_hz(rng: Stream) -> float:
    return float(rng.choice([50.0, 60.0])) + between(rng, -0.06, 0.06)


def _converter_hz(rng: Stream, rates: tuple[float, ...], share: float) -> float:
    """Give a converter's own rate where it has one; 0 where it follows the rows."""
    rate_hz = float(rng.choice(rates)) * between(rng, 0.99, 1.01)
    return rate_hz if happens(rng, share) else 0.0
