"""Draw the rig: ring, pin, oil, loading, motor, heat paths.

Reads `world_m.oil`, `world_m.drives`, `world_m.streams`. The rig hangs on seed and class only.
"""

from dataclasses import dataclass
from enum import Enum
from math import log10, pi

from world_b.values import DriveKind, Klass

from world_m.drives import DriveNumbers, draw_drive
from world_m.oil import Oil, oil_of
from world_m.streams import Stream, between, happens, log_between, stream

DRY_SHARE = 0.07
"""Share of rigs that run dry or starved; ours."""
MOST_FRICTION_POWER_W = 180.0
"""What a few millilitres of oil and a hand-sized rig stand for long; ours."""
LEAST_MOTOR_POWER_W = 15.0
RISE_RESERVE = 1.7
"""Largest healthy friction over that of the settled boundary film: running-in, film growth, unrest."""


class Loading(Enum):
    """How the pin is pressed on."""

    LEVER = "dead weights on a lever"
    SCREW = "screw and spring"
    AIR = "air cylinder"
    WATER = "water run into a can"


@dataclass(frozen=True, slots=True)
class Contact:
    """The pair.

    Attributes:
        boundary_mu: of the settled boundary film; of the dry pair where there is no oil.
        fluid_mu: traction of a full film.
        static_ratio: break-away friction over boundary friction, >= 1.
        knee_m: film at which the solid share is 37 %; about the combined roughness.
        starved: factor on the film, 1 fully fed, 0 dry.
        run_in_ratio: friction added by a fresh surface, over boundary friction.
        run_in_m: sliding distance over which that wears off.
        width_m: of the pin.
        unrest: standard deviation of friction over friction.
        unrest_s: its time constant.
        run_out: load amplitude once a turn, over load.
        lean: newtons of load each newton of friction adds through a skew pivot.
    """

    boundary_mu: float
    fluid_mu: float
    static_ratio: float
    knee_m: float
    starved: float
    run_in_ratio: float
    run_in_m: float
    width_m: float
    unrest: float
    unrest_s: float
    run_out: float
    lean: float


@dataclass(frozen=True, slots=True)
class Thermal:
    """Two heat stores, pin and bath (oil, ring and cup together).

    Attributes:
        ambient_degc: of the room.
        pin_share: of the friction power that goes into the pin.
        pin_j_k, bath_j_k: heat capacities.
        pin_to_bath_w_k, bath_to_room_w_k: conductances.
        heater_w, set_degc, band_k: thermostat of the bath; heater_w is 0 without one.
        pin_limit_degc, bath_limit_degc: the technician's.
    """

    ambient_degc: float
    pin_share: float
    pin_j_k: float
    bath_j_k: float
    pin_to_bath_w_k: float
    bath_to_room_w_k: float
    heater_w: float
    set_degc: float
    band_k: float
    pin_limit_degc: float
    bath_limit_degc: float


@dataclass(frozen=True, slots=True)
class Design:
    """The rig as built.

    Attributes:
        inertia_kg_m2: all of it, seen at the ring; motor_inertia_share of it on the motor's side of the belt.
        belt_nm: torque at which the belt slips; 0 without a belt.
        drag_nm: of seals and bearings, warm, at set speed; cold_drag times that at first, settling over drag_s.
    """

    radius_m: float
    idle_rad_s: float
    top_load_n: float
    loading: Loading
    contact: Contact
    thermal: Thermal
    oil: Oil
    drive: DriveNumbers
    inertia_kg_m2: float
    motor_inertia_share: float
    belt_nm: float
    drag_nm: float
    cold_drag: float
    drag_s: float

    @property
    def peak_torque_nm(self) -> float:
        """Largest torque that reaches the ring."""
        motor_nm = self.drive.fresh().peak_torque_nm
        return min(motor_nm, self.belt_nm) if self.belt_nm else motor_nm


def draw_design(seed: int, klass: Klass) -> Design:
    """Draw the rig of a recording; a seizing one has a motor that a weld can stop."""
    rng = stream(seed, klass, "design")
    design = _draw(rng)
    while klass is Klass.SEIZURE and design.peak_torque_nm > 0.8 * design.top_load_n * design.radius_m:
        design = _draw(rng)
    return design


