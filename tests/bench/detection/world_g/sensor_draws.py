"""Draws the instruments of a rig; some rigs are excellent, some are shabby."""

import math

from world_b.values import Tachometer

from .chance import Dice, between, chance, spread
from .rig import Motor
from .sensing import Cell, Sensing

_BITS = (12, 14, 16, 16, 24)


def draw_sensing(dice: Dice, motor: Motor, most_load_n: float, usual_n: float, speed_rad_s: float) -> Sensing:
    """Draw every instrument, whether it will be shown or not.

    Args:
        dice: of the rig.
        motor: what is measured.
        most_load_n: greatest load.
        usual_n: friction force at it.
        speed_rad_s: of the ring.
    """
    grade = spread(dice, 0.4, 2.0)
    bits = _BITS[int(dice.integers(len(_BITS)))]
    usual_a = motor.drag_torque_nm / motor.nm_per_a + usual_n * 0.03 / motor.nm_per_a
    rails_a = motor.start_a * (between(dice, 0.45, 0.9) if chance(dice, 0.22) else between(dice, 1.05, 1.8))
    rails_a = max(rails_a, 3.0 * usual_a, 1.8 * motor.magnetising_a)
    tachometer = list(Tachometer)[int(dice.integers(3))]
    turns_hz = speed_rad_s / 6.283
    pulses = 0 if tachometer is Tachometer.ANALOGUE else int(dice.choice([1, 4, 12, 30, 60, 120]))
    gate_s = spread(dice, 0.01, 0.08) if tachometer is Tachometer.ANALOGUE else float(dice.choice([0.1, 0.2, 0.5]))
    if tachometer is Tachometer.GATE:
        pulses = max(pulses, 30, math.ceil(25.0 / (turns_hz * gate_s)))
    if pulses * turns_hz < 4.0 and pulses:
        pulses = 12
    degc_step = 0.5 if chance(dice, 0.12) else float(dice.choice([0.1, 0.05, 0.02]))
    below = -1.6 if chance(dice, 0.6) else -0.1
    return Sensing(
        load=_cell(dice, grade, 0.0015 * most_load_n, below * most_load_n, 1.6 * most_load_n, bits),
        friction=_cell(dice, grade, 0.008 * usual_n, -2.0 * usual_n, max(8.0 * usual_n, 0.8 * most_load_n), bits),
        current=_cell(dice, grade, 0.004 * rails_a / 2.0, 0.0 if chance(dice, 0.6) else -rails_a, rails_a, bits),
        pin=_thermocouple(dice, grade, 0.3, 3.0),
        bath=_thermocouple(dice, grade, 1.0, 8.0),
        speed=_cell(dice, grade, 0.001 * speed_rad_s * 9.549, 0.0, 2.0 * speed_rad_s * 9.549, 16),
        sound=Cell(0.0, spread(dice, 0.05, 0.4), 0.05, 0.0, 100.0, 1.0, between(dice, -1.5, 1.5), 25.0, 130.0, 14),
        load_on_weights=chance(dice, 0.35),
        cross_talk=between(dice, 0.01, 0.03) * (1.0 if chance(dice, 0.5) else -1.0),
        current_play_a=usual_a * spread(dice, 0.002, 0.03),
        ripple_a=usual_a * spread(dice, 0.001, 0.02),
        ripple_hz=between(dice, 99.8, 100.2),
        pin_touch=1.0 if chance(dice, 0.7) else between(dice, 0.5, 0.85),
        degc_step=degc_step,
        hum_n=usual_n * spread(dice, 0.02, 0.08) if chance(dice, 0.12) else 0.0,
        hum_hz=between(dice, 49.8, 50.2),
        tachometer=tachometer,
        pulses_per_turn=pulses,
        on_motor=chance(dice, 0.4),
        gate_s=gate_s,
        meter_s=0.125 if chance(dice, 0.7) else 1.0,
        shop_db=between(dice, 42.0, 62.0),
        drive_db=between(dice, 48.0, 64.0),
        contact_db=between(dice, 46.0, 66.0),
    )


def _cell(dice: Dice, grade: float, noise: float, low: float, high: float, bits: int) -> Cell:
    return Cell(
        lag_s=spread(dice, 0.002, 0.05),
        noise=noise * grade * spread(dice, 0.5, 2.0),
        noise_lag_s=spread(dice, 0.001, 0.01),
        wander=noise * grade * spread(dice, 0.2, 1.5),
        wander_s=spread(dice, 20.0, 300.0),
        gain=1.0 + 0.006 * grade * between(dice, -1.0, 1.0),
        zero=noise * grade * between(dice, -2.0, 2.0),
        low=low,
        high=high,
        bits=bits,
    )


def _thermocouple(dice: Dice, grade: float, quick_s: float, slow_s: float) -> Cell:
    return Cell(
        lag_s=spread(dice, quick_s, slow_s),
        noise=0.04 * grade,
        noise_lag_s=0.05,
        wander=0.12 * grade,
        wander_s=spread(dice, 10.0, 120.0),
        gain=1.0 + between(dice, -0.004, 0.004),
        zero=between(dice, -1.2, 1.2),
        low=-20.0,
        high=400.0,
        bits=24,
    )
