"""Draws a rig.  Reads a random stream and the loads of the plan, gives a `Rig`."""

import numpy as np
from numpy.random import Generator
from world_b.values import DriveKind, Klass, Precursor, Tachometer

from world_o.parts import Contact, Drive, Mechanism, Noise, Plan, Rig, Thermal, log_uniform

MOST_FRICTION_W = 120.0
"""No healthy friction power above this on a bench rig."""

MECHANISM_OF = {
    Precursor.CREEP: Mechanism.WELL,
    Precursor.MICRO_SCUFF: Mechanism.CUSP,
    Precursor.ONCE_PER_TURN: Mechanism.SECTORS,
}


def draw_size(rng: Generator, klass: Klass) -> tuple[float, float, float]:
    """Give ring radius in m, ring speed in r/min and highest load in N that go together."""
    radius_m = rng.uniform(15.0, 60.0) / 2000.0
    slow = klass is Klass.STICK_SLIP
    speed_rpm = log_uniform(rng, 30.0, 150.0) if slow else log_uniform(rng, 40.0, 1500.0)
    sliding_m_s = radius_m * speed_rpm * np.pi / 30.0
    most_n = min(500.0, MOST_FRICTION_W / (0.1 * sliding_m_s))
    load_n = log_uniform(rng, min(30.0, 0.5 * most_n), most_n)
    return radius_m, float(np.round(speed_rpm)), float(load_n)


def _mechanism(rng: Generator, plan: Plan, speed_rpm: float) -> Mechanism:
    """Give the random process that shows the planned precursor; patches only on slow rings."""
    if plan.precursor in MECHANISM_OF:
        return MECHANISM_OF[plan.precursor]
    if plan.precursor is Precursor.BURSTS or plan.klass is Klass.SCUFFING_SUDDEN or plan.klass is Klass.SEIZURE:
        return Mechanism.WELL if rng.random() < 0.6 else Mechanism.CASCADE
    weights = [0.4, 0.2, 0.2, 0.2] if speed_rpm < 400.0 else [0.5, 0.25, 0.0, 0.25]
    return list(Mechanism)[int(rng.choice(4, p=weights))]


def draw_contact(rng: Generator, plan: Plan, speed_rpm: float) -> Contact:
    """Give pin, ring and film."""
    mechanism = _mechanism(rng, plan, speed_rpm)
    mu_healthy = log_uniform(rng, 0.035, 0.1)
    low = max(0.3, 3.5 * mu_healthy)
    slowest_s = 1.0 if plan.klass in (Klass.SCUFFING_SUDDEN, Klass.SCUFFING_SHORT) else 2.0
    return Contact(
        mechanism=mechanism,
        noise=list(Noise)[int(rng.integers(4))],
        mu_healthy=mu_healthy,
        mu_scuffed=rng.uniform(low, max(0.6, low + 0.1)),
        unrest_ratio=log_uniform(rng, 0.004, 0.025),
        return_s=log_uniform(rng, 0.08, 0.5),
        growth_s=log_uniform(rng, 0.08, slowest_s),
        tilt_rest=rng.uniform(-0.3, -0.15),
        tilt_per_load=rng.uniform(0.02, 0.12),
        stribeck_gain=min(rng.uniform(0.05, 0.4), max(0.05, 0.14 / mu_healthy - 1.0)),
        stribeck_ratio=rng.uniform(0.05, 0.3),
        sectors_count=int(rng.integers(16, 41)),
        pin_turns=rng.uniform(0.06, 0.2),
        run_out_ratio=log_uniform(rng, 0.002, 0.06),
    )


def _stall_nm(rng: Generator, klass: Klass, healthy_nm: float, needed_nm: float) -> float:
    """Give the torque the motor can hold at rest, enough to keep a scuffed contact at its coefficient."""
    if klass is Klass.SEIZURE:
        return healthy_nm * rng.uniform(2.5, 4.5)
    return max(healthy_nm * rng.uniform(3.0, 10.0), needed_nm * rng.uniform(1.3, 2.0))


