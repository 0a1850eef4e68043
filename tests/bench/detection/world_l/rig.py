"""A rig drawn at random: ring, contact, oil, drive, heat paths and loader that fit each other. Reads `draws`."""

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from world_b.values import DriveKind, Klass

from world_l.contact import Contact
from world_l.draws import chance, log_uniform, pick
from world_l.drive import Drive, critical_slip_of
from world_l.heat import HeatPaths
from world_l.oil import Oil

LEAST_RATED_A = 0.3
"""So that a motor draws some 0.1 A at work even where much of its rating lies idle."""


class Loader(Enum):
    """What presses the pin."""

    WEIGHTS = "weights set on the lever"
    WATER = "a vessel slowly filled with water"
    SCREW = "a screw drawing a spring"
    AIR = "a pneumatic cylinder on a regulator"


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that stays the same through a recording.

    Attributes:
        ring_radius_m, speed_rpm: of the running track, at set speed.
        top_load_n: the heaviest load of the plan.
        idle_load_n: of the bare lever on the ring.
        drag_nm: of seals and bearings at set speed, warm.
        drag_cold_ratio, drag_warming_s: excess of that drag when cold, and how it fades.
        bounce_hz, bounce_damping: of the lever with its load.
        loader: see `Loader`.
        run_out_ratio: friction and load over a turn, relative.
        second_order_ratio: twice a turn.
        beat_ratio: frequency of a second disturbance over that of the ring, for pulley or gear.
        unrest_ratio, unrest_s: healthy wander of friction, relative, and its correlation time.
        room_db, motor_db, rubbing_db: sound level of room, of motor and of the contact at top load, each alone.
        rest_share, rest_s: friction force left at a resting ring, and how fast it relaxes to that.
        supply_wander_ratio: slow wander of the mains.
    """

    ring_radius_m: float
    speed_rpm: float
    top_load_n: float
    idle_load_n: float
    drag_nm: float
    drag_cold_ratio: float
    drag_warming_s: float
    bounce_hz: float
    bounce_damping: float
    loader: Loader
    contact: Contact
    oil: Oil
    drive: Drive
    heat: HeatPaths
    run_out_ratio: float
    second_order_ratio: float
    beat_ratio: float
    unrest_ratio: float
    unrest_s: float
    room_db: float
    motor_db: float
    rubbing_db: float
    rest_share: float
    rest_s: float
    supply_wander_ratio: float

    @property
    def set_speed_rad_s(self) -> float:
        """Give the set speed of the ring."""
        return self.speed_rpm * math.pi / 30.0

    @property
    def sliding_m_s(self) -> float:
        """Give the sliding speed at set speed."""
        return self.set_speed_rad_s * self.ring_radius_m


def draw_rig(rng: np.random.Generator, klass: Klass) -> Rig:
    """Draw a rig; stick-slip rigs turn slowly, and a ring that is to seize has a motor it can stop."""
    diameter_mm = log_uniform(rng, 20.0, 100.0)
    rpm = log_uniform(rng, 50.0, 3000.0)
    if klass is Klass.STICK_SLIP:
        rpm = log_uniform(rng, 50.0, 300.0)
    radius_m = diameter_mm / 2000.0
    sliding_m_s = rpm * math.pi / 30.0 * radius_m
    top_load_n = min(log_uniform(rng, 3.0, 2000.0), 1500.0 / (0.1 * sliding_m_s))
    contact = _draw_contact(rng, top_load_n)
    friction_nm = _worst_friction(contact) * top_load_n * radius_m
    drag_nm = friction_nm * log_uniform(rng, 0.05, 0.8) + 2e-4
    drive = _draw_drive(rng, klass, friction_nm, drag_nm, rpm * math.pi / 30.0)
    return Rig(
        ring_radius_m=radius_m,
        speed_rpm=rpm,
        top_load_n=top_load_n,
        idle_load_n=top_load_n * rng.uniform(0.0, 0.08),
        drag_nm=drag_nm,
        drag_cold_ratio=rng.uniform(0.05, 0.6),
        drag_warming_s=log_uniform(rng, 100.0, 1500.0),
        bounce_hz=log_uniform(rng, 1.5, 12.0),
        bounce_damping=log_uniform(rng, 0.02, 0.2),
        loader=pick(rng, list(Loader), (0.55, 0.12, 0.15, 0.18)),
        contact=contact,
        oil=_draw_oil(rng),
        drive=drive,
        heat=_draw_heat(rng, klass, 0.09 * top_load_n * sliding_m_s),
        run_out_ratio=log_uniform(rng, 0.003, 0.12) / math.hypot(1.0, rpm / 600.0),
        second_order_ratio=log_uniform(rng, 0.001, 0.03) / math.hypot(1.0, rpm / 600.0),
        beat_ratio=1.0 + rng.uniform(0.01, 0.09) if chance(rng, 0.4) else 0.0,
        unrest_ratio=log_uniform(rng, 0.004, 0.05),
        unrest_s=log_uniform(rng, 0.1, 8.0),
        room_db=rng.uniform(36.0, 62.0),
        motor_db=rng.uniform(45.0, 74.0),
        rubbing_db=rng.uniform(40.0, 74.0),
        rest_share=rng.uniform(0.0, 0.9),
        rest_s=log_uniform(rng, 0.2, 20.0),
        supply_wander_ratio=log_uniform(rng, 0.001, 0.012),
    )


def _worst_friction(contact: Contact) -> float:
    """Give the coefficient the rig's maker reckoned with: fresh boundary films, no oil film."""
    raised = 1.0 + max(contact.surface_film_effect, 0.0)
    return 1.15 * contact.boundary_friction * raised * (1.0 + 0.7 * contact.run_in_excess)


