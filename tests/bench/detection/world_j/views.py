"""Looks at a course at the rows: true values with what turns once a round, and readings. Gives arrays."""

import numpy as np
from world_b import values as v
from world_b.values import Floats, Inside, Tachometer

from .drives import current_a
from .friction_story import FrictionStory
from .instruments import Counter, Instrument, Panel
from .physics import Course
from .rigs import Rig
from .sounds import metered_db

PATCH_SHARPNESS = 10.0
MAINS_HZ = 49.98
BEFORE_S = 20.0
UNEVENNESS = 0.004  # of the pulses' places, as a share of their distance


def inside_at(rig: Rig, course: Course, story: FrictionStory, sound_db: Floats, row_s: Floats) -> Inside:
    """Give the noise-free world at the rows."""
    t_s, drive, contact = course.t_s, rig.drive, rig.contact
    turning = course.ring_rad_s / drive.free_speed_rad_s
    amperes = current_a(drive, course.torque_nm, course.slip_rad_s, course.on.astype(np.float64), turning)
    angle = np.interp(row_s, t_s, np.cumsum(course.ring_rad_s) * float(t_s[1] - t_s[0]))

    def at(fine: Floats) -> Floats:
        return np.interp(row_s, t_s, fine)

    load = at(course.load_n) * (1.0 + 0.5 * contact.runout_share * np.sin(angle + 0.7))
    patch = at(story.patch_share) * np.exp(PATCH_SHARPNESS * (np.cos(angle) - 1.0))
    turns = 1.0 + contact.runout_share * np.sin(angle) + contact.second_share * np.sin(2.0 * angle + 1.0) + patch
    fine = (amperes, course.ring_rad_s, course.motor_rad_s, course.torque_nm, course.bath_degc, course.pin_degc)
    on = at(course.on.astype(np.float64)) > 0.5
    sums = (course.heat_in_j, course.bath_heat_j, rig.drag_torque_nm, rig.radius_m)
    return Inside(row_s, load, at(course.friction_n) * turns, *(at(values) for values in (*fine, sound_db)), on, *sums)


def readings(
    rngs: dict[str, np.random.Generator], panel: Panel, course: Course, sound_db: Floats, inside: Inside, rate_hz: float
) -> dict[str, Floats]:
    """Give all seven channels as read, (n,) each in its unit., each with its own source of noise."""
    fine_s, row_s = course.t_s, inside.t_s
    shaft = course.motor_rad_s if panel.counter.on_motor else course.ring_rad_s
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
    shown_rpm = read_rpm(rngs[v.RING_SPEED], panel.counter, chain, fine_s, shaft, row_s)
    read[v.RING_SPEED] = np.clip(shown_rpm, chain.low, chain.high)
    return read


def read_rpm(
    rng: np.random.Generator, counter: Counter, chain: Instrument, fine_s: Floats, speed_rad_s: Floats, row_s: Floats
) -> Floats:
    """Give readings at the rows, r/min, of a shaft's speed on the clock of the physics; chain is the generator's."""
    if counter.kind is Tachometer.ANALOGUE:
        rows = np.interp(row_s, fine_s, speed_rad_s) * 30.0 / np.pi
        return chain.read(rng, rows, 1.0 / float(row_s[1] - row_s[0]))
    step_s = float(fine_s[1] - fine_s[0])
    before_rad = -BEFORE_S * float(speed_rad_s[0])
    angle_rad = np.cumsum(0.5 * (speed_rad_s[1:] + speed_rad_s[:-1])) * step_s
    pulses_passed = np.concatenate(([before_rad, 0.0], angle_rad))
    fine_s = np.concatenate(([fine_s[0] - BEFORE_S], fine_s))
    pulses_passed = pulses_passed * counter.pulses / (2.0 * np.pi) + float(rng.random())
    if counter.kind is Tachometer.GATE:
        gate_end_s = np.floor(row_s / counter.gate_s + 1e-9) * counter.gate_s
        counted = np.floor(np.interp(gate_end_s, fine_s, pulses_passed)) - np.floor(
            np.interp(gate_end_s - counter.gate_s, fine_s, pulses_passed)
        )
        return counted * 60.0 / (counter.pulses * counter.gate_s)
    rising = pulses_passed + np.arange(pulses_passed.size) * 1e-9
    last = np.floor(np.interp(row_s, fine_s, rising))
    uneven = UNEVENNESS * rng.standard_normal(counter.pulses)
    edge_s = np.interp(last, rising, fine_s)
    before_s = np.interp(last - 1.0, rising, fine_s)
    period_s = np.maximum(edge_s - before_s, 1e-5)
    place = last.astype(np.int64) % counter.pulses
    period_s = period_s * (1.0 + uneven[place] - uneven[(place - 1) % counter.pulses])
    waited_s = row_s - edge_s
    shown = 60.0 / (counter.pulses * np.maximum(period_s, waited_s))
    return np.where(waited_s > counter.silence_s, 0.0, shown)
