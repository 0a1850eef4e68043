"""Draws a rig: ring, drive, contact, heat and hall. Reads random draws, gives frozen values."""

from dataclasses import dataclass

import numpy as np
from world_b.values import NAN

from .draws import draw, even, log, log_uniform
from .drives import Drive, draw_drive

TYPICAL_FRICTION = 0.1
MOST_LOAD_N = 2000.0


@dataclass(frozen=True, slots=True)
class Contact:
    """The lubricated contact; shares are of friction or of force."""

    boundary_coefficient: float = even(0.085, 0.13)  # without a film, -
    film_coefficient: float = even(0.02, 0.045)  # with a full film, -
    film_strength: float = log(0.05, 0.8)  # film against roughness at set speed, top load, usual temperature, -
    static_extra: float = even(0.05, 0.4)  # break-away over sliding boundary friction, less 1, -
    wander_share: float = log(0.008, 0.04)  # slow unrest
    wander_s: float = log(20.0, 200.0)  # and its memory
    flutter_share: float = log(0.006, 0.035)  # fast unrest
    flutter_s: float = log(0.03, 1.0)  # and its memory
    run_in_share: float = even(0.03, 0.3)  # added by a doubled load
    run_in_s: float = log(10.0, 120.0)  # and how fast that wears off
    build_up_share: float = even(0.0, 0.25)  # what a growing boundary film takes away
    build_up_s: float = log(60.0, 900.0)  # and how fast
    runout_share: float = log(0.003, 0.03)  # once a turn
    second_share: float = log(0.001, 0.01)  # twice a turn


@dataclass(frozen=True, slots=True)
class Heat:
    """Where friction heat goes: pin, ring and bath, each one lump."""

    ambient_degc: float  # of the room
    set_degc: float  # of the bath heater; NaN without one
    heater_w: float  # the most it gives
    pin_share: float  # of friction heat that enters the pin; the rest enters the ring
    pin_j_k: float
    ring_j_k: float
    bath_j_k: float
    pin_w_k: float  # to the bath, as the ring's
    ring_w_k: float
    bath_w_k: float  # to the room


@dataclass(frozen=True, slots=True)
class Hall:
    """What is heard, at the microphone."""

    ambient_db: float = even(42.0, 62.0)  # the room
    motor_db: float = even(0.0, 14.0)  # the drive at set speed, over the room
    contact_db: float = even(-2.0, 16.0)  # the contact at top friction power, over the room
    contact_exponent: float = even(0.8, 1.6)  # of friction power in the contact's sound power, -
    reverberation_s: float = even(0.3, 2.0)  # time for 60 dB of decay
    direct_share: float = even(0.3, 0.9)  # of sound power that comes straight, -
    scuffing_db: float = even(-1.0, 14.0)  # what a fully scuffed contact adds beyond its power


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that stays the same during a recording."""

    radius_m: float  # of the ring
    drive: Drive
    top_load_n: float  # the most the operator sets
    drag_torque_nm: float  # of seals and bearings at set speed, warm
    cold_drag_share: float  # more of it at 20 degC, -
    belt: bool  # whether a belt can slip
    belt_torque_nm: float  # at the ring, where it slips
    belt_creep: float  # of speed at rated torque, -
    lever_hz: float  # of the loaded lever's bounce
    lever_damping: float  # -
    contact: Contact
    heat: Heat
    hall: Hall


def draw_rig(rng: np.random.Generator) -> Rig:
    """Give a rig whose motor mostly labours under the top load."""
    radius_m = log_uniform(rng, 0.010, 0.040)
    speed_rad_s = log_uniform(rng, 50.0, 1500.0) * np.pi / 30.0
    speed_rad_s = float(np.clip(speed_rad_s, max(5.24, 0.2 / radius_m), min(157.0, 4.0 / radius_m)))
    sliding_m_s = speed_rad_s * radius_m
    drive = draw_drive(rng, speed_rad_s, TYPICAL_FRICTION * MOST_LOAD_N * sliding_m_s * 1.7)
    effort = log_uniform(rng, 0.45, 0.95) if rng.random() < 0.75 else log_uniform(rng, 0.06, 0.3)
    top_load_n = float(np.clip(effort * drive.power_w / (TYPICAL_FRICTION * sliding_m_s), 20.0, MOST_LOAD_N))
    belt = bool(rng.random() < 0.4)
    drag_nm = drive.rated_torque_nm * log_uniform(rng, 0.05, 0.18)
    cold_share, belt_rated, creep, lever_hz, damping = rng.uniform(
        (0.1, 1.8, 0.005, 2.0, 0.08), (0.8, 4.0, 0.02, 9.0, 0.3)
    ).tolist()
    belt_nm, creep = belt_rated * drive.rated_torque_nm, creep if belt else 0.0
    heat = _draw_heat(rng, TYPICAL_FRICTION * top_load_n * sliding_m_s)
    contact, hall = draw(rng, Contact), draw(rng, Hall)
    return Rig(
        radius_m, drive, top_load_n, drag_nm, cold_share, belt, belt_nm, creep, lever_hz, damping, contact, heat, hall
    )


def _draw_heat(rng: np.random.Generator, top_w: float) -> Heat:
    """Give capacities and conductances that keep top friction power at plausible temperatures."""
    ambient_degc, pin_share, spare = rng.uniform((17.0, 0.2, 1.4), (27.0, 0.45, 2.5)).tolist()
    bath_k, pin_k, ring_k = rng.uniform((20.0, 8.0, 6.0), (50.0, 30.0, 20.0)).tolist()
    bath_s, pin_s, ring_s = rng.uniform((300.0, 6.0, 20.0), (700.0, 40.0, 80.0)).tolist()
    bath_w_k = max(log_uniform(rng, 0.3, 1.5), top_w / bath_k)
    pin_w_k = max(float(rng.uniform(0.15, 0.5)), pin_share * top_w / pin_k)
    ring_w_k = max(1.0, (1.0 - pin_share) * top_w / ring_k)
    bath_j_k = max(log_uniform(rng, 250.0, 1500.0), bath_w_k * bath_s)
    pin_j_k, ring_j_k = max(2.0, pin_w_k * pin_s), max(20.0, ring_w_k * ring_s)
    set_degc, heater_w = NAN, 0.0
    if rng.random() < 0.5:
        set_degc = float(rng.choice([40.0, 50.0, 60.0, 80.0, 100.0]))
        heater_w = bath_w_k * (set_degc - ambient_degc) * spare
    return Heat(ambient_degc, set_degc, heater_w, pin_share, pin_j_k, ring_j_k, bath_j_k, pin_w_k, ring_w_k, bath_w_k)
