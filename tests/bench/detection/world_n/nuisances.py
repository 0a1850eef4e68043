"""Puts a handful of healthy nuisances of `Kind` into a plan, clear of each other and of the event.

Reads a `Draft`, changes its steps, runs and marks. Painting them is up to each channel's module.
"""

import math
from dataclasses import replace

from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    PIN_TEMPERATURE,
    SOUND_LEVEL,
    Kind,
    Klass,
)

from world_n.course import make_step
from world_n.draft import Draft
from world_n.draws import Rng, between, chance, log_between, pick
from world_n.names import Oddity
from world_n.scene import Rig

WHOLE = (Kind.MAINS_HUM, Kind.COARSE_TEMPERATURE, Kind.CURRENT_RAIL)
AT_STEP = (Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.LIFTED)
MOTOR = (Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.INCHING, Kind.DAY_BETWEEN)
PLACED_S = {
    Kind.TAKEN_OFF_AGAIN: (12.0, 40.0),
    Kind.BUMP: (0.3, 1.5),
    Kind.FILM_TRANSITION: (30.0, 150.0),
    Kind.DEBRIS: (0.1, 1.5),
    Kind.STICK_SLIP: (5.0, 25.0),
    Kind.SQUEAL: (3.0, 25.0),
    Kind.OIL_TOP_UP: (4.0, 10.0),
    Kind.BRIEF_DIP: (0.06, 0.4),
}
"""Length of what happens to contact or motor while it runs, s."""

HARMLESS_S = {
    Kind.DOOR_SLAM: (0.2, 0.8),
    Kind.NEIGHBOUR: (10.0, 90.0),
    Kind.VOICES: (5.0, 40.0),
    Kind.SPIKES: (20.0, 120.0),
    Kind.SHORT_DROPOUTS: (10.0, 100.0),
    Kind.HOLES: (0.2, 4.0),
    Kind.DUPLICATE_STAMPS: (0.05, 0.5),
    Kind.BACKWARD_STAMPS: (0.1, 1.0),
}
"""Length of what touches the record alone and may come until shortly before the event, s."""

NEEDED = {
    Kind.MAINS_HUM: (FRICTION_FORCE,),
    Kind.COARSE_TEMPERATURE: (PIN_TEMPERATURE, BATH_TEMPERATURE),
    Kind.DOOR_SLAM: (SOUND_LEVEL,),
    Kind.NEIGHBOUR: (SOUND_LEVEL,),
    Kind.VOICES: (SOUND_LEVEL,),
}
AROUND_S = 4.0
BEFORE_ONSET_S = 12.0


def _at_step(rng: Rng, kind: Kind, draft: Draft, rig: Rig) -> None:
    places = [i for i, s in enumerate(draft.steps) if s.listed and s.t_s > draft.ready_s]
    if not places:
        return
    i = pick(rng, places)
    step, before = draft.steps[i], draft.steps[i - 1]
    if any(m.t_s == step.t_s for m in draft.marks):
        return
    if kind is Kind.HARD_SET_DOWN:
        draft.steps[i] = replace(step, settle_s=0.05, bounce_share=between(rng, 0.4, 0.9))
        draft.mark(rng, kind, step.t_s, 3.0 * rig.contact.bounce_s)
    elif kind is Kind.SET_DOWN_TWICE:
        off_s, on_s = between(rng, 0.6, 1.5), between(rng, 1.8, 3.0)
        off = make_step(rng, rig, step.t_s + off_s, before.load_n, listed=False)
        again = make_step(rng, rig, step.t_s + on_s, step.load_n, listed=False)
        draft.steps[i + 1 : i + 1] = [off, again]
        draft.mark(rng, kind, step.t_s, on_s)
    else:
        away_s = between(rng, 3.0, 12.0)
        if draft.is_free(step.t_s - away_s, step.t_s - 3.0):
            draft.take(step.t_s - away_s - 3.0, step.t_s)
            draft.steps.insert(i, make_step(rng, rig, step.t_s - away_s, 0.0, listed=False))
            draft.mark(rng, kind, step.t_s - away_s, away_s)


def _stand(rng: Rng, draft: Draft, rig: Rig, t_s: float, length_s: float) -> None:
    """Stop the motor; often the weights come off meanwhile, or somebody works at the ring."""
    draft.cut_run(t_s, t_s + length_s)
    rest_s = t_s + rig.drive.coast_s + 1.0
    if length_s - rig.drive.coast_s > 8.0 and chance(rng, 0.5):
        load_n = draft.load_at_n(t_s)
        draft.steps += [
            make_step(rng, rig, rest_s, 0.0, listed=False),
            make_step(rng, rig, t_s + length_s - 3.0, load_n, listed=False),
        ]
        draft.steps.sort(key=lambda s: s.t_s)
    for oddity in (Oddity.CLEANED, Oddity.BATH_SWAPPED, Oddity.RETARED):
        if length_s - rig.drive.coast_s > 5.0 and chance(rng, 0.25):
            draft.mark(rng, oddity, rest_s, length_s - rig.drive.coast_s - 1.0)


