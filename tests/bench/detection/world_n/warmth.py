"""Paints the bath, sets the technician's temperature limits, and lets an event heat the rig.

Reads the chart's times and a `Scene`, gives (m,) float64 in degC.
"""

import math
from dataclasses import dataclass

import numpy as np
from world_b.values import BATH_TEMPERATURE, CHANNELS_OF, Floats, Kind

from world_n.curves import decay, ramp, smooth, triangle, walk
from world_n.names import Cause, Oddity
from world_n.scene import Event, Scene

WALK_K = 0.12
WALK_SPACING_S = 20.0
HEAT_BELOW_LIMIT = 0.75
"""Heat of scuffing bends over at this share of the way to the limit: only an overheat passes it."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Temperature limits of pin and bath, degC."""

    pin_degc: float
    bath_degc: float


def set_limits(scene: Scene, pin_degc: Floats, bath_degc: Floats) -> Limits:
    """Give the limits a technician sets who knows the healthy courses: whole degrees above their tops."""
    heat = scene.rig.heat
    return Limits(
        float(math.ceil(float(pin_degc.max()) + heat.pin_gap_k)),
        float(math.ceil(float(bath_degc.max()) + heat.bath_gap_k)),
    )


def paint_bath(t_s: Floats, scene: Scene) -> Floats:
    """Give the bath without the heat of friction: warm-up, thermostat, what people do to it."""
    heat = scene.rig.heat
    course = heat.bath_last_degc - (heat.bath_last_degc - heat.bath_first_degc) * np.exp(-t_s / heat.bath_tau_s)
    if not math.isnan(scene.night_s):
        cold_k = heat.bath_last_degc - heat.ambient_degc
        morning = heat.bath_last_degc - cold_k * decay(t_s - scene.night_s, heat.bath_tau_s)
        course = np.where(t_s < scene.night_s, course, morning)
    course = course + 0.5 * heat.thermostat_k * triangle(t_s / heat.thermostat_s)
    course = course + WALK_K * walk(t_s, heat.seed, WALK_SPACING_S, scene.duration_s)
    for mark in scene.of(Kind.OIL_TOP_UP):
        dt_s = t_s - mark.t_s
        course = course - (0.5 + 4.0 * mark.size) * smooth(dt_s / mark.duration_s) * decay(dt_s, 120.0)
    for mark in scene.of(Oddity.BATH_SWAPPED):
        dt_s = t_s - mark.t_s
        course = course - (2.0 + 8.0 * mark.size) * smooth(dt_s / mark.duration_s) * decay(dt_s, 250.0)
    for mark in scene.of(Oddity.WINDOW_OPENED):
        course = course - (0.5 + 2.0 * mark.size) * smooth((t_s - mark.t_s) / mark.duration_s)
    return np.asarray(course)


def _heating(t_s: Floats, event: Event) -> Floats:
    """Give 0 before the cause, 1 at the limit, bending over towards 1.5 beyond it."""
    x = np.maximum((t_s - event.start_s) / event.heat_length_s, 0.0)
    return np.where(x < 1.0, x, 1.0 + 0.5 * (1.0 - np.exp(-2.0 * np.maximum(x - 1.0, 0.0))))


def _bent(with_k: Floats, without_k: Floats, limit_degc: float) -> Floats:
    room_k = np.maximum(HEAT_BELOW_LIMIT * (limit_degc - without_k), 1.0)
    extra_k = np.maximum(with_k - without_k, 0.0)
    colder_k = np.minimum(with_k - without_k, 0.0)
    return np.asarray(without_k + room_k * (1.0 - np.exp(-extra_k / room_k)) + colder_k)


def with_event(
    scene: Scene,
    t_s: Floats,
    painted: tuple[Floats, Floats],
    healthy: tuple[Floats, Floats],
    limits: Limits,
    strike: bool,
) -> tuple[Floats, Floats]:
    """Give bath and pin with the event: heat of scuffing stays below the limits, an overheat passes one.

    Args:
        scene: the plan.
        t_s: (m,) s.
        painted, healthy: bath and pin, (m,) degC each, with the event's friction and without it.
        limits: of pin and bath.
        strike: whether the event happens.
    """
    bath, pin = _bent(painted[0], healthy[0], limits.bath_degc), _bent(painted[1], healthy[1], limits.pin_degc)
    event = scene.event
    if event is None or event.cause is None or not strike:
        return bath, pin
    on_pin = event.cause is Cause.FRICTION or BATH_TEMPERATURE not in CHANNELS_OF[scene.rig.channel_set]
    target, limit_degc = (pin, limits.pin_degc) if on_pin else (bath, limits.bath_degc)
    at_limit = float(np.interp(event.start_s + event.heat_length_s, t_s, target))
    extra_k = (limit_degc - at_limit) * _heating(t_s, event)
    if event.cause is Cause.FRICTION:
        slow = 0.15 * ramp((t_s - event.start_s) / (4.0 * event.heat_length_s))
        return bath + slow * (limits.bath_degc - float(bath.max())), pin + extra_k
    return bath + extra_k, pin + extra_k
