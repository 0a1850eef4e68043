"""What each class of recording is about. Reads a rig and a class, gives the finished `Plan` but for the nuisances."""

import numpy as np
from world_b.values import SCUFFINGS, Kind, Klass, Precursor

from world_k.plan import FOREVER_S, Plan, end_well, inch, staircase, start, stop, way_of
from world_k.rig import WEIGHTS, Rig, between

SETTLE_S = 14.0
"""Least time after the last load change before a story with a beginning of its own begins."""


def plan_of(rng: np.random.Generator, rig: Rig, klass: Klass) -> Plan:
    """Plan one recording."""
    if klass is Klass.ENDURANCE or (klass is Klass.SENSOR_FAULT and rng.random() < 0.3):
        return _endurance(rng, rig, klass)
    if klass is Klass.STARTS_AND_STOPS:
        return _starts_and_stops(rng, rig)
    total_s = between(rng, 250.0, 1400.0)
    stages = min(int(rng.integers(3, 13)), int(total_s / (75.0 if klass in (Klass.STICK_SLIP, Klass.SQUEAL) else 35.0)))
    if klass in SCUFFINGS or klass in (Klass.SEIZURE, Klass.OVERHEAT, Klass.JAM):
        plan, last_s = staircase(rng, rig, klass, max(total_s * 0.8, 200.0), stages)
        _end_badly(plan, rng, rig, last_s)
        return plan
    plan, _ = staircase(rng, rig, klass, total_s, stages)
    if klass is Klass.SUPPLY_LOST:
        _lose_supply(plan, rng)
    else:
        end_well(plan, rng)
    return plan


def _endurance(rng: np.random.Generator, rig: Rig, klass: Klass) -> Plan:
    longest_s = 3400.0 if klass is Klass.ENDURANCE else 1500.0
    plan, _ = staircase(rng, rig, klass, rng.uniform(20.0, 120.0), int(rng.integers(1, 4)))
    plan.duration_s += between(rng, 600.0, longest_s)
    end_well(plan, rng)
    return plan


def _starts_and_stops(rng: np.random.Generator, rig: Rig) -> Plan:
    plan, t_s = staircase(rng, rig, Klass.STARTS_AND_STOPS, rng.uniform(40.0, 200.0), int(rng.integers(1, 4)))
    load_n = plan.loads_n[-1]
    for _ in range(int(rng.integers(6, 15))):
        t_s += rng.uniform(20.0, 90.0)
        if plan.load_at_n(t_s) > 0.0 and rng.random() < 0.4:
            plan.lift(t_s - 4.0)
        stop(plan, t_s)
        draw = rng.random()
        if draw < 0.2:
            again_s = t_s + rng.uniform(0.2, 1.2)
            plan.note(Kind.RESTART_BEFORE_REST, t_s, again_s - t_s)
        elif draw < 0.4:
            again_s = inch(plan, rng, t_s + rng.uniform(3.0, 8.0))
            plan.note(Kind.INCHING, t_s, again_s - t_s)
        else:
            again_s = t_s + rng.uniform(4.0, 40.0)
            plan.note(Kind.PAUSE, t_s, again_s - t_s)
        t_s = start(plan, rig, t_s, again_s)
        if plan.load_at_n(t_s) == 0.0:
            t_s += rng.uniform(2.0, 8.0)
            plan.put(t_s, load_n, way_of(rng, rig))
    plan.duration_s = t_s + rng.uniform(30.0, 90.0)
    end_well(plan, rng)
    return plan


def _lose_supply(plan: Plan, rng: np.random.Generator) -> None:
    plan.supply_lost_s = plan.duration_s * rng.uniform(0.5, 1.0)
    while not running_at(plan, plan.supply_lost_s - 3.0) or not running_at(plan, plan.supply_lost_s + 3.0):
        plan.supply_lost_s += 2.0
    plan.runs = [(a, min(b, plan.supply_lost_s)) for a, b in plan.runs if a < plan.supply_lost_s]
    plan.nights = [night for night in plan.nights if night[0] < plan.supply_lost_s]
    plan.changes = [change for change in plan.changes if change.t_s < plan.supply_lost_s + 60.0]
    plan.nuisances = [item for item in plan.nuisances if item.t_s < plan.supply_lost_s]
    plan.story_s = plan.supply_lost_s - 5.0
    plan.duration_s = max(plan.supply_lost_s + between(rng, 12.0, 60.0), 240.0)
    kept = [change for change in plan.changes if change.t_s < plan.supply_lost_s]
    plan.changes, plan.loads_n = kept, [change.load_n for change in kept if change.load_n > 0.0]