def _draw_contact(rng: np.random.Generator, top_load_n: float) -> Contact:
    speed_exponent, load_exponent = pick(rng, ((0.67, -0.067), (0.7, -0.13), (0.5, -0.5)))
    effect = rng.uniform(0.02, 0.25) * (1.0 if chance(rng, 0.5) else -1.0)
    return Contact(
        boundary_friction=rng.uniform(0.085, 0.15),
        traction=rng.uniform(0.015, 0.045),
        film_ratio_ref=log_uniform(rng, 0.05, 1.5),
        speed_exponent=speed_exponent,
        load_exponent=load_exponent,
        friction_load_exponent=rng.uniform(-0.12, 0.04),
        friction_per_kelvin=rng.uniform(-0.003, 0.003),
        temperature_ref_degc=rng.uniform(60.0, 100.0),
        load_ref_n=0.6 * top_load_n,
        surface_film_effect=effect,
        surface_film_s=log_uniform(rng, 200.0, 8000.0),
        run_in_excess=log_uniform(rng, 0.02, 0.35),
        run_in_m=log_uniform(rng, 3.0, 150.0),
        ageing=log_uniform(rng, 0.008, 0.04),
        wear_mm3_per_nm=log_uniform(rng, 1e-8, 1e-6),
        film_memory_s=log_uniform(rng, 0.01, 0.3),
    )


def _draw_oil(rng: np.random.Generator) -> Oil:
    nu40_mm2_s = log_uniform(rng, 8.0, 460.0)
    return Oil(nu40_mm2_s, max(nu40_mm2_s ** rng.uniform(0.56, 0.66) * 0.92, 2.0))


def _draw_heat(rng: np.random.Generator, klass: Klass, power_w: float) -> HeatPaths:
    bath_w_per_k = max(power_w / rng.uniform(10.0, 40.0), 0.3)
    pin_share = rng.uniform(0.12, 0.45)
    pin_w_per_k = max(pin_share * power_w / rng.uniform(5.0, 30.0), 0.02)
    heated = chance(rng, 0.4) or klass is Klass.OVERHEAT
    ambient_degc = rng.uniform(14.0, 31.0)
    set_degc = rng.uniform(40.0, 90.0) if heated else math.nan
    return HeatPaths(
        pin_j_per_k=pin_w_per_k * log_uniform(rng, 3.0, 40.0),
        bath_j_per_k=min(max(bath_w_per_k * log_uniform(rng, 500.0, 4000.0), 100.0), 15000.0),
        pin_to_bath_w_per_k=pin_w_per_k * rng.uniform(0.6, 0.95),
        pin_to_air_w_per_k=pin_w_per_k * rng.uniform(0.02, 0.3),
        bath_to_air_w_per_k=bath_w_per_k,
        pin_share=pin_share,
        ambient_degc=ambient_degc,
        ambient_k_per_h=rng.normal(0.0, 1.0),
        heater_w=bath_w_per_k * (set_degc - ambient_degc) * rng.uniform(1.2, 2.2) if heated else 0.0,
        heater_set_degc=set_degc,
        heater_band_k=rng.uniform(0.4, 3.0),
    )


