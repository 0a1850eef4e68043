"""Draws a rig. Every range is plausible and invented, unless a source stands beside it."""

import numpy as np
from world_b.values import ChannelSet, DriveKind, Klass, Tachometer

from .contact import ContactFacts
from .dice import Dice
from .drive import DriveFacts
from .heat import HeatFacts
from .lever import LeverFacts
from .rig import CurrentFacts, Rig, SlipFacts, TachometerFacts, UnrestFacts
from .sensor_draws import draw_cell, draw_sound, draw_thermocouple

CHANNEL_SHARES = {
    ChannelSet.ALL: 0.55,
    ChannelSet.FRICTION_CELL: 0.20,
    ChannelSet.LOAD_CELL: 0.12,
    ChannelSet.CURRENT_AND_SPEED: 0.08,
    ChannelSet.CURRENT_ONLY: 0.05,
}
_MOST_POWER_W = 450.0


def draw_rig(dice: Dice, klass: Klass, channel_set: ChannelSet | None) -> Rig:
    """Give a rig; the channel set is drawn too where none is asked for."""
    drawn_set = dice.weighed(CHANNEL_SHARES)
    if klass is Klass.SCUFFING_WITH_FAULT and drawn_set is ChannelSet.CURRENT_ONLY:
        drawn_set = ChannelSet.ALL
    radius_m = dice.flat(0.010, 0.040)
    sliding_m_s = dice.even_log(0.14, 5.0)
    speed_rpm = float(np.clip(sliding_m_s / radius_m * 30.0 / np.pi, 60.0, 3000.0)) * dice.flat(0.97, 1.03)
    speed_rpm = float(np.clip(np.round(speed_rpm, -1 if speed_rpm > 200 else 0), 60.0, 3000.0))
    sliding_m_s = speed_rpm * np.pi / 30.0 * radius_m
    boundary, share = dice.flat(0.07, 0.16), dice.flat(0.25, 0.97)
    most_n = _MOST_POWER_W / (boundary * sliding_m_s)
    top_n = float(dice.even_log(30.0, 2000.0))
    top_n = float(np.round(min(top_n, most_n), 1 if top_n < 100 else 0))
    film = dice.flat(0.012, 0.045)
    power_w = (boundary * share + film * (1.0 - share)) * top_n * sliding_m_s
    heat = _heat(dice, power_w)
    contact = _contact(dice, (boundary, film, share), top_n, power_w, heat)
    drive = _drive(dice, boundary * top_n * radius_m, speed_rpm)
    tachometer = _tachometer(dice, speed_rpm, drive.belt_share < np.inf)
    force_n = boundary * top_n
    return Rig(
        channel_set or drawn_set,
        radius_m,
        speed_rpm,
        top_n,
        contact,
        heat,
        drive,
        LeverFacts(dice.flat(2.5, 10.0), top_n * dice.flat(0.3, 2.0), dice.even_log(0.04, 0.4), _runout(dice)),
        draw_cell(dice, force_n * dice.even_log(3.5, 12.0), 0.006),
        draw_cell(dice, top_n * dice.even_log(1.4, 4.0), 0.06),
        _current(dice, drive),
        tachometer,
        draw_thermocouple(dice),
        draw_thermocouple(dice),
        draw_sound(dice),
        _unrest(dice),
        _slip(dice),
    )


def _runout(dice: Dice) -> float:
    return dice.even_log(0.0005, 0.03)


def _heat(dice: Dice, power_w: float) -> HeatFacts:
    ambient_degc = dice.flat(15.0, 30.0)
    heated = dice.chance(0.4)
    return HeatFacts(
        ambient_degc=ambient_degc,
        bath_rise_k=float(np.clip(power_w * dice.even_log(0.06, 0.6), 0.1, 15.0 if heated else 50.0)),
        bath_lag_s=dice.even_log(250.0, 2500.0),
        pin_rise_k=float(np.clip(power_w * dice.even_log(0.1, 1.5), 0.3, 40.0)),
        pin_lag_s=dice.even_log(6.0, 90.0),
        thermostat_degc=round(dice.flat(ambient_degc + 18.0, 90.0)) if heated else np.nan,
        hysteresis_k=dice.even_log(0.2, 2.5),
        heater_rise_k=dice.flat(120.0, 260.0),
        pin_sensor_lag_s=dice.round_bell(2.5, 0.9, 0.5, 30.0),
        bath_sensor_lag_s=dice.round_bell(5.0, 0.9, 0.5, 30.0),
    )


