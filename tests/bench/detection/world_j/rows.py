"""What happens to rows on their way: spikes, gaps, stamps out of order, a sensor gone wrong. Reads readings, spoils."""

from dataclasses import dataclass

import numpy as np
from world_b import values as v
from world_b.values import NAN, ChannelSet, Fault, Flags, Floats, Kind, Klass

from .draws import log_uniform
from .instruments import Instrument
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
TROUBLES = {  # chance, most in a recording, shortest and longest in s
    Kind.SPIKES: (0.25, 25, 0.001, 0.002),
    Kind.SHORT_DROPOUTS: (0.2, 8, 0.01, 0.3),
    Kind.HOLES: (0.15, 4, 0.02, 1.5),
    Kind.DUPLICATE_STAMPS: (0.1, 5, 0.01, 0.02),
    Kind.BACKWARD_STAMPS: (0.08, 3, 0.02, 0.1),
}


@dataclass(frozen=True, slots=True)
class SensorFault:
    """A sensor that goes wrong for good: what, where, from when, and its size."""

    fault: Fault
    channel: str
    t_s: float
    size: float  # of a drift, in units of the channel's usual level (forces, current) or of 30 K
    drift_s: float  # time a drift takes to that size
    end: float  # which of several ways a thermocouple or a saturated cell reads, 0 to 1


def draw_fault(
    rng: np.random.Generator, klass: Klass, script: Script, event: Event, channels: tuple[str, ...]
) -> SensorFault | None:
    """Give the fault of a class that has one, on a channel the rig has."""
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    both = klass is Klass.SCUFFING_WITH_FAULT
    end_s = event.first_s - 5.0 if both else 0.85 * script.duration_s
    t_s, drift_s, end = rng.uniform((0.25 * end_s, 90.0, 0.0), (end_s, 500.0, 1.0)).tolist()
    size = log_uniform(rng, 0.12, 1.2) * (1.0 if rng.random() < 0.5 else -1.0)
    order, places = rng.permutation(len(Fault)), rng.random(len(Fault))
    for i in order:
        fault = list(Fault)[int(i)]
        fitted = [name for name in CHANNELS_OF_FAULT[fault] if name in channels]
        blinds = both and len(channels) == 1 and fault is not Fault.DRIFT
        if fitted and not blinds:
            return SensorFault(fault, fitted[int(places[i] * len(fitted))], t_s, size, drift_s, end)
    return None


def spoil(fault: SensorFault, row_s: Floats, reading: Floats, chain: Instrument, usual: float) -> Floats:
    """Give a channel with its fault in it, (n,), in its unit; usual is the channel's healthy level."""
    after = row_s >= fault.t_s
    if fault.fault is Fault.DRIFT:
        return chain.convert(reading + fault.size * usual * np.clip((row_s - fault.t_s) / fault.drift_s, 0.0, 1.0))
    if fault.fault is Fault.SIGN_FLIP:
        return np.where(after, np.clip(-reading, chain.low, chain.high), reading)
    open_degc = chain.high if fault.end < 0.5 else (NAN if fault.end < 0.75 else 22.0)
    last = reading[max(int(np.argmax(after)) - 1, 0)]
    stays = {Fault.STUCK: last, Fault.SATURATED: chain.high, Fault.DROPOUT: NAN, Fault.OPEN_THERMOCOUPLE: open_degc}
    return np.where(after, stays.get(fault.fault, 0.0), reading)


@dataclass(frozen=True, slots=True)
class Wear:
    """One small trouble of the recorder; place and size, 0 to 1, say which channel and how strong."""

    kind: Kind
    t_s: float
    length_s: float
    place: float
    size: float

    def rows(self, step_s: float, least: int = 1) -> slice:
        """Give the rows it touches."""
        first = int(self.t_s / step_s) + 1
        return slice(first, first + max(int(self.length_s / step_s), least))


def draw_wear(rng: np.random.Generator, script: Script) -> list[Wear]:
    """Give the recorder's troubles, and note them; the clock is left alone once nobody touches the rig."""
    found = []
    for kind, (chance, most, shortest_s, longest_s) in TROUBLES.items():
        count = int(rng.integers(1, most + 1)) if rng.random() < chance else 0
        clock = kind not in (Kind.SPIKES, Kind.SHORT_DROPOUTS)
        for t_s in rng.uniform(10.0, max(script.quiet_s - 6.0, 20.0) if clock else script.duration_s, count):
            length_s = log_uniform(rng, shortest_s, longest_s)
            found.append(Wear(kind, float(t_s), length_s, float(rng.random()), float(rng.random())))
            script.note(kind, float(t_s), length_s)
    return found


def mark(wear: list[Wear], row_s: Floats, channels: dict[str, Floats], usual: dict[str, float]) -> None:
    """Put spikes of one to three rows and missing samples into the channels, in place."""
    step_s = float(row_s[1] - row_s[0])
    for one in wear:
        name = list(channels)[int(one.place * len(channels))]
        if one.kind is Kind.SHORT_DROPOUTS:
            channels[name][one.rows(step_s)] = NAN
        elif one.kind is Kind.SPIKES and name not in (v.SOUND_LEVEL, v.RING_SPEED):
            first = one.rows(step_s).start
            channels[name][first : first + 1 + int(one.size * 30.0) % 3] += 0.6 * (2.0 * one.size - 1.0) * usual[name]


def stamps(wear: list[Wear], row_s: Floats) -> tuple[Floats, Flags]:
    """Give the stamps of all rows, s, before any night, and which rows are kept."""
    stamped, kept = row_s.copy(), np.ones(row_s.size, dtype=bool)
    step_s = float(row_s[1] - row_s[0])
    for one in wear:
        if one.kind is Kind.DUPLICATE_STAMPS:
            stamped[one.rows(step_s)] = stamped[one.rows(step_s).start - 1]
        elif one.kind is Kind.BACKWARD_STAMPS:
            stamped[one.rows(step_s, 2)] -= one.length_s + step_s
        elif one.kind is Kind.HOLES:
            kept[one.rows(step_s)] = False
    return stamped, kept
