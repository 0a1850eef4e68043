"""Draws a rig: motor, contact, lever and heat; its instruments come from `sensor_draws`."""

import math

from world_b.values import ChannelSet, DriveKind

from .chance import Dice, between, chance, spread
from .rig import Contact, Lever, Motor, Rig, Warmth
from .sensor_draws import draw_sensing

_OTHER_SETS = tuple(each for each in ChannelSet if each is not ChannelSet.ALL)


def draw_rig(dice: Dice, channel_set: ChannelSet | None) -> Rig:
    """Draw a rig; a forced channel set changes nothing else."""
    natural = ChannelSet.ALL if chance(dice, 0.5) else _OTHER_SETS[int(dice.integers(len(_OTHER_SETS)))]
    radius_m = between(dice, 0.0125, 0.045)
    sliding_m_s = spread(dice, 0.25, 2.2)
    speed_rad_s = min(max(sliding_m_s / radius_m, 7.0), 130.0)
    most_load_n = spread(dice, 50.0, 600.0)
    contact = _contact(dice)
    friction_nm = _usual_mu(contact) * most_load_n * radius_m
    drag_nm = friction_nm * spread(dice, 0.06, 0.6)
    motor = _motor(dice, speed_rad_s, friction_nm + drag_nm, drag_nm)
    lever = _lever(dice)
    power_w = friction_nm * speed_rad_s
    warmth = _warmth(dice, power_w)
    sensing = draw_sensing(dice, motor, most_load_n, friction_nm / radius_m, speed_rad_s)
    return Rig(
        radius_m=radius_m,
        most_load_n=most_load_n,
        usual_torque_nm=friction_nm + drag_nm,
        motor=motor,
        contact=contact,
        lever=lever,
        warmth=warmth,
        sensing=sensing,
        channel_set=channel_set or natural,
    )


def _usual_mu(contact: Contact) -> float:
    solid = 1.0 / (1.0 + 0.7 * contact.lift)
    return solid * (0.3 * contact.bare_mu + 0.7 * contact.film_mu) + (1.0 - solid) * contact.fluid_mu


def _contact(dice: Dice) -> Contact:
    poor = chance(dice, 0.12)
    film_mu = between(dice, 0.13, 0.16) if poor else between(dice, 0.07, 0.12)
    return Contact(
        bare_mu=film_mu + _bare_more(between(dice, 0.0, 1.0)),
        film_mu=film_mu,
        fluid_mu=between(dice, 0.008, 0.03),
        scuffed_mu=between(dice, 0.32, 0.75),
        lift=spread(dice, 0.08, 1.6),
        thins_per_k=between(dice, 0.02, 0.036),
        runs_in_s=spread(dice, 12.0, 150.0),
        film_grows_s=spread(dice, 20.0, 200.0),
        film_torn_s=spread(dice, 200.0, 1500.0),
        unrest_share=spread(dice, 0.006, 0.05),
        unrest_s=spread(dice, 0.01, 0.2),
        slow_share=spread(dice, 0.005, 0.03),
        slow_s=spread(dice, 3.0, 30.0),
        turn_share=spread(dice, 0.003, 0.06),
    )


def _bare_more(rank: float) -> float:
    """Give what a film takes off the friction coefficient: little in most oils, much in a fifth of them."""
    return 0.015 + 0.04 * rank if rank < 0.8 else 0.05 + 0.15 * (rank - 0.8)


def _motor(dice: Dice, speed_rad_s: float, usual_nm: float, drag_nm: float) -> Motor:
    kind = list(DriveKind)[int(dice.integers(4))]
    most_nm = (
        usual_nm
        * {
            DriveKind.BRUSHED_BARE: between(dice, 5.0, 12.0),
            DriveKind.BRUSHED_LIMITED: between(dice, 2.5, 6.0),
            DriveKind.INDUCTION_DIRECT: between(dice, 3.5, 9.0),
            DriveKind.INDUCTION_INVERTER: between(dice, 2.5, 6.0),
        }[kind]
    )
    usual_a = spread(dice, 0.8, 9.0)
    induction = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    inertia_kgm2 = most_nm * spread(dice, 0.12, 0.7) / speed_rad_s
    ring_share = between(dice, 0.25, 0.6)
    belt = chance(dice, 0.45)
    fast_turns = min(6.0, 70.0 / (speed_rad_s / (2.0 * math.pi)))
    return Motor(
        kind=kind,
        ideal_rad_s=speed_rad_s,
        most_torque_nm=most_nm,
        nm_per_a=usual_nm / usual_a,
        magnetising_a=usual_a * between(dice, 0.5, 1.3) if induction else 0.0,
        pull_out_slip=between(dice, 0.14, 0.35) if kind is DriveKind.INDUCTION_DIRECT else between(dice, 0.04, 0.12),
        gain_nms=inertia_kgm2 / spread(dice, 0.03, 0.12),
        reset_s=spread(dice, 0.12, 0.7),
        ramp_s=spread(dice, 0.4, 4.0),
        motor_inertia_kgm2=inertia_kgm2 * (1.0 - ring_share),
        ring_inertia_kgm2=inertia_kgm2 * ring_share,
        belt_torque_nm=max(0.75 * most_nm, 2.4 * usual_nm) * between(dice, 0.9, 1.5) if belt else math.inf,
        drag_torque_nm=drag_nm,
        cold_drag_share=between(dice, 0.1, 0.7),
        drag_warms_s=spread(dice, 100.0, 600.0),
        ripple_share=spread(dice, 0.002, 0.03),
        ripple_per_turn=between(dice, 1.3, max(1.4, fast_turns)),
    )


def _lever(dice: Dice) -> Lever:
    return Lever(
        swings_hz=between(dice, 2.0, 9.0),
        swing_dies_s=spread(dice, 0.15, 1.5),
        stick_share=between(dice, 0.0, 0.12),
        stick_goes_s=spread(dice, 2.0, 60.0),
        run_out_share=spread(dice, 0.002, 0.05),
        run_out_twice_share=spread(dice, 0.001, 0.02),
        drawn_in=between(dice, -0.25, 0.25),
        takes_s=spread(dice, 0.25, 3.0),
        kick_share=spread(dice, 0.02, 0.3),
    )


def _warmth(dice: Dice, power_w: float) -> Warmth:
    room_degc = between(dice, 17.0, 28.0)
    rises_k = between(dice, 8.0, 35.0)
    lost_w_k = max(power_w / rises_k, 0.25)
    heated = chance(dice, 0.5)
    set_degc = room_degc + rises_k + between(dice, 8.0, 35.0)
    pin_share = between(dice, 0.35, 0.65)
    pin_k_w = between(dice, 5.0, 30.0) / max(power_w * pin_share, 1.0)
    return Warmth(
        room_degc=room_degc,
        set_degc=set_degc,
        heater_w=between(dice, 1.5, 3.5) * lost_w_k * (set_degc - room_degc) if heated else 0.0,
        heater_band_k=between(dice, 0.3, 2.5),
        pin_j_k=spread(dice, 4.0, 25.0) / pin_k_w,
        bath_j_k=lost_w_k * spread(dice, 120.0, 500.0),
        pin_k_w=pin_k_w,
        pin_share=pin_share,
        lost_w_k=lost_w_k,
    )