def _draw(rng: Stream) -> Design:
    radius_m = log_between(rng, 0.010, 0.050)
    idle_rad_s = log_between(rng, 50.0, 3000.0) * pi / 30.0
    while not 0.08 < idle_rad_s * radius_m < 6.0:
        idle_rad_s = log_between(rng, 50.0, 3000.0) * pi / 30.0
    contact = _contact(rng)
    mu = contact.boundary_mu * RISE_RESERVE
    most_n = MOST_FRICTION_POWER_W / (mu * idle_rad_s * radius_m)
    top_load_n = min(log_between(rng, 15.0, 2500.0), most_n)
    start_mu = contact.boundary_mu * (1.0 + contact.run_in_ratio) * contact.static_ratio * 1.5
    need_nm = max(start_mu * top_load_n * radius_m, LEAST_MOTOR_POWER_W / idle_rad_s)
    drag_nm = need_nm * between(rng, 0.04, 0.3)
    cold_drag = between(rng, 1.1, 1.8)
    need_nm += drag_nm * cold_drag
    kind = list(DriveKind)[int(rng.integers(len(DriveKind)))]
    drive = draw_drive(rng, kind, idle_rad_s, need_nm)
    start_s = log_between(rng, 0.25, 2.0)
    return Design(
        radius_m=radius_m,
        idle_rad_s=idle_rad_s,
        top_load_n=top_load_n,
        loading=list(Loading)[int(rng.choice(4, p=[0.6, 0.14, 0.14, 0.12]))],
        contact=contact,
        thermal=_thermal(rng, mu * top_load_n * idle_rad_s * radius_m),
        oil=_oil(rng),
        drive=drive,
        inertia_kg_m2=drive.fresh().peak_torque_nm * start_s / idle_rad_s,
        motor_inertia_share=between(rng, 0.3, 0.8),
        belt_nm=need_nm * between(rng, 1.35, 3.0) if happens(rng, 0.35) else 0.0,
        drag_nm=drag_nm,
        cold_drag=cold_drag,
        drag_s=log_between(rng, 40.0, 300.0),
    )


def _contact(rng: Stream) -> Contact:
    dry = happens(rng, DRY_SHARE)
    fluid_mu = between(rng, 0.02, 0.05)
    return Contact(
        boundary_mu=between(rng, 0.16, 0.31) if dry else between(rng, 0.075, 0.145),
        fluid_mu=fluid_mu,
        static_ratio=between(rng, 1.03, 1.4),
        knee_m=log_between(rng, 0.08e-6, 1.0e-6),
        starved=0.0 if dry else (between(rng, 0.1, 0.5) if happens(rng, 0.2) else 1.0),
        run_in_ratio=between(rng, 0.3, 0.55) if happens(rng, 0.2) and not dry else between(rng, 0.0, 0.3),
        run_in_m=log_between(rng, 3.0, 80.0),
        width_m=log_between(rng, 0.003, 0.012),
        unrest=log_between(rng, 0.004, 0.045),
        unrest_s=log_between(rng, 0.04, 3.0),
        run_out=log_between(rng, 0.003, 0.12),
        lean=between(rng, -0.06, 0.06),
    )


def _oil(rng: Stream) -> Oil:
    at_40 = log_between(rng, 9.0, 460.0)
    usual_at_100 = 10.0 ** (-0.15 + 0.63 * log10(at_40))
    return oil_of(at_40, usual_at_100 * between(rng, 0.92, 1.3), between(rng, 830.0, 900.0))


def _thermal(rng: Stream, most_w: float) -> Thermal:
    """Size the heat paths by the largest healthy friction power."""
    bath_w_k = max(0.15, most_w / between(rng, 6.0, 45.0))
    bath_j_k = min(3000.0, max(60.0, bath_w_k * log_between(rng, 250.0, 2500.0)))
    share = between(rng, 0.15, 0.5)
    pin_w_k = max(0.05, share * most_w / between(rng, 4.0, 35.0))
    ambient_degc = between(rng, 16.0, 31.0)
    heated = happens(rng, 0.45)
    set_degc = between(rng, max(40.0, ambient_degc + 15.0), 110.0) if heated else ambient_degc
    band_k = between(rng, 0.6, 3.0)
    heater_w = bath_w_k * (set_degc - ambient_degc) * between(rng, 1.3, 2.5)
    warmest_degc = max(set_degc + band_k + 2.0, ambient_degc + most_w / bath_w_k)
    bath_limit = 5.0 * round((warmest_degc + between(rng, 8.0, 30.0)) / 5.0 + 0.5)
    pin_limit = 5.0 * round((bath_limit + share * most_w / pin_w_k + between(rng, 5.0, 30.0)) / 5.0 + 0.5)
    pin_j_k = pin_w_k * log_between(rng, 4.0, 40.0)
    return Thermal(
        ambient_degc, share, pin_j_k, bath_j_k, pin_w_k, bath_w_k, heater_w, set_degc, band_k, pin_limit, bath_limit
    )
