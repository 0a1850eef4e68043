"""What the sound level meter hears: room, drive, rubbing, squeal. Gives the level before and after the meter."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from world_b.values import Floats

from world_k.rig import between

FAST_S, SLOW_S = 0.125, 1.0
"""Time weightings F and S, IEC 61672-1 (from memory): first-order lags of the squared pressure."""
SILENCE_DB = 25.0


@dataclass(frozen=True, slots=True)
class Ears:
    """Levels in dB at the microphone.

    Attributes:
        room_db: of the room at rest.
        motor_db, motor_exponent: of the drive at set speed, and how its power falls with speed.
        rubbing_db: at full load and set speed.
        scuff_db: what a welded contact adds to the rubbing.
        ceiling_db: nothing in the shop is louder.
    """

    room_db: float
    motor_db: float
    motor_exponent: float
    rubbing_db: float
    scuff_db: float
    ceiling_db: float = 108.0


def draw_ears(rng: np.random.Generator, healthy_w: float) -> Ears:
    """Draw a shop; big drives are louder, by about 5 dB a decade of power (a guess)."""
    motor_db = float(np.clip(60.0 + 5.0 * np.log10(healthy_w / 20.0) + rng.normal(0.0, 5.0), 48.0, 82.0))
    return Ears(
        room_db=rng.uniform(42.0, 58.0),
        motor_db=motor_db,
        motor_exponent=rng.uniform(1.5, 4.0),
        rubbing_db=motor_db + rng.uniform(-12.0, 5.0),
        scuff_db=float(rng.choice([rng.uniform(-2.0, 4.0), between(rng, 5.0, 22.0)], p=[0.25, 0.75])),
    )


def power(level_db: Floats | float) -> Floats:
    """Give the squared pressure of a level, relative to that of 0 dB."""
    return np.asarray(10.0 ** (np.asarray(level_db) / 10.0))


def level_db(ears: Ears, speed_ratio: Floats, rubbing_ratio: Floats, weld: Floats, others_db: list[Floats]) -> Floats:
    """Give the level before the meter.

    Args:
        speed_ratio: of the motor, over set speed.
        rubbing_ratio: friction power over that at full load and set speed.
        weld: welded part of the contact.
        others_db: levels of squeals and of the room's visitors.
    """
    total = power(ears.room_db) + power(ears.motor_db) * np.clip(speed_ratio, 0.0, 1.5) ** ears.motor_exponent
    total = total + power(ears.rubbing_db + ears.scuff_db * weld) * np.clip(rubbing_ratio, 0.0, 20.0)
    for other_db in others_db:
        total = total + power(other_db)
    return np.clip(10.0 * np.log10(total), SILENCE_DB, ears.ceiling_db)


def weighted_db(before_db: Floats, rate_hz: float, lag_s: float) -> Floats:
    """Give the level after exponential averaging of the squared pressure."""
    keep = float(np.exp(-1.0 / (lag_s * rate_hz)))
    squared = power(before_db)
    return np.asarray(10.0 * np.log10(lfilter([1.0 - keep], [1.0, -keep], squared, zi=[keep * squared[0]])[0]))
