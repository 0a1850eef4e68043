"""Draws the one event of an unhealthy class and the broken sensor of those that have one.

Reads class and rig and the time at which the contact is ready for it, gives an `Event` or `Broken`.
"""

import math

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NAN,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SCUFFINGS,
    SOUND_LEVEL,
    Fault,
    Klass,
    Precursor,
)

from world_n.draws import Rng, between, chance, log_between, new_seed, pick
from world_n.names import Cause, LoadReading, Shape
from world_n.scene import Broken, Event, Rig

LONGEST_HEATING_S = 550.0
DAMAGES = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
CHANNELS_OF_FAULT = {
    Fault.STUCK: (FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL),
    Fault.SATURATED: (FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT),
    Fault.OPEN_THERMOCOUPLE: (PIN_TEMPERATURE, BATH_TEMPERATURE),
    Fault.DROPOUT: (
        NORMAL_LOAD,
        FRICTION_FORCE,
        MOTOR_CURRENT,
        SOUND_LEVEL,
        PIN_TEMPERATURE,
        BATH_TEMPERATURE,
        RING_SPEED,
    ),
    Fault.DRIFT: (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, BATH_TEMPERATURE),
    Fault.SIGN_FLIP: (FRICTION_FORCE, MOTOR_CURRENT),
    Fault.TACHOMETER_LOST: (RING_SPEED,),
}


def precursor_length_s(rng: Rng, klass: Klass) -> float:
    """Give how long the contact shows damage before the event of a class begins, s; 0 for none."""
    if klass is Klass.SCUFFING_LONG:
        return log_between(rng, 20.0, 170.0)
    if klass is Klass.SCUFFING_SHORT:
        return log_between(rng, 1.5, 15.0)
    if klass in (Klass.SEIZURE, Klass.SCUFFING_WITH_FAULT) and chance(rng, 0.6):
        return log_between(rng, 2.0, 60.0)
    return 0.0


def _rise_s(rng: Rng, klass: Klass, shape: Shape) -> float:
    if shape is Shape.STEP:
        return log_between(rng, 0.05, 0.5)
    return log_between(rng, 0.25, 3.0 if klass is Klass.SCUFFING_SUDDEN else 22.0)


def _draw_rubbing(rng: Rng, klass: Klass, rig: Rig, first_s: float) -> Event:
    length_s = precursor_length_s(rng, klass)
    start_s = first_s + length_s
    shape = pick(rng, tuple(Shape))
    rise_s = _rise_s(rng, klass, shape)
    low = max(0.25, 2.4 * rig.contact.coefficient)
    holds = klass is Klass.SEIZURE
    turn_s = 60.0 / rig.drive.speed_rpm
    may_be = DAMAGES if length_s > 2.0 * turn_s else (Precursor.BURSTS, Precursor.CREEP, Precursor.MICRO_SCUFF)
    loud = chance(rng, 0.6)
    return Event(
        klass=klass,
        start_s=start_s,
        seed=new_seed(rng),
        shape=shape,
        rise_s=rise_s,
        coefficient=log_between(rng, low, 0.6),
        unrest=between(rng, 0.12, 0.3) if shape is Shape.TEARING else between(rng, 0.0, 0.06),
        precursor=pick(rng, may_be) if length_s else Precursor.NONE,
        precursor_s=first_s if length_s else NAN,
        precursor_size=float(rng.random()),
        hold_s=start_s + rise_s * between(rng, 0.6, 1.0) + log_between(rng, 0.1, 9.0) if holds else NAN,
        hold_length_s=log_between(rng, 0.2, 8.0) if holds else NAN,
        sound_db=between(rng, 3.0, 20.0) if loud else 0.0,
        sound_delay_s=between(rng, 0.0, 3.0),
        sound_fade_s=log_between(rng, 10.0, 400.0),
    )


