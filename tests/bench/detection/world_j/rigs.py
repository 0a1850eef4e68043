"""Draws a rig: ring, drive, contact, heat and hall. Reads random draws, gives frozen values."""

from dataclasses import dataclass

import numpy as np
from world_b.values import NAN

from .drives import Drive, draw_drive

TYPICAL_FRICTION = 0.1


@dataclass(frozen=True, slots=True)
class Contact:
    """The lubricated contact.

    Attributes:
        boundary_coefficient, film_coefficient: friction coefficient without and with a full film, -.
        film_strength: film against roughness at set speed, top load and reference temperature, -.
        static_extra: break-away over sliding boundary friction, less 1, -.
        wander_share, wander_s: slow unrest of friction and its memory.
        flutter_share, flutter_s: fast unrest and its memory.
        run_in_share, run_in_s: friction added by a doubled load, and how fast it wears off.
        build_up_share, build_up_s: friction a growing boundary film takes away, and how fast.
        runout_share, second_share: of force, once and twice a turn.
    """

    boundary_coefficient: float
    film_coefficient: float
    film_strength: float
    static_extra: float
    wander_share: float
    wander_s: float
    flutter_share: float
    flutter_s: float
    run_in_share: float
    run_in_s: float
    build_up_share: float
    build_up_s: float
    runout_share: float
    second_share: float


@dataclass(frozen=True, slots=True)
class Heat:
    """Where friction heat goes: pin, ring and bath, each one lump.

    Attributes:
        ambient_degc: of the room.
        set_degc: of the bath heater; NaN without one.
        heater_w: the most it gives.
        pin_share: of friction heat that enters the pin; the rest enters the ring.
        pin_j_k, ring_j_k, bath_j_k: capacities.
        pin_w_k, ring_w_k: conductances to the bath.
        bath_w_k: conductance to the room.
    """

    ambient_degc: float
    set_degc: float
    heater_w: float
    pin_share: float
    pin_j_k: float
    ring_j_k: float
    bath_j_k: float
    pin_w_k: float
    ring_w_k: float
    bath_w_k: float


