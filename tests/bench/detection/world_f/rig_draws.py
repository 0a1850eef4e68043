"""Draws a rig: from excellent to shabby, none absurd.

Reads dice, gives a `Rig`. Magnitudes are those of bench rigs (DOMAIN 6 and 11); every number is plausible and invented.
"""

from math import inf, pi

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    ChannelSet,
    DriveKind,
)

from .chance import Dice, even, happens, pick, spread
from .drives import running_a
from .rig import Contact, Lever, Motor, Rig, Shop, Warmth
from .sensing_draws import draw_sensing

_SETS = {
    ChannelSet.ALL: 0.5,
    ChannelSet.FRICTION_CELL: 0.15,
    ChannelSet.LOAD_CELL: 0.15,
    ChannelSet.CURRENT_AND_SPEED: 0.1,
    ChannelSet.CURRENT_ONLY: 0.1,
}
_MOST_POWER_W = 250.0
_SLOWEST_S = 0.01
"""Least time constant of motor and inertia, so that the grid can follow it."""


def draw_rig(dice: Dice, for_channels: Dice, channel_set: ChannelSet | None) -> Rig:
    """Give a rig; what it shows has dice of its own, so that forcing it changes nothing else."""
    drawn_set = pick(for_channels, _SETS)
    radius_m = 0.5e-3 * even(dice, 25.0, 80.0)
    most_load_n = spread(dice, 60.0, 1200.0)
    contact = _contact(dice)
    fastest_m_s = min(2.5, _MOST_POWER_W / (contact.film_mu * most_load_n))
    speed_m_s = spread(dice, min(0.18, 0.5 * fastest_m_s), fastest_m_s)
    set_rad_s = min(max(speed_m_s / radius_m, 60.0 * pi / 30.0), 1500.0 * pi / 30.0)
    motor = _motor(dice, set_rad_s, contact.film_mu * most_load_n * radius_m)
    warmth = _warmth(dice, contact.film_mu * most_load_n * set_rad_s * radius_m)
    worst_nm = 1.1 * contact.bare_mu * most_load_n * radius_m
    return Rig(
        radius_m=radius_m,
        most_load_n=most_load_n,
        lever=_lever(dice, most_load_n),
        contact=contact,
        motor=motor,
        warmth=warmth,
        shop=_shop(dice),
        sensing=draw_sensing(dice, motor, most_load_n, contact, worst_nm),
        channel_set=drawn_set if channel_set is None else channel_set,
        limits=_limits(dice, contact, warmth, motor, most_load_n, radius_m),
        no_load_a=running_a(motor, 0.0) * even(dice, 0.96, 1.04),
    )


def shown(rig: Rig) -> tuple[str, ...]:
    """Give the channels that a rig has."""
    return CHANNELS_OF[rig.channel_set]


def _lever(dice: Dice, most_load_n: float) -> Lever:
    return Lever(
        arm_n=even(dice, 0.03, 0.12) * most_load_n,
        swing_hz=even(dice, 2.0, 9.0),
        swing_decay_s=even(dice, 0.2, 1.4),
        pivot_share=pick(dice, {0.0: 0.4, even(dice, 0.01, 0.08): 0.6}),
        pivot_s=spread(dice, 4.0, 60.0),
        pull=even(dice, -0.12, 0.15),
        runout_share=spread(dice, 0.001, 0.03),
        runout_twice_share=spread(dice, 0.0005, 0.01),
        kept_share=pick(dice, {0.0: 0.6, even(dice, 0.1, 0.7): 0.4}),
        set_down_s=spread(dice, 0.25, 4.0),
    )


def _contact(dice: Dice) -> Contact:
    poor = happens(dice, 0.2)
    film_mu = even(dice, 0.11, 0.16) if poor else even(dice, 0.065, 0.125)
    bare_mu = min(film_mu * even(dice, 1.15, 1.7), 0.2)
    return Contact(
        film_mu=film_mu,
        bare_mu=bare_mu,
        fluid_mu=spread(dice, 0.002, 0.012),
        thickness=spread(dice, 0.05, 0.9),
        roughness_new=even(dice, 1.2, 3.0),
        run_in_s=spread(dice, 60.0, 900.0),
        growth_s=spread(dice, 15.0, 250.0),
        loss_s=spread(dice, 150.0, 1500.0),
        bears_mpa_share=even(dice, 0.15, 0.9),
        widen_s=spread(dice, 2.0, 60.0),
        unrest_share=spread(dice, 0.006, 0.05),
        unrest_memory_s=spread(dice, 0.02, 0.6),
        slow_share=spread(dice, 0.004, 0.03),
        slow_memory_s=spread(dice, 5.0, 60.0),
        scuffed_mu=max(spread(dice, 0.3, 0.78), 2.7 * film_mu),
        thinning_per_k=even(dice, 0.015, 0.04),
    )


