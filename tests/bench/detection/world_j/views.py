"""Looks at a course at the rows: true values with what turns once a round, and readings. Gives arrays."""

import numpy as np
from world_b import values as v
from world_b.values import Floats, Inside

from .drives import current_a
from .friction_story import FrictionStory
from .instruments import Panel
from .physics import Course
from .rigs import Rig
from .sounds import metered_db
from .tachometers import Counter, read_rpm

PATCH_SHARPNESS = 10.0
MAINS_HZ = 49.98


def inside_at(rig: Rig, course: Course, story: FrictionStory, sound_db: Floats, row_s: Floats) -> Inside:
    """Give the noise-free world at the rows."""
    t_s, drive, contact = course.t_s, rig.drive, rig.contact
    step_s = float(t_s[1] - t_s[0])
    turning = course.ring_rad_s / drive.free_speed_rad_s
    amperes = current_a(drive, course.torque_nm, course.slip_rad_s, course.on.astype(np.float64), turning)
    angle = np.interp(row_s, t_s, np.cumsum(course.ring_rad_s) * step_s)

    def at(fine: Floats) -> Floats:
        return np.interp(row_s, t_s, fine)

    load = at(course.load_n) * (1.0 + 0.5 * contact.runout_share * np.sin(angle + 0.7))
    patch = at(story.patch_share) * np.exp(PATCH_SHARPNESS * (np.cos(angle) - 1.0))
    turns = 1.0 + contact.runout_share * np.sin(angle) + contact.second_share * np.sin(2.0 * angle + 1.0) + patch
    return Inside(
        t_s=row_s,
        normal_load_n=load,
        friction_force_n=at(course.friction_n) * turns,
        motor_current_a=at(amperes),
        ring_speed_rad_s=at(course.ring_rad_s),
        motor_speed_rad_s=at(course.motor_rad_s),
        shaft_torque_nm=at(course.torque_nm),
        bath_temperature_degc=at(course.bath_degc),
        pin_temperature_degc=at(course.pin_degc),
        sound_level_db=at(sound_db),
        on=at(course.on.astype(np.float64)) > 0.5,
        heat_in_j=course.heat_in_j,
        bath_heat_j=course.bath_heat_j,
        drag_torque_nm=rig.drag_torque_nm,
        ring_radius_m=rig.radius_m,
    )


def readings(
    rngs: dict[str, np.random.Generator],
    panel: Panel,
    counter: Counter,
    course: Course,
    sound_db: Floats,
    inside: Inside,
    rate_hz: float,
) -> dict[str, Floats]:
    """Give all seven channels as read, (n,) each in its unit.

    Args:
        rngs: one source of noise for each channel, so that a channel reads the same in any set.
    """
    fine_s, row_s = course.t_s, inside.t_s
    shaft = course.motor_rad_s if counter.on_motor else course.ring_rad_s
    shown_db = np.interp(row_s, fine_s, metered_db(sound_db, float(fine_s[1] - fine_s[0]), panel.meter_s))
    true = {
        v.NORMAL_LOAD: inside.normal_load_n,
        v.FRICTION_FORCE: inside.friction_force_n + panel.hum_n * np.sin(2.0 * np.pi * MAINS_HZ * row_s),
        v.MOTOR_CURRENT: inside.motor_current_a,
        v.SOUND_LEVEL: shown_db,
        v.PIN_TEMPERATURE: inside.pin_temperature_degc,
        v.BATH_TEMPERATURE: inside.bath_temperature_degc,
    }
    read = {name: panel.by_channel[name].read(rngs[name], values, rate_hz) for name, values in true.items()}
    chain = panel.by_channel[v.RING_SPEED]
    read[v.RING_SPEED] = np.clip(
        read_rpm(rngs[v.RING_SPEED], counter, chain, fine_s, shaft, row_s), chain.low, chain.high
    )
    return read
