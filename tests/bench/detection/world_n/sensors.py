"""What the sensors show of a picture before noise: zeros, lags, tachometers, a load column typed in by hand.

Reads a `Picture` and its `Chart`, gives channel name to (n,) float64 in the channel's unit.
"""

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
    Tachometer,
)

from world_n.chart import Chart
from world_n.contact import listed
from world_n.curves import decay, smooth, window
from world_n.names import LoadReading, Oddity
from world_n.picture import Picture
from world_n.scene import Scene

FASTEST_PULSES_HZ = 150.0
SILENT_TURN_S = 1.5
"""Beyond this time without a pulse, and beyond three pulse times, a period counter shows 0."""


def _load_n(picture: Picture, scene: Scene) -> Floats:
    rig = scene.rig
    if rig.load_reading is not LoadReading.TYPED:
        error = rig.lever_error if rig.load_reading is LoadReading.LEVER else 0.0
        return picture.load_n * (1.0 + error) + _leaning_n(picture.t_s, scene)
    shown_n = np.zeros(len(picture.t_s))
    for i, step in enumerate(listed(scene)):
        late_s = np.random.default_rng([rig.contact.seed, i]).uniform(-1.0, 5.0)
        shown_n = np.where(picture.t_s >= step.t_s + late_s, step.load_n, shown_n)
    return shown_n


def _leaning_n(t_s: Floats, scene: Scene) -> Floats:
    extra_n = np.zeros(len(t_s))
    for mark in scene.of(Oddity.LEANING):
        size_n = (mark.size - 0.5) * 0.03 * scene.rig.contact.largest_load_n
        extra_n += size_n * window(t_s - mark.t_s, mark.duration_s, 0.25 * mark.duration_s)
    return extra_n


def zero_n(t_s: Floats, scene: Scene) -> Floats:
    """Give what the friction cell shows of no force at all."""
    contact, zero = scene.rig.contact, np.full(len(t_s), scene.rig.zero_n)
    usual_n = contact.coefficient * contact.largest_load_n
    for mark in scene.of(Oddity.AMPLIFIER_WARM_UP):
        zero += (mark.size - 0.5) * 0.2 * usual_n * np.exp(-t_s / 400.0)
    for mark in scene.of(Oddity.RETARED):
        zero = np.where(t_s < mark.t_s + 0.5 * mark.duration_s, zero, 0.2 * (mark.size - 0.5) * scene.rig.zero_n)
    return np.asarray(zero + 0.4 * _leaning_n(t_s, scene))


def _speed_rpm(picture: Picture, chart: Chart, scene: Scene) -> Floats:
    drive, t_s = scene.rig.drive, picture.t_s
    on_motor = drive.tachometer_on_motor
    share, turns = (picture.motor_share, chart.motor_turns) if on_motor else (picture.ring_share, chart.ring_turns)
    pulses = turns * drive.pulses_per_turn
    if drive.tachometer is Tachometer.ANALOGUE:
        return share * drive.speed_rpm
    if drive.tachometer is Tachometer.GATE:
        gate_s = drive.gate_s
        end_s = np.floor(t_s / gate_s) * gate_s
        counts = np.floor(chart.at(end_s, pulses)) - np.floor(chart.at(end_s - gate_s, pulses))
        first_counts = share * drive.speed_rpm / 60.0 * gate_s * drive.pulses_per_turn
        counts = np.where(end_s < gate_s, np.floor(first_counts), counts)
        return np.asarray(counts * 60.0 / (gate_s * drive.pulses_per_turn))
    rate_hz = drive.pulses_per_turn * drive.speed_rpm / 60.0
    if rate_hz > FASTEST_PULSES_HZ:
        return share * drive.speed_rpm
    return _by_period(t_s, chart.t_s, pulses, drive.pulses_per_turn, share * drive.speed_rpm)


def _by_period(t_s: Floats, chart_s: Floats, pulses: Floats, per_turn: int, instant_rpm: Floats) -> Floats:
    """Give 60 s over the time between the last two pulses, less when the next one is late, 0 when very late."""
    last = np.floor(np.interp(t_s, chart_s, pulses) + 1e-9)
    last_s = np.interp(last, pulses, chart_s)
    earlier_s = np.interp(last - 1.0, pulses, chart_s)
    between_s = np.maximum(last_s - earlier_s, 1e-4)
    waited_s = np.maximum(t_s - last_s, 0.0)
    rpm = 60.0 / (per_turn * np.maximum(between_s, waited_s))
    rpm = np.where(waited_s > np.maximum(SILENT_TURN_S, 3.0 * between_s), 0.0, rpm)
    return np.where(last < 2.0, instant_rpm, rpm)


def lead_k(t_s: Floats, scene: Scene) -> Floats:
    """Give by how much a nudged lead shifts the pin's thermocouple."""
    shift_k = np.zeros(len(t_s))
    for mark in scene.of(Oddity.LEAD_NUDGED):
        shift_k += 3.0 * (mark.size - 0.5) * smooth((t_s - mark.t_s) / 0.1)
        shift_k += 2.0 * (mark.size - 0.5) * decay(t_s - mark.t_s, 3.0)
    for mark in scene.of(Oddity.FAN_HEATER):
        period_s = 60.0 + 120.0 * mark.size
        shift_k += 0.4 * mark.size * window(np.mod(t_s, period_s), 0.5 * period_s, 0.2 * period_s)
    return shift_k


def show(picture: Picture, chart: Chart, scene: Scene) -> dict[str, Floats]:
    """Give what each channel of the rig would show without noise."""
    t_s = picture.t_s
    late_s = t_s - scene.rig.readings[MOTOR_CURRENT].delay_s
    shown = {
        NORMAL_LOAD: _load_n(picture, scene),
        FRICTION_FORCE: picture.friction_n + zero_n(t_s, scene),
        MOTOR_CURRENT: np.interp(late_s, t_s, picture.current_a),
        SOUND_LEVEL: chart.at(t_s, chart.sound_shown_db),
        PIN_TEMPERATURE: chart.at(t_s, chart.pin_shown_degc) + lead_k(t_s, scene),
        BATH_TEMPERATURE: chart.at(t_s, chart.bath_shown_degc),
        RING_SPEED: _speed_rpm(picture, chart, scene),
    }
    return {name: shown[name] for name in CHANNELS_OF[scene.rig.channel_set]}
