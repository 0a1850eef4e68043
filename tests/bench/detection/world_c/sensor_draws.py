"""Draws cells, thermocouples and sound meters. Ranges are plausible and invented, unless a source stands beside one."""

import numpy as np

from .dice import Dice
from .rig import CellFacts, SoundFacts, ThermocoupleFacts


def draw_cell(dice: Dice, range_n: float, most_crosstalk_share: float) -> CellFacts:
    """Give a cell of about this range, from a quiet one of 16 bits to a noisy one of 10."""
    bits = dice.one_of((10, 12, 14, 16, 16))
    own_share = dice.even_log(0.00008, 0.003)
    return CellFacts(
        range_n=float(np.round(range_n, 1 if range_n < 100.0 else 0)),
        noise_share=own_share,
        step_n=2.0 * range_n / 2**bits,
        zero_share=0.004 * dice.flat(-1.0, 1.0),
        drift_share=0.01 * dice.flat(-1.0, 1.0),
        beam_hz=dice.even_log(12.0, 150.0),
        beam_damping=dice.even_log(0.05, 0.4),
        low_pass_hz=dice.even_log(4.0, 100.0),
        hum_share=dice.even_log(0.0005, 0.005) if dice.chance(0.25) else 0.0,
        crosstalk_share=most_crosstalk_share * dice.flat(-1.0, 1.0),
    )


def draw_thermocouple(dice: Dice) -> ThermocoupleFacts:
    """Give a thermocouple's reading, without its lag."""
    return ThermocoupleFacts(
        step_k=dice.one_of((0.01, 0.0625, 0.1, 0.25, 0.5)),
        noise_k=dice.even_log(0.01, 0.25),
        offset_k=dice.flat(-0.4, 0.4),
        refresh_s=dice.one_of((0.0, 0.0, 0.1, 0.25, 1.0)),
        range_degc=(-50.0, dice.one_of((400.0, 600.0, 1200.0))),
    )


def draw_sound(dice: Dice) -> SoundFacts:
    """Give a sound meter with its room."""
    room_db = dice.flat(38.0, 62.0)
    full_scale = dice.chance(0.15)
    offset_db = dice.flat(-125.0, -100.0) if full_scale else 0.0
    return SoundFacts(
        room_db=room_db,
        motor_db=room_db + dice.flat(-6.0, 16.0),
        rub_db=room_db + dice.flat(-10.0, 12.0),
        # 125 ms and 1 s: Fast and Slow of IEC 61672-1:2013; 35 ms: the rise of the old Impulse weighting.
        weighting_s=dice.one_of((0.035, 0.125, 0.125, 1.0)),
        refresh_s=dice.one_of((0.0, 0.0, 0.1, 0.25, 0.5, 1.0)),
        step_db=dice.one_of((0.01, 0.1, 0.1, 0.5)),
        noise_db=dice.even_log(0.05, 0.6),
        offset_db=offset_db,
        range_db=(-120.0, 0.0) if full_scale else (30.0, 130.0),
    )
