"""The hands at the switch, and the mains: pauses, inching, restarts, nights, dips, and the supply they leave.

Reads the diary, fills `supply`, `night` and lifted loads of the acts, and the plan's nuisances.
"""

import numpy as np
from numpy.random import Generator
from world_b.values import Kind, Klass, Nuisance

from .acts import SLOW_S, Acts
from .chance import chance, log_between, one_of
from .diary import Diary
from .hands import lift, ring
from .plan import Plan
from .rig import Rig

_STOPS = ((Kind.PAUSE, 0.5), (Kind.RESTART_BEFORE_REST, 0.2), (Kind.INCHING, 0.18), (Kind.DAY_BETWEEN, 0.12))


def disturb_motor(rng: Generator, rig: Rig, klass: Klass, diary: Diary, acts: Acts) -> None:
    """Let the technician stop, inch and bump, and the mains dip; then switch the motor as planned."""
    plan = diary.plan
    stops = [kind for kind, share in _stops_of(klass) if chance(rng, share)]
    if klass is Klass.STARTS_AND_STOPS:
        stops = [Kind.PAUSE, *(one_of(rng, _STOPS) for _ in range(int(rng.integers(2, 9))))]
    for kind in stops:
        _stop(rng, rig, kind, diary, acts)
    dips = [(t_s, rng.uniform(0.04, 0.3)) for t_s in _some(rng, diary, 0.14, 0.3)]
    for t_s in _some(rng, diary, 0.3, 4.0):
        load_n = float(acts.load_n[int(np.searchsorted(acts.t_s, t_s))])
        ring(rig, acts, t_s, rng.choice([-1.0, 1.0]) * rng.uniform(0.1, 0.5) * load_n)
        plan.nuisances.append(Nuisance(Kind.BUMP, t_s))
    _switch(rng, plan, acts)
    for t_s, length_s in dips:
        acts.supply[(acts.t_s >= t_s) & (acts.t_s < t_s + length_s)] *= rng.uniform(0.15, 0.75)
        plan.nuisances.append(Nuisance(Kind.BRIEF_DIP, t_s, length_s))
    for begin_s, end_s in plan.lifted:
        lift(acts, begin_s, end_s)


def _stops_of(klass: Klass) -> tuple[tuple[Kind, float], ...]:
    if klass is Klass.ENDURANCE:
        return ((Kind.PAUSE, 0.3), (Kind.DAY_BETWEEN, 0.1))
    return ((Kind.PAUSE, 0.12), (Kind.RESTART_BEFORE_REST, 0.05), (Kind.INCHING, 0.04), (Kind.DAY_BETWEEN, 0.03))


def _some(rng: Generator, diary: Diary, share: float, length_s: float) -> list[float]:
    found = [diary.find(length_s) for _ in range(int(rng.integers(1, 3)))] if chance(rng, share) else []
    return [t_s for t_s in found if t_s is not None]


def _stop(rng: Generator, rig: Rig, kind: Kind, diary: Diary, acts: Acts) -> None:
    plan = diary.plan
    lengths_s = {
        Kind.PAUSE: log_between(rng, 5.0, 60.0),
        Kind.RESTART_BEFORE_REST: log_between(rng, 0.1, 0.9),
        Kind.INCHING: rng.uniform(6.0, 15.0),
        Kind.DAY_BETWEEN: rng.uniform(25.0, 50.0),
    }
    length_s = lengths_s[kind]
    t_s = diary.find(length_s + 4.0 + 1.5 * rig.motor.ramp_s)
    if t_s is None:
        return
    t_s += 2.0
    end_s = t_s + length_s
    if kind is Kind.INCHING:
        edges = np.sort(rng.uniform(t_s, end_s, 2 * int(rng.integers(2, 6)))).tolist()
        plan.off += list(zip([t_s, *edges[1::2]], [*edges[::2], end_s], strict=True))
    else:
        plan.off.append((t_s, end_s))
    if kind is Kind.DAY_BETWEEN:
        middle_s = 0.5 * (t_s + end_s)
        plan.nights.append((middle_s, rng.uniform(7.0, 17.0) * 3600.0))
        acts.night[int(middle_s / SLOW_S)] = rng.uniform(0.2, 2.0)
    plan.nuisances.append(Nuisance(kind, t_s, length_s))
    if kind in (Kind.PAUSE, Kind.DAY_BETWEEN) and chance(rng, 0.5):
        plan.lifted.append((t_s - 1.5, end_s + 1.5 + rig.motor.ramp_s))
    elif kind is not Kind.RESTART_BEFORE_REST:
        plan.nuisances.append(Nuisance(Kind.LOADED_START, end_s))


def _switch(rng: Generator, plan: Plan, acts: Acts) -> None:
    t_s = acts.t_s
    acts.supply[:] = (t_s >= plan.motor_on_s) & (t_s < plan.motor_off_s)
    for begin_s, end_s in plan.off:
        acts.supply[(t_s >= begin_s) & (t_s < end_s)] = 0.0
    knots_s = np.arange(0.0, t_s[-1] + 40.0, 20.0)
    acts.supply *= 1.0 + np.interp(t_s, knots_s, rng.normal(0.0, rng.uniform(0.001, 0.008), len(knots_s)))
