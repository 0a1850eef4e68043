"""Paints load, coefficient and friction force at the contact.

Reads times, a `Scene` and the turns of the ring, gives (n,) float64 in N and without unit.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from world_b.values import Floats, Kind, Klass

from world_n.curves import bump, decay, logistic, ramp, ringing, saw, smooth, walk, window
from world_n.damage import growth, precursor_factor
from world_n.motion import Motion
from world_n.names import Oddity
from world_n.scene import Scene, Step

HIGHEST_HEALTHY = 0.19
"""Undamaged coefficients bend over softly below this one."""


@dataclass(frozen=True, slots=True)
class Rubbing:
    """(n,) each: load and friction force at the contact, N."""

    load_n: Floats
    friction_n: Floats


def _steps_n(t_s: Floats, scene: Scene) -> Floats:
    contact = scene.rig.contact
    load_n = np.full(len(t_s), scene.steps[0].load_n)
    for before, step in pairwise(scene.steps):
        dt_s, change_n = t_s - step.t_s, step.load_n - before.load_n
        bounce = step.bounce_share * ringing(dt_s - 0.5 * step.settle_s, contact.bounce_hz, contact.bounce_s)
        load_n += change_n * (smooth(dt_s / step.settle_s) + (bounce if step.load_n > 0.0 else 0.0))
    return np.asarray(np.maximum(load_n, 0.0))


def _shaking(t_s: Floats, scene: Scene) -> Floats:
    contact, shaking = scene.rig.contact, np.ones(len(t_s))
    for mark in scene.of(Kind.BUMP):
        size = 0.08 + 0.3 * mark.size
        shaking += size * ringing(t_s - mark.t_s, 1.3 * contact.bounce_hz, 0.3 * mark.duration_s)
    for mark in scene.of(Oddity.HANGER_SWING):
        dt_s = t_s - mark.t_s
        shaking += (0.01 + 0.04 * mark.size) * ringing(dt_s, 0.6 + 0.7 * mark.size, 0.3 * mark.duration_s)
    for mark in scene.of(Oddity.LORRY):
        dt_s = t_s - mark.t_s
        shaking += (0.01 + 0.03 * mark.size) * bump(dt_s, mark.duration_s) * np.sin(2.0 * np.pi * 7.3 * dt_s)
    return shaking


def ripple_share(t_s: Floats, scene: Scene, turns: Floats) -> Floats:
    """Give the load's waviness as the ring turns, as a share of the load."""
    contact = scene.rig.contact
    once, twice = contact.ripple
    angle = 2.0 * np.pi * (turns + contact.ripple_phase)
    share = once * np.sin(angle) + twice * np.sin(2.0 * angle + 1.0)
    for mark in scene.of(Oddity.TRACK_POLISHED):
        share = share * (1.0 - 0.7 * mark.size * ramp((t_s - mark.t_s) / mark.duration_s))
    return np.asarray(share)


def _films(t_s: Floats, scene: Scene) -> Floats:
    contact, factor = scene.rig.contact, np.ones(len(t_s))
    for step in scene.steps:
        dt_s = t_s - step.t_s
        factor += step.film * smooth(dt_s / step.settle_s) * decay(dt_s, contact.film_tau_s)
    for mark in scene.of(Kind.FILM_TRANSITION):
        change = 0.1 + 0.3 * mark.size
        change = change if mark.seed % 2 else -0.7 * change
        factor *= 1.0 + change * logistic((t_s - mark.t_s) / mark.duration_s)
    for mark in scene.of(Oddity.OIL_LEVEL):
        factor *= 1.0 + (0.03 + 0.08 * mark.size) * ramp((t_s - mark.t_s) / mark.duration_s)
    for mark in scene.of(Kind.OIL_TOP_UP):
        dt_s = t_s - mark.t_s
        factor *= 1.0 - (0.02 + 0.08 * mark.size) * smooth(dt_s / mark.duration_s) * decay(dt_s, 90.0)
    for mark in scene.of(Oddity.CLEANED):
        factor *= 1.0 + (0.05 + 0.3 * mark.size) * decay(t_s - mark.t_s - mark.duration_s, 40.0)
    return factor