def _motor(dice: Dice, set_rad_s: float, usual_nm: float) -> Motor:
    kind = pick(dice, dict.fromkeys(DriveKind, 0.25))
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    strength = {
        DriveKind.BRUSHED_BARE: spread(dice, 7.0, 22.0),
        DriveKind.BRUSHED_LIMITED: spread(dice, 12.0, 30.0),
        DriveKind.INDUCTION_DIRECT: spread(dice, 5.5, 15.0),
        DriveKind.INDUCTION_INVERTER: spread(dice, 5.0, 14.0),
    }[kind]
    break_slip = even(dice, 0.17, 0.4)
    limit = min(spread(dice, 3.8, 12.0), 0.8 * strength)
    starts_s = spread(dice, 0.12, 0.9) if kind is not DriveKind.INDUCTION_DIRECT else spread(dice, 0.1, 0.4)
    steepest = strength * {DriveKind.INDUCTION_DIRECT: 2.0 / break_slip, DriveKind.INDUCTION_INVERTER: 8.0}.get(
        kind, 1.0
    )
    inertia = max(starts_s * min(limit, 0.5 * strength), _SLOWEST_S * steepest) * usual_nm / set_rad_s
    of_motor = even(dice, 0.3, 0.85)
    usual_a = spread(dice, 0.8, 9.0)
    belted = happens(dice, 0.4)
    return Motor(
        kind=kind,
        set_rad_s=set_rad_s,
        stall_nm=strength * usual_nm,
        limit_nm=limit * usual_nm,
        break_slip=break_slip,
        ramp_s=spread(dice, 0.5, 6.0),
        motor_kgm2=of_motor * inertia,
        ring_kgm2=(1.0 - of_motor) * inertia,
        drag_nm=even(dice, 0.08, 0.6) * usual_nm,
        cold_share=even(dice, 0.0, 0.6),
        warm_s=spread(dice, 60.0, 500.0),
        belt_nm=even(dice, 4.0, 11.0) * usual_nm if belted else inf,
        amps_per_nm=usual_a / usual_nm,
        idle_a=usual_a * (even(dice, 0.02, 0.2) if brushed else even(dice, 0.4, 1.3)),
        cog_share=spread(dice, 0.005, 0.12),
        cog_per_turn=pick(dice, {even(dice, 0.15, 0.45): 0.4, even(dice, 0.5, 3.0): 0.3, even(dice, 6.0, 24.0): 0.3}),
    )


def _warmth(dice: Dice, usual_w: float) -> Warmth:
    room_degc = even(dice, 16.0, 28.0)
    heated = happens(dice, 0.6)
    set_degc = even(dice, 35.0, 90.0) if heated else room_degc
    loss_w_k = min(max(usual_w / even(dice, 4.0, 22.0), 0.8), 25.0)
    lag_s = spread(dice, 400.0, 2000.0)
    rise_k = even(dice, 4.0, 25.0)
    pin_share = even(dice, 0.2, 0.6)
    pin_w_k = pin_share * usual_w / rise_k
    return Warmth(
        room_degc=room_degc,
        bath_set_degc=set_degc,
        heater_w=loss_w_k * (set_degc - room_degc + 10.0) * even(dice, 1.3, 2.5) if heated else 0.0,
        band_k=even(dice, 0.5, 3.0),
        two_point=happens(dice, 0.5),
        bath_j_k=loss_w_k * lag_s,
        bath_w_k=loss_w_k,
        cooled_share=even(dice, 0.6, 0.95),
        pin_j_k=pin_w_k * spread(dice, 4.0, 50.0),
        pin_w_k=pin_w_k,
        pin_share=pin_share,
    )


def _shop(dice: Dice) -> Shop:
    background_db = even(dice, 42.0, 66.0)
    return Shop(
        background_db=background_db,
        wander_db=spread(dice, 0.2, 2.0),
        motor_db=even(dice, 50.0, 74.0),
        contact_db=even(dice, 38.0, 62.0),
        scuffed_db=even(dice, 6.0, 20.0),
        meter_s=pick(dice, {0.125: 0.65, 1.0: 0.35}),
    )


def _limits(
    dice: Dice, contact: Contact, warmth: Warmth, motor: Motor, most_load_n: float, radius_m: float
) -> dict[str, float]:
    """Give what a technician writes down who has seen a healthy run at the greatest load."""
    force_n = contact.bare_mu * most_load_n
    power_w = force_n * motor.set_rad_s * radius_m
    bath_degc = max(warmth.bath_set_degc + warmth.band_k, warmth.room_degc + power_w / warmth.bath_w_k)
    pin_degc = bath_degc + warmth.pin_share * power_w / warmth.pin_w_k
    drawn = {
        PIN_TEMPERATURE: 5.0 * round((pin_degc + spread(dice, 12.0, 40.0)) / 5.0),
        BATH_TEMPERATURE: 5.0 * round((bath_degc + spread(dice, 10.0, 30.0)) / 5.0),
        FRICTION_FORCE: round(force_n * even(dice, 2.0, 3.0), 1),
        MOTOR_CURRENT: round(running_a(motor, force_n * radius_m) * even(dice, 1.6, 2.6), 1),
    }
    kept = {name: happens(dice, 0.8 if "temperature" in name else 0.6) for name in drawn}
    kept[PIN_TEMPERATURE] |= not kept[BATH_TEMPERATURE]
    return {name: limit for name, limit in drawn.items() if kept[name]}
