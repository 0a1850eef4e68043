"""The times at which the world is stepped, close together where much happens, and what is given at them.

Reads rig and plan, gives arrays over the grid. The rate of the rows does not enter.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from world_b.values import Flags, Floats

from .dice import Dice
from .lever import load_at
from .plan import FilmChange, Plan, Rise, Trouble
from .rig import Rig

COARSE_S, LONG_COARSE_S = 0.1, 0.25
LONG_S = 1500.0
_EVENT_S, _START_S, _SAG_S, _HAND_S, _PRECURSOR_S = 0.004, 0.01, 0.01, 0.02, 0.05
_WANDER_S = 0.5


@dataclass(frozen=True, slots=True)
class Inputs:
    """What comes from outside, at the times of the grid; each (n,).

    Attributes:
        t_s: rising.
        load_n, on, volts_share, film: N; switched on and supplied; of the supply; factor on the oil film.
        hot_share: rise of friction by particles that pass; a precursor's is apart, as the twin does without.
        precursor_share: rise of friction by forerunners.
        jam_share: torque from outside.
    """

    t_s: Floats
    load_n: Floats
    on: Flags
    volts_share: Floats
    film: Floats
    hot_share: Floats
    precursor_share: Floats
    jam_share: Floats


def lay_grid(rig: Rig, plan: Plan) -> Floats:
    """Give the times, s."""
    end_s = plan.length_s
    spans = [(0.0, end_s, COARSE_S if end_s < LONG_S else LONG_COARSE_S)]
    start_s = min(1.0 + 5.0 * rig.drive.accelerate_s + 1.2 * rig.drive.ramp_s, 12.0)
    for span in plan.on:
        spans.append((span.begin_s, span.begin_s + start_s, _START_S))
        spans.append((span.end_s, span.end_s + 1.0, _START_S))
    if plan.lost is not None:
        spans.append((plan.lost.begin_s, plan.lost.begin_s + 1.0, _START_S))
        spans.append((plan.lost.end_s, plan.lost.end_s + start_s, _START_S))
    spans += [(sag.begin_s, sag.begin_s + sag.duration_s + 1.0, _SAG_S) for sag in plan.sags]
    spans += [(placed.t_s, placed.t_s + placed.ramp_s + 2.0, _HAND_S) for placed in plan.placements]
    spans += [(blow.t_s, blow.t_s + 1.0, _HAND_S) for blow in plan.blows]
    spans += [(rise.t_s, rise.t_s + rise.length_s + rise.heal_s, _HAND_S) for rise in plan.rises]
    if plan.trouble is not None and plan.trouble.heat is None:
        trouble = plan.trouble
        spans.append((trouble.first_s, trouble.t_s, _PRECURSOR_S))
        spans.append((trouble.t_s, trouble.t_s + 10.0, _EVENT_S))
        spans.append((trouble.t_s + 10.0, end_s, _HAND_S))
    return _merge([(max(a, 0.0), min(b, end_s), step_s) for a, b, step_s in spans if b > 0.0 and a < end_s], end_s)


def _merge(spans: list[tuple[float, float, float]], end_s: float) -> Floats:
    edges = np.unique([edge for a, b, _ in spans for edge in (a, b)])
    edges = edges[np.append(np.diff(edges) > 1e-4, True)]
    finest = np.full(len(edges) - 1, np.inf)
    for a, b, step_s in spans:
        inside = (edges[:-1] >= a - 1e-3) & (edges[1:] <= b + 1e-3)
        finest[inside] = np.minimum(finest[inside], step_s)
    parts = []
    for a, b, step_s in zip(edges[:-1], edges[1:], finest, strict=True):
        parts.append(np.linspace(a, b, int(np.ceil((b - a) / min(step_s, LONG_COARSE_S))), endpoint=False))
    return np.append(np.concatenate(parts), end_s)


def lay_inputs(dice: Dice, rig: Rig, plan: Plan, t_s: Floats) -> Inputs:
    """Give everything from outside at the grid's times."""
    film = np.exp(rig.unrest.film_share * wander(dice, t_s, rig.unrest.film_lag_s))
    for change in plan.films:
        film *= _film_change(t_s, change)
    volts_share = np.ones(len(t_s))
    for sag in plan.sags:
        volts_share[(t_s >= sag.begin_s) & (t_s < sag.begin_s + sag.duration_s)] = sag.volts_share
    trouble = plan.trouble
    nothing = np.zeros(len(t_s))
    return Inputs(
        t_s,
        load_at(t_s, plan.start_load_n, plan.placements, plan.blows, rig.lever),
        switched_on(t_s, plan),
        volts_share,
        film,
        rise_at(t_s, plan.rises),
        nothing if trouble is None else forerun(t_s, trouble, None),
        nothing if trouble is None else _jam(t_s, trouble),
    )


