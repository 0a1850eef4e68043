"""Strew healthy things over a plan, each where it could have happened.

Reads `world_m.plan`, `world_m.design`. What the contact, the motor or the load does gets room of its own, clear of
load moves and of the event; noises and trouble with rows may fall anywhere.
"""

from dataclasses import replace
from math import isnan

from world_b.values import Kind, Klass, Nuisance

from world_m.design import Design, Loading
from world_m.plan import MECHANICAL, LoadMove, Plan
from world_m.streams import Stream, between, happens, log_between

DURATIONS_S = {
    Kind.PAUSE: (4.0, 90.0),
    Kind.INCHING: (5.0, 14.0),
    Kind.DAY_BETWEEN: (16.0, 40.0),
    Kind.FILM_TRANSITION: (40.0, 400.0),
    Kind.STICK_SLIP: (8.0, 90.0),
    Kind.SQUEAL: (3.0, 60.0),
    Kind.NEIGHBOUR: (20.0, 300.0),
    Kind.VOICES: (3.0, 45.0),
    Kind.SPIKES: (20.0, 400.0),
    Kind.SHORT_DROPOUTS: (20.0, 400.0),
    Kind.HOLES: (0.15, 4.0),
    Kind.DUPLICATE_STAMPS: (0.3, 20.0),
    Kind.BACKWARD_STAMPS: (0.5, 3.0),
}
WEIGHTS = {
    Kind.BUMP: 3.0,
    Kind.PAUSE: 1.2,
    Kind.RESTART_BEFORE_REST: 0.8,
    Kind.INCHING: 0.4,
    Kind.DAY_BETWEEN: 0.25,
    Kind.FILM_TRANSITION: 2.0,
    Kind.DEBRIS: 2.5,
    Kind.STICK_SLIP: 0.9,
    Kind.SQUEAL: 0.9,
    Kind.OIL_TOP_UP: 1.2,
    Kind.DOOR_SLAM: 3.0,
    Kind.NEIGHBOUR: 1.6,
    Kind.VOICES: 2.5,
    Kind.BRIEF_DIP: 0.9,
    Kind.SPIKES: 1.6,
    Kind.SHORT_DROPOUTS: 1.6,
    Kind.HOLES: 1.2,
    Kind.DUPLICATE_STAMPS: 0.8,
    Kind.BACKWARD_STAMPS: 0.6,
}
WHOLE = {Kind.MAINS_HUM: 0.2, Kind.COARSE_TEMPERATURE: 0.2}
"""Chance of what lasts the whole recording."""
STEP_SHARES = {
    Kind.SET_DOWN_TWICE: 0.1,
    Kind.HARD_SET_DOWN: 0.12,
    Kind.TAKEN_OFF_AGAIN: 0.06,
    Kind.LIFTED: 0.12,
}
"""Chance of each way to fumble a load move."""
CLEAR_S = 6.0
"""Room kept around load moves and between two mechanical things."""

SWITCHED_OFF_SHARE = 0.3
"""Chance that a recording without an event goes on until after the motor has been switched off."""

Span = tuple[float, float]


def sprinkle(rng: Stream, plan: Plan, design: Design) -> Plan:
    """Give the plan with its nuisances, and the load moves and the lost day that come of them."""
    plan = _fumble(rng, plan, design)
    found = list(plan.nuisances)
    if isnan(plan.event_s) and happens(rng, SWITCHED_OFF_SHARE):
        off_s = between(rng, 4.0, 14.0)
        found.append(Nuisance(Kind.PAUSE, plan.duration_s - off_s, off_s))
    busy = _busy(replace(plan, nuisances=tuple(found)))
    for kind in _wanted(rng, plan.klass):
        nuisance = _place(rng, kind, plan, design, busy, found)
        if nuisance is not None:
            found.append(nuisance)
            if kind in MECHANICAL:
                busy.append((nuisance.t_s - CLEAR_S, nuisance.t_s + nuisance.duration_s + CLEAR_S))
    for kind, share in WHOLE.items():
        if happens(rng, share):
            found.append(Nuisance(kind, 0.0, plan.duration_s))
    gap_s = float(round(3600.0 * between(rng, 5.0, 70.0))) if any(n.kind is Kind.DAY_BETWEEN for n in found) else 0.0
    return replace(plan, nuisances=tuple(sorted(found, key=lambda n: n.t_s)), day_gap_s=gap_s)


def trouble_s(plan: Plan) -> float:
    """Give when the event of a plan announces itself; the end of the recording where there is none."""
    first_s = plan.event_s if isnan(plan.precursor_s) else plan.precursor_s
    return plan.duration_s if isnan(first_s) else first_s


def _fumble(rng: Stream, plan: Plan, design: Design) -> Plan:
    moves: list[LoadMove] = []
    found = list(plan.nuisances)
    before_n = plan.first_load_n
    ends_s = [m.t_s for m in plan.moves[1:]] + [plan.duration_s]
    for move, next_s in zip(plan.moves, ends_s, strict=False):
        room_s = min(next_s, trouble_s(plan)) - move.t_s
        kind = _fumble_kind(rng) if room_s > 18.0 and design.loading is not Loading.WATER else None
        if kind is None:
            moves.append(move)
        else:
            more, nuisance = _fumbled(rng, kind, move, before_n, room_s)
            moves.extend(more)
            found.append(nuisance)
        before_n = move.load_n
    return replace(plan, moves=tuple(moves), nuisances=tuple(found))


