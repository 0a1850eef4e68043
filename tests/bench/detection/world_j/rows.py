"""What happens to rows on their way: missing samples and rows, stamps out of order, spikes, a sensor gone wrong.

Reads readings, gives readings and stamps. Places in time are drawn first, so they do not depend on the rate.
"""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import NAN, ChannelSet, Fault, Flags, Floats, Kind, Klass

from .instruments import Instrument
from .rigs import log_uniform
from .scripts import Event, Script

CHANNELS_OF_FAULT = {
    Fault.STUCK: (v.NORMAL_LOAD, v.FRICTION_FORCE, v.MOTOR_CURRENT, v.SOUND_LEVEL, v.PIN_TEMPERATURE, v.RING_SPEED),
    Fault.SATURATED: (v.NORMAL_LOAD, v.FRICTION_FORCE, v.MOTOR_CURRENT, v.SOUND_LEVEL),
    Fault.OPEN_THERMOCOUPLE: (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE),
    Fault.DROPOUT: v.CHANNELS_OF[ChannelSet.ALL],
    Fault.DRIFT: (v.NORMAL_LOAD, v.FRICTION_FORCE, v.MOTOR_CURRENT, v.PIN_TEMPERATURE, v.BATH_TEMPERATURE),
    Fault.SIGN_FLIP: (v.NORMAL_LOAD, v.FRICTION_FORCE),
    Fault.TACHOMETER_LOST: (v.RING_SPEED,),
}


@dataclass(frozen=True, slots=True)
class SensorFault:
    """A sensor that goes wrong for good: what, where, from when, and its size.

    Attributes:
        size: of a drift, in units of the channel's usual level (forces, current) or of 30 K.
        drift_s: time a drift takes to that size.
        end: which of several ways a thermocouple or a saturated cell reads, 0 to 1.
    """

    fault: Fault
    channel: str
    t_s: float
    size: float
    drift_s: float
    end: float


def draw_fault(
    rng: np.random.Generator, klass: Klass, script: Script, event: Event, channels: tuple[str, ...]
) -> SensorFault | None:
    """Give the fault of a class that has one, on a channel the rig has."""
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    end_s = script.duration_s * 0.85
    if klass is Klass.SCUFFING_WITH_FAULT:
        end_s = event.first_s - 5.0
    t_s = float(rng.uniform(0.25 * end_s, end_s))
    size = log_uniform(rng, 0.12, 1.2) * (1.0 if rng.random() < 0.5 else -1.0)
    drift_s, end = float(rng.uniform(90.0, 500.0)), float(rng.random())
    order, places = rng.permutation(len(Fault)), rng.random(len(Fault))
    for i in order:
        fault = list(Fault)[int(i)]
        fitted = [name for name in CHANNELS_OF_FAULT[fault] if name in channels]
        only = klass is Klass.SCUFFING_WITH_FAULT and len(channels) == 1
        if fitted and not (only and fault is not Fault.DRIFT):
            return SensorFault(fault, fitted[int(places[i] * len(fitted))], t_s, size, drift_s, end)
    return None


def spoil(fault: SensorFault, row_s: Floats, reading: Floats, chain: Instrument, usual: float) -> Floats:
    """Give a channel with its fault in it, (n,), in its unit; usual is the channel's healthy level."""
    wrong, after = reading.copy(), row_s >= fault.t_s
    if not after.any():
        return wrong
    if fault.fault is Fault.STUCK:
        wrong[after] = reading[max(int(np.argmax(after)) - 1, 0)]
    elif fault.fault is Fault.SATURATED:
        wrong[after] = chain.high
    elif fault.fault is Fault.OPEN_THERMOCOUPLE:
        wrong[after] = chain.high if fault.end < 0.5 else (NAN if fault.end < 0.75 else 22.0)
    elif fault.fault is Fault.DROPOUT:
        wrong[after] = NAN
    elif fault.fault is Fault.DRIFT:
        grown = np.clip((row_s - fault.t_s) / fault.drift_s, 0.0, 1.0)
        wrong = chain.convert(reading + fault.size * usual * grown)
    elif fault.fault is Fault.SIGN_FLIP:
        wrong[after] = np.clip(-reading[after], chain.low, chain.high)
    else:
        wrong[after] = 0.0
    return wrong


