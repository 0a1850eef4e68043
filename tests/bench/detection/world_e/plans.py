"""The plan of each class: a course of a test, what goes wrong in it, and every nuisance beside.

Reads dice, a rig and a class, gives a `Plan`.
"""

from dataclasses import replace

from world_b.values import CHANNELS_OF, FRICTION_FORCE, NORMAL_LOAD, RING_SPEED, SCUFFINGS, Fault, Klass, Precursor

from .chance import Dice, between, happens, one_of, scaled
from .people import nuisances
from .plan import Broken, Event, Plan
from .rig import Rig
from .staircase import Course, hold, staircase, starts

_LONG = (
    (Precursor.BURSTS, 0.35),
    (Precursor.ONCE_PER_TURN, 0.2),
    (Precursor.CREEP, 0.25),
    (Precursor.MICRO_SCUFF, 0.2),
)
_SHORT = ((Precursor.BURSTS, 0.45), (Precursor.ONCE_PER_TURN, 0.2), (Precursor.CREEP, 0.35))


def draw_plan(dice: Dice, rig: Rig, klass: Klass) -> Plan:
    """Give the plan of one recording."""
    if klass is Klass.ENDURANCE:
        course = hold(dice, rig, between(dice, 2700.0, 4500.0))
    elif klass is Klass.STARTS_AND_STOPS:
        course = starts(dice, rig, between(dice, 300.0, 800.0))
    else:
        share = between(dice, 0.7 if klass is Klass.OVERHEAT else 0.4, 1.0)
        course = staircase(dice, rig, between(dice, 240.0, 780.0), share)
    event = _event(dice, rig, klass, course)
    end_s = course.end_s if event is None else event.end_s
    plan = Plan(
        duration_s=end_s,
        loads=tuple(course.loads),
        switches=tuple(course.switches),
        nuisances=tuple(course.nuisances),
        event=event,
        night_s=course.night_s,
    )
    if klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        plan = replace(plan, broken=_broken(dice, rig, plan))
    found = nuisances(dice, rig, plan, klass)
    return replace(plan, nuisances=tuple(sorted((*plan.nuisances, *found), key=lambda nuisance: nuisance.t_s)))


def _event(dice: Dice, rig: Rig, klass: Klass, course: Course) -> Event | None:
    """Give what goes wrong, always in the last stage, once the rig has run for 25 s untouched."""
    ready_s = max(course.loads[-1].settled_s + 3.0, course.switches[-1][0] + rig.motor.ramp_s + 25.0)
    tail_s = between(dice, 15.0, 40.0)
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        return _scuffing(dice, klass, course, ready_s, tail_s)
    begin_s = ready_s + scaled(dice, 10.0, 200.0)
    if klass is Klass.JAM:
        return Event(begin_s, begin_s + tail_s, jam_s=begin_s)
    if klass is Klass.SUPPLY_LOST:
        return Event(begin_s, begin_s + tail_s, supply_s=begin_s)
    if klass is Klass.OVERHEAT:
        return Event(begin_s, begin_s + 600.0, heating_s=begin_s)
    return None


def _scuffing(dice: Dice, klass: Klass, course: Course, ready_s: float, tail_s: float) -> Event:
    ways = {Klass.SCUFFING_LONG: "long", Klass.SCUFFING_SHORT: "short", Klass.SCUFFING_SUDDEN: "none"}
    way = ways.get(klass) or one_of(dice, ("long", "short", "none"))
    precursor, length_s = Precursor.NONE, 0.0
    if way == "long":
        precursor = one_of(dice, [p for p, _ in _LONG], [w for _, w in _LONG])
        length_s = scaled(dice, 20.0, 240.0)
    elif way == "short":
        precursor = one_of(dice, [p for p, _ in _SHORT], [w for _, w in _SHORT])
        length_s = scaled(dice, 1.5, 10.0)
    under_load = way == "none" and len(course.loads) > 1 and happens(dice, 0.4)
    if under_load:  # the weight that was too much
        first_s = course.loads[-1].settled_s + scaled(dice, 0.1, 5.0)
        first_s = max(first_s, course.switches[-1][0] + 20.0)
    else:
        first_s = ready_s + scaled(dice, 4.0, 150.0)
    onset_s = first_s + length_s
    growth_s = scaled(dice, 0.1, 3.0) if way == "none" else scaled(dice, 0.3, 20.0)
    return Event(
        first_s, onset_s + growth_s + tail_s, onset_s, growth_s, weld=klass is Klass.SEIZURE, precursor=precursor
    )


def _broken(dice: Dice, rig: Rig, plan: Plan) -> Broken:
    """Give a fault of one channel of the rig, before anything else goes wrong and while the ring turns."""
    channel = one_of(dice, CHANNELS_OF[rig.sensing.channel_set])
    fitting = [Fault.STUCK, Fault.DROPOUT, Fault.SATURATED]
    if channel in (NORMAL_LOAD, FRICTION_FORCE):
        fitting += [Fault.DRIFT, Fault.DRIFT, Fault.SIGN_FLIP, Fault.SIGN_FLIP]
    elif channel == RING_SPEED:
        fitting = [Fault.STUCK, Fault.DROPOUT, Fault.TACHOMETER_LOST, Fault.TACHOMETER_LOST]
    elif channel.endswith("degc"):
        fitting = [Fault.STUCK, Fault.OPEN_THERMOCOUPLE, Fault.OPEN_THERMOCOUPLE, Fault.DRIFT]
    on_s = max(plan.switches[-1][0] + rig.motor.ramp_s, 0.0) + 20.0
    if plan.event is not None:
        begin_s = max(on_s, plan.event.first_s - scaled(dice, 8.0, 120.0))
        begin_s = min(begin_s, plan.event.first_s - 3.0)
    else:
        begin_s = on_s + between(dice, 0.1, 0.8) * max(plan.duration_s - on_s, 0.0)
    return Broken(begin_s, one_of(dice, fitting), channel)
