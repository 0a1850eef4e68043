"""The noise-free signals at the sensors, evenly spaced in time, made from the trace of the engine.

Reads trace, inputs, plan and rig; adds what goes with the angle of the ring, and the sound.
The even grid is a whole multiple of the sampling rate, at least 400 Hz, so that filters act before samples are taken.
"""

from dataclasses import dataclass, fields, replace
from math import ceil
from typing import Any

import numpy as np
from world_b.values import Flags, Floats, Inside, Kind

from .draws import Rng, log_uniform, uniform
from .engine import Trace
from .inputs import Inputs, smooth_step
from .plan import Plan
from .rig import Rig
from .spectra import unrest

LEAST_RATE_HZ = 400.0


@dataclass(frozen=True, slots=True)
class Fields:
    """What goes on inside at `rate_hz`, which is `per_sample` times the sampling rate, and the angles turned."""

    rate_hz: float
    per_sample: int
    inside: Inside
    ring_angle_rad: Floats
    motor_angle_rad: Floats

    @property
    def sample_t_s(self) -> Floats:
        """Give the moments at which samples are taken."""
        return self.inside.t_s[:: self.per_sample]

    def inside_at_samples(self) -> Inside:
        """Give what goes on inside at the moments of the samples only."""
        arrays = {f.name: getattr(self.inside, f.name) for f in fields(self.inside)}
        thin: dict[str, Any] = {k: v[:: self.per_sample] for k, v in arrays.items() if isinstance(v, np.ndarray)}
        return replace(self.inside, **thin)


@dataclass(frozen=True, slots=True)
class Hall:
    """What the room and the rig sound like: levels in dB at the sound meter, and how they sway."""

    quiet_db: float
    motor_db: float
    contact_db: float
    scuffed_gain_db: float
    sway_db: float


def draw_hall(rng: Rng) -> Hall:
    """Draw the room."""
    quiet_db = uniform(rng, 38.0, 68.0)
    motor_db = quiet_db + uniform(rng, -6.0, 12.0)
    return Hall(
        quiet_db, motor_db, motor_db + uniform(rng, -12.0, 4.0), uniform(rng, 6.0, 20.0), log_uniform(rng, 0.25, 2.0)
    )


def _turning(angle_rad: Floats, wiggle: float, size: float) -> Floats:
    return 1.0 + size * np.cos(angle_rad) + 0.4 * size * np.cos(2.0 * angle_rad + wiggle)


def _sound(
    rng: Rng, hall: Hall, t_s: Floats, on: Flags, speed: Floats, power: Floats, rough: Floats, plan: Plan
) -> Floats:
    slow = unrest(rng, plan.duration_s + 1.0, 10.0, 0.004, 4.0, 1.0)
    quiet = 10.0 ** ((hall.quiet_db + hall.sway_db * np.interp(t_s, np.arange(slow.size) / 10.0, slow)) / 10.0)
    turning = np.clip(speed, 0.0, 2.0) ** 1.5 + 0.03 * on
    sway = unrest(rng, plan.duration_s + 1.0, 20.0, 0.01, 8.0, 0.8)
    motor_db = hall.motor_db + 0.4 * hall.sway_db * np.interp(t_s, np.arange(sway.size) / 20.0, sway[::-1])
    motor = turning * 10.0 ** (motor_db / 10.0)
    sway_db = (0.5 * hall.sway_db + 3.0 * np.minimum(rough, 1.0)) * np.interp(t_s, np.arange(sway.size) / 20.0, sway)
    gain_db = hall.contact_db + hall.scuffed_gain_db * np.minimum(3.0 * rough, 1.0) + sway_db
    energy = quiet + motor + np.maximum(power, 0.0) * 10.0 ** (gain_db / 10.0)
    for happening in plan.happenings:
        since_s, left_s = t_s - happening.t_s, happening.t_s + happening.duration_s - t_s
        within = ((since_s >= 0) & (left_s > 0)).astype(float)
        match happening.kind:
            case Kind.DOOR_SLAM | Kind.HARD_SET_DOWN | Kind.BUMP:
                over_db = 14.0 if happening.kind is Kind.DOOR_SLAM else 6.0
                envelope = 1.0 * (since_s >= 0) * np.exp(-np.maximum(since_s, 0.0) / 0.12)
            case Kind.NEIGHBOUR:
                envelope, over_db = smooth_step(since_s / 3.0) * smooth_step(left_s / 3.0), 2.0
            case Kind.VOICES:
                envelope, over_db = within * (0.5 + 0.5 * np.sin(14.5 * t_s) * np.sin(1.9 * t_s)), 3.0
            case Kind.SQUEAL:
                envelope, over_db = within * (0.3 + 0.7 * np.sin(3.0 * since_s) ** 2) * (speed > 0.3), 8.0
            case _:
                continue
        base = 10.0 ** (max(hall.quiet_db, hall.motor_db) / 10.0)
        energy = energy + envelope * base * 10.0 ** ((over_db + 10.0 * happening.size) / 10.0)
    level_db: Floats = 10.0 * np.log10(energy)
    return level_db


