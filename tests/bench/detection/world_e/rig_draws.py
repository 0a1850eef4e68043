"""Draws a rig: sizes first, then a motor that suits them, oil, heat and instruments.

Reads dice, gives a `Rig`. Every number without a source is plausible and invented; the ranges of diameter, speed, load
and friction are those that pin-on-ring benches of this project cover.
"""

from math import inf, pi

from world_b.values import ChannelSet, DriveKind, Tachometer

from .chance import Dice, between, happens, one_of, scaled
from .motors import rated_a, start_a
from .rig import Contact, Motor, Rig, Sensing, Warmth

CELLS_N = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
CLAMPS_A = (0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0, 200.0)
_SETS = (
    ChannelSet.ALL,
    ChannelSet.FRICTION_CELL,
    ChannelSet.LOAD_CELL,
    ChannelSet.CURRENT_AND_SPEED,
    ChannelSet.CURRENT_ONLY,
)
LEVER_HZ = (2.0, 9.0)
"""Of a lever that bounces (DETECTION 1.4)."""
_OFTEN = (0.50, 0.16, 0.16, 0.10, 0.08)


def draw_rig(dice: Dice, channel_set: ChannelSet | None) -> Rig:
    """Draw a rig; a given channel set takes the place of the drawn one and changes nothing else."""
    while True:
        radius_m, rpm, load_n = scaled(dice, 0.010, 0.050), scaled(dice, 50.0, 3000.0), scaled(dice, 40.0, 2000.0)
        slide_m_s = radius_m * rpm * pi / 30.0
        if 0.12 <= slide_m_s <= 5.0 and 1.0 <= 0.1 * load_n * slide_m_s <= 280.0:
            break
    contact = _contact(dice)
    motor = _motor(dice, rpm * pi / 30.0, contact.film_mu * load_n * radius_m)
    warmth = _warmth(dice, contact.film_mu * load_n * slide_m_s)
    return Rig(
    radius_m=radius_m, most_load_n=load_n, lever_hz=between(dice, *LEVER_HZ), lever_damping=scaled(dice, 0.04, 0.3),
    lifts=happens(dice, 0.2),
    dwell_s=one_of(dice, (30.0, 60.0, 90.0, 120.0, 180.0, 600.0), (1.5, 3.0, 2.0, 3.0, 2.0, 0.6)),
    mid_run=happens(dice, 0.2), loaded_start=happens(dice, 0.4), hum=happens(dice, 0.15),
    coarse=happens(dice, 0.15), motor=motor, contact=contact, warmth=warmth,
    sensing=_sensing(dice, channel_set, motor, load_n),
)  # fmt: skip


def _contact(dice: Dice) -> Contact:
    return Contact(
    film_mu=between(dice, 0.085, 0.128), bare_share=between(dice, 0.1, 0.6), fluid_mu=between(dice, 0.012, 0.03),
    fluid_ratio=one_of(dice, (scaled(dice, 0.01, 0.1), scaled(dice, 0.1, 2.5))),
    viscosity_per_k=between(dice, 0.018, 0.035), wear_in_s=scaled(dice, 1.5, 15.0), film_s=scaled(dice, 8.0, 90.0),
    static_share=between(dice, 0.0, 0.3), left_share=between(dice, 0.0, 0.45), fast_share=scaled(dice, 0.006, 0.05),
    slow_share=scaled(dice, 0.006, 0.035), slow_s=scaled(dice, 1.5, 40.0), fast_s=scaled(dice, 0.004, 0.06),
    run_out_share=scaled(dice, 0.003, 0.08), scuffed_mu=scaled(dice, 0.2, 0.7),
    lift_share=between(dice, -0.08, 0.08),
)  # fmt: skip


