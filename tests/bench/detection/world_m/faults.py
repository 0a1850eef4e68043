"""A sensor that goes wrong for good.

Reads `world_m.gauges`. The choice keeps to what can be told from a real event by somebody who sees every channel left.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    Fault,
    Floats,
    Klass,
)

from world_m.gauges import Gauges
from world_m.streams import Stream, between, happens

CHOICES = {
    NORMAL_LOAD: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    FRICTION_FORCE: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.DRIFT, Fault.SIGN_FLIP),
    MOTOR_CURRENT: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT),
    SOUND_LEVEL: (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT),
    PIN_TEMPERATURE: (Fault.STUCK, Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.DRIFT),
    BATH_TEMPERATURE: (Fault.STUCK, Fault.OPEN_THERMOCOUPLE, Fault.DROPOUT, Fault.DRIFT),
    RING_SPEED: (Fault.TACHOMETER_LOST, Fault.STUCK, Fault.DROPOUT),
}


@dataclass(frozen=True, slots=True)
class Broken:
    """Which sensor goes wrong, how, and when on the clock without breaks."""

    channel: str
    fault: Fault
    t_s: float


def draw_broken(rng: Stream, klass: Klass, names: tuple[str, ...], t_s: float) -> Broken:
    """Draw the sensor and its fault; where a scuffing is to follow, one channel that shows it stays sound."""
    if len(names) == 1:
        lone = (Fault.DROPOUT,) if klass is Klass.SCUFFING_WITH_FAULT else CHOICES[names[0]]
        return Broken(names[0], lone[int(rng.integers(len(lone)))], t_s)
    channel = names[int(rng.integers(len(names)))]
    if klass is Klass.SCUFFING_WITH_FAULT and len(names) == 2:
        channel = RING_SPEED
    faults = CHOICES[channel]
    return Broken(channel, faults[int(rng.integers(len(faults)))], t_s)


def break_sensor(
    rng: Stream, broken: Broken, row_s: Floats, shown: dict[str, Floats], gauges: Gauges, room: Floats
) -> None:
    """Spoil the channel from the fault on, in place.

    Args:
        room: (n,) how far above itself the channel may drift without passing its limit, in its unit.
    """
    value = shown[broken.channel]
    after = row_s >= broken.t_s
    gauge = gauges.of[broken.channel]
    first = int(np.argmax(after))
    if broken.fault is Fault.STUCK:
        value[after] = value[first]
    elif broken.fault is Fault.SATURATED:
        value[after] = gauge.high
    elif broken.fault is Fault.OPEN_THERMOCOUPLE:
        value[after] = gauge.high if happens(rng, 0.6) else gauge.low
    elif broken.fault is Fault.DROPOUT:
        value[after & _missing(rng, row_s, broken)] = np.nan
    elif broken.fault is Fault.DRIFT:
        value[after] += _drift(rng, row_s, broken, value, room)[after]
    elif broken.fault is Fault.SIGN_FLIP:
        value[after] *= -1.0
    else:
        value[after] = 0.0
    value[after] = np.clip(value[after], gauge.low, gauge.high)


def _missing(rng: Stream, row_s: Floats, broken: Broken) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Give the rows lost: all of them, or those of a loose plug that makes contact now and then."""
    if happens(rng, 0.5) and broken.channel != MOTOR_CURRENT:
        return np.ones(row_s.size, dtype=np.bool_)
    edges_s = broken.t_s + np.concatenate([[0.0], np.cumsum(rng.exponential(1.2, 4000))])
    return np.asarray(np.searchsorted(edges_s, row_s, side="right") % 2 == 1)


def _drift(rng: Stream, row_s: Floats, broken: Broken, value: Floats, room: Floats) -> Floats:
    """Give a drift that reaches its full size in minutes: of forces some ten per cent, of temperatures some kelvins."""
    late = np.clip((row_s - broken.t_s) / between(rng, 60.0, 300.0), 0.0, 1.0)
    sign = 1.0 if happens(rng, 0.5) else -1.0
    if broken.channel in (PIN_TEMPERATURE, BATH_TEMPERATURE):
        size = between(rng, 8.0, 30.0)
        return np.minimum(sign * size * late, np.maximum(0.7 * room, 0.0))
    usual = float(np.median(np.abs(value[row_s >= broken.t_s])))
    return sign * between(rng, 0.3, 0.6) * usual * late
