"""Draws a rig: sizes first, then a motor that can turn it and a bath that can cool it.

Reads a generator, gives a `Rig`.
"""

import math

from numpy.random import Generator
from world_b.values import DriveKind

from .chance import chance, log_between, one_of
from .rig import Contact, Lever, Motor, Oil, Rig, Warmth

_DRIVES = (
    (DriveKind.BRUSHED_BARE, 0.25),
    (DriveKind.BRUSHED_LIMITED, 0.33),  # brushless ones with electronic commutation are among these
    (DriveKind.INDUCTION_DIRECT, 0.2),
    (DriveKind.INDUCTION_INVERTER, 0.22),
)
_USUAL_MU = 0.13
_LEAST_W, _MOST_W = 20.0, 500.0
_SPEEDS_M_S = (0.2, 5.0)


def draw_rig(rng: Generator, tight: bool) -> Rig:
    """Draw a rig.

    Args:
        rng: of the rig.
        tight: the motor has little to spare, as where a seizure is to stall it.
    """
    radius_m = rng.uniform(0.015, 0.040)
    low, high = (bound / radius_m * 30.0 / math.pi for bound in _SPEEDS_M_S)
    set_rad_s = log_between(rng, max(100.0, low), min(2000.0, high)) * math.pi / 30.0
    reserve = rng.uniform(1.1, 1.8) if tight else log_between(rng, 1.15, 4.0)
    top_n = log_between(rng, 12.0, 300.0)
    drag_share = rng.uniform(0.1, 0.45)
    need_nm = _USUAL_MU * top_n * radius_m * (1.0 + drag_share)
    top_n *= min(1.0, _MOST_W / (need_nm * reserve * set_rad_s))
    need_nm = _USUAL_MU * top_n * radius_m * (1.0 + drag_share)
    rated_nm = max(need_nm * reserve, _LEAST_W / set_rad_s * (0.6 if tight else 1.0))
    drag_nm = max(drag_share * _USUAL_MU * top_n * radius_m, 0.06 * rated_nm)
    motor = _motor(rng, rated_nm, drag_nm, set_rad_s, tight)
    power_w = _USUAL_MU * top_n * radius_m * set_rad_s
    warmth = _warmth(rng, power_w, rng.uniform(0.1, 0.5) * drag_nm * set_rad_s)
    reference_degc = warmth.set_degc if warmth.heater_w > 0.0 else warmth.ambient_degc + 15.0
    oil = Oil(log_between(rng, 650.0, 1100.0), rng.uniform(88.0, 115.0), reference_degc)
    return Rig(radius_m, set_rad_s, oil, _contact(rng), warmth, _lever(rng, top_n), motor)


def _contact(rng: Generator) -> Contact:
    return Contact(
        mu_boundary=rng.uniform(0.075, 0.135),
        mu_fluid=rng.uniform(0.008, 0.03),
        stribeck=log_between(rng, 0.08, 1.3),
        stribeck_power=rng.uniform(0.9, 1.8),
        load_power=rng.uniform(0.2, 0.6),
        run_in_gain=rng.uniform(0.05, 0.4),
        run_in_m=log_between(rng, 8.0, 150.0),
        film_gain=rng.uniform(-0.2, 0.2),
        film_s=log_between(rng, 120.0, 2500.0),
        static_gain=rng.uniform(1.02, 1.35),
        wear_gain=rng.uniform(0.0, 0.5),
        ripple_ratio=log_between(rng, 0.004, 0.08),
        second_ratio=log_between(rng, 0.002, 0.03),
        wander_ratio=log_between(rng, 0.004, 0.035),
        unrest_ratio=log_between(rng, 0.008, 0.06),
    )


def _lever(rng: Generator, top_n: float) -> Lever:
    return Lever(
        top_load_n=top_n,
        own_hz=log_between(rng, 2.0, 12.0),
        damping=log_between(rng, 0.012, 0.09),
        pull_in=rng.uniform(-0.35, 0.35),
        eccentric_ratio=log_between(rng, 0.003, 0.06),
    )


def _warmth(rng: Generator, power_w: float, stirring_w: float) -> Warmth:
    ambient_degc = rng.uniform(16.0, 31.0)
    bath_w_k = min(max(power_w / rng.uniform(8.0, 50.0), 0.2), 6.0)
    bath_j_k = log_between(rng, 70.0, 700.0)
    heater_w, set_degc, hysteresis_k = 0.0, 0.0, 0.0
    if chance(rng, 0.42):
        bath_w_k = max(bath_w_k, 0.5)
        set_degc = rng.uniform(40.0, 100.0)
        lost_w = bath_w_k * (set_degc - ambient_degc)
        heater_w = lost_w * rng.uniform(1.4, 3.5)
        hysteresis_k = one_of(rng, ((0.0, 0.4), (rng.uniform(0.6, 5.0), 0.6)))
    return Warmth(
        bath_j_k=bath_j_k,
        bath_w_k=bath_w_k,
        pin_k_w=min(rng.uniform(3.0, 40.0) / power_w, 6.0),
        pin_s=log_between(rng, 1.5, 15.0),
        ambient_degc=ambient_degc,
        heater_w=heater_w,
        set_degc=set_degc,
        hysteresis_k=hysteresis_k,
        stirring_w=min(stirring_w, 0.3 * power_w),
    )


def _motor(rng: Generator, rated_nm: float, drag_nm: float, set_rad_s: float, tight: bool) -> Motor:
    kind = one_of(rng, _DRIVES)
    mains = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    volts = 230.0 if mains else one_of(rng, ((12.0, 1.0), (24.0, 3.0), (36.0, 1.0), (48.0, 1.5)))
    rated_a = rated_nm * set_rad_s / (volts * rng.uniform(0.45, 0.8))
    most = {
        DriveKind.BRUSHED_BARE: (3.0, 5.0) if tight else (3.5, 8.0),
        DriveKind.BRUSHED_LIMITED: (1.3, 3.0),
        DriveKind.INDUCTION_DIRECT: (1.9, 3.0),
        DriveKind.INDUCTION_INVERTER: (1.4, 2.0),
    }[kind]
    run_up_s = log_between(rng, 0.4, 0.9) if mains else log_between(rng, 0.15, 0.8)
    soft = kind is DriveKind.INDUCTION_INVERTER or (kind is DriveKind.BRUSHED_LIMITED and chance(rng, 0.6))
    return Motor(
        kind=kind,
        rated_nm=rated_nm,
        stall_nm=max(rated_nm * rng.uniform(*most), 3.0 * drag_nm),
        rated_a=rated_a,
        idle_a=rated_a * (rng.uniform(0.4, 0.75) if mains else rng.uniform(0.04, 0.22)),
        locked_a=rated_a * rng.uniform(3.5, 7.0),
        breakdown_slip=rng.uniform(0.16, 0.36) if kind is DriveKind.INDUCTION_DIRECT else rng.uniform(0.03, 0.08),
        ramp_s=log_between(rng, 0.5, 5.0) if soft else 0.0,
        band_hz=log_between(rng, 0.8, 9.0),
        integral_s=log_between(rng, 0.1, 1.2),
        inertia_kgm2=rated_nm * run_up_s / set_rad_s,
        ring_share=rng.uniform(0.25, 0.6),
        drag_nm=drag_nm,
        drag_viscous=rng.uniform(0.1, 0.7),
        belt_nm=rated_nm * rng.uniform(1.6, 4.0) if chance(rng, 0.3) else math.inf,
        warm_up=rng.uniform(0.02, 0.16),
    )
