"""Draws a rig: motor, contact, heat, sound.

Reads seed, class and channel set, gives a `Rig`. The columns of its logger are drawn in `columns`.
"""

from world_b.values import CHANNELS_OF, FRICTION_FORCE, ChannelSet, DriveKind, Klass, Tachometer

from world_n.columns import draw_load_reading, draw_readings
from world_n.draws import Rng, between, chance, log_between, new_seed, pick, stream
from world_n.scene import Contact, Drive, Heat, Rig, Sound

OTHER_SETS = (ChannelSet.FRICTION_CELL, ChannelSet.LOAD_CELL, ChannelSet.CURRENT_AND_SPEED, ChannelSet.CURRENT_ONLY)
BLIND_FOR_OVERHEAT = (ChannelSet.CURRENT_AND_SPEED, ChannelSet.CURRENT_ONLY)


def draw_channel_set(rng: Rng, klass: Klass) -> ChannelSet:
    """Give all seven in 70 %, else another set on which the class can be seen."""
    every, other = chance(rng, 0.7), pick(rng, OTHER_SETS)
    if klass is Klass.OVERHEAT and other in BLIND_FOR_OVERHEAT:
        other = ChannelSet.FRICTION_CELL
    if klass in (Klass.SCUFFING_WITH_FAULT, Klass.SENSOR_FAULT) and other is ChannelSet.CURRENT_ONLY:
        other = ChannelSet.LOAD_CELL
    return ChannelSet.ALL if every else other


def _draw_contact(rng: Rng) -> Contact:
    film = pick(rng, (1.0, 1.0, 0.0, -1.0))
    wavy = log_between(rng, 0.002, 0.08)
    return Contact(
        diameter_mm=round(log_between(rng, 18.0, 140.0)),
        largest_load_n=log_between(rng, 5.0, 600.0),
        coefficient=log_between(rng, 0.032, 0.125),
        load_exponent=between(rng, -0.15, 0.08),
        start_rise=between(rng, 0.0, 0.45),
        film_share=film * between(rng, 0.04, 0.35),
        film_tau_s=log_between(rng, 5.0, 120.0),
        wander_share=log_between(rng, 0.003, 0.03),
        wander_spacing_s=log_between(rng, 3.0, 30.0),
        standstill_share=between(rng, 0.0, 0.6) if chance(rng, 0.5) else 0.0,
        settle_s=log_between(rng, 0.08, 1.5),
        bounce_hz=log_between(rng, 1.8, 9.0),
        bounce_s=log_between(rng, 0.15, 1.8),
        bounce_share=log_between(rng, 0.02, 0.5),
        ripple=(wavy, wavy * between(rng, 0.0, 0.6)),
        ripple_phase=between(rng, 0.0, 1.0),
        seed=new_seed(rng),
    )


def _gain(rng: Rng, friction_seen: bool, squared: bool) -> float:
    free, seen = log_between(rng, 0.04, 4.0), log_between(rng, 0.9, 4.0)
    gain = free if friction_seen else seen
    return gain * (2.0 if friction_seen else 2.8) if squared else gain


def _lock_a(rng: Rng, kind: DriveKind, running_a: float) -> float:
    low, high = {
        DriveKind.BRUSHED_BARE: (3.0, 8.0),
        DriveKind.BRUSHED_LIMITED: (1.4, 2.5),
        DriveKind.INDUCTION_DIRECT: (3.0, 6.0),
        DriveKind.INDUCTION_INVERTER: (1.4, 2.0),
    }[kind]
    return running_a * between(rng, low, high)


def _start_s(rng: Rng, kind: DriveKind) -> float:
    low, high = {
        DriveKind.BRUSHED_BARE: (0.4, 3.0),
        DriveKind.BRUSHED_LIMITED: (0.5, 4.0),
        DriveKind.INDUCTION_DIRECT: (0.15, 0.8),
        DriveKind.INDUCTION_INVERTER: (1.0, 9.0),
    }[kind]
    return log_between(rng, low, high)


def _droop(rng: Rng, kind: DriveKind) -> float:
    if kind is DriveKind.BRUSHED_BARE:
        return between(rng, 0.04, 0.22)
    return between(rng, 0.01, 0.07) if kind is DriveKind.INDUCTION_DIRECT else between(rng, 0.0, 0.03)