@dataclass(frozen=True, slots=True)
class Hall:
    """What is heard, at the microphone.

    Attributes:
        ambient_db, motor_db, contact_db: the room, the drive at set speed, the contact at top friction power.
        contact_exponent: of friction power in the contact's sound power, -.
        reverberation_s: time for 60 dB of decay.
        direct_share: of sound power that comes straight, -.
        scuffing_db: what a fully scuffed contact adds beyond its power.
    """

    ambient_db: float
    motor_db: float
    contact_db: float
    contact_exponent: float
    reverberation_s: float
    direct_share: float
    scuffing_db: float


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that stays the same during a recording.

    Attributes:
        radius_m: of the ring.
        drive: see `Drive`.
        top_load_n: the most the operator sets.
        drag_torque_nm: of seals and bearings at set speed, warm.
        cold_drag_share: more of it at 20 degC, -.
        belt: whether a belt can slip.
        belt_torque_nm: at the ring, where it slips.
        belt_creep: of speed at that torque, -.
        lever_hz, lever_damping: how the loaded lever bounces.
        contact, heat, hall: see there.
    """

    radius_m: float
    drive: Drive
    top_load_n: float
    drag_torque_nm: float
    cold_drag_share: float
    belt: bool
    belt_torque_nm: float
    belt_creep: float
    lever_hz: float
    lever_damping: float
    contact: Contact
    heat: Heat
    hall: Hall


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Give a draw between low and high, evenly on a logarithmic scale, in their unit."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def draw_rig(rng: np.random.Generator) -> Rig:
    """Give a rig whose motor mostly labours under the top load."""
    radius_m = log_uniform(rng, 0.010, 0.040)
    speed_rad_s = log_uniform(rng, 50.0, 1500.0) * np.pi / 30.0
    speed_rad_s = float(np.clip(speed_rad_s, max(5.24, 0.08 / radius_m), min(157.0, 4.0 / radius_m)))
    sliding_m_s = speed_rad_s * radius_m
    drive = draw_drive(rng, speed_rad_s, TYPICAL_FRICTION * 2000.0 * sliding_m_s * 4.0)
    effort = log_uniform(rng, 0.45, 0.95) if rng.random() < 0.75 else log_uniform(rng, 0.06, 0.3)
    top_load_n = float(np.clip(effort * drive.power_w / (TYPICAL_FRICTION * sliding_m_s), 20.0, 2000.0))
    belt = bool(rng.random() < 0.4)
    return Rig(
        radius_m=radius_m,
        drive=drive,
        top_load_n=top_load_n,
        drag_torque_nm=drive.rated_torque_nm * log_uniform(rng, 0.03, 0.12),
        cold_drag_share=float(rng.uniform(0.1, 0.8)),
        belt=belt,
        belt_torque_nm=drive.rated_torque_nm * float(rng.uniform(1.8, 4.0)),
        belt_creep=float(rng.uniform(0.005, 0.02)) if belt else 0.0,
        lever_hz=float(rng.uniform(2.0, 9.0)),
        lever_damping=float(rng.uniform(0.08, 0.3)),
        contact=_draw_contact(rng),
        heat=_draw_heat(rng, TYPICAL_FRICTION * top_load_n * sliding_m_s),
        hall=_draw_hall(rng),
    )


def _draw_contact(rng: np.random.Generator) -> Contact:
    return Contact(
        boundary_coefficient=float(rng.uniform(0.085, 0.13)),
        film_coefficient=float(rng.uniform(0.02, 0.045)),
        film_strength=log_uniform(rng, 0.05, 0.8),
        static_extra=float(rng.uniform(0.05, 0.4)),
        wander_share=log_uniform(rng, 0.008, 0.04),
        wander_s=log_uniform(rng, 20.0, 200.0),
        flutter_share=log_uniform(rng, 0.006, 0.035),
        flutter_s=log_uniform(rng, 0.03, 1.0),
        run_in_share=float(rng.uniform(0.03, 0.3)),
        run_in_s=log_uniform(rng, 10.0, 120.0),
        build_up_share=float(rng.uniform(0.0, 0.25)),
        build_up_s=log_uniform(rng, 60.0, 900.0),
        runout_share=log_uniform(rng, 0.003, 0.03),
        second_share=log_uniform(rng, 0.001, 0.01),
    )


def _draw_heat(rng: np.random.Generator, top_w: float) -> Heat:
    ambient_degc = float(rng.uniform(17.0, 27.0))
    heated = rng.random() < 0.5
    pin_share = float(rng.uniform(0.2, 0.45))
    bath_w_k = max(log_uniform(rng, 0.3, 1.5), top_w / float(rng.uniform(20.0, 50.0)))
    bath_j_k = max(log_uniform(rng, 250.0, 1500.0), bath_w_k * float(rng.uniform(300.0, 700.0)))
    pin_w_k = max(float(rng.uniform(0.15, 0.5)), pin_share * top_w / float(rng.uniform(8.0, 30.0)))
    ring_w_k = max(1.0, (1.0 - pin_share) * top_w / float(rng.uniform(6.0, 20.0)))
    set_degc = float(rng.choice([40.0, 50.0, 60.0, 80.0, 100.0])) if heated else NAN
    return Heat(
        ambient_degc=ambient_degc,
        set_degc=set_degc,
        heater_w=bath_w_k * (set_degc - ambient_degc) * float(rng.uniform(1.4, 2.5)) if heated else 0.0,
        pin_share=pin_share,
        pin_j_k=max(2.0, pin_w_k * float(rng.uniform(6.0, 40.0))),
        ring_j_k=max(20.0, ring_w_k * float(rng.uniform(20.0, 80.0))),
        bath_j_k=bath_j_k,
        pin_w_k=pin_w_k,
        ring_w_k=ring_w_k,
        bath_w_k=bath_w_k,
    )


def _draw_hall(rng: np.random.Generator) -> Hall:
    ambient_db = float(rng.uniform(42.0, 62.0))
    return Hall(
        ambient_db=ambient_db,
        motor_db=ambient_db + float(rng.uniform(0.0, 14.0)),
        contact_db=ambient_db + float(rng.uniform(-2.0, 16.0)),
        contact_exponent=float(rng.uniform(0.8, 1.6)),
        reverberation_s=float(rng.uniform(0.3, 2.0)),
        direct_share=float(rng.uniform(0.3, 0.9)),
        scuffing_db=float(rng.uniform(2.0, 14.0)) if rng.random() < 0.85 else float(rng.uniform(-3.0, 1.0)),
    )