def spread(rng: Rng, rig: Rig, plan: Plan, inputs: Inputs, trace: Trace, duration_s: float, rate_hz: float) -> Fields:
    """Give the signals at the sensors."""
    per_sample = max(ceil(LEAST_RATE_HZ / rate_hz), 1)
    fine_hz = rate_hz * per_sample
    t_s = np.arange(int(duration_s * rate_hz) * per_sample + 1) / fine_hz

    def at(values: Floats) -> Floats:
        return np.interp(t_s, trace.t_s, values)

    angle = at(trace.ring_angle_rad)
    wiggle = uniform(rng, 0.0, 6.28)
    load_factor = _turning(angle, wiggle, rig.run_out_load)
    friction_factor = _turning(angle + 0.7, wiggle, rig.run_out) * load_factor
    patch_phase = (angle / (2 * np.pi)) % 1.0 / inputs.rough.patch_width
    hot = np.where(patch_phase < 1.0, np.sin(np.pi * np.minimum(patch_phase, 1.0)), 0.0)
    patch = at(inputs.rough.patch)
    friction_factor = friction_factor * (1.0 + patch * hot)
    friction, speed, motor_speed = at(trace.friction_n), at(trace.ring_rad_s), at(trace.motor_rad_s)
    on_steps = inputs.on & (inputs.supply > 0)
    on = on_steps[np.minimum(np.searchsorted(trace.t_s, t_s + 1e-9, side="right") - 1, trace.t_s.size - 1)]
    turning = np.where(speed > 1e-3 * rig.set_speed_rad_s, friction_factor, 1.0)
    power = friction * turning * speed * rig.ring_radius_m / rig.usual_power_w
    rough = at(trace.scuffed_share) + patch * hot
    sound = _sound(rng, draw_hall(rng), t_s, on, motor_speed / rig.set_speed_rad_s, power, rough, plan)
    motor_angle = at(trace.motor_angle_rad)
    seam = 1.0 + rig.seam_ripple * np.cos(rig.seam_ratio * motor_angle)
    inside = Inside(
        t_s=t_s, normal_load_n=at(trace.load_n) * load_factor, friction_force_n=friction * turning,
        motor_current_a=at(trace.current_a) * seam, ring_speed_rad_s=speed, motor_speed_rad_s=motor_speed,
        shaft_torque_nm=at(trace.torque_nm), bath_temperature_degc=at(trace.bath_degc),
        pin_temperature_degc=at(trace.pin_degc), sound_level_db=sound, on=on, heat_in_j=trace.heat_in_j,
        bath_heat_j=trace.bath_heat_j, drag_torque_nm=rig.drag_nm, ring_radius_m=rig.ring_radius_m,
    )  # fmt: skip
    return Fields(fine_hz, per_sample, inside, angle, motor_angle)
