"""Sound level beside the rig, before the meter.

Reads `world_m.run`, `world_m.plan`.
"""

import numpy as np
from world_b.values import Floats, Kind

from world_m.design import Design
from world_m.grid import STEP_S, ramp, slow_wander, span, wander
from world_m.plan import Plan
from world_m.run import Traces
from world_m.streams import Stream, between, happens, log_between

LEAST_SHARE = 1e-6


def power(level_db: Floats | float) -> Floats:
    """Give the sound power relative to 0 dB."""
    return np.asarray(10.0 ** (0.1 * np.asarray(level_db)))


def level_db(power_ratio: Floats) -> Floats:
    """Give the level in dB."""
    return np.asarray(10.0 * np.log10(power_ratio))


def sound_level_db(rng: Stream, plan: Plan, design: Design, traces: Traces) -> Floats:
    """Give the level in dB, (n,): room, motor, contact and whatever else happens."""
    t_s = traces.t_s
    room_db = between(rng, 38.0, 62.0) + between(rng, 0.3, 2.0) * slow_wander(rng, t_s, between(rng, 8.0, 60.0))
    motor_db = between(rng, 48.0, 76.0) + log_between(rng, 20.0, 50.0) * np.log10(
        np.clip(traces.motor_rad_s / design.idle_rad_s, LEAST_SHARE, None)
    )
    total = power(room_db) + power(motor_db) + _contact_power(rng, plan, design, traces)
    for noise in plan.nuisances:
        _add(rng, total, t_s, noise.kind, noise.t_s, noise.duration_s)
    return level_db(total)


def _contact_power(rng: Stream, plan: Plan, design: Design, traces: Traces) -> Floats:
    """Give what the contact sounds like: as its friction power, much louder scuffed as a rule, at times hardly so."""
    usual_w = 0.1 * design.top_load_n * design.idle_rad_s * design.radius_m
    rubbed = np.clip(traces.friction_n * traces.ring_rad_s * design.radius_m / usual_w, LEAST_SHARE, None)
    share = np.clip(traces.share, 0.0, 1.0)
    gain_db = between(rng, 5.0, 26.0) if happens(rng, 0.85) else between(rng, -4.0, 3.0)
    contact_db = between(rng, 40.0, 72.0) + 10.0 * np.log10(rubbed) + gain_db * share**0.5
    for squeal in plan.of(Kind.SQUEAL):
        where = span(traces.t_s, squeal.t_s, squeal.t_s + squeal.duration_s)
        whistle_db = between(rng, 72.0, 96.0) + between(rng, 0.5, 4.0) * wander(
            rng, where.stop - where.start, 0.5, STEP_S
        )
        whistle_db *= ramp(traces.t_s[where], squeal.t_s, 0.4) * (traces.ring_rad_s[where] > 0.02 * design.idle_rad_s)
        contact_db[where] = np.maximum(contact_db[where], whistle_db)
    for spell in plan.of(Kind.STICK_SLIP):
        contact_db[span(traces.t_s, spell.t_s, spell.t_s + spell.duration_s)] += between(rng, 0.0, 12.0)
    return power(contact_db)


def _add(rng: Stream, total: Floats, t_s: Floats, kind: Kind, begin_s: float, duration_s: float) -> None:
    """Add the power of one thing, in place."""
    if kind is Kind.DOOR_SLAM:
        where = span(t_s, begin_s, begin_s + 3.0)
        total[where] += power(between(rng, 78.0, 102.0) - 60.0 * (t_s[where] - begin_s) / between(rng, 0.4, 1.2))
        return
    if kind in (Kind.HARD_SET_DOWN, Kind.SET_DOWN_TWICE, Kind.BUMP, Kind.TAKEN_OFF_AGAIN):
        where = span(t_s, begin_s, begin_s + 2.0)
        total[where] += power(between(rng, 60.0, 90.0) - 60.0 * (t_s[where] - begin_s) / 0.5)
        return
    if kind is Kind.DEBRIS:
        total[span(t_s, begin_s, begin_s + duration_s)] += power(between(rng, 45.0, 72.0))
        return
    where = span(t_s, begin_s, begin_s + duration_s)
    late_s = t_s[where] - begin_s
    if kind is Kind.NEIGHBOUR:
        period_s, share = log_between(rng, 1.0, 60.0), between(rng, 0.3, 1.0)
        total[where] += power(between(rng, 55.0, 82.0)) * (late_s % period_s < share * period_s)
    if kind is Kind.VOICES:
        syllables = wander(rng, late_s.size, 0.15, STEP_S) + 0.8 * wander(rng, late_s.size, 1.5, STEP_S)
        total[where] += power(between(rng, 52.0, 70.0) + 6.0 * syllables)
