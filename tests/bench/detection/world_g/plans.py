"""Draws what happens in a recording of a class."""

import math
from dataclasses import replace

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    NAN,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SCUFFINGS,
    Fault,
    Klass,
    Nuisance,
    Precursor,
)

from .chance import Dice, between, chance, spread
from .hands import draw_hands
from .plan import FaultPlan, Hands, HarmPlan, JamPlan, Plan, TroubleKind, TroublePlan
from .rig import Rig
from .things import HEARD_ONLY, draw_things

_SIGNS = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
_HARMED = (*SCUFFINGS, Klass.SEIZURE)
LONGEST_OVERHEAT_S = 1300.0
_THERMOCOUPLES = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_CELLS = (NORMAL_LOAD, FRICTION_FORCE)


def draw_plan(dice: Dice, fault_dice: Dice, rig: Rig, klass: Klass) -> Plan:
    """Draw a plan; only the fault depends on which channels are shown."""
    hands = draw_hands(dice, rig, klass)
    event_s = _event_s(dice, klass, hands)
    harm = _harm(dice, klass, event_s) if klass in _HARMED else None
    jam = _jam(dice, rig, event_s) if klass is Klass.JAM else None
    trouble = _trouble(dice, rig, event_s) if klass is Klass.OVERHEAT else None
    duration_s = hands.duration_s
    if harm is not None:
        duration_s = harm.onset_s + between(dice, 20.0, 45.0)
    elif not math.isnan(event_s):
        duration_s = LONGEST_OVERHEAT_S if trouble else event_s + between(dice, 15.0, 40.0)
        hands = _left_alone(hands, event_s, duration_s)
    if harm is not None:
        hands = _left_alone(hands, event_s, duration_s)
    until_s = math.inf if math.isnan(event_s) else event_s
    things = [*hands.nuisances, *draw_things(dice, rig, klass, hands, duration_s, until_s)]
    return Plan(
        duration_s=duration_s,
        hands=hands,
        nuisances=tuple(sorted(things, key=lambda each: (each.t_s, each.kind.value))),
        first_s=event_s,
        harm=harm,
        jam=jam,
        trouble=trouble,
        supply_lost_s=event_s if klass is Klass.SUPPLY_LOST else NAN,
        fault=_fault(fault_dice, rig, klass, hands, event_s),
    )


def cut(plan: Plan, duration_s: float) -> Plan:
    """Give the plan of a recording that ends sooner."""
    kept = tuple(each for each in plan.nuisances if each.t_s < duration_s - 1.0)
    shorter = tuple(replace(each, duration_s=min(each.duration_s, duration_s - each.t_s)) for each in kept)
    return replace(plan, duration_s=duration_s, nuisances=shorter)


