"""The rig: draws sizes, drive, heat paths, friction pair and habits of one workshop. Reads a generator, gives `Rig`."""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import ChannelSet, DriveKind, Klass, Tachometer

from world_k.contact import Pair, pressure_pa
from world_k.drives import DriveDesign
from world_k.line import LineDesign
from world_k.oil import Oil, dynamic_pa_s, oil_through
from world_k.thermal import HeatDesign

GRADES_MM2_S = ((15.0, 3.4), (32.0, 5.4), (46.0, 6.8), (68.0, 8.7), (100.0, 11.2), (150.0, 14.7), (220.0, 19.0))
"""Viscosity at 40 and 100 degC of common mineral grades; from memory."""
MAX_FRICTION_W = 1200.0
WEIGHTS, JACK, SCREW = "weights", "hydraulic jack", "spring and screw"


@dataclass(frozen=True, slots=True)
class Rig:
    """One bench as it stands.

    Attributes:
        full_load_n: heaviest of the staircase, at the contact.
        runout_ratio: load swing once per turn.
        unrest_ratio: healthy swing of the friction coefficient.
        loading: weights, jack or screw.
        dropper: whether this operator drops weights on.
    """

    ring_diameter_mm: float
    set_speed_rpm: float
    full_load_n: float
    runout_ratio: float
    unrest_ratio: float
    loading: str
    dropper: bool
    oil: Oil
    pair: Pair
    drive: DriveDesign
    line: LineDesign
    heat: HeatDesign
    channel_set: ChannelSet
    tachometer: Tachometer
    pulses_per_turn: int
    tachometer_on_motor: bool

    @property
    def radius_m(self) -> float:
        """Radius of the track in m."""
        return self.ring_diameter_mm / 2000.0

    @property
    def set_speed_rad_s(self) -> float:
        """Set speed of the ring in rad/s."""
        return self.set_speed_rpm * math.pi / 30.0


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Give a number drawn evenly on a logarithmic scale."""
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def _sizes(rng: np.random.Generator, klass: Klass) -> tuple[float, float, float]:
    diameter_mm = round(between(rng, 12.0, 120.0), 1)
    fastest_m_s = 0.6 if klass is Klass.STICK_SLIP else 6.0
    slide_m_s = between(rng, 0.05, fastest_m_s)
    rpm = float(np.clip(slide_m_s / (math.pi * diameter_mm / 1000.0) * 60.0, 20.0, 3000.0))
    rpm = round(rpm / 5.0) * 5.0 if rpm >= 100.0 else round(rpm)
    slide_m_s = rpm / 60.0 * math.pi * diameter_mm / 1000.0
    heaviest_n = min(2000.0, MAX_FRICTION_W / (0.12 * slide_m_s))
    load_n = between(rng, 12.0, heaviest_n)
    return diameter_mm, rpm, float(f"{load_n:.2g}")


def _pair(rng: np.random.Generator, oil: Oil, load_n: float, slide_m_s: float) -> Pair:
    film = rng.uniform(0.078, 0.105)
    nose_m = between(rng, 2e-3, 12e-3)
    rate_per_s = between(rng, 1 / 900.0, 1 / 120.0)
    draft = Pair(
        film_friction=film,
        bare_friction=film * rng.uniform(1.08, 1.35),
        fluid_friction=rng.uniform(0.008, 0.03),
        film_ratio=between(rng, 0.18, 0.65),
        sharpness=rng.uniform(1.0, 1.8),
        reference_pa_s=dynamic_pa_s(oil, 60.0),
        reference_m_s=slide_m_s,
        reference_pa=1.0,
        fresh_roughness_ratio=rng.uniform(1.1, 1.6),
        rise_per_load_ratio=rng.uniform(0.1, 0.7),
        run_in_m=max(slide_m_s * between(rng, 15.0, 120.0), 0.5),
        nose_radius_m=nose_m,
        wear_m3_nm=between(rng, 2e-17, 1e-15),
        growth_per_s=rate_per_s,
        rub_per_s=rate_per_s * rng.uniform(0.1, 0.6),
    )
    return _with_pressure(draft, pressure_pa(draft, flat_m3(nose_m, rng.uniform(0.15e-3, 0.5e-3)), load_n))


def flat_m3(nose_radius_m: float, flat_radius_m: float) -> float:
    """Give the volume of the cap that must wear away for a flat of this radius."""
    return math.pi * flat_radius_m**4 / (4.0 * nose_radius_m)


def _with_pressure(draft: Pair, reference_pa: float) -> Pair:
    values = {name: getattr(draft, name) for name in Pair.__slots__}
    return Pair(**(values | {"reference_pa": reference_pa}))


def _drive(rng: np.random.Generator, klass: Klass, friction_nm: float, rad_s: float) -> DriveDesign:
    kind = list(DriveKind)[rng.integers(4)]
    drag_nm = friction_nm * between(rng, 0.08, 0.7)
    healthy_nm = friction_nm + drag_nm
    margin = rng.uniform(1.5, 2.1) if klass is Klass.SEIZURE else between(rng, 1.9, 6.0)
    slip = rng.uniform(0.25, 0.45)
    if kind is DriveKind.BRUSHED_BARE:
        margin *= 1.6
    elif kind is DriveKind.INDUCTION_DIRECT:
        margin = max(margin, 1.4 * (1.0 + slip * slip) / (2.0 * slip))
    elif kind is DriveKind.INDUCTION_INVERTER:
        slip = rng.uniform(0.12, 0.3)
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    watts = healthy_nm * rad_s
    volts = (12.0 if watts < 20.0 else 24.0 if watts < 80.0 else 48.0 if watts < 200.0 else 180.0) if brushed else 230.0
    amps = watts / (volts * rng.uniform(0.25, 0.7)) + between(rng, 0.2, 1.5)  # small geared motors are poor ones
    amps = float(np.clip(amps, 0.25, 8.0))
    return DriveDesign(
        kind=kind,
        set_speed_rad_s=rad_s,
        drag_nm=drag_nm,
        healthy_nm=healthy_nm,
        capacity_nm=healthy_nm * margin,
        healthy_a=amps,
        idle_ratio=rng.uniform(0.04, 0.2) if brushed else rng.uniform(0.35, 0.6),
        pull_out_slip=slip,
        ramp_s=between(rng, 0.8, 6.0),
        slip_compensation_ratio=float(rng.choice([0.0, rng.uniform(0.4, 0.95)])),
    )


def _line(rng: np.random.Generator, drive: DriveDesign, radius_m: float, belt: bool) -> LineDesign:
    whole_kg_m2 = drive.capacity_nm * between(rng, 0.25, 1.2) / drive.set_speed_rad_s
    motor_part = rng.uniform(0.35, 0.8)
    dry_part = rng.uniform(0.4, 0.8)
    return LineDesign(
        ring_kg_m2=whole_kg_m2 * (1.0 - motor_part),
        motor_kg_m2=whole_kg_m2 * motor_part,
        dry_drag_nm=drive.drag_nm * dry_part,
        viscous_drag_nm_s=drive.drag_nm * (1.0 - dry_part) / drive.set_speed_rad_s,
        belt_nm=drive.healthy_nm * between(rng, 1.6, 4.0) if belt else math.inf,
        creep_ratio=rng.uniform(0.01, 0.04),
        ring_radius_m=radius_m,
    )


def _heat(rng: np.random.Generator, klass: Klass, friction_w: float) -> HeatDesign:
    room_degc = rng.uniform(20.0, 27.0)
    heater = bool(rng.random() < (0.7 if klass is Klass.OVERHEAT else 0.45))
    set_degc = float(round(rng.uniform(40.0, 110.0) / 5.0) * 5.0)
    rise_k = between(rng, 25.0, 50.0) if klass is Klass.OVERHEAT and not heater else between(rng, 5.0, 50.0)
    room_w_k = friction_w / rise_k
    if klass is not Klass.OVERHEAT or heater:
        room_w_k = max(room_w_k, rng.uniform(0.05, 0.5))
    pin_share = rng.uniform(0.08, 0.3)
    pin_rise_k = between(rng, 6.0, 28.0)
    pin_w_k = pin_share * friction_w / pin_rise_k
    ring_w_k = (1.0 - pin_share) * friction_w / (pin_rise_k * rng.uniform(0.3, 0.8))
    return HeatDesign(
        room_degc=room_degc,
        pin_share=pin_share,
        pin_j_k=pin_w_k * between(rng, 3.0, 25.0),
        ring_j_k=ring_w_k * between(rng, 8.0, 60.0),
        bath_j_k=room_w_k * between(rng, 240.0 if heater else 150.0, 1200.0),
        pin_w_k=pin_w_k,
        ring_w_k=ring_w_k,
        room_w_k=room_w_k,
        heater_w=room_w_k * (set_degc - room_degc) * rng.uniform(1.3, 2.5) if heater else 0.0,
        heater_set_degc=set_degc,
        heater_band_k=rng.uniform(2.0, 6.0),
    )


def _channels(rng: np.random.Generator, klass: Klass) -> ChannelSet:
    chances = [0.35, 0.22, 0.18, 0.12, 0.13]
    if klass is Klass.OVERHEAT:
        chances = [0.45, 0.3, 0.25, 0.0, 0.0]
    elif klass is Klass.SCUFFING_WITH_FAULT:
        chances = [0.4, 0.26, 0.22, 0.12, 0.0]  # with one channel, and that one broken, there is nothing to find
    return list(ChannelSet)[rng.choice(5, p=chances)]


def draw_rig(rng: np.random.Generator, klass: Klass) -> Rig:
    """Draw a bench that a careful technician would have built for these loads and speeds."""
    diameter_mm, rpm, load_n = _sizes(rng, klass)
    rad_s, radius_m = rpm * math.pi / 30.0, diameter_mm / 2000.0
    oil = oil_through(*GRADES_MM2_S[rng.integers(len(GRADES_MM2_S))])
    drive = _drive(rng, klass, 0.12 * load_n * radius_m, rad_s)
    belt = bool(rng.random() < 0.3)
    tachometer = list(Tachometer)[rng.integers(3)]
    slow_tooth = max(1, math.ceil(240.0 / rpm))
    teeth = 0 if tachometer is Tachometer.ANALOGUE else max(int(rng.choice([1, 2, 6, 20, 60, 120])), slow_tooth)
    if tachometer is Tachometer.GATE:
        teeth = max(teeth, math.ceil(2400.0 / rpm))
    return Rig(
        ring_diameter_mm=diameter_mm,
        set_speed_rpm=rpm,
        full_load_n=load_n,
        runout_ratio=between(rng, 0.001, 0.03),
        unrest_ratio=between(rng, 0.004, 0.03),
        loading=str(rng.choice([WEIGHTS, JACK, SCREW], p=[0.65, 0.17, 0.18])),
        dropper=bool(rng.random() < 0.4),
        oil=oil,
        pair=_pair(rng, oil, load_n, rad_s * radius_m),
        drive=drive,
        line=_line(rng, drive, radius_m, belt),
        heat=_heat(rng, klass, 0.1 * load_n * rad_s * radius_m),
        channel_set=_channels(rng, klass),
        tachometer=tachometer,
        pulses_per_turn=teeth,
        tachometer_on_motor=bool(rng.random() < 0.45),
    )