def _fumble_kind(rng: Stream) -> Kind | None:
    draw = rng.random()
    for kind, share in STEP_SHARES.items():
        draw -= share
        if draw < 0.0:
            return kind
    return None


def _fumbled(
    rng: Stream, kind: Kind, move: LoadMove, before_n: float, room_s: float
) -> tuple[list[LoadMove], Nuisance]:
    t_s, load_n = move.t_s, move.load_n
    if kind is Kind.HARD_SET_DOWN:
        return [LoadMove(t_s, load_n, hard=True)], Nuisance(kind, t_s)
    if kind is Kind.LIFTED:
        down_s = t_s + between(rng, 2.0, 10.0)
        return [LoadMove(t_s, 0.0), LoadMove(down_s, load_n)], Nuisance(kind, t_s, down_s - t_s)
    long_s = between(rng, 1.0, 4.0) if kind is Kind.SET_DOWN_TWICE else between(rng, 0.2, 0.4) * room_s
    off_s, again_s = t_s + long_s, t_s + long_s * between(rng, 1.4, 1.9)
    moves = [move, LoadMove(off_s, before_n), LoadMove(again_s, load_n)]
    if kind is Kind.TAKEN_OFF_AGAIN:
        return moves, Nuisance(kind, off_s, again_s - off_s)
    return moves, Nuisance(kind, t_s, again_s - t_s)


def _busy(plan: Plan) -> list[Span]:
    busy = [(0.0, plan.motor_on_s + 12.0)]
    busy += [(m.t_s - CLEAR_S, m.t_s + CLEAR_S) for m in plan.moves]
    if trouble_s(plan) < plan.duration_s:
        busy.append((trouble_s(plan) - 12.0, plan.duration_s))
    busy += [(n.t_s - CLEAR_S, plan.duration_s) for n in plan.of(Kind.PAUSE)]
    if not isnan(plan.fault_s):
        busy.append((plan.fault_s - 15.0, plan.fault_s + 15.0))
    return busy


def _wanted(rng: Stream, klass: Klass) -> list[Kind]:
    """Draw what to strew: first what makes the class, then anything."""
    wanted: list[Kind] = []
    if klass is Klass.STARTS_AND_STOPS:
        stops = (Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.INCHING)
        wanted = [stops[int(rng.choice(3, p=[0.55, 0.2, 0.25]))] for _ in range(int(rng.integers(4, 9)))]
        wanted += [Kind.DAY_BETWEEN] if happens(rng, 0.35) else []
    if klass in (Klass.STICK_SLIP, Klass.SQUEAL):
        own = Kind.STICK_SLIP if klass is Klass.STICK_SLIP else Kind.SQUEAL
        wanted = [own] * int(rng.integers(3, 7))
    kinds = list(WEIGHTS)
    weights = [WEIGHTS[kind] / sum(WEIGHTS.values()) for kind in kinds]
    wanted += [kinds[int(i)] for i in rng.choice(len(kinds), size=int(rng.poisson(4.0)), p=weights)]
    return wanted


def _place(
    rng: Stream, kind: Kind, plan: Plan, design: Design, busy: list[Span], found: list[Nuisance]
) -> Nuisance | None:
    """Try for a free place; None where there is none."""
    if kind is Kind.DAY_BETWEEN and any(n.kind is kind for n in found):
        return None
    duration_s = _duration_s(rng, kind, plan, design)
    if duration_s is None:
        return None
    for _ in range(25):
        t_s = between(rng, 2.0, plan.duration_s - 2.0)
        end_s = t_s + duration_s
        if kind not in MECHANICAL:
            return Nuisance(kind, t_s, min(duration_s, plan.duration_s - t_s))
        soft = kind in (Kind.FILM_TRANSITION, Kind.STICK_SLIP, Kind.SQUEAL)
        blocks = [(low, high) for low, high in busy if not (soft and high - low < 2.1 * CLEAR_S)]
        if end_s < plan.duration_s - 8.0 and not any(low < end_s and t_s < high for low, high in blocks):
            return Nuisance(kind, t_s, duration_s)
        duration_s *= 0.9 if kind in DURATIONS_S and duration_s > 1.1 * DURATIONS_S[kind][0] else 1.0
    return None


def _duration_s(rng: Stream, kind: Kind, plan: Plan, design: Design) -> float | None:
    coast_s = coast_down_s(design, plan)
    if kind is Kind.RESTART_BEFORE_REST:
        return between(rng, 0.3, 0.6) * coast_s if coast_s > 0.15 else None
    if kind is Kind.BRIEF_DIP:
        return min(between(rng, 0.04, 0.25), 0.3 * coast_s) if coast_s > 0.1 else None
    if kind is Kind.DEBRIS:
        return between(rng, 8.0, 60.0) if happens(rng, 0.3) else log_between(rng, 0.08, 1.5)
    if kind not in DURATIONS_S:
        return 0.0
    low_s, high_s = DURATIONS_S[kind]
    if plan.klass in (Klass.STICK_SLIP, Klass.SQUEAL) and kind in (Kind.STICK_SLIP, Kind.SQUEAL):
        return log_between(rng, 15.0, 120.0)
    return log_between(rng, low_s, high_s)


def coast_down_s(design: Design, plan: Plan) -> float:
    """Give the shortest time from idle speed to rest without supply, at the highest load of the plan."""
    top_n = max([plan.first_load_n, *(m.load_n for m in plan.moves)])
    braking_nm = 1.4 * design.contact.boundary_mu * top_n * design.radius_m + 1.5 * design.drag_nm
    return design.inertia_kg_m2 * design.idle_rad_s / braking_nm