def running_at(plan: Plan, t_s: float) -> bool:
    """Say whether the motor is switched on."""
    return any(begin_s <= t_s < end_s for begin_s, end_s in plan.runs)


def _dry_start(plan: Plan, rng: np.random.Generator, rig: Rig, t_s: float) -> float:
    """Stop, take the bath away, start dry under load; give when it is up to speed."""
    stop(plan, t_s)
    plan.dry_from_s = t_s + 6.0
    again_s = t_s + rng.uniform(15.0, 40.0)
    plan.note(Kind.PAUSE, t_s, again_s - t_s)
    return start(plan, rig, t_s, again_s)


def _precursor_s(rng: np.random.Generator, klass: Klass) -> float:
    """Draw how long before the onset the contact begins to tell; 0 for not at all."""
    if klass is Klass.SCUFFING_LONG or (klass is Klass.SCUFFING_WITH_FAULT and rng.random() < 0.35):
        return between(rng, 20.0, 240.0)
    if klass is Klass.SCUFFING_SHORT or (klass is not Klass.SCUFFING_SUDDEN and rng.random() < 0.35):
        return between(rng, 1.0, 20.0)
    return 0.0


def _draw_precursor(rng: np.random.Generator, rig: Rig, ahead_s: float) -> Precursor:
    kinds = [Precursor.BURSTS, Precursor.CREEP, Precursor.MICRO_SCUFF]
    turns_per_s = rig.set_speed_rpm / 60.0
    if turns_per_s < 14.0 and ahead_s * turns_per_s > 5.0:
        kinds.append(Precursor.ONCE_PER_TURN)
    if ahead_s < 5.0:
        kinds.remove(Precursor.MICRO_SCUFF)
    return kinds[rng.integers(len(kinds))]


def _end_badly(plan: Plan, rng: np.random.Generator, rig: Rig, last_s: float) -> None:
    """Give the last load its story and end the recording soon after it."""
    klass = plan.klass
    plan.story_s = max(last_s + SETTLE_S + (9.0 if rig.loading != WEIGHTS else 0.0) + between(rng, 4.0, 60.0), 232.0)
    if klass is Klass.SCUFFING_SUDDEN and rig.loading == WEIGHTS and last_s > 225.0 and rng.random() < 0.3:
        plan.story_s = last_s + rng.uniform(4.5, 9.0)  # the step itself was too much
    if klass is Klass.SCUFFING_SUDDEN and rng.random() < 0.2:
        up_s = _dry_start(plan, rng, rig, plan.story_s)
        plan.story_s = up_s + between(rng, 8.0, 90.0)
    if klass is Klass.JAM:
        plan.jam_s = plan.story_s
        plan.duration_s = plan.jam_s + between(rng, 6.0, 40.0)
    elif klass is Klass.OVERHEAT:
        plan.heat_from_s = plan.story_s
        plan.duration_s = plan.story_s + 1500.0
    else:
        ahead_s = _precursor_s(rng, klass)
        plan.precursor_s = plan.story_s
        plan.onset_s = plan.story_s + ahead_s
        if ahead_s > 0.0:
            plan.precursor = _draw_precursor(rng, rig, ahead_s)
        if plan.precursor is Precursor.CREEP and ahead_s > 20.0:
            plan.depleted = bool(rng.random() < 0.5)
            plan.starved = not plan.depleted
        plan.duration_s = plan.onset_s + (
            between(rng, 40.0, 70.0) if klass is Klass.SEIZURE else between(rng, 12.0, 60.0)
        )
    plan.busy.append((plan.story_s - 15.0, FOREVER_S))
