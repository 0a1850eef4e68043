"""Draws what befalls a rig: sensors that go wrong, and damage of the contact.

Reads draws, a class and a rig, gives the parts of a `Plan`.
"""

from math import inf

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    ChannelSet,
    Fault,
    Klass,
    Precursor,
)

from .chance import Chance
from .plan import Damage, SensorTrouble
from .rig import Rig

_CAN_HAVE: dict[Fault, tuple[str, ...]] = {
    Fault.STUCK: (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED),
    Fault.SATURATED: (FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, NORMAL_LOAD),
    Fault.OPEN_THERMOCOUPLE: (PIN_TEMPERATURE, BATH_TEMPERATURE),
    Fault.DROPOUT: (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED),
    Fault.DRIFT: (FRICTION_FORCE, PIN_TEMPERATURE, BATH_TEMPERATURE, NORMAL_LOAD, MOTOR_CURRENT),
    Fault.SIGN_FLIP: (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT),
    Fault.TACHOMETER_LOST: (RING_SPEED,),
}


def fault_of(seed: int, klass: Klass, channel_set: ChannelSet | None) -> Fault | None:
    """Give the fault a recording is about: the seven in turn by the seed, or the next that the channels can have."""
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    faults = list(Fault)
    turned = faults[seed % len(faults) :] + faults[: seed % len(faults)]
    if channel_set is None:
        return turned[0]
    has = CHANNELS_OF[channel_set]
    return next(fault for fault in turned if any(name in has for name in _CAN_HAVE[fault]))


def sensor_trouble(chance: Chance, rig: Rig, fault: Fault, t_s: float) -> SensorTrouble:
    """Draw which channel has the fault, and how it has it."""
    channel = chance.one([name for name in _CAN_HAVE[fault] if name in rig.gauges])
    return SensorTrouble(fault, channel, t_s, chance.between(0.0, 1.0), chance.ratio(20.0, 300.0))


def lead_s_of(chance: Chance, klass: Klass) -> float:
    """Draw the time from the first sign to the onset, s."""
    kind = klass
    if klass in (Klass.SCUFFING_WITH_FAULT, Klass.SEIZURE):
        kind = chance.one((Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN))
    if kind is Klass.SCUFFING_LONG:
        return chance.ratio(15.0, 400.0 if klass is kind else 120.0)
    return chance.ratio(1.0, 12.0) if kind is Klass.SCUFFING_SHORT else 0.0


def damage_of(chance: Chance, klass: Klass, onset_s: float, lead_s: float) -> Damage:
    """Draw a damage that begins for good at `onset_s`, with first signs `lead_s` before."""
    kinds = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
    weights = (35.0, 25.0, 20.0, 20.0) if lead_s > 12.0 else (40.0, 30.0, 30.0, 0.0)
    longest_s = {Klass.SCUFFING_SUDDEN: 2.6, Klass.SCUFFING_SHORT: 5.0, Klass.SEIZURE: 20.0}.get(klass, 8.0)
    plateau = chance.between(1.7, 2.7) if chance.yes(1.0 / 7.0) else chance.ratio(3.6, 8.0)
    return Damage(
        first_s=onset_s - lead_s,
        onset_s=onset_s,
        precursor=chance.one(kinds, weights) if lead_s > 0.0 else Precursor.NONE,
        grow_s=chance.ratio(0.08 if klass is Klass.SCUFFING_SUDDEN else 0.3, longest_s),
        plateau=inf if klass is Klass.SEIZURE else plateau,
        manner=chance.one(("steady", "steps", "late", "healing"), (40.0, 25.0, 20.0, 15.0)),
        pin_share=chance.between(0.4, 1.0),
        chatter_share=chance.ratio(0.02, 0.2),
        chatter_s=chance.ratio(0.01, 0.3),
    )
