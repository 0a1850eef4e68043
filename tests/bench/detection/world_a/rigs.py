"""Rigs of the first world: every number of a rig drawn across plausible ranges.

Reads a seed and a class, gives what the rig is made of and what its technician knows. Ranges without a source are
plausible and invented.
"""

import math
from dataclasses import dataclass, replace
from random import Random

from world_b.values import CHANNELS_OF, ChannelSet, DriveKind, Klass, Tachometer

from scuffwatch.sim.friction import walther_constants, walther_viscosity_cst
from scuffwatch.sim.motor import RPM_PER_RAD_S
from scuffwatch.sim.params import RigParams

from .drives import StraightLine, motor_of, settled

_SETS = (
    (ChannelSet.ALL, 0.5),
    (ChannelSet.FRICTION_CELL, 0.22),
    (ChannelSet.LOAD_CELL, 0.12),
    (ChannelSet.CURRENT_AND_SPEED, 0.1),
    (ChannelSet.CURRENT_ONLY, 0.06),
)
_DRIVES = tuple(DriveKind)
_HOTTEST_DEGC = 165.0


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig.

    Attributes:
        params: of the simulated physics.
        drive, line: kind, and the numbers of all but the motor switched straight onto the mains.
        channel_set: see `ChannelSet`.
        set_rpm, no_load_current_a, running_current_a: with the pin lifted, and at the top load.
        top_load_n, top_force_n, top_power_w: of the plan, healthy.
        most_torque_nm: the drive can give.
        starts_loaded: whether it can start with the load on.
        pin_most_degc, bath_most_degc: warmest healthy temperatures, roughly.
        tachometer, pulses_per_turn: see `Tachometer`.
        rough: how many times more a scuffed contact scatters.
        fuse_s: a held motor is cut off after that.
        coasts_s: from set speed to rest at the top load.
    """

    params: RigParams
    drive: DriveKind
    line: StraightLine
    channel_set: ChannelSet
    set_rpm: float
    no_load_current_a: float
    running_current_a: float
    top_load_n: float
    top_force_n: float
    top_power_w: float
    most_torque_nm: float
    starts_loaded: bool
    pin_most_degc: float
    bath_most_degc: float
    tachometer: Tachometer
    pulses_per_turn: int
    rough: float
    fuse_s: float
    coasts_s: float


def log_uniform(chance: Random, low: float, high: float) -> float:
    """Give a number whose logarithm is evenly spread."""
    return math.exp(chance.uniform(math.log(low), math.log(high)))


def draw_rig(chance: Random, klass: Klass, wanted: ChannelSet | None) -> Rig:
    """Give a rig.

    Args:
        chance: its numbers are used up.
        klass: an overheat needs a thermocouple.
        wanted: set of channels, or None to draw it.
    """
    channel_set = wanted or _channel_set(chance, klass)
    while True:
        params, top_load_n = _contact(chance)
        speed_m_s = params.synchronous_speed_rpm / RPM_PER_RAD_S * params.ring_radius_m
        top_force_n = params.boundary_coefficient * top_load_n
        if 0.06 < speed_m_s < 5.0 and 2.0 < top_force_n * speed_m_s < 450.0:
            break
    power_w = top_force_n * speed_m_s
    params, pin_degc, bath_degc = _heat(chance, params, power_w)
    params = _noise(chance, params)
    torque_nm = top_force_n * params.ring_radius_m
    params, line, kind = _drive(chance, params, torque_nm)
    drag_nm = params.drag_nm + params.drag_nm_s * params.synchronous_speed_rpm / RPM_PER_RAD_S
    free_rad_s, free_a = settled(motor_of(kind, params, line), drag_nm)
    _, running_a = settled(motor_of(kind, params, line), drag_nm + torque_nm)
    tachometer, pulses = _tachometer(chance, free_rad_s)
    straight = kind is not DriveKind.INDUCTION_DIRECT
    most_nm = min(line.torque_limit_nm, line.stiffness_nm_s * line.set_rad_s)
    standing_nm = most_nm if straight else _standing_torque_nm(params)
    return Rig(
        params=replace(params, pulses_per_rev=max(pulses, 1)),
        drive=kind,
        line=line,
        channel_set=channel_set,
        set_rpm=free_rad_s * RPM_PER_RAD_S,
        no_load_current_a=free_a,
        running_current_a=running_a,
        top_load_n=top_load_n,
        top_force_n=top_force_n,
        top_power_w=power_w,
        most_torque_nm=most_nm if straight else params.breakdown_torque_nm,
        starts_loaded=standing_nm > 1.7 * (torque_nm + drag_nm),
        pin_most_degc=pin_degc,
        bath_most_degc=bath_degc,
        tachometer=tachometer,
        pulses_per_turn=pulses,
        rough=chance.uniform(0.5, 8.0),
        fuse_s=log_uniform(chance, 3.0, 60.0),
        coasts_s=(line if straight else params).inertia_kg_m2 * free_rad_s / (drag_nm + torque_nm),
    )


def _channel_set(chance: Random, klass: Klass) -> ChannelSet:
    sets = [s for s in _SETS if klass is not Klass.OVERHEAT or any(n.endswith("_degc") for n in CHANNELS_OF[s[0]])]
    return chance.choices([s[0] for s in sets], [s[1] for s in sets])[0]


def _contact(chance: Random) -> tuple[RigParams, float]:
    nu_40_cst = log_uniform(chance, 15.0, 320.0)
    nu_100_cst = 0.87 * nu_40_cst**0.535 * chance.uniform(0.95, 1.25)  # near viscosity index 100, fitted to VG 15-320
    top_load_n = log_uniform(chance, 30.0, 1800.0)
    boundary = chance.uniform(0.08, 0.14)
    params = RigParams(
        ring_diameter_mm=log_uniform(chance, 15.0, 90.0),
        contact_length_mm=chance.uniform(4.0, 16.0),
        pivot_height_mm=100.0 * chance.uniform(0.0, 0.08),
        lever_arm_mm=100.0,
        synchronous_speed_rpm=log_uniform(chance, 60.0, 2000.0),
        viscosity_40_cst=nu_40_cst,
        viscosity_100_cst=nu_100_cst,
        film_power=chance.uniform(0.5, 0.9),
        boundary_coefficient=boundary,
        fluid_coefficient=chance.uniform(0.015, 0.04),
        run_in_gain=chance.uniform(0.05, 0.8),
        run_in_limit=min(chance.uniform(0.1, 0.45), 0.185 / boundary - 1.0),
        run_in_distance_m=log_uniform(chance, 1.0, 200.0),
    )
    speed_m_s = params.synchronous_speed_rpm / RPM_PER_RAD_S * params.ring_radius_m
    constants = walther_constants(nu_40_cst, nu_100_cst)
    viscosity_pa_s = walther_viscosity_cst(constants, chance.uniform(35.0, 90.0)) * 1e-6 * params.density_kg_m3
    film = viscosity_pa_s * speed_m_s * params.contact_length_mm / 1000.0 / (top_load_n * chance.uniform(0.3, 0.8))
    return replace(params, film_ratio=film * log_uniform(chance, 0.3, 4.0)), top_load_n


def _heat(chance: Random, params: RigParams, power_w: float) -> tuple[RigParams, float, float]:
    """Give the thermal numbers, and the warmest healthy pin and bath."""
    while True:
        room = chance.uniform(15.0, 30.0)
        bath_set = chance.uniform(room + 5.0, 90.0) if chance.random() < 0.6 else room
        coupling = power_w / chance.uniform(4.0, 45.0)
        bath_loss = power_w / chance.uniform(8.0, 60.0)
        bath = max(bath_set, room + power_w / bath_loss)
        pin = bath + power_w / coupling
        if pin < _HOTTEST_DEGC:
            break
    # A heater that sticks must be able to pass any limit: it gives several times what holds the set temperature.
    holds_w = bath_loss * max(bath_set - room, 20.0)
    return (
        replace(
            params,
            room_degc=room,
            bath_set_degc=bath_set,
            coupling_w_k=coupling,
            body_loss_w_k=coupling * chance.uniform(0.02, 0.2),
            bath_loss_w_k=bath_loss,
            body_j_k=coupling * log_uniform(chance, 5.0, 60.0),
            bath_j_k=(bath_loss + coupling) * log_uniform(chance, 40.0, 500.0),
            heater_w=holds_w * log_uniform(chance, 2.0, 9.0),
            heater_gain_w_k=holds_w / chance.uniform(2.0, 6.0),
            pin_lag_s=log_uniform(chance, 0.3, 15.0),
            bath_lag_s=log_uniform(chance, 1.0, 20.0),
            dry_s=log_uniform(chance, 8.0, 120.0),
        ),
        pin,
        bath,
    )


def _noise(chance: Random, params: RigParams) -> RigParams:
    return replace(
        params,
        friction_noise=log_uniform(chance, 0.004, 0.05),
        friction_noise_s=log_uniform(chance, 0.01, 0.3),
        runout=chance.uniform(0.0, 0.06),
        background_db=chance.uniform(45.0, 68.0),
        motor_db=chance.uniform(50.0, 80.0),
        friction_db_at_10w=chance.uniform(42.0, 72.0),
        scuffed_db=_scuffed_db(chance),
    )


def _scuffed_db(chance: Random) -> float:
    """Sound goes up in four of five, stays, or falls: it is known to go with friction either way (Friction 3, 2015)."""
    which = chance.random()
    if which < 0.8:
        return chance.uniform(3.0, 18.0)
    return 0.0 if which < 0.9 else chance.uniform(-10.0, -4.0)


def _drive(chance: Random, params: RigParams, torque_nm: float) -> tuple[RigParams, StraightLine, DriveKind]:
    kind = chance.choice(_DRIVES)
    drag_nm = torque_nm * chance.uniform(0.03, 0.5)
    full_nm = (torque_nm + drag_nm) * chance.uniform(1.05, 3.5)
    full_a = log_uniform(chance, 0.4, 12.0)
    set_rad_s = params.synchronous_speed_rpm / RPM_PER_RAD_S
    slip = chance.uniform(0.08, 0.3)
    start_s = max(log_uniform(chance, 0.15, 1.5), 2.0 / (80.0 * slip))  # slow enough for steps of 5 ms
    breakdown_nm = full_nm * chance.uniform(1.6, 2.6)
    magnetising_a = full_a * chance.uniform(0.3, 0.65)
    params = replace(
        params,
        drag_nm=0.6 * drag_nm,
        drag_nm_s=0.4 * drag_nm / set_rad_s,
        breakdown_torque_nm=breakdown_nm,
        breakdown_slip=slip,
        inertia_kg_m2=breakdown_nm * start_s / set_rad_s,
        magnetising_current_a=magnetising_a,
        locked_current_a=full_a * chance.uniform(4.0, 7.0),
        current_lag_s=log_uniform(chance, 0.002, 0.06),
    )
    return params, _line(chance, kind, full_nm, full_a, set_rad_s, magnetising_a), kind


def _line(
    chance: Random, kind: DriveKind, full_nm: float, full_a: float, set_rad_s: float, magnetising_a: float
) -> StraightLine:
    bare, inverter = kind is DriveKind.BRUSHED_BARE, kind is DriveKind.INDUCTION_INVERTER
    droop = chance.uniform(0.1, 0.25) if bare else chance.uniform(0.005, 0.06)
    stiffness = full_nm / (droop * set_rad_s)
    whirl_s = log_uniform(chance, 0.03, 0.4)
    return StraightLine(
        set_rad_s=set_rad_s,
        stiffness_nm_s=stiffness,
        inertia_kg_m2=stiffness * whirl_s if bare else full_nm * whirl_s / set_rad_s,
        torque_limit_nm=math.inf if bare else full_nm * chance.uniform(1.2, 2.5),
        ramp_s=0.0 if bare else log_uniform(chance, 0.2, 4.0),
        current_per_nm=full_a / full_nm,
        magnetising_current_a=magnetising_a if inverter else 0.0,
        lag_s=log_uniform(chance, 0.003, 0.05),
    )


def _standing_torque_nm(params: RigParams) -> float:
    slip = params.breakdown_slip
    return 2.0 * params.breakdown_torque_nm * slip / (1.0 + slip * slip)


def _tachometer(chance: Random, set_rad_s: float) -> tuple[Tachometer, int]:
    kind = chance.choice(tuple(Tachometer))
    if kind is Tachometer.ANALOGUE:
        return kind, 0
    turn_s = math.tau / set_rad_s
    # The simulated rig's tachometer reads standstill after 0.15 s of silence: pulses must come well within.
    fits = [pulses for pulses in (1, 2, 4, 6, 8, 12, 20, 30, 60, 120, 360, 1024) if turn_s / pulses < 0.06]
    return kind, chance.choice(fits)
