"""The rig in motion: drive, ring, contact and heat, step by step.

Reads the rig and its inputs; gives a `Trace` of what went on inside, on the steps of the inputs.
"""

from dataclasses import dataclass, fields, replace

import numpy as np
from world_b.values import Floats

from .inputs import Inputs
from .motors import Motor
from .rig import Rig

REST_RAD_S = 1e-6


@dataclass(frozen=True, slots=True)
class Trace:
    """What went on inside: arrays (n,) over the steps, both speeds as seen at the ring, and sums over the recording."""

    t_s: Floats
    load_n: Floats
    friction_n: Floats
    current_a: Floats
    ring_rad_s: Floats
    motor_rad_s: Floats
    torque_nm: Floats
    bath_degc: Floats
    pin_degc: Floats
    scuffed_share: Floats
    ring_angle_rad: Floats
    motor_angle_rad: Floats
    heat_in_j: float
    bath_heat_j: float


COLUMNS = tuple(f.name for f in fields(Trace))[1:-2]


def run(rig: Rig, inputs: Inputs, onset_s: float) -> Trace:  # noqa: PLR0915 - one loop over time, kept whole for speed
    """Run the rig through its inputs, starting at speed if the motor is on at the first step."""
    law, paths, rough = rig.law, rig.paths, inputs.rough
    motor = replace(rig.motor)
    n = inputs.t_s.size
    out = np.empty((n, len(COLUMNS)))
    radius, set_speed = rig.ring_radius_m, rig.set_speed_rad_s
    ring_j, motor_j = rig.ring_inertia_kg_m2, rig.motor_inertia_kg_m2
    whole_j, grip = ring_j + motor_j, rig.belt_grip_nm
    drag_still = rig.drag_nm * rig.drag_coulomb_share
    drag_slope = (rig.drag_nm - drag_still) / set_speed
    worm_nm = 1.5 * rig.drag_nm if rig.worm else 0.0
    jam_unit = motor.max_torque_nm if not grip else min(motor.max_torque_nm, grip + rig.drag_nm)
    bath, pin, heating = paths.start_degc, paths.start_degc, True
    ring_w = motor_w = 0.0
    if inputs.on[0]:
        for _ in range(6000):
            ring_w = max(ring_w + _free_step(motor, ring_w, rig, whole_j), 0.0)
        motor_w = ring_w
    cold = 1.0 if not inputs.on[0] else 0.2
    scuffed, power_at_onset, ring_angle, motor_angle, heat_in, bath_heat = 0.0, 1.0, 0.0, 0.0, 0.0, 0.0
    roughness, most_n, welded, relaxed = 1.0 + 0.4 * law.fresh, 0.0, False, 1.0
    rows = zip(
        inputs.t_s.tolist(), inputs.dt_s.tolist(), inputs.dead_load_n.tolist(), inputs.supply.tolist(),
        inputs.friction_factor.tolist(), rough.torn_share.tolist(), rough.creep_factor.tolist(),
        rough.scuffed_friction.tolist(), inputs.jam_share.tolist(), inputs.pin_shedding.tolist(),
        inputs.extra_heat.tolist(), inputs.bath_shift_k.tolist(), inputs.day_rest.tolist(), inputs.room_sway_k.tolist(),
        strict=True,
    )  # fmt: skip
    for k, (t, dt, dead, supply, factor, torn, creep, bare_mu, jam, shed, extra, shift, day, room) in enumerate(rows):
        if day:
            bath = pin = paths.start_degc
            cold = 1.0
        # contact
        slide = ring_w * radius
        mu = law.friction(slide, dead, pin, roughness) * factor * creep
        if t >= onset_s:
            if scuffed == 0.0:
                scuffed, power_at_onset = rough.seed_share, max(mu * dead * slide, 1e-9)
            growth = (max(mu * dead * slide, 1e-9) / power_at_onset) ** rough.feedback if rough.feedback else 1.0
            scuffed += dt * scuffed * (1.0 - scuffed / rough.last_share) / rough.growth_s * min(growth, 3.0)
        share = min(scuffed + torn, 1.0)
        if share > 0.0:
            mu += share * (bare_mu - mu) if bare_mu > mu else 0.0
        load = dead * (1.0 + rig.pull_in * min(mu, 1.0))
        contact_nm = mu * load * radius
        # running in
        if dead > most_n:
            roughness += law.fresh * (dead - most_n) / rig.top_load_n
            most_n = dead
        roughness -= (roughness - 1.0) * dt * law.wear_rate * slide * dead
        # drive and ring
        torque, slope, current = motor.pull(motor_w, dt, supply)
        still = drag_still * (1.0 + rig.cold_drag_share * cold) + (worm_nm if supply <= 0.0 else 0.0)
        viscous = drag_slope * (1.0 + 2.0 * rig.cold_drag_share * cold)
        held = contact_nm + jam * jam_unit
        if welded:
            held = 1e9
        slipping = grip > 0.0 and motor_w - ring_w > 1e-3 * set_speed
        if not slipping:
            resist = held + still + viscous * ring_w
            if ring_w < REST_RAD_S and torque <= held + still:
                new_w = 0.0
            else:
                new_w = max(ring_w + dt * (torque - resist) / (whole_j + dt * (viscous - slope)), 0.0)
            through = held + ring_j * (new_w - ring_w) / dt
            if grip > 0.0 and ((new_w > 0.0 and through > grip) or (new_w == 0.0 and torque - still > grip)):
                slipping = True
            else:
                ring_w = motor_w = new_w
        if slipping:
            motor_w += dt * (torque - grip - still - viscous * motor_w) / (motor_j + dt * (viscous - slope))
            ring_w = max(ring_w + dt * (grip - held) / ring_j, 0.0)
            motor_w = max(motor_w, 0.0)
            if ring_w >= motor_w:
                ring_w = motor_w = (ring_j * ring_w + motor_j * motor_w) / whole_j
        if t > onset_s and ring_w == 0.0 and contact_nm > 0.5 * jam_unit and supply > 0.0:
            welded = True
        friction = contact_nm / radius
        relaxed = max(relaxed * (1.0 - 0.4 * dt), 0.3) if jam > 0.0 and ring_w == 0.0 else relaxed
        if ring_w == 0.0:
            pulled_n = max((min(torque, grip) if grip else torque) - still, 0.0) / radius
            friction = pulled_n if welded else min(relaxed * friction, pulled_n)
        # heat
        power = friction * slide
        to_pin = paths.pin_share * power
        from_pin = paths.pin_w_k * shed * (pin - bath)
        pin += dt * (to_pin - from_pin) / paths.pin_j_k
        if paths.heater_w:
            heating = bath < paths.set_degc + (paths.band_k if heating else -paths.band_k)
        into = power + (paths.heater_w if heating else 0.0) + extra * paths.bath_j_k
        net = into - to_pin + from_pin - paths.bath_w_k * (bath - paths.room_degc - room)
        bath += dt * net / paths.bath_j_k + shift
        heat_in += dt * into
        bath_heat += dt * net
        cold -= cold * dt / rig.cold_drag_time_s if ring_w > 0 else 0.0
        ring_angle += ring_w * dt
        motor_angle += motor_w * dt
        out[k] = (load, friction, current, ring_w, motor_w, torque, bath, pin, share, ring_angle, motor_angle)
    columns = {name: out[:, at].copy() for at, name in enumerate(COLUMNS)}
    return Trace(t_s=inputs.t_s, heat_in_j=heat_in, bath_heat_j=bath_heat, **columns)


def _free_step(motor: Motor, speed: float, rig: Rig, inertia: float) -> float:
    torque, slope, _ = motor.pull(speed, 0.005, 1.0)
    return float(0.005 * (torque - rig.drag_nm) / (inertia - 0.005 * slope))