def switched_on(t_s: Floats, plan: Plan) -> Flags:
    """Say when the motor is switched on and supplied."""
    on = np.zeros(len(t_s), dtype=np.bool_)
    for span in plan.on:
        on |= (t_s >= span.begin_s) & (t_s < span.end_s)
    if plan.lost is not None:
        on &= (t_s < plan.lost.begin_s) | (t_s >= plan.lost.end_s)
    return on


def wander(dice: Dice, t_s: Floats, lag_s: float) -> Floats:
    """Give a slow unrest of standard deviation 1 with a correlation that falls by e in `lag_s`, at least a second."""
    count = int(t_s[-1] / _WANDER_S) + 2
    keep = float(np.exp(-_WANDER_S / lag_s))
    draws = dice.generator.standard_normal(count)
    draws[1:] *= np.sqrt(1.0 - keep * keep)
    return np.asarray(np.interp(t_s, _WANDER_S * np.arange(count), lfilter([1.0], [1.0, -keep], draws)))


def rise_at(t_s: Floats, rises: list[Rise] | tuple[Rise, ...]) -> Floats:
    """Give the sum of short rises, as a share of friction."""
    total = np.zeros(len(t_s))
    for rise in rises:
        end_s = rise.t_s + rise.length_s
        first, turn, last = np.searchsorted(t_s, [rise.t_s, end_s, end_s + 8.0 * rise.heal_s])
        total[first:turn] += rise.share * -np.expm1((rise.t_s - t_s[first:turn]) / rise.up_s)
        top = rise.share * -np.expm1(-rise.length_s / rise.up_s)
        total[turn:last] += top * np.exp((end_s - t_s[turn:last]) / rise.heal_s)
    return total


def forerun(t_s: Floats, trouble: Trouble, turns: Floats | None) -> Floats:
    """Give the rise of friction before a scuffing.

    Args:
        t_s: (n,) s.
        trouble: see there.
        turns: (n,) of the ring, for what passes once a turn; None gives its mean over a turn.
    Returns:
        (n,) share of friction, 0 before the first forerunner; what has crept up stays.
    """
    total = rise_at(t_s, trouble.rises)
    if trouble.t_s <= trouble.first_s or trouble.creep_share == 0.0:
        return total
    way = np.clip((t_s - trouble.first_s) / (trouble.t_s - trouble.first_s), 0.0, 1.0)
    creep = trouble.creep_share * way**1.5
    if trouble.precursor.name == "ONCE_PER_TURN":
        # A patch over about a sixth of the ring: its mean over a turn is an eighth of its height, seen by all.
        patch = 0.125 if turns is None else np.maximum(np.cos(2.0 * np.pi * turns), 0.0) ** 8 / 0.137 * 0.125
        creep = 8.0 * creep * patch
    return np.asarray(total + creep)


def _film_change(t_s: Floats, change: FilmChange) -> Floats:
    way = np.clip((t_s - change.t_s) / change.over_s, 0.0, 1.0)
    if np.isfinite(change.hold_s):
        way = way - np.clip((t_s - change.t_s - change.over_s - change.hold_s) / change.over_s, 0.0, 1.0)
    return np.asarray(change.factor ** (way * way * (3.0 - 2.0 * way)))


def _jam(t_s: Floats, trouble: Trouble) -> Floats:
    return np.asarray(trouble.jam_share * np.clip((t_s - trouble.t_s) / trouble.jam_over_s, 0.0, 1.0))