def _motor(dice: Dice, speed_rad_s: float, friction_nm: float) -> Motor:
    drag_nm = friction_nm * scaled(dice, 0.12, 0.8)
    rated_nm = (friction_nm + drag_nm) * between(dice, 1.15, 2.4)
    mains = 1.5 if rated_nm * speed_rad_s > 20.0 else 0.0  # no smaller induction motor is to be had
    kind = one_of(dice, list(DriveKind), (1.0, 1.0, mains, mains))
    brushed = kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED)
    rated_nm *= 1.0 if brushed else between(dice, 1.0, 1.5)
    most = {
        DriveKind.BRUSHED_BARE: between(dice, 2.8, 7.0),
        DriveKind.BRUSHED_LIMITED: between(dice, 1.3, 2.2),
        DriveKind.INDUCTION_DIRECT: between(dice, 1.9, 2.9),
        DriveKind.INDUCTION_INVERTER: between(dice, 1.4, 1.9),
    }[kind]
    slip = {DriveKind.INDUCTION_DIRECT: between(dice, 0.16, 0.35), DriveKind.INDUCTION_INVERTER: 0.04}.get(kind, 0.0)
    ramps = {DriveKind.BRUSHED_LIMITED: scaled(dice, 0.4, 4.0), DriveKind.INDUCTION_INVERTER: scaled(dice, 1.0, 6.0)}
    volts = one_of(dice, (12.0, 24.0, 48.0, 90.0, 180.0)) if brushed else one_of(dice, (230.0, 400.0)) * 3.0**0.5
    while brushed and rated_nm * speed_rad_s > 15.0 * volts:
        volts *= 2.0
    amps_per_nm = speed_rad_s / (volts * between(dice, 0.6, 0.85))
    inertia = rated_nm * between(dice, 0.3, 1.2) / speed_rad_s
    ring_share = between(dice, 0.1, 0.5)
    return Motor(
    kind=kind, set_speed_rad_s=speed_rad_s, rated_torque_nm=rated_nm, most_torque_nm=rated_nm * most,
    drag_torque_nm=drag_nm, cold_drag_share=between(dice, 0.0, 0.4), amps_per_nm=amps_per_nm,
    idle_a=0.0 if brushed else amps_per_nm * rated_nm * between(dice, 0.5, 0.95), slip=slip,
    ramp_s=ramps.get(kind, 0.0), motor_inertia_kgm2=inertia * (1.0 - ring_share),
    ring_inertia_kgm2=inertia * ring_share,
    belt_torque_nm=rated_nm * between(dice, 1.6, 3.2) if happens(dice, 0.4) else inf,
    volts_wander_share=scaled(dice, 0.001, 0.012),
)  # fmt: skip


def _warmth(dice: Dice, friction_w: float) -> Warmth:
    ambient, held_s = between(dice, 17.0, 27.0), between(dice, 900.0, 3000.0)
    bath_j_k = min(max(held_s * friction_w / between(dice, 8.0, 35.0), 150.0), 6000.0)
    bath_w_k = max(bath_j_k / held_s, friction_w / 45.0)
    heated, pin_share = happens(dice, 0.35), between(dice, 0.25, 0.5)
    held_degc = between(dice, 40.0, 95.0) if heated else ambient
    return Warmth(
    ambient_degc=ambient, bath_j_k=bath_j_k, bath_w_k=bath_w_k,
    pin_w_k=pin_share * friction_w / between(dice, 4.0, 20.0), pin_s=scaled(dice, 3.0, 20.0), pin_share=pin_share,
    heater_w=heated * max(bath_w_k * (held_degc - ambient) * 1.5, bath_j_k * between(dice, 0.03, 0.12)),
    held_degc=held_degc, on_off=happens(dice, 0.5),
)  # fmt: skip


def _sensing(dice: Dice, channel_set: ChannelSet | None, motor: Motor, load_n: float) -> Sensing:
    drawn = one_of(dice, _SETS, _OFTEN)
    brushed = motor.idle_a == 0.0
    need_a = max(1.25 * rated_a(motor), 0.4)
    need_a = need_a if happens(dice, 0.4) else max(need_a, 1.1 * start_a(motor))
    tachometer = one_of(dice, list(Tachometer), (0.45, 0.3, 0.25))
    rpm = motor.set_speed_rad_s * 30.0 / pi
    pulses = one_of(dice, (1, 2, 6, 20, 60)) if tachometer is Tachometer.PERIOD else one_of(dice, (20, 60, 100, 360))
    gate_s = one_of(dice, (0.1, 0.2, 0.5, 1.0))
    while tachometer is Tachometer.GATE and rpm / 60.0 * pulses * gate_s < 15.0:
        pulses *= 2
    return Sensing(
    channel_set=drawn if channel_set is None else channel_set,
    cell_n=_size(CELLS_N, load_n * between(dice, 0.3, 0.8)), cell_s=1.0 / (2.0 * pi * scaled(dice, 4.0, 40.0)),
    load_cell_n=_size(CELLS_N, load_n * between(dice, 1.2, 2.2)), force_noise=scaled(dice, 0.0003, 0.002),
    current_full_a=_size(CLAMPS_A, need_a),
    current_s=scaled(dice, 0.005, 0.05) if brushed else scaled(dice, 0.03, 0.3),
    current_noise=scaled(dice, 0.0005, 0.004), couple_s=between(dice, 0.5, 5.0),
    couple_step_k=one_of(dice, (0.0, 0.06, 0.1, 0.25)), couple_noise_k=scaled(dice, 0.02, 0.25),
    sound_s=one_of(dice, (0.125, 1.0)), quiet_db=between(dice, 38.0, 52.0), rig_db=between(dice, 56.0, 74.0),
    tachometer=tachometer, pulses_per_turn=0 if tachometer is Tachometer.ANALOGUE else pulses, gate_s=gate_s,
    tachometer_on_motor=happens(dice, 0.25),
)  # fmt: skip


def _size(sizes: tuple[float, ...], need: float) -> float:
    return next((size for size in sizes if size >= need), sizes[-1])