def _liveliness(t_s: Floats, scene: Scene, ring: Floats) -> Floats:
    factor = np.ones(len(t_s))
    for mark in scene.of(Kind.DEBRIS):
        factor += (0.12 + 0.35 * mark.size) * bump(t_s - mark.t_s, mark.duration_s)
    for mark in scene.of(Kind.STICK_SLIP):
        dt_s = t_s - mark.t_s
        frequency_hz = 0.8 + 9.0 * (mark.seed % 997) / 997.0
        envelope = window(dt_s, mark.duration_s, 0.3 * mark.duration_s) * (ring > 0.3)
        factor += (0.1 + 0.35 * mark.size) * envelope * saw(frequency_hz * dt_s)
    for mark in scene.of(Kind.SQUEAL):
        dt_s = t_s - mark.t_s
        envelope = window(dt_s, mark.duration_s, 0.2 * mark.duration_s) * (ring > 0.3)
        factor += (0.01 + 0.04 * mark.size) * envelope * np.sin(2.0 * np.pi * 173.3 * dt_s)
    return factor


def healthy_coefficient(t_s: Floats, scene: Scene, load_n: Floats, motion: Motion) -> Floats:
    """Give the undamaged coefficient of friction: load, film, wandering, starts; stick-slip and the like."""
    contact = scene.rig.contact
    share = np.maximum(load_n / contact.largest_load_n, 0.02)
    course = walk(t_s, contact.seed, contact.wander_spacing_s, scene.duration_s)
    level = contact.coefficient * share**contact.load_exponent * _films(t_s, scene)
    level = level * (1.0 + contact.wander_share * course)
    level = level / (1.0 + (level / HIGHEST_HEALTHY) ** 6) ** (1.0 / 6.0)
    starting = 1.0 + contact.start_rise * np.exp(-motion.ring / 0.12)
    return np.asarray(level * starting * _liveliness(t_s, scene, motion.ring))


def _sliding(t_s: Floats, scene: Scene, motion: Motion) -> Floats:
    """Give the share of friction that is there: all when turning, some or none when the ring stands."""
    rest = scene.rig.contact.standstill_share
    share = rest + (1.0 - rest) * smooth(motion.ring / 0.02)
    if scene.event is not None and scene.event.klass is Klass.SEIZURE:
        share = np.maximum(share, motion.held)
    return np.asarray(share * (t_s >= scene.runs[0][0]))


def paint_contact(t_s: Floats, scene: Scene, motion: Motion, turns: Floats | None, strike: bool, warn: bool) -> Rubbing:
    """Give load and friction force.

    Args:
        t_s: (n,) s.
        scene: the plan.
        motion: how the ring turns at these times.
        turns: (n,) of the ring; None paints without what repeats with each turn.
        strike, warn: whether the event, and the damage ahead of it, happen.
    """
    set_n = _steps_n(t_s, scene)
    coefficient = healthy_coefficient(t_s, scene, set_n, motion)
    event = scene.event
    if event is not None and warn:
        coefficient = coefficient * precursor_factor(t_s, event, turns)
    if event is not None and strike and event.rise_s == event.rise_s:
        grown = growth(t_s, event, motion.ring)
        coefficient = coefficient * (1.0 - np.minimum(grown, 1.0)) + event.coefficient * grown
    load_n = set_n * _shaking(t_s, scene)
    if turns is not None:
        load_n = load_n * (1.0 + ripple_share(t_s, scene, turns))
    load_n = np.maximum(load_n, 0.0)
    return Rubbing(load_n, coefficient * load_n * _sliding(t_s, scene, motion))


def listed(scene: Scene) -> tuple[Step, ...]:
    """Give the steps the technician writes down."""
    return tuple(s for s in scene.steps if s.listed)