def _contact(
    dice: Dice, frictions: tuple[float, float, float], top_n: float, power_w: float, heat: HeatFacts
) -> ContactFacts:
    boundary, film, share = frictions
    surface_k = float(np.clip(dice.even_log(12.0, 70.0) * (power_w / 30.0) ** 0.3, 5.0, 90.0))
    width_k = dice.flat(5.0, 11.0)
    excess = boundary / (boundary * share + film * (1.0 - share))
    warm_degc = heat.hottest_bath_degc
    hottest_degc = warm_degc + excess * (heat.bath_rise_k + heat.pin_rise_k + 1.3 * surface_k)
    return ContactFacts(
        boundary_friction=boundary,
        film_friction=film,
        adhesive_friction=dice.flat(0.35, 0.7),
        asperity_share=share,
        top_load_n=top_n,
        viscosity_per_k=dice.flat(0.018, 0.04),
        warm_degc=warm_degc,
        film_lag_s=dice.even_log(0.05, 1.5),
        surface_rise_k=surface_k,
        surface_lag_s=dice.even_log(0.05, 0.6),
        # Blok's critical temperature is quoted at 120 to 200 degC for plain mineral oil on steel, more with additives.
        critical_degc=max(dice.flat(130.0, 230.0), hottest_degc + dice.flat(8.0, 14.0) * width_k),
        width_k=width_k,
        layer_per_s=dice.even_log(0.5, 4.0),
        running_in_share=dice.even_log(0.03, 0.5),
        running_in_s=dice.even_log(15.0, 400.0),
    )


def _drive(dice: Dice, friction_nm: float, speed_rpm: float) -> DriveFacts:
    kind = dice.weighed(
        {
            DriveKind.BRUSHED_BARE: 0.2,
            DriveKind.BRUSHED_LIMITED: 0.3,
            DriveKind.INDUCTION_DIRECT: 0.2,
            DriveKind.INDUCTION_INVERTER: 0.3,
        }
    )
    induction = kind in (DriveKind.INDUCTION_DIRECT, DriveKind.INDUCTION_INVERTER)
    drag_share = dice.even_log(0.06, 0.4)
    # Many a motor is bigger than its rig would need.
    full_nm = friction_nm * dice.even_log(1.0, 5.0) / (1.0 - drag_share)
    full_w = full_nm * speed_rpm * np.pi / 30.0 / dice.flat(0.45, 0.85)
    fitting = [volts for volts in (12.0, 24.0, 48.0, 90.0, 180.0) if full_w / volts < 12.0]
    volts = dice.one_of((230.0, 400.0) if induction else fitting or (180.0,))
    full_a = max(full_w / volts * dice.flat(1.0, 1.6), 0.15)
    accelerate_s, peak, ramp_s = {
        DriveKind.BRUSHED_BARE: (dice.even_log(0.2, 4.0), dice.even_log(2.2, 8.0), 0.0),
        DriveKind.BRUSHED_LIMITED: (
            dice.even_log(0.08, 1.0),
            dice.even_log(1.7, 4.5),
            0.0 if dice.chance(0.4) else dice.even_log(0.3, 4.0),
        ),
        DriveKind.INDUCTION_DIRECT: (dice.even_log(0.1, 2.2), dice.flat(2.2, 3.6), 0.0),
        DriveKind.INDUCTION_INVERTER: (dice.even_log(0.05, 0.8), dice.even_log(1.7, 3.5), dice.even_log(0.4, 6.0)),
    }[kind]
    gain = dice.even_log(6.0, 40.0)
    return DriveFacts(
        kind=kind,
        full_torque_nm=full_nm,
        full_current_a=full_a,
        drag_share=drag_share,
        cold_drag_share=dice.even_log(0.05, 0.8),
        drag_lag_s=dice.even_log(150.0, 1500.0),
        accelerate_s=accelerate_s,
        peak_share=peak,
        pull_out_slip=dice.flat(0.25, 0.45),
        full_slip=dice.even_log(0.004, 0.05),
        magnetising_share=dice.flat(0.3, 0.88) if induction else dice.even_log(0.02, 0.15),
        gain=gain,
        integral_per_s=gain * dice.even_log(1.0, 8.0),
        ramp_s=ramp_s,
        current_lag_s=dice.even_log(0.02, 0.15) if induction else dice.even_log(0.003, 0.06),
        cut_off_s=dice.even_log(3.0, 60.0),
        belt_share=dice.flat(1.8, 4.0) if dice.chance(0.22) else np.inf,
    )