@dataclass(frozen=True, slots=True)
class Wear:
    """Small troubles of the recorder, all times in s.

    Attributes:
        spikes: (t_s, channel place 0 to 1, size as a share of usual level).
        gaps: (t_s, duration_s, channel place) of missing samples.
        holes: (t_s, duration_s) of missing rows.
        repeats, backs: (t_s, duration_s) of repeated stamps and of stamps that run backward.
    """

    spikes: tuple[tuple[float, float, float], ...]
    gaps: tuple[tuple[float, float, float], ...]
    holes: tuple[tuple[float, float], ...]
    repeats: tuple[tuple[float, float], ...]
    backs: tuple[tuple[float, float], ...]


def draw_wear(rng: np.random.Generator, script: Script) -> Wear:
    """Give the recorder's troubles, and note them; the clock is left alone once nobody touches the rig."""
    end_s, clock_s = script.duration_s, max(script.quiet_s - 6.0, 20.0)

    def times(chance: float, kind: Kind, most: int, last_s: float, length_s: float) -> list[float]:
        if rng.random() > chance:
            return []
        found = sorted(float(t) for t in rng.uniform(10.0, last_s, int(rng.integers(1, most + 1))))
        for t_s in found:
            script.note(kind, t_s, length_s)
        return found

    spikes = tuple(
        (t, float(rng.random()), float(rng.uniform(0.15, 0.6)) * (1.0 if rng.random() < 0.5 else -1.0))
        for t in times(0.25, Kind.SPIKES, 25, end_s, 0.0)
    )
    gaps = tuple(
        (t, float(rng.uniform(0.01, 0.3)), float(rng.random())) for t in times(0.2, Kind.SHORT_DROPOUTS, 8, end_s, 0.3)
    )
    holes = tuple((t, log_uniform(rng, 0.02, 1.5)) for t in times(0.15, Kind.HOLES, 4, clock_s, 1.5))
    repeats = tuple((t, 0.02) for t in times(0.1, Kind.DUPLICATE_STAMPS, 5, clock_s, 0.02))
    backs = tuple((t, float(rng.uniform(0.02, 0.1))) for t in times(0.08, Kind.BACKWARD_STAMPS, 3, clock_s, 0.1))
    return Wear(spikes, gaps, holes, repeats, backs)


def mark(wear: Wear, row_s: Floats, channels: dict[str, Floats], usual: dict[str, float]) -> None:
    """Put spikes and missing samples into the channels, in place."""
    names = [name for name in channels if name not in (v.SOUND_LEVEL, v.RING_SPEED)]
    step_s = float(row_s[1] - row_s[0])
    for t_s, place, share in wear.spikes:
        name = names[int(place * len(names))]
        first = int(t_s / step_s) + 1
        size = share * (usual[name] if name not in (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE) else 8.0)
        channels[name][first : first + 1 + int(place * 17.0) % 2] += size
    for t_s, length_s, place in wear.gaps:
        name = list(channels)[int(place * len(channels))]
        first = int(t_s / step_s) + 1
        channels[name][first : first + max(int(length_s / step_s), 1)] = NAN


def stamps(wear: Wear, row_s: Floats) -> tuple[Floats, Flags]:
    """Give the stamps of all rows, s, before any night, and which rows are kept."""
    stamped, kept = row_s.copy(), np.ones(row_s.size, dtype=bool)
    step_s = float(row_s[1] - row_s[0])
    for t_s, _ in wear.repeats:
        at = int(t_s / step_s) + 1
        stamped[at : at + 1] = stamped[at - 1 : at]
    for t_s, length_s in wear.backs:
        inside = slice(int(t_s / step_s) + 1, int(t_s / step_s) + 1 + max(int(length_s / step_s), 2))
        stamped[inside] = stamped[inside] - length_s - step_s
    for t_s, length_s in wear.holes:
        first = int(t_s / step_s) + 1
        kept[first : first + max(int(length_s / step_s), 1)] = False
    return stamped, kept