def draw_drive(rng: Generator, plan: Plan, contact: Contact, radius_m: float, speed_rpm: float) -> Drive:
    """Give motor, belt and bearings sized for the highest load."""
    kind = list(DriveKind)[int(rng.integers(4))]
    induction = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    top_n = max(load_n for _, load_n in plan.steps)
    rub_nm = contact.mu_healthy * top_n * radius_m
    drag_nm = max(0.002, rub_nm * log_uniform(rng, 0.1, 0.8))
    needed_nm = max(0.25, 3.2 * contact.mu_healthy) * top_n * radius_m * 1.3 + drag_nm
    stall_nm = _stall_nm(rng, plan.klass, rub_nm * 1.3 + drag_nm, needed_nm)
    slip_at_peak = rng.uniform(0.2, 0.45)
    peak_nm = stall_nm
    if kind is DriveKind.INDUCTION_DIRECT:
        peak_nm = stall_nm * (1.0 + slip_at_peak**2) / (2.0 * slip_at_peak)
    belt = bool(rng.random() < 0.3)
    belt_nm = (
        max(needed_nm * 1.15, peak_nm * rng.uniform(0.5, 1.3)) if plan.klass is not Klass.SEIZURE else peak_nm * 1.1
    )
    speed_rad_s = speed_rpm * np.pi / 30.0
    inertia = stall_nm * log_uniform(rng, 0.12, 0.8) / speed_rad_s
    share = rng.uniform(0.3, 0.7)
    locked_a = log_uniform(rng, 1.5, 9.0) if not induction else log_uniform(rng, 2.0, 10.0)
    return Drive(
        kind=kind,
        belt=belt,
        speed_rad_s=speed_rad_s,
        stall_nm=stall_nm,
        peak_nm=peak_nm,
        belt_nm=belt_nm,
        drag_nm=drag_nm,
        inertia_kgm2=inertia * share,
        motor_inertia_kgm2=inertia * (1.0 - share),
        a_per_nm=locked_a / stall_nm,
        idle_a=locked_a * rng.uniform(0.06, 0.15) if induction else locked_a * rng.uniform(0.005, 0.03),
        locked_a=locked_a,
        slip_at_peak=slip_at_peak,
        ramp_s=rng.uniform(0.3, 4.0),
    )


def draw_thermal(rng: Generator, plan: Plan, contact: Contact, radius_m: float, speed_rpm: float) -> Thermal:
    """Give the heat balance; the healthy pin stays 3 to 25 K above the bath at the highest load."""
    top_w = contact.mu_healthy * max(load_n for _, load_n in plan.steps) * radius_m * speed_rpm * np.pi / 30.0
    ambient_degc = rng.uniform(18.0, 27.0)
    heated = bool(rng.random() < 0.5)
    set_degc = rng.uniform(40.0, 95.0) if heated else 0.0
    bath_j_per_k = max(log_uniform(rng, 150.0, 2500.0), 15.0 * top_w)
    bath_w_per_k = bath_j_per_k / log_uniform(rng, 400.0, 3000.0)
    bath_w_per_k = max(bath_w_per_k, top_w / 45.0)
    near_set = rng.random() < 0.8
    start_degc = set_degc - rng.uniform(0.5, 2.0) if heated and near_set else ambient_degc + rng.uniform(-0.3, 3.0)
    if plan.start_s == 0.0:
        first_w = top_w * plan.steps[0][1] / max(load_n for _, load_n in plan.steps)
        start_degc = max(start_degc, ambient_degc + first_w / bath_w_per_k * rng.uniform(0.3, 1.0))
    return Thermal(
        ambient_degc=ambient_degc,
        start_degc=start_degc,
        bath_j_per_k=bath_j_per_k,
        bath_w_per_k=bath_w_per_k,
        heater_w=bath_w_per_k * (set_degc - ambient_degc) * rng.uniform(1.5, 3.0) if heated else 0.0,
        set_degc=set_degc,
        pin_k_per_w=min(rng.uniform(3.0, 25.0) / top_w, 30.0),
        pin_s=log_uniform(rng, 2.0, 15.0),
        margin_k=rng.uniform(8.0, 30.0),
    )


def draw_rig(rng: Generator, plan: Plan, radius_m: float, speed_rpm: float) -> Rig:
    """Give a whole rig for a plan."""
    contact = draw_contact(rng, plan, speed_rpm)
    drive = draw_drive(rng, plan, contact, radius_m, speed_rpm)
    thermal = draw_thermal(rng, plan, contact, radius_m, speed_rpm)
    tachometer = list(Tachometer)[int(rng.integers(3))]
    pulses = 0 if tachometer is Tachometer.ANALOGUE else int(rng.choice([1, 1, 2, 4, 8, 20, 60]))
    if tachometer is Tachometer.GATE:
        pulses = max(pulses, next(p for p in (4, 8, 20, 60, 120, 360) if p * speed_rpm / 60.0 * 0.5 >= 6.0))
    on_motor = bool(drive.belt and rng.random() < 0.5)
    return Rig(radius_m, speed_rpm, contact, drive, thermal, tachometer, pulses, on_motor)
