"""From what truly went on to what each sensor shows, at the instants of the rows.

Reads `world_m.gauges`, `world_m.run`. Each channel has a random stream of its own.
"""

from collections.abc import Callable
from math import isnan, pi

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Floats,
    Tachometer,
)

from world_m.gauges import Gauge, Gauges, SpeedGauge
from world_m.grid import STEP_S, lagged, wander
from world_m.noise import level_db, power
from world_m.run import Traces
from world_m.streams import Stream

Signal = Callable[[Floats], Floats]
"""A value at any instants."""


def readings(
    streams: Callable[[str], Stream],
    names: tuple[str, ...],
    row_s: Floats,
    gauges: Gauges,
    traces: Traces,
    sound: Floats,
) -> dict[str, Floats]:
    """Give what each named channel shows at the rows, (n,) each, whole: nothing missing yet."""
    shown = {}
    for name in names:
        gauge = gauges.of[name]
        signal = _signal(name, gauge, gauges, traces, sound)
        shown[name] = _convert(streams(name), row_s, gauge, signal, traces.night_s)
    return shown


def _signal(name: str, gauge: Gauge, gauges: Gauges, traces: Traces, sound: Floats) -> Signal:
    if name == RING_SPEED:
        return _speed(gauges.speed, gauge, traces)
    if name == SOUND_LEVEL:
        metered = level_db(lagged(power(sound), gauge.lag_s, STEP_S))
        return _between_steps(traces.t_s, metered)
    raw = {
        NORMAL_LOAD: traces.load_n + gauge.cross * traces.friction_n,
        FRICTION_FORCE: traces.friction_n + gauge.cross * traces.load_n,
        MOTOR_CURRENT: traces.current_a,
        PIN_TEMPERATURE: traces.pin_degc,
        BATH_TEMPERATURE: traces.bath_degc,
    }[name]
    return _between_steps(traces.t_s, _day_by_day(raw, gauge.lag_s, traces))


def _day_by_day(raw: Floats, lag_s: float, traces: Traces) -> Floats:
    """Give a lagged signal that is settled on each morning."""
    morning = int(np.searchsorted(traces.t_s, traces.night_s)) if not isnan(traces.night_s) else 0
    return np.concatenate([lagged(raw[:morning], lag_s, STEP_S), lagged(raw[morning:], lag_s, STEP_S)])


def _between_steps(t_s: Floats, values: Floats) -> Signal:
    return lambda at_s: np.interp(at_s, t_s, values)


def _convert(rng: Stream, row_s: Floats, gauge: Gauge, signal: Signal, night_s: float) -> Floats:
    """Sample, add what the electronics add, quantise, and hold until the next conversion, though not overnight."""
    if gauge.converter_hz:
        first_s = float(rng.uniform(0.0, 1.0)) / gauge.converter_hz
        at_s = np.arange(-first_s, row_s[-1], 1.0 / gauge.converter_hz)
    else:
        at_s = row_s
    step_s = float(at_s[1] - at_s[0])
    value = gauge.gain * signal(np.maximum(at_s, 0.0)) + gauge.offset + gauge.creep * at_s / 3600.0
    value += gauge.white * rng.standard_normal(at_s.size)
    value += gauge.pink * wander(rng, at_s.size, gauge.pink_s, step_s)
    value += gauge.hum * np.sin(2.0 * pi * gauge.hum_hz * at_s + float(rng.uniform(0.0, 2.0 * pi)))
    value = np.clip(np.round(value / gauge.step) * gauge.step, gauge.low, gauge.high)
    if gauge.converter_hz:
        held = np.searchsorted(at_s, row_s, side="right") - 1
        morning = min(int(np.searchsorted(at_s, night_s)), at_s.size - 1)
        return value[np.where(row_s >= night_s, np.maximum(held, morning), held)]
    return value


def _speed(tachometer: SpeedGauge, gauge: Gauge, traces: Traces) -> Signal:
    """Give the ring's r/min as the tachometer knows it, before the noise of its electronics."""
    truth_rad_s = traces.motor_rad_s if tachometer.on_motor else traces.ring_rad_s
    if tachometer.kind is Tachometer.ANALOGUE:
        return _between_steps(traces.t_s, lagged(truth_rad_s, gauge.lag_s, STEP_S) * 30.0 / pi)
    angle_rad = np.cumsum(truth_rad_s) * STEP_S
    pulse_rad = 2.0 * pi / tachometer.pulses_per_turn
    if tachometer.kind is Tachometer.GATE:
        return lambda at_s: _counted(at_s, traces.t_s, angle_rad, pulse_rad, tachometer.gate_s)
    if traces.ring_rad_s.max() * STEP_S > 2.0 * pulse_rad:
        return _between_steps(traces.t_s, truth_rad_s * 30.0 / pi)
    return lambda at_s: _timed(at_s, traces.t_s, angle_rad, pulse_rad, tachometer.quiet_s)


def _counted(at_s: Floats, t_s: Floats, angle_rad: Floats, pulse_rad: float, gate_s: float) -> Floats:
    """Give the pulses of the last whole gate."""
    end_s = np.floor(at_s / gate_s) * gate_s
    pulses = [np.floor(np.interp(edge_s, t_s, angle_rad) / pulse_rad) for edge_s in (end_s, end_s - gate_s)]
    return (pulses[0] - pulses[1]) * pulse_rad / gate_s * 30.0 / pi


def _timed(at_s: Floats, t_s: Floats, angle_rad: Floats, pulse_rad: float, quiet_s: float) -> Floats:
    """Give the time between the last two pulses, or since the last where that is longer already."""
    rising_rad = angle_rad + 1e-9 * np.arange(angle_rad.size)
    count = np.floor(np.interp(at_s, t_s, rising_rad) / pulse_rad)
    last_s = np.interp(count * pulse_rad, rising_rad, t_s)
    before_s = np.interp((count - 1.0) * pulse_rad, rising_rad, t_s)
    since_s = at_s - last_s
    gap_s = np.maximum(np.maximum(last_s - before_s, since_s), 1e-6)
    return np.where((since_s > quiet_s) | (count < 2.0), 0.0, pulse_rad / gap_s * 30.0 / pi)
