"""Draws the plan of a class: motor, loads, and what goes wrong. Reads `rig`, `acts`; gives a `Plan`."""

import math
from dataclasses import dataclass, replace

import numpy as np
from world_b.values import SCUFFINGS, Kind, Klass, Nuisance, Precursor

from world_l.acts import add_acts
from world_l.draws import chance, log_uniform, pick
from world_l.plan import FaultPlan, Growth, JamPlan, LoadMove, Manner, OverheatPlan, Plan, ScuffPlan
from world_l.rig import Loader, Rig
from world_l.stops import add_stops

MANNER_OF = {Loader.WATER: Manner.SLOW, Loader.SCREW: Manner.TURNS, Loader.AIR: Manner.AIR}


@dataclass(frozen=True, slots=True)
class _Frame:
    """The skeleton: how long, when the motor starts, up to when the operator still changes loads."""

    duration_s: float
    start_s: float
    last_change_s: float


def draw_plan(rng: np.random.Generator, klass: Klass, rig: Rig) -> Plan:
    """Draw the plan of a recording of a class."""
    frame = _draw_frame(rng, klass)
    staircase = klass is Klass.STAIRCASE or (klass is not Klass.ENDURANCE and chance(rng, 0.6))
    nuisances: list[Nuisance] = []
    loads = _draw_loads(rng, rig, frame, staircase, nuisances)
    plan = Plan(
        duration_s=frame.duration_s,
        start_stamp_s=float(round(log_uniform(rng, 2.0, 4000.0), 2)) if chance(rng, 0.25) else 0.0,
        switched=((frame.start_s, math.inf),),
        loads=loads,
        warm=rng.uniform(0.5, 1.0) if frame.start_s < 0 else rng.uniform(0.0, 0.35),
    )
    plan = _with_event(rng, klass, rig, plan)
    event_s = first_event_s(plan)
    plan = add_stops(rng, klass, rig, plan, event_s, nuisances)
    return add_acts(rng, klass, rig, plan, event_s, nuisances)


def first_event_s(plan: Plan) -> float:
    """Give when the first thing that is not healthy begins; a sensor fault does not count; inf where there is none."""
    times_s = [math.inf]
    if plan.scuff is not None:
        times_s.append(plan.scuff.precursor_s)
    if plan.jam is not None:
        times_s.append(plan.jam.t_s)
    if plan.overheat is not None:
        times_s.append(plan.overheat.t_s)
    if not math.isnan(plan.supply_lost_s):
        times_s.append(plan.supply_lost_s)
    return min(times_s)


def _draw_frame(rng: np.random.Generator, klass: Klass) -> _Frame:
    duration_s = log_uniform(rng, 500.0, 1250.0)
    mid_run = chance(rng, 0.3) or (klass is Klass.ENDURANCE and chance(rng, 0.5))
    start_s = -log_uniform(rng, 60.0, 4000.0) if mid_run else rng.uniform(6.0, 40.0)
    healthy = klass in (Klass.STAIRCASE, Klass.ENDURANCE, Klass.STICK_SLIP, Klass.SQUEAL, Klass.STARTS_AND_STOPS)
    last_s = duration_s - 20.0 if healthy else duration_s * rng.uniform(0.35, 0.85)
    if klass is Klass.SCUFFING_LONG:
        last_s = min(last_s, duration_s * 0.6)
    return _Frame(duration_s, start_s, last_s)


