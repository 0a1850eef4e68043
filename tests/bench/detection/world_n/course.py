"""Draws the course of a recording: loads, motor runs, when the event comes, how long it all takes.

Reads class and rig, gives a `Draft`; nuisances are put into it afterwards.
"""

import math

from world_b.values import Kind, Klass

from world_n.draft import AFTER_RECORDING_S, BEFORE_RECORDING_S, Draft
from world_n.draws import Rng, between, chance, log_between, pick
from world_n.events import draw_event, settled_s
from world_n.scene import Rig, Step

LONGEST_S = 1450.0
CALM_BEFORE_EVENT_S = 20.0


def _shares(rng: Rng, count: int) -> list[float]:
    first = between(rng, 0.08, 0.5)
    if chance(rng, 0.5):
        return [first + (1.0 - first) * i / max(count - 1, 1) for i in range(count)]
    return [math.exp(math.log(first) * (1.0 - i / max(count - 1, 1))) for i in range(count)]


def draw_stages(rng: Rng, klass: Klass) -> list[tuple[float, float]]:
    """Give the loads as shares of the largest, each with how long it stays, s."""
    if klass is Klass.STAIRCASE:
        count = int(rng.integers(4, 13))
        dwell_s = min(log_between(rng, 40.0, 180.0), LONGEST_S / count)
        return [(s, dwell_s * between(rng, 0.95, 1.05)) for s in _shares(rng, count)]
    if klass is Klass.ENDURANCE:
        length_s = log_between(rng, 330.0, LONGEST_S)
        return [(0.5, 25.0), (1.0, length_s)] if chance(rng, 0.5) else [(1.0, length_s)]
    if chance(rng, 0.55):
        count = int(rng.integers(2, 7))
        dwell_s = log_between(rng, 30.0, 100.0)
        stages = [(s, dwell_s * between(rng, 0.9, 1.1)) for s in _shares(rng, count)]
        return [*stages[:-1], (1.0, max(between(rng, 40.0, 150.0), 260.0 - dwell_s * (count - 1)))]
    return [(1.0, between(rng, 220.0, 480.0))]


def make_step(rng: Rng, rig: Rig, t_s: float, load_n: float, listed: bool = True) -> Step:
    """Give one weight set down as this rig's technician does it."""
    contact = rig.contact
    return Step(
        t_s,
        round(load_n, 2),
        contact.settle_s * between(rng, 0.7, 1.4),
        contact.bounce_share * between(rng, 0.5, 1.3),
        contact.film_share * between(rng, 0.4, 1.2) if listed else 0.0,
        listed,
    )


def _opening(rng: Rng, rig: Rig, first_load_n: float) -> tuple[float, list[Step], float, Kind | None]:
    """Give motor-on, the first steps, when the first stage is ready, and what is odd about it."""
    way, start_s = float(rng.random()), rig.drive.start_s
    if way < 0.3:
        loaded = make_step(rng, rig, BEFORE_RECORDING_S, first_load_n)
        return BEFORE_RECORDING_S, [loaded], 6.0, Kind.MID_RUN
    on_s = between(rng, 4.0, 16.0)
    if way < 0.5:
        loaded = make_step(rng, rig, BEFORE_RECORDING_S, first_load_n)
        return on_s, [loaded], on_s + start_s + 8.0, Kind.LOADED_START
    empty = Step(BEFORE_RECORDING_S, 0.0, 1.0, 0.0, listed=False)
    set_s = on_s + start_s + between(rng, 4.0, 20.0)
    return on_s, [empty, make_step(rng, rig, set_s, first_load_n)], set_s + 10.0, None


def _starts(rng: Rng, rig: Rig, first_on_s: float, end_s: float) -> list[tuple[float, float]]:
    runs, on_s = [], first_on_s
    while on_s < end_s - 30.0:
        begin_s = max(on_s, 0.0)
        off_s = begin_s + rig.drive.start_s + log_between(rng, 15.0, 90.0)
        runs.append((on_s, min(off_s, end_s - 3.0)))
        on_s = off_s + rig.drive.coast_s + log_between(rng, 3.0, 40.0)
    return runs


def draw_course(rng: Rng, klass: Klass, rig: Rig) -> Draft:
    """Give loads, runs and event of a recording, and which times they take up."""
    largest_n = rig.contact.largest_load_n
    stages = draw_stages(rng, klass)
    on_s, steps, ready_s, odd = _opening(rng, rig, stages[0][0] * largest_n)
    t_s = ready_s - 6.0 + stages[0][1]
    for share, length_s in stages[1:]:
        steps.append(make_step(rng, rig, t_s, share * largest_n))
        t_s += length_s
    event = draw_event(rng, klass, rig, t_s)
    runs = [(on_s, math.inf)]
    if event is None:
        duration_s = t_s + between(rng, 5.0, 20.0)
        if klass is Klass.STARTS_AND_STOPS:
            runs = _starts(rng, rig, on_s, duration_s)
        elif chance(rng, 0.3):
            runs = [(on_s, duration_s - between(rng, 3.0, 12.0))]
        quiet_s = min(duration_s - 8.0, runs[-1][1] - 4.0)
    else:
        seen_s = settled_s(event, rig)
        duration_s = seen_s + between(rng, 18.0, 70.0)
        if klass is Klass.SUPPLY_LOST:
            runs = [(on_s, event.start_s)]
        elif klass is not Klass.OVERHEAT and chance(rng, 0.5):
            runs = [(on_s, max(duration_s - between(rng, 2.0, 30.0), seen_s + 10.0))]
        quiet_s = t_s - CALM_BEFORE_EVENT_S
    runs = [(a, min(b, duration_s + AFTER_RECORDING_S)) for a, b in runs]
    draft = Draft(duration_s, ready_s, quiet_s, steps, runs, event)
    for step in steps:
        draft.take(step.t_s - 3.0, step.t_s + 14.0)
    if len(runs) > 1:
        for _, off_s in runs:
            draft.take(off_s - 3.0, off_s + 3.0)
        for again_s, _ in runs[1:]:
            draft.take(again_s - 3.0, again_s + rig.drive.start_s + 5.0)
    if odd:
        draft.mark(rng, odd, max(on_s, 0.0))
    if klass is Klass.STICK_SLIP or klass is Klass.SQUEAL:
        _episodes(rng, klass, draft)
    return draft


def _episodes(rng: Rng, klass: Klass, draft: Draft) -> None:
    kind = Kind.STICK_SLIP if klass is Klass.STICK_SLIP else Kind.SQUEAL
    longest_s = (draft.quiet_s - draft.ready_s) / 3.0
    for _ in range(pick(rng, (2, 3, 4))):
        length_s = min(log_between(rng, 15.0, 90.0), longest_s)
        t_s = draft.room_s(rng, length_s)
        if t_s is None:
            t_s = draft.room_s(rng, 15.0)
            length_s = 15.0
        if t_s is not None:
            draft.mark(rng, kind, t_s, length_s)
