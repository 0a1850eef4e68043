"""Draws a rig.

Reads a stream of draws, a class and a channel set, gives a `Rig`.
"""

from dataclasses import replace
from math import inf, log10, pi

from world_b.values import CHANNELS_OF, ChannelSet, DriveKind, Fault, Klass, Tachometer

from .chance import Chance
from .gauging import gauges_of
from .rig import Drive, Film, Heat, Pulses, Rig, Sound

_SETS = {
    ChannelSet.ALL: 45.0,
    ChannelSet.FRICTION_CELL: 25.0,
    ChannelSet.LOAD_CELL: 12.0,
    ChannelSet.CURRENT_AND_SPEED: 10.0,
    ChannelSet.CURRENT_ONLY: 8.0,
}
_DRIVES = {
    DriveKind.BRUSHED_BARE: 20.0,
    DriveKind.BRUSHED_LIMITED: 30.0,
    DriveKind.INDUCTION_DIRECT: 20.0,
    DriveKind.INDUCTION_INVERTER: 30.0,
}
_SMALLEST_MOTOR_W = 12.0
_THERMAL = (ChannelSet.ALL, ChannelSet.FRICTION_CELL, ChannelSet.LOAD_CELL)
_WITH_SPEED = (ChannelSet.ALL, ChannelSet.LOAD_CELL, ChannelSet.CURRENT_AND_SPEED)


def draw_rig(chance: Chance, klass: Klass, fault: Fault | None, channel_set: ChannelSet | None) -> Rig:
    """Draw a rig on which the class makes sense.

    Args:
        chance: stream.
        klass: of the recording.
        fault: a sensor must be able to have it.
        channel_set: given by hand, or None to be drawn.
    """
    drawn = _channel_set(chance, klass, fault)
    channels = channel_set or drawn
    radius_m, speed_rad_s, load_n = _sizes(chance)
    film = _film(chance, speed_rad_s)
    top_nm = film.boundary_ratio * load_n * radius_m
    top_w = top_nm * speed_rad_s
    drive = draw_drive(chance, top_nm, speed_rad_s, klass)
    rig = Rig(
        channels,
        radius_m,
        speed_rad_s,
        load_n,
        film,
        _heat(chance, top_w, klass),
        drive,
        _sound(chance, top_w),
        _pulses(chance, speed_rad_s * 30.0 / pi, drive.belt_nm < inf),
        {},
    )
    drawn_gauges = gauges_of(chance, rig)
    return replace(rig, gauges={name: drawn_gauges[name] for name in CHANNELS_OF[channels]})


def _channel_set(chance: Chance, klass: Klass, fault: Fault | None) -> ChannelSet:
    fits = list(_SETS)
    if klass is Klass.SCUFFING_WITH_FAULT:
        fits.remove(ChannelSet.CURRENT_ONLY)
    if fault is Fault.OPEN_THERMOCOUPLE:
        fits = [each for each in fits if each in _THERMAL]
    if fault is Fault.TACHOMETER_LOST:
        fits = [each for each in fits if each in _WITH_SPEED]
    return chance.one(fits, [_SETS[each] for each in fits])


def _sizes(chance: Chance) -> tuple[float, float, float]:
    """Draw radius in m, speed in rad/s and top load in N, until sliding speed and friction power are those of a rig."""
    while True:
        radius_m = chance.ratio(0.010, 0.040)
        speed_rad_s = chance.ratio(60.0, 3000.0) * pi / 30.0
        load_n = chance.ratio(40.0, 2000.0)
        slides_m_s = radius_m * speed_rad_s
        if 0.06 < slides_m_s < 7.0 and 4.0 < 0.1 * load_n * slides_m_s < 400.0:
            return radius_m, speed_rad_s, load_n


def _film(chance: Chance, speed_rad_s: float) -> Film:
    return Film(
        film_ratio=chance.ratio(0.03, 0.045),
        boundary_ratio=chance.ratio(0.075, 0.14),
        share_at_top=chance.between(0.25, 0.95),
        hersey_power=chance.between(0.25, 0.9),
        thinning_per_k=chance.between(0.01, 0.03),
        lag_s=chance.ratio(3.0, 40.0),
        run_in_share=chance.between(0.02, 0.3),
        run_in_s=chance.ratio(6.0, 90.0),
        rest_ratio=chance.between(1.05, 1.3),
        low_speed_rad_s=speed_rad_s * chance.ratio(0.01, 0.08),
        held_share=chance.between(0.0, 0.4),
        unrest_share=chance.ratio(0.004, 0.03),
        unrest_s=chance.ratio(0.01, 0.6),
        wander_share=chance.ratio(0.005, 0.025),
        wander_s=chance.ratio(20.0, 200.0),
        ripple_share=chance.ratio(0.002, 0.04),
    )


def _heat(chance: Chance, top_w: float, klass: Klass) -> Heat:
    """Draw the bath from its rise and time constant at the top load, and a heater on a third of the rigs.

    Where heat goes wrong, the bath is small for its friction; otherwise that would take hours.
    """
    small = klass is Klass.OVERHEAT
    bath_w_per_k = top_w / (chance.ratio(20.0, 60.0) if small else chance.ratio(6.0, 50.0))
    pin_share = chance.between(0.15, 0.5)
    pin_w_per_k = pin_share * top_w / chance.ratio(8.0 if small else 2.0, 25.0)
    heat = Heat(
        ambient_degc=chance.between(16.0, 28.0),
        bath_j_per_k=bath_w_per_k * (chance.ratio(150.0, 600.0) if small else chance.ratio(200.0, 1500.0)),
        bath_w_per_k=bath_w_per_k,
        pin_j_per_k=pin_w_per_k * chance.ratio(3.0, 20.0),
        pin_w_per_k=pin_w_per_k,
        pin_share=pin_share,
    )
    set_degc, spare = chance.between(40.0, 90.0), chance.ratio(1.8, 4.0)
    if not chance.yes(0.33):
        return heat
    needed_w = bath_w_per_k * (set_degc - heat.ambient_degc)
    return replace(heat, heater_w=spare * needed_w, heater_set_degc=set_degc)