def _event_s(dice: Dice, klass: Klass, hands: Hands) -> float:
    """Draw the first sign within a late stage, at least 4 s after anyone touched anything."""
    if klass not in (*_HARMED, Klass.JAM, Klass.OVERHEAT, Klass.SUPPLY_LOST):
        return NAN
    if klass is Klass.OVERHEAT:
        return hands.stages[-1][0] + between(dice, 100.0, 260.0)
    well = [stage for stage in hands.stages if stage[1] - stage[0] > 12.0 and stage[0] > 90.0] or [hands.stages[-1]]
    late = well[len(well) // 2 :]
    begin_s, end_s = late[int(dice.integers(len(late)))]
    soon = chance(dice, 0.35)
    return begin_s + between(dice, 6.0, 10.0) if soon else between(dice, begin_s + 6.0, end_s - 2.0)


def _left_alone(hands: Hands, first_s: float, duration_s: float) -> Hands:
    """Take away all that hands would have done from three seconds before the first sign on."""
    before_s = first_s - 3.0
    return Hands(
        duration_s,
        tuple(each for each in hands.hangs if each.t_s < before_s),
        tuple(each for each in hands.switches if each[0] < before_s),
        tuple(t_s for t_s in hands.nights if t_s < before_s),
        tuple(
            (begin_s, end_s if end_s < before_s else duration_s)
            for begin_s, end_s in hands.stages
            if begin_s < before_s
        ),
        tuple(each for each in hands.nuisances if _before(each, before_s)),
    )


def _before(nuisance: Nuisance, until_s: float) -> bool:
    return nuisance.kind in HEARD_ONLY or nuisance.t_s < until_s


def _harm(dice: Dice, klass: Klass, first_s: float) -> HarmPlan:
    way = float(dice.random())
    long = klass is Klass.SCUFFING_LONG or (klass not in SCUFFINGS[:3] and way < 0.35)
    short = klass is Klass.SCUFFING_SHORT or (klass not in SCUFFINGS[:3] and not long and way < 0.7)
    signs = _SIGNS[int(dice.integers(4))] if long or short else Precursor.NONE
    growth_s = spread(dice, 0.12, 3.0 if klass is Klass.SCUFFING_SUDDEN else 6.0)
    pauses = int(dice.integers(1, 3)) if chance(dice, 0.25) else 0
    ahead_s = spread(dice, 20.0, 240.0) if long else spread(dice, 1.5, 10.0) if short else 0.0
    return HarmPlan(
        precursor=signs,
        first_s=first_s,
        onset_s=first_s + ahead_s,
        grows_s=growth_s,
        final_share=between(dice, 0.6, 1.0),
        stages=0 if klass is Klass.SCUFFING_SUDDEN else pauses,
        eases_s=between(dice, 6.0, 25.0) if klass is not Klass.SEIZURE and chance(dice, 0.2) else 0.0,
        welds_s=spread(dice, 0.6, 10.0) if klass is Klass.SEIZURE else 0.0,
    )


def _jam(dice: Dice, rig: Rig, t_s: float) -> JamPlan:
    grows_s = 0.0 if chance(dice, 0.3) else spread(dice, 0.02, 0.3)
    return JamPlan(t_s, grows_s, between(dice, 1.3, 3.0) * rig.motor.most_torque_nm)


def _trouble(dice: Dice, rig: Rig, t_s: float) -> TroublePlan:
    kinds = [kind for kind in TroubleKind if kind is not TroubleKind.HEATER_STAYS_ON or rig.warmth.heater_w > 0.0]
    return TroublePlan(t_s, kinds[int(dice.integers(len(kinds)))], float(dice.random()))


def _fault(dice: Dice, rig: Rig, klass: Klass, hands: Hands, first_s: float) -> FaultPlan | None:
    if klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        return None
    shown = CHANNELS_OF[rig.channel_set]
    faults = [fault for fault in Fault if _channels(fault, shown)]
    fault = faults[int(dice.integers(len(faults)))]
    channels = _channels(fault, shown)
    channel = channels[int(dice.integers(len(channels)))]
    if klass is Klass.SCUFFING_WITH_FAULT:
        begins_s = max(t_s for t_s, on in hands.switches if on)
        fault_s = max(first_s - spread(dice, 8.0, 110.0), begins_s + 12.0, 2.0)
        return FaultPlan(min(fault_s, first_s - 4.0), fault, channel)
    begin_s, end_s = hands.stages[int(dice.integers(len(hands.stages) // 3, len(hands.stages)))]
    return FaultPlan(between(dice, begin_s + 5.0, end_s - 4.0), fault, channel)


def _channels(fault: Fault, shown: tuple[str, ...]) -> tuple[str, ...]:
    fits = {
        Fault.OPEN_THERMOCOUPLE: _THERMOCOUPLES,
        Fault.SIGN_FLIP: _CELLS,
        Fault.TACHOMETER_LOST: (RING_SPEED,),
        Fault.SATURATED: tuple(name for name in shown if name not in (*_THERMOCOUPLES, RING_SPEED)),
    }.get(fault, shown)
    return tuple(name for name in fits if name in shown)
