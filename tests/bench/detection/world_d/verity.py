"""What really happened, read from the noise-free course.

Reads plan, inside and what the sensors would show without noise, gives `Truth` on the clock of the stamps.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import inf, isfinite, isnan, nan

import numpy as np
from world_b.values import SCUFFINGS, TRIP_WORTHY, Flags, Floats, Inside, Klass, Precursor, Truth

from .facts import Limits
from .gauges import lagged
from .plan import Plan
from .rig import Rig
from .stamping import stamped

_FORCE_LAG_S = 0.05
_MOVE_LAG_S = 0.1
_BEFORE_S = 20.0
_WITHIN_S = 10.0
_TIMES_UNREST = 5.0
_STALLED_SHARE = 0.02
_ABNORMAL_AT_MOST_S = 180.0


def truth_of(
    rig: Rig,
    plan: Plan,
    klass: Klass,
    inside: Inside,
    limits: Limits,
    shown: Mapping[str, tuple[Floats, Floats]],
    rows_s: Floats,
) -> Truth:
    """Give the truth.

    Args:
        rig, plan, klass: of the recording.
        inside: its noise-free course.
        limits: by which overheat is judged.
        shown: by channel, at the rows: the course behind its sensor without noise, and the healthy reading.
        rows_s: (n,) s, on the clock that runs through.
    """
    event_s = _event_s(plan)
    overheat_s = _overheat_s(inside, limits) if klass is Klass.OVERHEAT else nan
    sensor = plan.sensor
    truth = Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=_earliest_s(plan, overheat_s),
        onset_s=nan if plan.damage is None else plan.damage.onset_s,
        severe_s=_severe_s(plan, inside),
        stall_s=_stall_s(rig, inside, event_s),
        jam_s=nan if plan.jam is None else plan.jam.t_s,
        overheat_s=overheat_s,
        supply_lost_s=plan.supply_lost[0] if isfinite(plan.supply_lost[0]) else nan,
        fault_s=nan if sensor is None else sensor.t_s,
        fault=None if sensor is None else sensor.fault,
        fault_channel="" if sensor is None else sensor.channel,
        precursor=Precursor.NONE if plan.damage is None else plan.damage.precursor,
        seen_by=_seen_by(rig, plan, klass, limits, shown, rows_s, event_s),
        nuisances=plan.nuisances,
    )
    return _on_stamps(plan, truth)


def _on_stamps(plan: Plan, truth: Truth) -> Truth:
    def moved(t_s: float) -> float:
        return float(stamped(plan, t_s))

    return replace(
        truth,
        earliest_legitimate_trip_s=moved(truth.earliest_legitimate_trip_s),
        onset_s=moved(truth.onset_s),
        severe_s=moved(truth.severe_s),
        stall_s=moved(truth.stall_s),
        jam_s=moved(truth.jam_s),
        overheat_s=moved(truth.overheat_s),
        supply_lost_s=moved(truth.supply_lost_s),
        fault_s=moved(truth.fault_s),
        nuisances=tuple(replace(each, t_s=moved(each.t_s)) for each in truth.nuisances),
    )


def _event_s(plan: Plan) -> float:
    """Give the moment from which the event can show, or NaN."""
    if plan.damage is not None:
        return plan.damage.onset_s
    return nan if plan.jam is None else plan.jam.t_s


def _earliest_s(plan: Plan, overheat_s: float) -> float:
    if plan.damage is not None:
        return plan.damage.first_s
    if plan.jam is not None:
        return plan.jam.t_s
    if plan.heat is not None:
        return max(plan.heat.t_s, overheat_s - _ABNORMAL_AT_MOST_S)
    return plan.supply_lost[0] if isfinite(plan.supply_lost[0]) else nan


def _first_s(t_s: Floats, holds: Flags) -> float:
    return float(t_s[int(np.argmax(holds))]) if bool(holds.any()) else nan


def _overheat_s(inside: Inside, limits: Limits) -> float:
    hot = (inside.pin_temperature_degc > limits.pin_degc) | (inside.bath_temperature_degc > limits.bath_degc)
    return _first_s(inside.t_s, hot)


def _severe_s(plan: Plan, inside: Inside) -> float:
    """Give when the force behind a lag of 50 ms has tripled.

    Before the first sign the force is taken as a coefficient, so that a load set meanwhile does not count.
    """
    damage = plan.damage
    if damage is None:
        return nan
    first, onset = np.searchsorted(inside.t_s, (damage.first_s, damage.onset_s))
    before = slice(int(np.searchsorted(inside.t_s, damage.first_s - _BEFORE_S)), first)
    slides = (inside.normal_load_n[before] > 0.0) & (inside.ring_speed_rad_s[before] > 0.0)
    ratio = float(np.median(inside.friction_force_n[before][slides] / inside.normal_load_n[before][slides]))
    step_s = float(inside.t_s[1])
    force_n = lagged(inside.friction_force_n[onset:], step_s, _FORCE_LAG_S)
    off_s = damage.onset_s + inf if isnan(plan.hand_off_s) else plan.hand_off_s
    load_n = float(np.median(inside.normal_load_n[max(onset - round(1.0 / step_s), 0) : onset]))
    tripled = (force_n >= 3.0 * ratio * load_n) & (inside.t_s[onset:] < off_s)
    return _first_s(inside.t_s[onset:], tripled)


def _stall_s(rig: Rig, inside: Inside, event_s: float) -> float:
    stands = inside.ring_speed_rad_s < _STALLED_SHARE * rig.set_speed_rad_s
    return nan if isnan(event_s) else _first_s(inside.t_s, stands & inside.on & (inside.t_s >= event_s))


def _seen_by(
    rig: Rig,
    plan: Plan,
    klass: Klass,
    limits: Limits,
    shown: Mapping[str, tuple[Floats, Floats]],
    rows_s: Floats,
    event_s: float,
) -> tuple[str, ...]:
    if klass is Klass.OVERHEAT:
        return tuple(name for name in rig.gauges if name in limits.by_channel and name.endswith("degc"))
    if isnan(event_s):
        return ()
    before, after = _windows(plan, rows_s, event_s)
    dead = plan.sensor.channel if plan.sensor is not None else ""
    return tuple(
        name
        for name, (clean, read) in shown.items()
        if name != dead and _moves(clean, read, rows_s, before, after, rig.gauges[name].step)
    )


def _windows(plan: Plan, rows_s: Floats, event_s: float) -> tuple[slice, slice]:
    """Give the rows before the first sign, since hands were last on the load, and those within ten seconds after."""
    first_s = event_s if plan.damage is None else plan.damage.first_s
    last_hand_s = max((hand.t_s + hand.ramp_s for hand in plan.hands if hand.t_s < event_s), default=0.0)
    last_on_s = max((on_s for on_s, _ in plan.switches if on_s < event_s), default=0.0)
    settled_s = max(last_hand_s, last_on_s) + 1.0
    until_s = first_s if settled_s < first_s - 2.0 else event_s
    edges = np.searchsorted(rows_s, (max(until_s - _BEFORE_S, settled_s), until_s, event_s, event_s + _WITHIN_S))
    if not isnan(plan.hand_off_s):
        edges[3] = min(edges[3], int(np.searchsorted(rows_s, plan.hand_off_s)))
    return slice(int(edges[0]), int(edges[1])), slice(int(edges[2]), int(edges[3]))


def _moves(clean: Floats, read: Floats, rows_s: Floats, before: slice, after: slice, step: float) -> bool:
    """Say whether the event moves a channel by more than five times its unrest, beyond where it was going anyway."""
    was, heard = clean[before], read[before][np.isfinite(read[before])]
    if len(was) < 4 or len(heard) < 4:
        return False
    span_s = float(rows_s[before][-1] - rows_s[before][0])
    slope, level = np.polyfit(rows_s[before], was, 1) if span_s > 8.0 else (0.0, float(np.median(was)))
    trend = slope * rows_s + level
    unrest = max(1.4826 * float(np.median(np.abs(heard - np.median(heard)))), step / 12.0**0.5)
    beyond = lagged((clean - trend)[before.stop : after.stop], float(rows_s[1]), _MOVE_LAG_S)
    moved = float(np.abs(beyond[after.start - before.stop :]).max(initial=0.0))
    return bool(moved > _TIMES_UNREST * unrest)


def is_its_class(truth: Truth, klass: Klass, plateau: float) -> bool:
    """Say whether what happened is what the class promises; the recording is drawn again where it is not."""
    if klass in (Klass.SEIZURE, Klass.JAM):
        return not isnan(truth.stall_s)
    if klass is Klass.OVERHEAT:
        return not isnan(truth.overheat_s)
    if klass not in SCUFFINGS:
        return True
    if plateau < 3.0:
        return isnan(truth.severe_s)
    if klass is Klass.SCUFFING_SUDDEN:
        return 0.05 <= truth.severe_s - truth.onset_s <= 3.0
    return truth.severe_s - truth.onset_s <= _WITHIN_S