def _motor(rng: Rng, kind: Kind, draft: Draft, rig: Rig) -> None:
    drive = rig.drive
    length_s = {
        Kind.PAUSE: drive.coast_s + between(rng, 4.0, 50.0),
        Kind.RESTART_BEFORE_REST: drive.coast_s * between(rng, 0.3, 0.8),
        Kind.INCHING: drive.coast_s + between(rng, 14.0, 25.0),
        Kind.DAY_BETWEEN: drive.coast_s + between(rng, 20.0, 40.0),
    }[kind]
    room_s = draft.room_s(rng, length_s + drive.start_s + 12.0)
    if room_s is None:
        return
    t_s = room_s + 3.0
    if not any(on_s < t_s and t_s + length_s < off_s for on_s, off_s in draft.runs):
        return
    if kind is Kind.RESTART_BEFORE_REST:
        draft.cut_run(t_s, t_s + length_s)
    else:
        _stand(rng, draft, rig, t_s, length_s)
    draft.mark(rng, kind, t_s, length_s)
    if kind is Kind.DAY_BETWEEN:
        draft.night_s = t_s + drive.coast_s + 0.5 * (length_s - drive.coast_s)
        draft.night_length_s = round(between(rng, 20_000.0, 75_000.0))
    if kind is Kind.INCHING:
        at_s = t_s + drive.coast_s + 1.5
        while at_s < t_s + length_s - 4.0:
            long_s = between(rng, 0.25, 0.9)
            draft.runs.append((at_s, at_s + long_s))
            at_s += long_s + between(rng, 1.0, 3.0)
        draft.runs.sort()


def _placed(rng: Rng, kind: Kind, draft: Draft, rig: Rig) -> None:
    length_s = log_between(rng, *PLACED_S[kind])
    t_s = draft.room_s(rng, length_s + 2.0 * AROUND_S)
    if t_s is None or not any(on_s < t_s and t_s + length_s + AROUND_S < off_s for on_s, off_s in draft.runs):
        return
    t_s += AROUND_S
    if kind is Kind.TAKEN_OFF_AGAIN:
        load_n = draft.load_at_n(t_s)
        heavier_n = min(load_n * between(rng, 1.15, 1.5), rig.contact.largest_load_n * 1.15)
        draft.steps += [make_step(rng, rig, t_s, heavier_n), make_step(rng, rig, t_s + length_s, load_n)]
        draft.steps.sort(key=lambda s: s.t_s)
        draft.take(t_s + length_s, t_s + length_s + 14.0)
    draft.mark(rng, kind, t_s, length_s)


def _harmless(rng: Rng, kind: Kind, draft: Draft) -> None:
    length_s = log_between(rng, *HARMLESS_S[kind])
    last_s = draft.duration_s - 5.0 if draft.event is None else draft.event.start_s - BEFORE_ONSET_S
    t_s = between(rng, draft.ready_s, max(last_s - length_s, draft.ready_s))
    over_night = t_s <= draft.night_s <= t_s + length_s
    if t_s + length_s <= last_s and not over_night:
        draft.mark(rng, kind, t_s, length_s)


def put_nuisances(rng: Rng, klass: Klass, draft: Draft, rig: Rig) -> None:
    """Put two to six kinds into the plan, as far as there is room and the rig has the channels.

    Changes `draft`. Kinds that stop the motor come first, since everything else gives way to them.
    """
    there = CHANNELS_OF[rig.channel_set]
    kinds = [k for k in (*WHOLE, *AT_STEP, *MOTOR, *PLACED_S, *HARMLESS_S) if _fits(k, there)]
    chosen = {kinds[int(i)] for i in rng.permutation(len(kinds))[: int(rng.integers(2, 7))]}
    for kind in [k for k in kinds if k in chosen]:
        if kind in MOTOR and klass is not Klass.STARTS_AND_STOPS:
            _motor(rng, kind, draft, rig)
    for kind in [k for k in kinds if k in chosen]:
        if kind in AT_STEP:
            _at_step(rng, kind, draft, rig)
        elif kind in PLACED_S:
            for _ in range(pick(rng, (1, 1, 2))):
                _placed(rng, kind, draft, rig)
        elif kind in HARMLESS_S:
            for _ in range(pick(rng, (1, 1, 2, 3))):
                _harmless(rng, kind, draft)
        elif kind in WHOLE and not (kind is Kind.CURRENT_RAIL and not _starts_within(draft, rig)):
            draft.mark(rng, kind, 0.0, draft.duration_s)


def _fits(kind: Kind, there: tuple[str, ...]) -> bool:
    return kind not in NEEDED or any(c in there for c in NEEDED[kind])


def _starts_within(draft: Draft, rig: Rig) -> bool:
    starts = any(0.0 <= on_s < draft.duration_s and not math.isinf(on_s) for on_s, _ in draft.runs)
    full_a = rig.drive.no_load_a * (1.0 + rig.drive.gain)
    return starts and rig.drive.lock_a > 1.9 * full_a