def draw_drive(chance: Chance, top_nm: float, speed_rad_s: float, klass: Klass) -> Drive:
    """Draw a drive for a friction torque and a speed.

    Args:
        chance: stream.
        top_nm: friction torque at the top load, all on boundary layers, N m.
        speed_rad_s: set speed with the pin lifted.
        klass: a seizure needs a drive that can be held.
    """
    kind = chance.one(list(_DRIVES), list(_DRIVES.values()))
    drag_nm = top_nm * chance.ratio(0.06, 0.6)
    full_nm = (1.2 * top_nm + drag_nm) * chance.ratio(1.2, 1.9 if klass is Klass.SEIZURE else 3.5)
    full_nm = max(full_nm, _SMALLEST_MOTOR_W / speed_rad_s)
    drag_nm = max(drag_nm, chance.between(0.04, 0.1) * full_nm)
    over = {
        DriveKind.BRUSHED_BARE: chance.between(3.5, 7.0),
        DriveKind.BRUSHED_LIMITED: chance.between(1.4, 2.5),
        DriveKind.INDUCTION_DIRECT: chance.between(2.0, 3.0),
        DriveKind.INDUCTION_INVERTER: chance.between(1.5, 2.2),
    }[kind]
    slip = chance.between(0.3, 0.45)
    give = chance.ratio(0.02, 0.08)
    slope_nms = full_nm / (give * speed_rad_s)
    lost = {
        DriveKind.BRUSHED_BARE: drag_nm / (over * full_nm),
        DriveKind.BRUSHED_LIMITED: 0.0,
        DriveKind.INDUCTION_DIRECT: drag_nm * slip / (2.0 * over * full_nm),
        DriveKind.INDUCTION_INVERTER: drag_nm / (slope_nms * speed_rad_s),
    }[kind]
    free_rad_s = speed_rad_s / (1.0 - lost) if kind is not DriveKind.INDUCTION_INVERTER else speed_rad_s * (1.0 + lost)
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    supply_v = _supply_v(chance, full_nm * speed_rad_s) if brushed else 230.0
    per_a = supply_v / free_rad_s if brushed else min(230.0 / free_rad_s * chance.between(0.5, 0.8), full_nm / 0.2)
    inertia = full_nm * chance.ratio(0.15, 1.5) / speed_rad_s
    ring_part = chance.between(0.15, 0.5)
    belt = chance.yes(0.25)
    belt_nm = full_nm * chance.ratio(1.5, 4.0) if belt else inf
    return Drive(
        kind=kind,
        supply_v=supply_v,
        free_speed_rad_s=free_rad_s,
        full_torque_nm=full_nm,
        top_torque_nm=over * full_nm,
        torque_per_a=per_a,
        magnetising_a=0.0 if brushed else full_nm / per_a * chance.between(0.35, 0.9),
        pull_out_slip=slip,
        slope_nms=slope_nms,
        ramp_s=chance.ratio(0.4, 4.0),
        motor_kgm2=inertia * (1.0 - ring_part),
        ring_kgm2=inertia * ring_part,
        drag_nm=drag_nm,
        belt_nm=belt_nm,
        cut_off_s=chance.ratio(4.0, 60.0),
    )


def _supply_v(chance: Chance, full_w: float) -> float:
    """Draw the voltage at which direct-current motors of a power are sold."""
    if full_w < 60.0:
        return chance.one((12.0, 24.0))
    return chance.one((24.0, 48.0)) if full_w < 300.0 else chance.one((90.0, 180.0))


def _sound(chance: Chance, top_w: float) -> Sound:
    motor_db = chance.between(50.0, 72.0)
    changes = chance.one((1, 0, -1), (80.0, 10.0, 10.0))
    return Sound(
        room_db=chance.between(34.0, 52.0),
        motor_db=motor_db,
        contact_db=motor_db + chance.between(-8.0, 6.0) + log10(max(top_w, 1.0)),
        top_w=top_w,
        power_law=chance.between(0.6, 1.2),
        damage_db={1: chance.between(2.0, 15.0), 0: 0.0, -1: chance.between(-8.0, -3.0)}[changes],
        meter_s=chance.one((0.125, 1.0), (65.0, 35.0)),
        flutter_db=chance.ratio(0.3, 2.0),
        offset_db=chance.between(-115.0, -95.0) if chance.yes(1.0 / 7.0) else 0.0,
    )


def _pulses(chance: Chance, speed_rpm: float, belt: bool) -> Pulses:
    """Draw a tachometer a technician would have chosen for the speed: it reads every half second, to 4 %."""
    on_motor = belt and chance.yes(0.25)
    kind = chance.one((Tachometer.PERIOD, Tachometer.GATE, Tachometer.ANALOGUE), (45.0, 35.0, 20.0))
    gate_s = chance.one((0.1, 0.2, 0.5))
    if kind is Tachometer.ANALOGUE:
        return Pulses(kind, 0, 0.0, on_motor)
    if kind is Tachometer.PERIOD:
        fits = [n for n in (1, 2, 4, 10, 60) if n * speed_rpm / 60.0 > 2.0]
        return Pulses(kind, chance.one(fits), chance.between(1.0, 2.5), on_motor)
    fits = [n for n in (20, 60, 100, 360, 1024) if 60.0 / (n * gate_s) < 0.04 * speed_rpm] or [1024]
    return Pulses(kind, fits[0], gate_s, on_motor)
