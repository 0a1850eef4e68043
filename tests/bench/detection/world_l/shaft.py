"""The fast loop: motor, belt and ring against friction, drag and what holds from outside. Reads `motor`, `contact`.

Reads arrays on an even clock, gives the traces of speed, torque and friction on it.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import Flags, Floats

from world_l.contact import breakaway_gain
from world_l.motor import motor_law
from world_l.rig import Rig

STALLED_RATIO = 0.02

SETTLES_S = 8.0
"""A recording that begins in mid run has seen its first row for this long."""


@dataclass(frozen=True, slots=True)
class ShaftInputs:
    """All (n,) on the fast clock.

    Attributes:
        load_n, boundary, traction: load, and the coefficients of asperities and of oil.
        film: film ratio at set speed.
        gain: factor on friction from everything that happens at the contact.
        patch: relative excess where the hot patch of the ring passes, 0 none.
        drag_nm, jam_nm: torque of bearings at set speed, and from outside.
        on: motor switched on and supplied.
        supply, flux: relative supply voltage, relative torque constant.
    """

    load_n: Floats
    boundary: Floats
    traction: Floats
    film: Floats
    gain: Floats
    patch: Floats
    drag_nm: Floats
    jam_nm: Floats
    on: Flags
    supply: Floats
    flux: Floats


@dataclass(frozen=True, slots=True)
class ShaftTrace:
    """All (n,): speeds in rad/s and angle in rad at the ring, motor torque, friction force, and whether it was on."""

    ring_rad_s: Floats
    motor_rad_s: Floats
    ring_rad: Floats
    torque_nm: Floats
    friction_n: Floats
    on: Flags


def turn(rig: Rig, inputs: ShaftInputs, dt_s: float, mid_run: bool, phase_rad: float) -> ShaftTrace:  # noqa: PLR0915
    """Integrate the shaft with an implicit step in the motor's slope; the ring never turns backward."""
    drive, contact, radius_m = rig.drive, rig.contact, rig.ring_radius_m
    law = motor_law(drive, dt_s, mid_run, rig.drag_nm)
    inertia_ring, inertia_motor = drive.inertia_ring_kgm2, drive.inertia_motor_kgm2
    inertia = inertia_ring + inertia_motor
    inv_set = 1.0 / drive.set_speed_rad_s
    creep = drive.belt_creep_ratio / drive.rated_torque_nm
    belt_nm, exponent = drive.belt_limit_nm, contact.speed_exponent
    film_gain = 1.0 - math.exp(-dt_s / contact.film_memory_s)
    hold_gain = 1.0 - math.exp(-dt_s / rig.rest_s)
    slid_to_forget_m = 2e-4
    first_order, second_order, beat = rig.run_out_ratio, rig.second_order_ratio, rig.beat_ratio
    w = drive.set_speed_rad_s if mid_run else 0.0
    wm, filmed, angle, rested_s, held_n, stopped_n, stalled_s = w, w, phase_rad, 30.0, 0.0, 0.0, 0.0
    tripped, reached, slipping = False, mid_run, False
    sin, tau = math.sin, 2.0 * math.pi
    out: list[tuple[float, float, float, float, float, bool]] = []
    rows = list(zip(*(getattr(inputs, name).tolist() for name in ShaftInputs.__slots__), strict=True))
    settled = int(SETTLES_S / dt_s) if mid_run else 0
    rows = [rows[0]] * settled + rows
    for load, boundary, traction, film, gain, patch, drag, jam, on, supply, flux in rows:
        if not on:
            tripped = reached = False
            stalled_s = 0.0
        pulling = on and not tripped
        filmed += film_gain * (w - filmed)
        lam = film * (filmed * inv_set) ** exponent if filmed > 0.0 else 0.0
        share = 1.0 / ((1.0 + lam) * (1.0 + lam))
        mu = (share * boundary + (1.0 - share) * traction) * gain
        turning = 1.0 + first_order * sin(angle) + second_order * sin(2.0 * angle)
        if beat:
            turning += 0.5 * first_order * sin(beat * angle)
        if patch and angle % tau < 0.9:
            turning += patch
        kinetic_n = load * mu * turning
        if rested_s > 1e-3:
            kinetic_n *= breakaway_gain(contact.ageing, rested_s)
        against = radius_m * kinetic_n + drag * (0.6 + 0.4 * w * inv_set) + jam
        if not pulling:
            against += drive.brake_nm
        torque, slope = law(pulling, supply, flux, wm)
        w_new = w + dt_s * (torque - against) / (inertia + dt_s * slope)
        together_nm = torque - slope * (max(w_new, 0.0) - w)
        carried_nm = together_nm - inertia_motor * (max(w_new, 0.0) - w) / dt_s
        if slipping or carried_nm > belt_nm:
            w_new = max(w + dt_s * (belt_nm - against) / inertia_ring, 0.0)
            wm_new = wm + dt_s * (torque - belt_nm) / (inertia_motor + dt_s * slope)
            torque -= slope * (wm_new - wm)
            slipping = wm_new > w_new
            if not slipping:
                w_new = wm_new = max((inertia_ring * w_new + inertia_motor * wm_new) / inertia, 0.0)
        else:
            torque = together_nm
            wm_new = max(w_new, 0.0) * (1.0 + creep * max(torque, 0.0))
        if w_new <= 0.0:
            w_new = 0.0
            wm_new = max(wm_new, 0.0) if slipping else 0.0
            rested_s = min(rested_s + dt_s, 1e6)
            held_n = stopped_n * rig.rest_share + (held_n - stopped_n * rig.rest_share) * (1.0 - hold_gain)
            pushed_n = (min(torque, belt_nm) - 0.6 * drag - jam) / radius_m if pulling else 0.0
            friction_n = min(max(held_n, pushed_n), kinetic_n)
        else:
            rested_s /= 1.0 + w_new * radius_m * dt_s / slid_to_forget_m
            friction_n = held_n = stopped_n = kinetic_n
        w, wm = w_new, max(wm_new, 0.0)
        angle += w * dt_s
        if pulling and w > 0.8 * drive.set_speed_rad_s:
            reached = True
        if pulling and reached and wm < STALLED_RATIO * drive.set_speed_rad_s:
            stalled_s += dt_s
            tripped = stalled_s > drive.overload_s
        out.append((w, wm, angle, torque, friction_n, pulling))
    table = np.array(out[settled:])
    return ShaftTrace(
        table[:, 0], table[:, 1], table[:, 2] - phase_rad, table[:, 3], table[:, 4], table[:, 5].astype(bool)
    )
