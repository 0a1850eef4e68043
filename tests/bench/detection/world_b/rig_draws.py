"""A rig nobody has seen, drawn at random.

Reads draws, gives a `Rig`. Every range is plausible and invented unless a source stands beside it.
"""

import numpy as np

from .draws import Draw
from .drives import DirectInduction, Drive, motor_of
from .rigs import Contact, Habits, Heat, Rig, Room, Sensing, touching_share
from .values import NAN, ChannelSet, DriveKind, Klass, Tachometer

AMBIENT_MOST_DEGC = 32.0
CHANNEL_SHARES = (0.45, 0.25, 0.12, 0.10, 0.08)


def draw_rig(draw: Draw, klass: Klass, wanted: ChannelSet | None = None) -> Rig:
    """Give a rig drawn at random for a class of recording.

    Args:
        draw: the stream that decides the rig.
        klass: rigs that seize have drives that can be held.
        wanted: channel set asked for; drawn by share where none is.
    Returns:
        The rig.
    """
    diameter_mm, speed_rpm, loads_n = _sizes(draw, klass)
    contact = _contact(draw, max(loads_n))
    drawn = draw.pick(list(ChannelSet), CHANNEL_SHARES)
    channel_set = drawn if wanted is None else wanted
    share = touching_share(contact, max(loads_n), 20.0)
    top_force_n = (contact.mu_film + (contact.mu_boundary - contact.mu_film) * share) * max(loads_n)
    set_rad_s = speed_rpm * np.pi / 30.0
    drive = _drive(draw, klass, top_force_n * diameter_mm / 2000.0, set_rad_s, contact.static_ratio)
    return Rig(
        ring_diameter_mm=diameter_mm,
        ring_speed_rpm=speed_rpm,
        loads_n=loads_n,
        channel_set=channel_set,
        contact=contact,
        drive=drive,
        grease_share=draw.within(0.0, 0.5),
        grease_s=draw.log_within(200.0, 1500.0),
        heat=_heat(draw, klass, top_force_n * set_rad_s * diameter_mm / 2000.0),
        room=_room(draw),
        sensing=_sensing(draw, top_force_n, max(loads_n), drive, speed_rpm),
        habits=_habits(draw),
    )


def _sizes(draw: Draw, klass: Klass) -> tuple[float, float, tuple[float, ...]]:
    slow = klass is Klass.STICK_SLIP
    while True:
        diameter_mm = round(draw.log_within(10.0, 100.0), 2)
        speed_rpm = round(draw.log_within(50.0, 600.0 if slow else 3000.0))
        top_n = draw.log_within(20.0, 3000.0)
        speed_m_s = diameter_mm * speed_rpm * np.pi / 60000.0
        if 0.05 <= speed_m_s <= 8.0 and 1.0 <= 0.11 * top_n * speed_m_s <= 600.0:
            break
    count = draw.whole(3, 14)
    first_n = max(5.0, top_n * draw.log_within(0.05, 0.5))
    even = draw.chance(0.6)
    loads = np.linspace(first_n, top_n, count) if even else np.geomspace(first_n, top_n, count)
    return diameter_mm, float(speed_rpm), tuple(round(float(n), 1) for n in loads)


def _contact(draw: Draw, top_n: float) -> Contact:
    return Contact(
        mu_boundary=draw.within(0.075, 0.15),
        mu_film=draw.within(0.012, 0.045),
        half_load_n=top_n * draw.log_within(0.01, 0.8),
        half_power=draw.within(0.6, 1.5),
        thinning_per_k=draw.within(0.0, 0.015),
        running_in_share=draw.within(0.0, 0.4),
        running_in_s=draw.log_within(8.0, 200.0),
        wander_share=draw.log_within(0.005, 0.03),
        wander_s=draw.log_within(2.0, 60.0),
        fast_share=draw.log_within(0.005, 0.06),
        fast_s=draw.log_within(0.004, 0.15),
        runout_share=draw.log_within(0.002, 0.06),
        static_ratio=draw.within(1.05, 1.6),
        held_share=draw.within(0.0, 0.6),
        dry_start_share=draw.within(0.0, 0.4),
        dry_start_s=draw.log_within(3.0, 60.0),
    )


