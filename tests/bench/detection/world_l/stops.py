"""Adds motor stops to a plan: pauses, restarts, inching, a day between. Reads `plan`, `rig`."""

import itertools
import math
from dataclasses import replace

import numpy as np
from world_b.values import Kind, Klass, Nuisance

from world_l.draws import chance, log_uniform, pick
from world_l.plan import Plan
from world_l.rig import Rig

SETTLE_S = 25.0
"""The motor runs at least this long between a restart and what follows, so that the event has a `before`."""


def add_stops(
    rng: np.random.Generator, klass: Klass, rig: Rig, plan: Plan, event_s: float, nuisances: list[Nuisance]
) -> Plan:
    """Cut the motor's running into spans, before anything goes wrong, and note each stop."""
    wanted = int(rng.integers(3, 8)) if klass is Klass.STARTS_AND_STOPS else int(chance(rng, 0.3))
    begin_s = max(plan.switched[0][0], 0.0) + 20.0 + rig.drive.ramp_s
    end_s = min(event_s - 45.0, plan.duration_s - 40.0)
    if plan.fault is not None:
        end_s = min(end_s, plan.fault.t_s - 10.0)
    if end_s - begin_s < 60.0 * max(wanted, 1):
        wanted = max(int((end_s - begin_s) / 60.0), 0) if wanted else 0
    edges = np.linspace(begin_s, end_s, wanted + 1) if wanted else np.empty(0)
    spans = list(plan.switched)
    day = (math.nan, 0.0)
    for left_s, right_s in itertools.pairwise(edges.tolist()):
        stop_s = float(rng.uniform(left_s, left_s + 0.3 * (right_s - left_s)))
        kind = pick(rng, (Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.INCHING, Kind.DAY_BETWEEN), (0.45, 0.25, 0.2, 0.1))
        if kind is Kind.DAY_BETWEEN and not math.isnan(day[0]):
            kind = Kind.PAUSE
        back_s = _cut(rng, rig, spans, kind, stop_s, right_s)
        if kind is Kind.DAY_BETWEEN:
            day = (stop_s + 0.8 * (back_s - stop_s), rng.uniform(4.0, 60.0) * 3600.0)
        nuisances.append(Nuisance(kind, stop_s, back_s - stop_s))
    return replace(plan, switched=tuple(spans), day_at_s=day[0], day_jump_s=day[1])


def _cut(
    rng: np.random.Generator, rig: Rig, spans: list[tuple[float, float]], kind: Kind, stop_s: float, right_s: float
) -> float:
    """Stop the last span at `stop_s` and open others after; give when the motor is on for good."""
    on_s, off_s = spans.pop()
    spans.append((on_s, stop_s))
    longest_s = max(0.4 * (right_s - stop_s), 4.0)
    if kind is Kind.RESTART_BEFORE_REST:
        back_s = stop_s + log_uniform(rng, 0.15, 2.0)
    elif kind is Kind.DAY_BETWEEN:
        back_s = stop_s + min(rng.uniform(20.0, 40.0), longest_s)
    else:
        back_s = stop_s + min(log_uniform(rng, 4.0, 80.0), longest_s)
    if kind is Kind.INCHING:
        nudge_s = stop_s + 0.4 * (back_s - stop_s)
        for _ in range(int(rng.integers(1, 5))):
            push_s = log_uniform(rng, 0.2, 1.0)
            if nudge_s + push_s > back_s - 0.3:
                break
            spans.append((nudge_s, nudge_s + push_s))
            nudge_s += push_s + rng.uniform(0.5, 2.5)
        back_s = max(back_s, nudge_s)
    spans.append((back_s, off_s))
    return back_s
