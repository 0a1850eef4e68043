"""Draws the instruments of a rig.

Reads dice and what the instruments must measure, gives a `Sensing`. Converters have 12 to 24 bit; a good cell shows a
thousandth of the usual force, a shabby one a twentieth.
"""

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

from .chance import Dice, even, happens, pick, spread
from .drives import running_a, start_a
from .rig import Contact, Motor
from .sensing import Gauge, Sensing

RPM = 9.549296585513721
"""r/min in 1 rad/s."""
_MOST_PULSES_PER_S = 400.0
_FEWEST_GATED = 12


def draw_sensing(dice: Dice, motor: Motor, most_load_n: float, contact: Contact, worst_nm: float) -> Sensing:
    """Give the instruments."""
    usual_n = contact.film_mu * most_load_n
    tachometer = pick(dice, dict.fromkeys(Tachometer, 1.0))
    turns_per_s = motor.set_rad_s * RPM / 60.0
    most = max(int(_MOST_PULSES_PER_S / turns_per_s), 4)
    fewest = _FEWEST_GATED if tachometer is Tachometer.GATE else 1
    pulses = min(max(pick(dice, {4: 0.2, 12: 0.2, 30: 0.2, 60: 0.3, 120: 0.1}), fewest), most)
    gate_s = max(pick(dice, {0.1: 0.3, 0.2: 0.4, 0.5: 0.3}), 8.0 / (pulses * turns_per_s))
    alternating = motor.kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    speed_lag_s = {Tachometer.PERIOD: 0.5 / (pulses * turns_per_s), Tachometer.GATE: 0.6 * gate_s}
    return Sensing(
        gauges={
            NORMAL_LOAD: _cell(dice, even(dice, 1.4, 3.0) * most_load_n, 0.1 * most_load_n),
            FRICTION_FORCE: _cell(dice, even(dice, 0.6, 1.5) * most_load_n, usual_n),
            MOTOR_CURRENT: _current(dice, motor, worst_nm, alternating),
            SOUND_LEVEL: Gauge(25.0, 130.0, 0.1, 0.0, even(dice, 0.05, 0.4), even(dice, -2.0, 2.0), 1.0, 0.0),
            PIN_TEMPERATURE: _thermometer(dice, spread(dice, 0.3, 5.0)),
            BATH_TEMPERATURE: _thermometer(dice, spread(dice, 1.0, 10.0)),
            RING_SPEED: _speed(dice, motor, speed_lag_s.get(tachometer, spread(dice, 0.01, 0.1))),
        },
        friction_in_load=even(dice, -0.03, 0.03),
        load_at_pin=happens(dice, 0.5),
        hum=usual_n * spread(dice, 0.01, 0.06) if happens(dice, 0.12) else 0.0,
        ripple_share=spread(dice, 0.002, 0.03),
        ripple_hz=100.0 * even(dice, 0.998, 1.002) if alternating else motor.set_rad_s * RPM / 60.0 * even(dice, 4, 20),
        remanence_share=pick(dice, {0.0: 0.6, spread(dice, 0.001, 0.006): 0.4}),
        tachometer=tachometer,
        pulses=0 if tachometer is Tachometer.ANALOGUE else pulses,
        gate_s=gate_s,
        on_motor=happens(dice, 0.3),
        coarse_degc=0.5 if happens(dice, 0.12) else 0.0,
    )


def _cell(dice: Dice, full_n: float, usual_n: float) -> Gauge:
    bits = int(dice.integers(12, 25))
    return Gauge(
        low=-full_n,
        high=full_n,
        step=2.0 * full_n / 2**bits,
        lag_s=spread(dice, 0.004, 0.06),
        noise=usual_n * spread(dice, 0.002, 0.05),
        zero=usual_n * spread(dice, 0.005, 0.06) * float(dice.standard_normal()),
        gain=even(dice, 0.985, 1.015),
        drift_per_h=usual_n * spread(dice, 0.01, 0.08) * float(dice.standard_normal()),
    )


def _current(dice: Dice, motor: Motor, worst_nm: float, alternating: bool) -> Gauge:
    worst_a = running_a(motor, worst_nm)
    enough_a = max(1.25 * start_a(motor), 2.0 * worst_a)
    full_a = max(2.2 * worst_a, 0.5 * start_a(motor)) if happens(dice, 0.3) else enough_a
    bits = int(dice.integers(12, 17))
    return Gauge(
        low=-0.05 * full_a,
        high=full_a,
        step=1.05 * full_a / 2**bits,
        lag_s=spread(dice, 0.03, 0.15) if alternating else spread(dice, 0.004, 0.08),
        noise=worst_a * spread(dice, 0.002, 0.025),
        zero=worst_a * 0.005 * float(dice.standard_normal()),
        gain=even(dice, 0.97, 1.03),
        drift_per_h=worst_a * 0.004 * float(dice.standard_normal()),
    )


def _thermometer(dice: Dice, lag_s: float) -> Gauge:
    return Gauge(
        low=-20.0,
        high=pick(dice, {250.0: 0.5, 400.0: 0.5}),
        step=pick(dice, {0.01: 0.3, 0.0625: 0.3, 0.1: 0.2, 0.25: 0.2}),
        lag_s=lag_s,
        noise=spread(dice, 0.02, 0.4),
        zero=0.2 * float(dice.standard_normal()),
        gain=even(dice, 0.997, 1.003),
        drift_per_h=0.1 * float(dice.standard_normal()),
    )


def _speed(dice: Dice, motor: Motor, lag_s: float) -> Gauge:
    set_rpm = motor.set_rad_s * RPM
    return Gauge(
        low=0.0,
        high=round(set_rpm * even(dice, 1.6, 3.0), -1),
        step=set_rpm * spread(dice, 1e-5, 1e-3),
        lag_s=lag_s,
        noise=set_rpm * spread(dice, 0.0005, 0.008),
        zero=0.0,
        gain=even(dice, 0.99, 1.01),
        drift_per_h=0.0,
    )
