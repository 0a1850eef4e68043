"""The room and the noise of the rig: background, fans, neighbours, doors, voices, and the level of it all.

Reads plan, acts and course, fills `room_db`, gives the sound level before the meter.
"""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from world_b.values import Floats, Kind, Nuisance

from .acts import Acts
from .chance import chance, log_between
from .plan import Plan
from .rig import Rig
from .turning import Course

_HUM = 0.03
"""Sound power of windings at rated current, relative to the turning motor's; all that is left of a stalled one."""
_DOORS_S = 240.0
"""A door slams about so often where one does at all."""


@dataclass(frozen=True, slots=True)
class Voice:
    """How loud a rig is at its microphone.

    Attributes:
        room_db: of the empty room.
        motor_db: of motor, belt and bearings at set speed.
        contact_db: of the contact at a friction power of 10 W.
        contact_power: of friction power in the contact's sound power.
        froth_db: rise of the motor's share when the oil froths.
    """

    room_db: float
    motor_db: float
    contact_db: float
    contact_power: float
    froth_db: float


def draw_voice(rng: Generator) -> Voice:
    """Draw how loud a rig and its room are."""
    return Voice(
        room_db=rng.uniform(38.0, 60.0),
        motor_db=rng.uniform(50.0, 71.0),
        contact_db=rng.uniform(44.0, 68.0),
        contact_power=rng.uniform(0.6, 1.5),
        froth_db=rng.uniform(0.5, 6.0) if chance(rng, 0.25) else 0.0,
    )


def disturb_room(rng: Generator, voice: Voice, plan: Plan, acts: Acts) -> None:
    """Draw the fan of the drive, doors, voices and neighbours, anywhere, and fill the room's level."""
    t_s, whole_s = acts.t_s, plan.end_s
    knots_s = np.arange(0.0, t_s[-1] + 8.0, 4.0)
    acts.room_db[:] = voice.room_db + np.interp(t_s, knots_s, rng.normal(0.0, 0.5, len(knots_s)))
    if chance(rng, 0.25):
        fan_s, share, late_s = log_between(rng, 40.0, 400.0), rng.uniform(0.2, 0.7), rng.uniform(0.0, 400.0)
        _add(acts, np.where((t_s + late_s) % fan_s < share * fan_s, voice.motor_db - rng.uniform(3.0, 14.0), 0.0))
    if chance(rng, 0.35):
        for at_s in np.sort(rng.uniform(0.0, whole_s, 1 + rng.poisson(whole_s / _DOORS_S))).tolist():
            after = np.clip(t_s - at_s, 0.0, None)
            bang_db = rng.uniform(72.0, 96.0) - 10.0 * after / log_between(rng, 0.05, 0.25)
            _add(acts, np.where(t_s >= at_s, np.maximum(bang_db, 0.0), 0.0))
            plan.nuisances.append(Nuisance(Kind.DOOR_SLAM, at_s, 0.5))
    if chance(rng, 0.3):
        for _ in range(int(rng.integers(1, 4))):
            at_s, length_s = rng.uniform(0.0, whole_s), log_between(rng, 4.0, 90.0)
            words_s = np.arange(at_s, at_s + length_s + 1.0, 0.35)
            words_db = rng.uniform(58.0, 74.0) + rng.normal(0.0, 6.0, len(words_s))
            spoken = np.interp(t_s, words_s, words_db, left=0.0, right=0.0)
            _add(acts, spoken)
            plan.nuisances.append(Nuisance(Kind.VOICES, at_s, length_s))
    if chance(rng, 0.3):
        at_s, length_s = rng.uniform(0.0, whole_s), log_between(rng, 15.0, 300.0)
        cycle_s, duty = log_between(rng, 2.0, 60.0), rng.uniform(0.3, 1.0)
        runs = (t_s >= at_s) & (t_s < at_s + length_s) & ((t_s - at_s) % cycle_s < duty * cycle_s)
        _add(acts, np.where(runs, rng.uniform(55.0, 78.0), 0.0))
        plan.nuisances.append(Nuisance(Kind.NEIGHBOUR, at_s, length_s))


def level_db(rig: Rig, voice: Voice, acts: Acts, course: Course) -> Floats:
    """Give the sound level before the meter's time weighting, (n,) float64, dB."""
    speed = course.ring_rad_s / rig.set_rad_s
    running = np.maximum(course.motor_rad_s / rig.set_rad_s, 1e-3)
    froth = voice.froth_db * np.clip(course.angle_rad / (rig.set_rad_s * 300.0), 0.0, 1.0)
    hum = _HUM * np.square(course.current_a / rig.motor.rated_a)
    motor = _power(voice.motor_db + froth) * (running**2.0 + hum)
    rubbing_w = course.friction_n * course.ring_rad_s * rig.ring_radius_m
    contact = _power(voice.contact_db + acts.clang_db) * (rubbing_w / 10.0) ** voice.contact_power
    tone = _power(acts.tone_db) * np.clip(speed, 0.0, 1.0)
    return 10.0 * np.log10(_power(acts.room_db) + motor + contact + tone)


def _power(db: Floats | float) -> Floats:
    return np.power(10.0, np.asarray(db) / 10.0)


def _add(acts: Acts, db: Floats) -> None:
    louder = db > 0.0
    acts.room_db[louder] = 10.0 * np.log10(_power(acts.room_db[louder]) + _power(db[louder]))