def _draw_loads(
    rng: np.random.Generator, rig: Rig, frame: _Frame, staircase: bool, nuisances: list[Nuisance]
) -> tuple[LoadMove, ...]:
    """Draw the loads; a staircase has even or doubling steps, an endurance run one load, or a short run-in and one."""
    steps = int(rng.integers(3, 9)) if staircase else int(rng.integers(1, 3))
    rises = np.linspace(1.0 / steps, 1.0, steps) if chance(rng, 0.6) else 2.0 ** np.arange(1.0 - steps, 1.0)
    levels_n = rig.top_load_n * rises
    loaded_start = chance(rng, 0.25)
    first_s = -1.0 if frame.start_s < 0 or loaded_start else frame.start_s + rng.uniform(8.0, 40.0)
    if frame.start_s < 0:
        nuisances.append(Nuisance(Kind.MID_RUN, 0.0, frame.duration_s))
    elif loaded_start:
        nuisances.append(Nuisance(Kind.LOADED_START, max(frame.start_s, 0.0)))
    room_s = frame.last_change_s - max(first_s, 0.0)
    dwell_s = room_s / steps if staircase else rng.uniform(30.0, 120.0)
    moves = [LoadMove(-1e6, rig.idle_load_n, Manner.SMOOTH, 0.1)]
    for k, level_n in enumerate(levels_n):
        t_s = first_s + k * dwell_s * (1.0 if staircase else rng.uniform(0.8, 1.2))
        if k > 0:
            t_s += rng.normal(0.0, 0.04) * dwell_s
        if k == 0 and t_s < 0:
            moves.append(LoadMove(-1e5, float(level_n), Manner.SMOOTH, 0.1))
            continue
        moves.extend(_load_change(rng, rig, t_s, moves[-1].load_n, float(level_n), nuisances))
    return tuple(moves)


def _load_change(
    rng: np.random.Generator, rig: Rig, t_s: float, from_n: float, to_n: float, nuisances: list[Nuisance]
) -> list[LoadMove]:
    """Give the moves of one change; with weights the operator may drop, lift, or think again."""
    if rig.loader is not Loader.WEIGHTS:
        lasts_s = {Loader.WATER: log_uniform(rng, 8.0, 60.0), Loader.SCREW: rng.uniform(3.0, 14.0)}.get(
            rig.loader, log_uniform(rng, 0.3, 4.0)
        )
        return [LoadMove(t_s, to_n, MANNER_OF[rig.loader], lasts_s)]
    how = pick(rng, ("smooth", "hard", "twice", "lifted", "taken"), (0.5, 0.15, 0.12, 0.15, 0.08))
    put_s = log_uniform(rng, 0.1, 1.5)
    if how == "hard":
        nuisances.append(Nuisance(Kind.HARD_SET_DOWN, t_s, 2.0))
        return [LoadMove(t_s, to_n, Manner.HARD, 0.03)]
    if how == "twice":
        nuisances.append(Nuisance(Kind.SET_DOWN_TWICE, t_s, 4.0))
        return [LoadMove(t_s, to_n, Manner.TWICE, put_s)]
    if how == "lifted":
        away_s = rng.uniform(2.0, 12.0)
        nuisances.append(Nuisance(Kind.LIFTED, t_s, away_s))
        return [LoadMove(t_s, 0.0, Manner.SMOOTH, 0.3), LoadMove(t_s + away_s, to_n, Manner.SMOOTH, put_s)]
    if how == "taken":
        on_s = rng.uniform(2.0, 9.0)
        nuisances.append(Nuisance(Kind.TAKEN_OFF_AGAIN, t_s, on_s))
        again_s = t_s + on_s + rng.uniform(2.0, 9.0)
        return [
            LoadMove(t_s, to_n, Manner.SMOOTH, put_s),
            LoadMove(t_s + on_s, from_n, Manner.SMOOTH, 0.3),
            LoadMove(again_s, to_n, Manner.SMOOTH, put_s),
        ]
    return [LoadMove(t_s, to_n, Manner.SMOOTH, put_s)]


def _settled_s(plan: Plan) -> float:
    """Give when the last load has come to rest and the motor runs."""
    last = plan.loads[-1]
    return max(last.t_s + last.lasts_s, plan.switched[0][0] + 12.0, 0.0) + 6.0