def _drive(draw: Draw, klass: Klass, friction_nm: float, set_rad_s: float, static_ratio: float) -> Drive:
    kind = draw.pick(list(DriveKind), (0.25, 0.3, 0.2, 0.25))
    drag_nm = friction_nm * draw.log_within(0.08, 1.0)
    full_nm = friction_nm + drag_nm
    belted = draw.chance(0.25)
    weak = klass is Klass.SEIZURE
    least = max(1.5, 1.45 * (static_ratio * friction_nm * 1.15 + 1.5 * drag_nm) / full_nm)
    most = {
        DriveKind.BRUSHED_BARE: draw.log_within(4.0, 7.0 if weak else 25.0),
        DriveKind.BRUSHED_LIMITED: draw.within(least, least + 2.0),
        DriveKind.INDUCTION_DIRECT: draw.within(2.2, 3.2) * draw.within(1.0, 1.3 if weak else 3.0),
        DriveKind.INDUCTION_INVERTER: draw.within(least, least + 1.5),
    }[kind]
    most = max(most, 1.2 * least if kind is DriveKind.INDUCTION_DIRECT else least)
    induction = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    full_a = draw.log_within(0.4, 25.0)
    return Drive(
        kind=kind,
        set_rad_s=set_rad_s,
        full_torque_nm=full_nm,
        drag_nm=drag_nm,
        most_torque_nm=most * full_nm,
        full_current_a=full_a,
        magnetising_a=full_a * draw.log_within(0.4, 1.8) if induction else 0.0,
        slip_share=draw.within(0.01, 0.06),
        inertia_kg_m2=draw.log_within(0.25 if belted else 0.08, 1.2) * full_nm / set_rad_s,
        loop_hz=draw.log_within(1.5, 12.0),
        ramp_s=draw.log_within(0.3, 5.0),
        ramps_down=kind is DriveKind.INDUCTION_INVERTER and draw.chance(0.5),
        gives_up_s=draw.log_within(4.0, 60.0),
        grip_nm=draw.within(least, least + 1.5) * full_nm if belted else float("inf"),
        creep_share=draw.within(0.02, 0.035),
    )


def _heat(draw: Draw, klass: Klass, power_w: float) -> Heat:
    rise_k = draw.within(12.0, 50.0)
    rate_k_s = draw.log_within(0.04 if klass is Klass.OVERHEAT else 0.02, 0.4)
    bath_j_k, loss_w_k = power_w / rate_k_s, power_w / rise_k
    heated = draw.chance(0.35)
    set_degc = draw.within(35.0, 80.0) if heated else NAN
    pin_rise_k = draw.within(5.0, 30.0)
    warmest = max(AMBIENT_MOST_DEGC + rise_k, set_degc + 2.0 if heated else 0.0)
    limit_bath = 5.0 * np.ceil((1.25 * warmest + draw.within(15.0, 40.0)) / 5.0)
    return Heat(
        bath_j_k=bath_j_k,
        loss_w_k=loss_w_k,
        pin_k_w=pin_rise_k / power_w,
        pin_s=draw.log_within(1.0, 20.0),
        set_degc=set_degc,
        heater_w=loss_w_k * max(set_degc - 15.0, 20.0) * draw.within(1.3, 2.5) if heated else 0.0,
        limit_bath_degc=float(limit_bath),
        limit_pin_degc=float(limit_bath + 5.0 * np.ceil(1.5 * pin_rise_k / 5.0)),
    )


def _room(draw: Draw) -> Room:
    ambient_db = draw.within(38.0, 62.0)
    motor_db = ambient_db + draw.within(-5.0, 22.0)
    scuff = draw.pick(["louder", "same", "quieter"], (0.8, 0.1, 0.1))
    return Room(
        ambient_db=ambient_db,
        motor_db=motor_db,
        friction_db=max(ambient_db, motor_db) + draw.within(-14.0, 8.0),
        friction_power=draw.within(0.3, 1.0),
        scuff_db={"louder": draw.within(3.0, 18.0), "same": 0.0, "quieter": draw.within(-5.0, -1.0)}[scuff],
        unrest_db=draw.within(0.3, 2.0),
        weighting_s=draw.pick([0.125, 1.0, 0.035], (0.7, 0.15, 0.15)),
        offset_db=-draw.within(95.0, 120.0) if draw.chance(0.15) else 0.0,
        refresh_s=draw.pick([0.0, 0.125, 1.0], (0.75, 0.18, 0.07)),
    )


