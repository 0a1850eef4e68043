"""Sound: every source as mean square pressure, then the meter's weighting.

Reads rows and plan, gives a level. Squeal and doors change nothing else.
"""

import numpy as np
from world_b.values import Floats

from .course import Course
from .plan import Noise, Plan
from .rig import Rig
from .rows import Rows, low_pass

_MOTOR_DECADES, _RUB_DECADES = 3.0, 2.0
"""Powers of speed and of friction power with which mean square pressure grows; plausible, invented."""


def contact_db(course: Course, rig: Rig, plan: Plan) -> Floats:
    """Give the level of room, motor and contact on the grid, without the meter and without passing noise; (n,) dB."""
    share = course.force_n * course.ring_share * rig.sliding_speed_m_s / rig.top_power_w
    return (
        to_db(_running(rig, plan, course.ring_share, course.motor_share, share, course.scuffed)) + rig.sound.offset_db
    )


def heard_db(rows: Rows, course: Course, rig: Rig, plan: Plan, rate_hz: float) -> Floats:
    """Give what the meter has after its weighting; (n,) dB."""
    share = rows.force_n * rows.ring_share * rig.sliding_speed_m_s / rig.top_power_w
    scuffed = np.interp(rows.t_s, course.t_s, course.scuffed)
    square = _running(rig, plan, rows.ring_share, rows.motor_share, share, scuffed)
    square *= 1.0 + np.minimum(4.0 * np.abs(rows.fast_share), 3.0)
    room = from_db(rig.sound.room_db)
    for noise in plan.noises:
        _add(square, rows.t_s, noise, room * from_db(noise.above_db))
    louder = from_db(max(rig.sound.motor_db, rig.sound.room_db))
    turning = np.ones(len(rows.t_s)) if not plan.squeals else np.minimum(rows.ring_share, 1.0)
    for noise in plan.squeals:
        _add(square, rows.t_s, noise, louder * from_db(noise.above_db), turning)
    return to_db(low_pass(square, rig.sound.weighting_s * rate_hz)) + rig.sound.offset_db


def to_db(square: Floats) -> Floats:
    """Give the level of a mean square pressure, dB."""
    return np.asarray(10.0 * np.log10(square))


def from_db(level_db: float) -> float:
    """Give the mean square pressure of a level, as a multiple of that at 0 dB."""
    return float(10.0 ** (0.1 * level_db))


def _running(
    rig: Rig, plan: Plan, ring_share: Floats, motor_share: Floats, power_share: Floats, scuffed: Floats
) -> Floats:
    sound = rig.sound
    room = from_db(sound.room_db)
    motor = from_db(sound.motor_db) * motor_share**_MOTOR_DECADES
    power = np.maximum(power_share, 0.0)
    if plan.trouble is None or plan.trouble.damage is None:
        return np.asarray(room + motor + from_db(sound.rub_db) * power**_RUB_DECADES)
    # Once scuffed, the level goes the drawn way, whatever the power; the room itself never falls.
    machine = motor + from_db(sound.rub_db) * np.minimum(power, 1.5) ** _RUB_DECADES
    change_db = plan.trouble.sound_db * np.minimum(scuffed * 2.0, 1.0) * np.minimum(ring_share * 5.0, 1.0)
    rising = np.maximum(change_db, 0.0)
    return np.asarray((room + machine * 10.0 ** (0.1 * (change_db - rising))) * 10.0 ** (0.1 * rising))


def _add(square: Floats, t_s: Floats, noise: Noise, height: float, turning: Floats | None = None) -> None:
    first, last = np.searchsorted(t_s, [noise.t_s, noise.t_s + noise.duration_s + 6.0 * noise.swell_s])
    after_s = t_s[first:last] - noise.t_s
    shape = np.where(
        after_s < noise.duration_s,
        -np.expm1(-after_s / noise.swell_s),
        -np.expm1(-noise.duration_s / noise.swell_s)
        * np.exp(np.minimum(noise.duration_s - after_s, 0.0) / noise.swell_s),
    )
    square[first:last] += height * shape * (1.0 if turning is None else turning[first:last])