def _with_event(rng: np.random.Generator, klass: Klass, rig: Rig, plan: Plan) -> Plan:
    settled_s = _settled_s(plan)
    if klass in SCUFFINGS or klass is Klass.SEIZURE:
        plan = _with_scuff(rng, klass, plan, settled_s)
    event_s = max(settled_s + log_uniform(rng, 4.0, 120.0), plan.duration_s * rng.uniform(0.35, 0.95))
    if klass is Klass.JAM:
        grips_s = log_uniform(rng, 0.005, 0.3) if chance(rng, 0.75) else log_uniform(rng, 0.3, 6.0)
        jam = JamPlan(event_s, grips_s, rng.uniform(1.2, 4.0))
        return replace(plan, jam=jam, duration_s=event_s + grips_s + rng.uniform(15.0, 60.0))
    if klass is Klass.SUPPLY_LOST:
        return replace(plan, supply_lost_s=event_s, duration_s=event_s + rng.uniform(25.0, 90.0))
    if klass is Klass.OVERHEAT:
        by_s = event_s + log_uniform(rng, 60.0, 420.0)
        heat_w = rig.heat.pin_share * 0.09 * rig.top_load_n * rig.sliding_m_s
        warm_k = heat_w / (rig.heat.pin_to_bath_w_per_k + rig.heat.pin_to_air_w_per_k)
        over = OverheatPlan(event_s, by_s, warm_k > 12.0 and chance(rng, 0.35), rng.uniform(0.85, 1.25))
        return replace(plan, overheat=over, duration_s=by_s + rng.uniform(20.0, 80.0))
    if klass is Klass.SENSOR_FAULT:
        t_s = rng.uniform(0.2, 0.85) * plan.duration_s
        return replace(plan, fault=FaultPlan(max(t_s, 30.0), rng.random(), int(rng.integers(2**31))))
    return plan


PRECURSORS = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)


def _with_scuff(rng: np.random.Generator, klass: Klass, plan: Plan, settled_s: float) -> Plan:
    kind = klass
    if klass in (Klass.SEIZURE, Klass.SCUFFING_WITH_FAULT):
        kind = pick(rng, (Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN))
    ahead_s = {
        Klass.SCUFFING_LONG: log_uniform(rng, 40.0, 300.0),
        Klass.SCUFFING_SHORT: log_uniform(rng, 2.0, 30.0),
    }.get(kind, 0.0)
    grows_s = {
        Klass.SCUFFING_LONG: log_uniform(rng, 1.0, 30.0),
        Klass.SCUFFING_SHORT: log_uniform(rng, 0.5, 20.0),
    }.get(kind, log_uniform(rng, 0.05, 3.0))
    first_s = max(settled_s + log_uniform(rng, 3.0, 120.0), plan.duration_s * rng.uniform(0.35, 0.95) - ahead_s)
    growth = pick(rng, list(Growth))
    if grows_s < 0.8:
        growth = pick(rng, (Growth.LOGISTIC, Growth.RUNAWAY, Growth.JUMP))
    scuff = ScuffPlan(
        onset_s=first_s + ahead_s,
        grows_s=grows_s,
        growth=growth,
        factor=log_uniform(rng, 1.6, 15.0),
        precursor=Precursor.NONE if ahead_s == 0.0 else pick(rng, PRECURSORS),
        precursor_s=first_s,
        precursor_size=log_uniform(rng, 0.15, 0.9),
        after_unrest=log_uniform(rng, 0.015, 0.25),
        after_decline=rng.uniform(0.0, 0.35) if chance(rng, 0.5) else 0.0,
        sound_db=pick(rng, (rng.uniform(3.0, 22.0), rng.uniform(-5.0, 0.0), 0.0), (0.65, 0.15, 0.2)),
        welds=klass is Klass.SEIZURE,
        seed=int(rng.integers(2**31)),
    )
    end_s = scuff.onset_s + grows_s + rng.uniform(20.0, 80.0)
    fault = None
    if klass is Klass.SCUFFING_WITH_FAULT:
        fault_s = max(rng.uniform(0.25, 0.97) * scuff.onset_s, 20.0)
        fault = FaultPlan(min(fault_s, scuff.onset_s - 1.0), rng.random(), int(rng.integers(2**31)))
    switched = plan.switched
    if chance(rng, 0.25):  # the operator hears it and stops the motor by hand
        stopped_s = end_s
        switched = (*switched[:-1], (switched[-1][0], stopped_s))
        end_s += rng.uniform(6.0, 20.0)
    return replace(plan, scuff=scuff, fault=fault, switched=switched, duration_s=end_s)