def _habits(draw: Draw) -> Habits:
    return Habits(
        change=draw.pick(["add", "lift", "stop"], (0.6, 0.25, 0.15)),
        hand_s=draw.log_within(0.08, 1.2),
        bounce_share=draw.within(0.05, 0.5),
        bounce_hz=draw.within(1.5, 9.0),
        bounce_decay_s=draw.log_within(0.15, 1.8),
        clumsy=draw.pick([0.3, 1.0, 2.5], (0.3, 0.5, 0.2)),
        hanger_share=draw.within(0.0, 0.05),
    )


def _sensing(draw: Draw, top_force_n: float, top_n: float, drive: Drive, speed_rpm: float) -> Sensing:
    cell_range_n = top_force_n * (draw.within(2.0, 3.2) if draw.chance(0.12) else draw.log_within(3.6, 10.0))
    motor = motor_of(drive)
    surge_a = float(motor.steady(np.array([1e12]))[1][0])
    if isinstance(motor, DirectInduction):
        surge_a = 1.2 * float(np.hypot(motor.locked_a, motor.magnetising_a))
    full_a = float(np.hypot(drive.full_current_a, drive.magnetising_a))
    short = draw.chance(0.15)
    tachometer, pulses, gate_s = _tachometer(draw, speed_rpm)
    return Sensing(
        cell_range_n=cell_range_n,
        cell_noise_n=cell_range_n * draw.log_within(2e-4, 3e-3),
        cell_lag_s=draw.log_within(0.002, 0.04),
        cell_two_sided=draw.chance(0.5),
        arm_hz=draw.log_within(6.0, 60.0),
        arm_share=draw.log_within(0.002, 0.05),
        hum_n=cell_range_n * draw.log_within(5e-4, 6e-3) if draw.chance(0.3) else 0.0,
        cell_drift_n_h=cell_range_n * draw.normal() * draw.log_within(5e-4, 2e-2),
        load_range_n=top_n * draw.log_within(1.6, 4.0),
        load_noise_n=top_n * draw.log_within(5e-4, 6e-3),
        load_lag_s=draw.log_within(0.005, 0.25),
        current_range_a=full_a * 3.0 if short else 1.3 * max(surge_a, 1.6 * full_a),
        current_noise_a=full_a * draw.log_within(2e-3, 3e-2),
        current_ripple_share=draw.log_within(2e-3, 4e-2),
        current_lag_s=draw.log_within(0.03, 0.15) if draw.chance(0.25) else 0.0,
        no_load_error=0.04 * draw.normal(),
        couple_lag_s=draw.log_within(0.3, 20.0),
        couple_step_k=draw.pick([0.01, 0.1, 0.25, 0.5], (0.35, 0.2, 0.15, 0.3)),
        couple_refresh_s=draw.pick([0.0, 0.1, 0.25, 1.0], (0.25, 0.4, 0.2, 0.15)),
        couple_gaps=draw.chance(0.1),
        couple_noise_k=draw.log_within(0.01, 0.25),
        couple_wander_k=draw.within(0.05, 0.6),
        tachometer=tachometer,
        pulses_per_turn=pulses,
        gate_s=gate_s,
        tachometer_on_motor=drive.belt and draw.chance(0.25),
        bits=draw.pick([10, 12, 16, 20], (0.1, 0.3, 0.4, 0.2)),
    )


def _tachometer(draw: Draw, speed_rpm: float) -> tuple[Tachometer, int, float]:
    kind = draw.pick(list(Tachometer), (0.4, 0.4, 0.2))
    if kind is Tachometer.ANALOGUE:
        return kind, 0, 0.0
    if kind is Tachometer.PERIOD:
        return kind, draw.pick([1, 2, 4, 8, 60], (0.2, 0.1, 0.2, 0.2, 0.3)), 0.0
    pulses = draw.pick([60, 120, 360, 1024])
    least_s = 60.0 / (pulses * speed_rpm * 0.03)
    return kind, pulses, max(draw.pick([0.05, 0.1, 0.2]), round(least_s + 0.005, 2))