def _draw_jam(rng: Rng, rig: Rig, first_s: float) -> Event:
    length_s = log_between(rng, 0.03, 0.4) if chance(rng, 0.6) else log_between(rng, 0.8, 8.0)
    return Event(
        klass=Klass.JAM,
        start_s=first_s,
        seed=new_seed(rng),
        hold_s=first_s,
        hold_length_s=length_s,
        belt_slips=rig.drive.belt and chance(rng, 0.5),
        sound_db=between(rng, 3.0, 15.0) if chance(rng, 0.5) else 0.0,
        sound_fade_s=log_between(rng, 0.5, 100.0),
    )


def _draw_heating(rng: Rng, rig: Rig, first_s: float) -> Event:
    sees_bath = BATH_TEMPERATURE in CHANNELS_OF[rig.channel_set]
    cause = pick(rng, tuple(Cause))
    low, high = {Cause.HEATER: (0.03, 0.6), Cause.FRICTION: (0.2, 5.0), Cause.AMBIENT: (0.02, 0.1)}[cause]
    rate_k_s = log_between(rng, low, high)
    on_pin = cause is Cause.FRICTION or not sees_bath
    gap_k = rig.heat.pin_gap_k if on_pin else rig.heat.bath_gap_k
    lag_s = rig.readings[PIN_TEMPERATURE if on_pin else BATH_TEMPERATURE].lag_s
    length_s = min(max(gap_k / rate_k_s, 2.0 * lag_s), LONGEST_HEATING_S)
    return Event(Klass.OVERHEAT, first_s, new_seed(rng), cause=cause, heat_length_s=length_s)


def draw_event(rng: Rng, klass: Klass, rig: Rig, first_s: float) -> Event | None:
    """Give the event of a class whose first damage (or cause) is at `first_s`; None for a healthy class."""
    if klass in (*SCUFFINGS, Klass.SEIZURE):
        return _draw_rubbing(rng, klass, rig, first_s)
    if klass is Klass.JAM:
        return _draw_jam(rng, rig, first_s)
    if klass is Klass.OVERHEAT:
        return _draw_heating(rng, rig, first_s)
    return Event(klass, first_s, new_seed(rng)) if klass is Klass.SUPPLY_LOST else None


def settled_s(event: Event, rig: Rig) -> float:
    """Give when everything the event does can be seen, s."""
    if event.klass is Klass.OVERHEAT:
        lag_s = max(rig.readings[PIN_TEMPERATURE].lag_s, rig.readings[BATH_TEMPERATURE].lag_s)
        return event.start_s + event.heat_length_s + 3.0 * lag_s
    rise_s = 0.0 if math.isnan(event.rise_s) else event.rise_s
    hold_end_s = -1.0 if math.isnan(event.hold_s) else event.hold_s + event.hold_length_s
    return max(event.start_s + rise_s, hold_end_s) + 5.0


def _faults(rig: Rig, klass: Klass) -> list[tuple[Fault, str]]:
    there = CHANNELS_OF[rig.channel_set]
    pairs = [(f, c) for f, names in CHANNELS_OF_FAULT.items() for c in names if c in there]
    if not rig.signed_current:
        pairs.remove((Fault.SIGN_FLIP, MOTOR_CURRENT))
    if FRICTION_FORCE not in there:
        pairs.remove((Fault.SATURATED, MOTOR_CURRENT))
        if klass is Klass.SCUFFING_WITH_FAULT:
            return [p for p in pairs if p[1] != MOTOR_CURRENT] or [(Fault.DRIFT, MOTOR_CURRENT)]
    if rig.load_reading is LoadReading.TYPED:
        pairs = [p for p in pairs if p[1] != NORMAL_LOAD]
    return pairs


def draw_broken(rng: Rng, klass: Klass, rig: Rig, t_s: float) -> Broken:
    """Give a sensor that goes wrong at `t_s`; with scuffing to come, one that leaves it to be seen."""
    pairs = _faults(rig, klass)
    fault = pick(rng, sorted({f for f, _ in pairs}, key=lambda f: f.value))
    return Broken(fault, pick(rng, [c for f, c in pairs if f is fault]), t_s, float(rng.random()))
