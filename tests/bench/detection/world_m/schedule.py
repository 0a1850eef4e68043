"""Write the plan of a recording: stages, event, and the healthy things around them.

Reads `world_m.plan`, `world_m.design`. The plan hangs on seed and class only.
"""

from dataclasses import replace
from math import isnan

from world_b.values import NAN, TRIP_WORTHY, Kind, Klass, Nuisance, Precursor

from world_m.design import Design
from world_m.plan import LoadMove, Plan
from world_m.sprinkle import sprinkle
from world_m.streams import Stream, between, happens, log_between, stream

SLOW_PRECURSORS = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
SHORT_PRECURSORS = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP)
EVENTFUL = (*TRIP_WORTHY, Klass.SUPPLY_LOST)
LEAST_S, MOST_S = 200.0, 1500.0
SOON_AFTER_STEP_SHARE = 0.35
"""Chance that the event comes within seconds of a load move; ours, as most scuffs in step tests do."""
OVERHEAT_LONGEST_S = 420.0
"""Time kept for an overheat from its cause to the end; the recording is cut some time after the limit."""


def draw_plan(seed: int, klass: Klass, design: Design) -> Plan:
    """Draw the plan of a recording on a rig."""
    rng = stream(seed, klass, "plan")
    plan = _stages(rng, klass, design)
    if klass in EVENTFUL:
        plan = _with_event(rng, plan)
    if klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        plan = _with_fault(rng, plan)
    plan = sprinkle(stream(seed, klass, "nuisances"), plan, design)
    return replace(plan, loads_n=_written_down(plan))


def _stages(rng: Stream, klass: Klass, design: Design) -> Plan:
    duration_s = log_between(rng, 240.0, MOST_S)
    single = klass is Klass.ENDURANCE or (klass is not Klass.STAIRCASE and happens(rng, 0.3))
    mid_run = happens(rng, 0.3 if single else 0.08)
    loaded = not mid_run and happens(rng, 0.18)
    on_s = 0.0 if mid_run else between(rng, 3.0, 15.0)
    ratios = [between(rng, 0.4, 1.0)] if single else _ratios(rng, duration_s)
    loads_n = [design.top_load_n * ratio for ratio in ratios]
    first_n = loads_n.pop(0) if mid_run or loaded else 0.0
    begin_s = on_s + between(rng, 8.0, 20.0)
    if first_n and loads_n:
        begin_s += (duration_s - begin_s) / (len(loads_n) + 1)
    dwell_s = (duration_s - begin_s) / max(1, len(loads_n))
    moves = []
    for index, load_n in enumerate(loads_n):
        jitter_s = between(rng, 0.0, 0.15) * dwell_s if index else 0.0
        moves.append(LoadMove(begin_s + index * dwell_s + jitter_s, load_n))
    nuisances = [Nuisance(Kind.MID_RUN, 0.0)] if mid_run else []
    if loaded:
        nuisances = [Nuisance(Kind.LOADED_START, on_s)]
    return Plan(klass, duration_s, first_n, tuple(moves), (), on_s, mid_run, nuisances=tuple(nuisances))


def _ratios(rng: Stream, duration_s: float) -> list[float]:
    """Draw the stages: dwells of 20-180 s, steps even or in a fixed ratio."""
    dwell_s = log_between(rng, max(20.0, duration_s / 16.0), 180.0)
    count = max(3, min(16, round(duration_s / dwell_s)))
    if happens(rng, 0.7):
        return [(index + 1) / count for index in range(count)]
    step = between(rng, 1.15, 1.5)
    return [max(0.06, step ** (index + 1 - count)) for index in range(count) if step ** (index + 1 - count) > 0.05]


def _with_event(rng: Stream, plan: Plan) -> Plan:
    """Place the event after the first minute, seldom in the first stage, and end the recording some time after it."""
    first_s = plan.moves[0].t_s if plan.moves else 0.0
    earliest_s = max(75.0, first_s + 25.0)
    if len(plan.moves) > 1 and not happens(rng, 0.1):
        earliest_s = max(earliest_s, plan.moves[1].t_s + 5.0)
    if plan.klass is Klass.SEIZURE and len(plan.moves) > 1:
        strong = [m.t_s for m in plan.moves if m.load_n >= 0.5 * max(m.load_n for m in plan.moves)]
        earliest_s = max(earliest_s, strong[0] + 5.0)
    event_s = between(rng, earliest_s, max(earliest_s + 20.0, 0.95 * plan.duration_s))
    steps_s = [m.t_s for m in plan.moves[1:] if m.t_s >= earliest_s - 5.0]
    if steps_s and happens(rng, SOON_AFTER_STEP_SHARE):
        event_s = steps_s[int(rng.integers(len(steps_s)))] + log_between(rng, 1.5, 20.0)
    precursor, lead_s = _precursor(rng, plan.klass, event_s - max(30.0, first_s + 15.0))
    tail_s = log_between(rng, 20.0, 90.0)
    if plan.klass is Klass.OVERHEAT:
        tail_s = OVERHEAT_LONGEST_S
    if plan.klass is Klass.SUPPLY_LOST:
        tail_s = log_between(rng, 20.0, 300.0)
    end_s = min(MOST_S, max(LEAST_S, event_s + tail_s))
    event_s = min(event_s, end_s - tail_s)
    moves = tuple(m for m in plan.moves if m.t_s < event_s - 1.0)
    precursor_s = NAN if precursor is Precursor.NONE else event_s - lead_s
    return replace(plan, duration_s=end_s, moves=moves, event_s=event_s, precursor=precursor, precursor_s=precursor_s)


def _precursor(rng: Stream, klass: Klass, room_s: float) -> tuple[Precursor, float]:
    """Give what the contact shows before it scuffs and for how long, in s."""
    kind = klass
    if klass is Klass.SCUFFING_WITH_FAULT:
        kind = (Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN)[int(rng.integers(3))]
    if klass is Klass.SEIZURE and happens(rng, 0.5):
        kind = Klass.SCUFFING_SHORT
    if kind is Klass.SCUFFING_LONG:
        lead_s = min(room_s, log_between(rng, 25.0, 180.0))
        return SLOW_PRECURSORS[int(rng.integers(len(SLOW_PRECURSORS)))], lead_s
    if kind is Klass.SCUFFING_SHORT:
        return SHORT_PRECURSORS[int(rng.integers(len(SHORT_PRECURSORS)))], log_between(rng, 2.0, 15.0)
    return Precursor.NONE, 0.0


def _with_fault(rng: Stream, plan: Plan) -> Plan:
    """Place the fault anywhere after a minute, and before a scuffing so that both stand in one recording."""
    if plan.klass is Klass.SENSOR_FAULT:
        return replace(plan, fault_s=between(rng, 60.0, plan.duration_s - 40.0))
    first_s = plan.event_s if isnan(plan.precursor_s) else plan.precursor_s
    return replace(plan, fault_s=between(rng, min(35.0, 0.5 * first_s), first_s - 4.0))


def _written_down(plan: Plan) -> tuple[float, ...]:
    """Give the loads the technician would write down: each set one, also one set again, not a lifted lever."""
    loads = [plan.first_load_n] if plan.first_load_n else []
    twice = plan.of(Kind.SET_DOWN_TWICE)
    for move in plan.moves:
        slip = any(n.t_s < move.t_s < n.t_s + n.duration_s + 0.01 for n in twice)
        if move.load_n > 0.0 and not slip:
            loads.append(move.load_n)
    return tuple(loads)
