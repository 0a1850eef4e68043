"""Reads the ring's speed: time between pulses, pulses over a gate, or a generator. Reads angle, gives r/min."""

from dataclasses import dataclass

import numpy as np
from world_b.values import Floats, Tachometer

from .instruments import Instrument
from .rigs import Rig

BEFORE_S = 20.0


@dataclass(frozen=True, slots=True)
class Counter:
    """How the speed is read.

    Attributes:
        kind: see `Tachometer`.
        pulses: per turn; 0 for the generator.
        gate_s: of the counter; also how often it shows a new number.
        silence_s: without a pulse, after which the period reads 0.
        unevenness: of the pulses' places, as a share of their distance.
        on_motor: whether it sits on the motor's shaft.
    """

    kind: Tachometer
    pulses: int
    gate_s: float
    silence_s: float
    unevenness: float
    on_motor: bool


def draw_counter(rng: np.random.Generator, rig: Rig) -> Counter:
    """Give a tachometer that suits the speed: a gate counts at least 40 pulses, or the period is taken."""
    turns_per_s = rig.drive.free_speed_rad_s / (2.0 * np.pi)
    kind = list(Tachometer)[int(rng.integers(3))]
    pulses = int(rng.choice([1, 1, 2, 4, 6, 8, 20, 30, 60, 100, 200]))
    gate_s = float(rng.choice([0.1, 0.2, 0.5, 1.0]))
    if kind is Tachometer.GATE and pulses * turns_per_s * gate_s < 40.0:
        gate_s = 1.0
        kind = kind if pulses * turns_per_s >= 40.0 else Tachometer.PERIOD
    slowest_s = 1.0 / (pulses * turns_per_s)
    on_motor = rig.belt and bool(rng.random() < 0.4)
    silence_s = max(1.0, 4.0 * slowest_s)
    pulses = 0 if kind is Tachometer.ANALOGUE else pulses
    return Counter(kind, pulses, gate_s, silence_s, float(rng.uniform(0.0, 0.01)), on_motor)


def read_rpm(
    rng: np.random.Generator, counter: Counter, chain: Instrument, fine_s: Floats, speed_rad_s: Floats, row_s: Floats
) -> Floats:
    """Give readings at the rows, r/min.

    Args:
        chain: of the generator.
        fine_s, speed_rad_s: (m,) clock of the physics and the shaft's speed on it.
        row_s: (n,) times of the rows.
    """
    if counter.kind is Tachometer.ANALOGUE:
        rows = np.interp(row_s, fine_s, speed_rad_s) * 30.0 / np.pi
        return chain.read(rng, rows, 1.0 / float(row_s[1] - row_s[0]))
    step_s = float(fine_s[1] - fine_s[0])
    before_rad = -BEFORE_S * float(speed_rad_s[0])
    angle_rad = np.cumsum(0.5 * (speed_rad_s[1:] + speed_rad_s[:-1])) * step_s
    pulses_passed = np.concatenate(([before_rad, 0.0], angle_rad))
    fine_s = np.concatenate(([fine_s[0] - BEFORE_S], fine_s))
    pulses_passed = pulses_passed * counter.pulses / (2.0 * np.pi) + float(rng.random())
    if counter.kind is Tachometer.GATE:
        gate_end_s = np.floor(row_s / counter.gate_s + 1e-9) * counter.gate_s
        counted = np.floor(np.interp(gate_end_s, fine_s, pulses_passed)) - np.floor(
            np.interp(gate_end_s - counter.gate_s, fine_s, pulses_passed)
        )
        return counted * 60.0 / (counter.pulses * counter.gate_s)
    rising = pulses_passed + np.arange(pulses_passed.size) * 1e-9
    last = np.floor(np.interp(row_s, fine_s, rising))
    uneven = counter.unevenness * rng.standard_normal(max(counter.pulses, 1))
    edge_s = np.interp(last, rising, fine_s)
    before_s = np.interp(last - 1.0, rising, fine_s)
    period_s = np.maximum(edge_s - before_s, 1e-5)
    place = last.astype(np.int64) % counter.pulses
    period_s = period_s * (1.0 + uneven[place] - uneven[(place - 1) % counter.pulses])
    waited_s = row_s - edge_s
    shown = 60.0 / (counter.pulses * np.maximum(period_s, waited_s))
    return np.where(waited_s > counter.silence_s, 0.0, shown)