def _draw_drive(rng: Rng, contact: Contact, friction_seen: bool) -> Drive:
    kind = pick(rng, tuple(DriveKind))
    squared = kind is DriveKind.INDUCTION_DIRECT or (kind is DriveKind.INDUCTION_INVERTER and chance(rng, 0.5))
    no_load_a, gain = log_between(rng, 0.12, 6.0), _gain(rng, friction_seen, squared)
    if no_load_a * (1.0 + gain) > 20.0:
        no_load_a = 20.0 / (1.0 + gain)
    full_nm = 0.4 * contact.largest_load_n * contact.diameter_mm / 2000.0
    speed_rpm = float(round(log_between(rng, 20.0, 2000.0)))
    tachometer = pick(rng, tuple(Tachometer))
    gate_s = pick(rng, (0.2, 0.25, 0.5, 1.0))
    coarse = between(rng, 12.0, 60.0)
    pulses = next((n for n in (1, 2, 4, 10, 20, 60, 100) if n * speed_rpm / 60.0 * gate_s >= coarse), 200)
    if tachometer is Tachometer.PERIOD:
        pulses = pick(rng, (1, 1, 2, 4, 10, 20)) if speed_rpm > 100.0 else pick(rng, (4, 10, 20, 60))
    belt = chance(rng, 0.45)
    return Drive(
        kind=kind,
        speed_rpm=speed_rpm,
        start_s=_start_s(rng, kind),
        coast_s=log_between(rng, 0.3, 8.0),
        no_load_a=no_load_a,
        gain=gain,
        squared=squared,
        lock_a=_lock_a(rng, kind, no_load_a * (1.0 + gain)),
        droop=_droop(rng, kind),
        droop_lag_s=log_between(rng, 0.08, 1.0),
        drag_nm=full_nm * log_between(rng, 0.05, 0.8),
        full_torque_nm=full_nm,
        cold_share=between(rng, 0.0, 0.2),
        cold_tau_s=log_between(rng, 60.0, 600.0),
        belt=belt,
        tachometer=tachometer,
        pulses_per_turn=0 if tachometer is Tachometer.ANALOGUE else pulses,
        tachometer_on_motor=belt and chance(rng, 0.4),
        gate_s=gate_s,
    )


def _draw_heat(rng: Rng) -> Heat:
    ambient = between(rng, 12.0, 30.0)
    heated = chance(rng, 0.55)
    last = between(rng, 40.0, 95.0) if heated else ambient + between(rng, 1.0, 10.0)
    first = last - between(rng, 0.0, 6.0) if heated else ambient + between(rng, 0.0, 2.0)
    return Heat(
        ambient_degc=ambient,
        bath_first_degc=first,
        bath_last_degc=last,
        bath_tau_s=log_between(rng, 150.0, 1200.0),
        thermostat_k=between(rng, 0.1, 1.5) if heated else 0.0,
        thermostat_s=log_between(rng, 25.0, 200.0),
        friction_rise_k=log_between(rng, 0.2, 6.0),
        friction_tau_s=log_between(rng, 120.0, 900.0),
        pin_rise_k=log_between(rng, 0.7, 20.0),
        pin_tau_s=log_between(rng, 0.5, 12.0),
        pin_gap_k=between(rng, 12.0, 55.0),
        bath_gap_k=between(rng, 10.0, 35.0),
        bath_capacity_j_k=log_between(rng, 150.0, 4000.0),
        bath_loss_w_k=log_between(rng, 0.1, 3.0),
        seed=new_seed(rng),
    )


def _draw_sound(rng: Rng) -> Sound:
    return Sound(
        room_db=between(rng, 38.0, 58.0),
        machine_db=between(rng, 42.0, 88.0),
        echo_db=between(rng, 0.5, 4.0) if chance(rng, 0.5) else 0.0,
        meter_lag_s=pick(rng, (0.06, 0.125, 0.125, 1.0)),
    )


def draw_rig(seed: int, klass: Klass, channel_set: ChannelSet | None) -> Rig:
    """Give the rig of a seed and class.

    Args:
        seed: ≥ 0.
        klass: of the recording.
        channel_set: None draws one.
    Raises:
        ValueError: seed below 0.
    """
    drawn = draw_channel_set(stream(seed, klass, "channels"), klass)
    chosen = channel_set or drawn
    friction_seen = FRICTION_FORCE in CHANNELS_OF[chosen] and klass is not Klass.SCUFFING_WITH_FAULT
    contact = _draw_contact(stream(seed, klass, "contact"))
    drive = _draw_drive(stream(seed, klass, "drive"), contact, friction_seen)
    heat = _draw_heat(stream(seed, klass, "heat"))
    rng = stream(seed, klass, "columns")
    return Rig(
        drive=drive,
        contact=contact,
        heat=heat,
        sound=_draw_sound(stream(seed, klass, "sound")),
        readings=draw_readings(rng, contact, drive, calm=not friction_seen),
        load_reading=draw_load_reading(stream(seed, klass, "load column"), chosen),
        lever_error=between(rng, -0.03, 0.03),
        zero_n=between(rng, -0.01, 0.01) * contact.largest_load_n * 0.4,
        signed_current=chance(rng, 0.5),
        channel_set=chosen,
    )
