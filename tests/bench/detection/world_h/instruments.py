"""The instruments of a rig: which are fitted, how they disturb each other, how the speed is read.

Reads a generator, the rig and the greatest healthy readings, gives frozen values for `readings` and `tachometer`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from numpy.random import Generator
from world_b.values import CHANNELS_OF, FRICTION_FORCE, ChannelSet, Tachometer

from .chance import chance, log_between, one_of
from .rig import Rig
from .sensors import Sensor, draw_sensors

_SETS = (
    (ChannelSet.ALL, 0.5),
    (ChannelSet.FRICTION_CELL, 0.15),
    (ChannelSet.LOAD_CELL, 0.13),
    (ChannelSet.CURRENT_AND_SPEED, 0.12),
    (ChannelSet.CURRENT_ONLY, 0.1),
)


@dataclass(frozen=True, slots=True)
class Instruments:
    """All channels.

    Attributes:
        channel_set: what is fitted.
        sensors: of every channel, fitted or not.
        friction_into_load, load_into_friction: cross-talk of the two cells, relative.
        hum_n, hum_hz: of the mains on the friction cell; 0 without.
        cogging_ratio, poles: of the current, `poles` times a turn.
        tachometer, pulses_per_turn, gate_s, on_motor: see `RigFacts`.
        unrest_hz: corner of the contact's fast unrest.
    """

    channel_set: ChannelSet
    sensors: Mapping[str, Sensor]
    friction_into_load: float
    load_into_friction: float
    hum_n: float
    hum_hz: float
    cogging_ratio: float
    poles: int
    tachometer: Tachometer
    pulses_per_turn: int
    gate_s: float
    on_motor: bool
    unrest_hz: float


def draw_instruments(
    rng: Generator, rig: Rig, most: Mapping[str, float], channel_set: ChannelSet | None
) -> Instruments:
    """Draw the instruments.

    Args:
        rng: of the instruments.
        rig: see there.
        most: the greatest healthy value of each channel, in its unit.
        channel_set: what is fitted; nothing draws it.
    """
    drawn_set = one_of(rng, _SETS)
    tachometer = one_of(rng, ((Tachometer.PERIOD, 0.4), (Tachometer.GATE, 0.35), (Tachometer.ANALOGUE, 0.25)))
    pulses = 0 if tachometer is Tachometer.ANALOGUE else int(one_of(rng, ((1, 2), (2, 1), (4, 1), (12, 1), (60, 2))))
    if tachometer is Tachometer.GATE:
        pulses = max(pulses, int(one_of(rng, ((12, 1), (20, 1), (60, 2)))))
    belted = math.isfinite(rig.motor.belt_nm)
    return Instruments(
        channel_set=drawn_set if channel_set is None else channel_set,
        sensors=draw_sensors(rng, rig, most),
        friction_into_load=rng.uniform(-0.05, 0.08),
        load_into_friction=rng.uniform(-0.003, 0.004),
        hum_n=log_between(rng, 0.004, 0.06) * most[FRICTION_FORCE] if chance(rng, 0.2) else 0.0,
        hum_hz=one_of(rng, ((50.0, 0.7), (60.0, 0.3))) * rng.uniform(0.999, 1.001),
        cogging_ratio=log_between(rng, 0.001, 0.02),
        poles=int(rng.choice([4, 6, 7, 12])),
        tachometer=tachometer,
        pulses_per_turn=pulses,
        gate_s=one_of(rng, ((0.1, 1.0), (0.25, 1.0), (0.5, 1.0))),
        on_motor=belted and chance(rng, 0.5),
        unrest_hz=log_between(rng, 5.0, 60.0),
    )


def fitted(instruments: Instruments) -> tuple[str, ...]:
    """Give the names of the fitted channels."""
    return CHANNELS_OF[instruments.channel_set]