def _draw_drive(
    rng: np.random.Generator, klass: Klass, friction_nm: float, drag_nm: float, set_speed_rad_s: float
) -> Drive:
    kind = pick(rng, list(DriveKind))
    weak = klass is Klass.SEIZURE
    rated_nm = friction_nm * (rng.uniform(1.25, 1.8) if weak else log_uniform(rng, 1.5, 6.0)) + drag_nm
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    peak_ratio = {
        DriveKind.BRUSHED_BARE: rng.uniform(2.5, 4.0) if weak else rng.uniform(3.0, 8.0),
        DriveKind.BRUSHED_LIMITED: rng.uniform(1.4, 2.5),
        DriveKind.INDUCTION_DIRECT: rng.uniform(2.2, 3.0),
        DriveKind.INDUCTION_INVERTER: rng.uniform(1.3, 2.0),
    }[kind]
    peak_nm = rated_nm * peak_ratio
    rated_a = _rated_current_a(rng, rated_nm * set_speed_rad_s, brushed)
    slip = rng.uniform(0.06, 0.11) if kind is DriveKind.INDUCTION_DIRECT else rng.uniform(0.025, 0.08)
    critical_slip = critical_slip_of(slip, peak_ratio)
    start_s = log_uniform(rng, 0.15, 2.5)
    inertia_kgm2 = rated_nm * start_s / set_speed_rad_s
    motor_part = rng.uniform(0.3, 0.8)
    belt = chance(rng, 0.4)
    idle = {
        DriveKind.BRUSHED_BARE: 1.0 / (1.0 - drag_nm / peak_nm),
        DriveKind.INDUCTION_DIRECT: 1.0 / (1.0 - slip * drag_nm / rated_nm),
        DriveKind.INDUCTION_INVERTER: 1.0 + slip * drag_nm / rated_nm,
    }.get(kind, 1.0)
    ramped = kind is DriveKind.INDUCTION_INVERTER or (kind is DriveKind.BRUSHED_LIMITED and chance(rng, 0.6))
    return Drive(
        kind=kind,
        rated_torque_nm=rated_nm,
        rated_current_a=rated_a,
        peak_torque_nm=peak_nm,
        set_speed_rad_s=set_speed_rad_s,
        idle_speed_rad_s=set_speed_rad_s * idle,
        magnetising_a=0.0 if brushed else rated_a * _magnetising_ratio(rng, kind),
        critical_slip=critical_slip,
        ramp_s=log_uniform(rng, 0.8, 10.0) if ramped else 0.0,
        droop_ratio=slip if kind is DriveKind.INDUCTION_INVERTER else rng.uniform(0.01, 0.05),
        integral_s=log_uniform(rng, 0.1, 2.0) if chance(rng, 0.7) else 0.0,
        inertia_ring_kgm2=inertia_kgm2 * (1.0 - motor_part),
        inertia_motor_kgm2=inertia_kgm2 * motor_part,
        belt_limit_nm=rated_nm * rng.uniform(1.5, 3.5) if belt else math.inf,
        belt_creep_ratio=rng.uniform(0.002, 0.02) if belt else 0.0,
        brake_nm=rated_nm * rng.uniform(0.3, 1.0) if ramped and chance(rng, 0.5) else 0.0,
        overload_s=log_uniform(rng, 4.0, 40.0) if chance(rng, 0.4) else math.inf,
        warm_flux_ratio=rng.uniform(0.9, 1.0) if brushed else rng.uniform(0.98, 1.0),
        motor_warming_s=log_uniform(rng, 600.0, 4000.0),
    )


def _magnetising_ratio(rng: np.random.Generator, kind: DriveKind) -> float:
    """Give the idle part of the current; some take an inverter's own output of its torque-making current instead."""
    if kind is DriveKind.INDUCTION_INVERTER and chance(rng, 0.45):
        return rng.uniform(0.02, 0.1)
    return rng.uniform(0.3, 0.65)


def _rated_current_a(rng: np.random.Generator, shaft_w: float, brushed: bool) -> float:
    """Give a current that the shaft's power takes at a usual voltage, `LEAST_RATED_A` to 15 A."""
    taken_w = max(shaft_w, 2.0) / rng.uniform(0.35, 0.85)
    voltages = (6.0, 12.0, 24.0, 48.0, 110.0, 230.0) if brushed else (110.0, 230.0, 400.0)
    fitting = [v for v in voltages if LEAST_RATED_A <= taken_w / v <= 15.0]
    volts = pick(rng, fitting) if fitting else (voltages[0] if taken_w / voltages[0] < LEAST_RATED_A else voltages[-1])
    return min(max(taken_w / volts, LEAST_RATED_A), 15.0)