def _current(dice: Dice, drive: DriveFacts) -> CurrentFacts:
    reach = dice.flat(1.5, 3.0) if dice.chance(0.15) else dice.flat(9.0, 14.0)
    controlled = drive.kind in (DriveKind.BRUSHED_LIMITED, DriveKind.INDUCTION_INVERTER)
    range_a = drive.full_current_a * reach
    bits = dice.one_of((10, 12, 12, 14, 16))
    return CurrentFacts(
        range_a=range_a,
        noise_share=dice.even_log(0.001, 0.04),
        step_a=range_a / 2**bits,
        zero_share=dice.flat(-0.01, 0.01),
        ripple_share=dice.even_log(0.001, 0.03),
        hum_share=dice.even_log(0.001, 0.01) if dice.chance(0.4) else 0.0,
        hunt_share=dice.even_log(0.005, 0.05) if controlled and dice.chance(0.2) else 0.0,
        hunt_hz=dice.even_log(0.2, 4.0),
    )


def _tachometer(dice: Dice, speed_rpm: float, belt: bool) -> TachometerFacts:
    kind = dice.weighed({Tachometer.PERIOD: 0.45, Tachometer.GATE: 0.35, Tachometer.ANALOGUE: 0.2})
    pulses = 0 if kind is Tachometer.ANALOGUE else dice.one_of((1, 1, 2, 4, 8, 20, 60, 100, 360, 1024))
    gate_s = dice.flat(0.5, 3.0) if kind is Tachometer.PERIOD else dice.one_of((0.1, 0.2, 0.5, 1.0))
    if kind is Tachometer.GATE:
        # A gate that holds fewer than ten pulses would be nobody's choice.
        pulses = max(pulses, int(np.ceil(10.0 / (gate_s * speed_rpm / 60.0))))
    if kind is Tachometer.PERIOD:
        pulses = max(pulses, int(np.ceil(60.0 / speed_rpm / 0.7)))
    return TachometerFacts(
        kind, pulses, belt and dice.chance(0.25), gate_s, dice.even_log(0.0005, 0.01), speed_rpm * dice.flat(1.5, 3.0)
    )


def _unrest(dice: Dice) -> UnrestFacts:
    return UnrestFacts(
        broad_share=dice.even_log(0.004, 0.05),
        broad_lag_s=dice.even_log(0.01, 0.4),
        slow_share=dice.even_log(0.003, 0.03),
        slow_lag_s=dice.even_log(3.0, 60.0),
        film_share=dice.even_log(0.01, 0.08),
        film_lag_s=dice.even_log(2.0, 90.0),
        turn_share=dice.even_log(0.002, 0.06),
    )


def _slip(dice: Dice) -> SlipFacts:
    return SlipFacts(
        frequency_hz=dice.even_log(3.0, 45.0),
        damping_ratio=dice.flat(0.02, 0.15),
        static_excess=dice.flat(0.2, 0.9),
        fading_share=dice.flat(0.15, 0.6),
        travel=dice.even_log(0.05, 0.5),
    )
