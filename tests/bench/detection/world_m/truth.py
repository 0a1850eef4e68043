"""Read off the noise-free traces what happened and when.

Reads `world_m.run`, `world_m.plan`; gives `Truth`, its times on the clock of the stamps.
"""

from math import isnan

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    NAN,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    Flags,
    Floats,
    Klass,
    Nuisance,
    Precursor,
    Truth,
)

from world_m.design import Design
from world_m.faults import Broken
from world_m.grid import span
from world_m.plan import Plan
from world_m.run import Traces

PRECURSOR_EXCESS = 0.01
"""Friction over that of the sound contact from which a precursor counts as begun."""
ONSET_EXCESS = 0.03
SEVERE_RATIO = 3.0
STALL_SHARE = 0.02
JAM_SHARE = 0.02
"""Of the largest torque that reaches the ring."""
BEFORE_S = 10.0
UNREST_WINDOW_S = 20.0
SEEN_WITHIN_S = 10.0
SEEN_RATIO = 5.0
MOST_LEAD_S = 180.0


def read_truth(
    plan: Plan,
    design: Design,
    set_rad_s: float,
    traces: Traces,
    broken: Broken | None,
    row_s: Floats,
    shown: dict[str, Floats],
    nuisances: tuple[Nuisance, ...],
) -> Truth:
    """Give the truth of a recording; `shown` are its channels before rows went missing."""
    onset_s = _onset_s(plan, traces)
    jam_s = _first_s(traces, traces.jam_nm > JAM_SHARE * design.peak_torque_nm, 0.0)
    lost_s = _first_s(traces, traces.supply <= 0.0, plan.event_s) if plan.klass is Klass.SUPPLY_LOST else NAN
    begun_s = jam_s if isnan(onset_s) else onset_s
    held = (traces.ring_rad_s < STALL_SHARE * set_rad_s) & (traces.supply > 0.0)
    hot_s = _overheat_s(design, traces, tuple(shown))
    times = {
        "earliest_legitimate_trip_s": _earliest_s(plan, traces, onset_s, jam_s, hot_s),
        "onset_s": onset_s,
        "severe_s": _severe_s(plan, traces, onset_s),
        "stall_s": _first_s(traces, held, begun_s),
        "jam_s": jam_s,
        "overheat_s": hot_s,
        "supply_lost_s": lost_s,
        "fault_s": broken.t_s if broken else NAN,
    }
    return Truth(
        trip_worthy=plan.klass in TRIP_WORTHY,
        **{name: plan.stamp_s(t_s) for name, t_s in times.items()},
        fault=broken.fault if broken else None,
        fault_channel=broken.channel if broken else "",
        precursor=plan.precursor if not isnan(plan.precursor_s) else Precursor.NONE,
        seen_by=_seen_by(plan, begun_s, row_s, shown),
        nuisances=nuisances,
    )


def _first_s(traces: Traces, flags: Flags, after_s: float) -> float:
    """Give the first time from `after_s` on at which the flag is up; NaN for never."""
    if isnan(after_s):
        return NAN
    up = np.flatnonzero(flags & (traces.t_s >= after_s))
    return float(traces.t_s[up[0]]) if up.size else NAN


def _excess(traces: Traces) -> Floats:
    return traces.friction_n / np.maximum(traces.sound_friction_n, 1e-6) - 1.0


def _onset_s(plan: Plan, traces: Traces) -> float:
    if plan.klass not in SCUFFINGS and plan.klass is not Klass.SEIZURE:
        return NAN
    return _first_s(traces, _excess(traces) > ONSET_EXCESS, plan.event_s)


def _severe_s(plan: Plan, traces: Traces, onset_s: float) -> float:
    if isnan(onset_s):
        return NAN
    begin_s = _since_move_s(plan, onset_s, BEFORE_S, 1.0)
    before_n = float(np.median(traces.friction_n[span(traces.t_s, begin_s, onset_s)]))
    return _first_s(traces, traces.friction_n >= SEVERE_RATIO * before_n, onset_s)


def _since_move_s(plan: Plan, t_s: float, longest_s: float, shortest_s: float) -> float:
    """Give the beginning of a window that ends at t_s and holds no load move, unless one came just before."""
    moved_s = max([m.t_s + 1.0 for m in plan.moves if m.t_s < t_s], default=0.0)
    return min(max(t_s - longest_s, moved_s), t_s - shortest_s)


def _overheat_s(design: Design, traces: Traces, names: tuple[str, ...]) -> float:
    """Give when the first limit is passed of those the rig watches; of both where it watches neither."""
    hot = {
        PIN_TEMPERATURE: traces.pin_degc > design.thermal.pin_limit_degc,
        BATH_TEMPERATURE: traces.bath_degc > design.thermal.bath_limit_degc,
    }
    watched = [name for name in hot if name in names] or list(hot)
    return _first_s(traces, np.any([hot[name] for name in watched], axis=0), 0.0)


def _earliest_s(plan: Plan, traces: Traces, onset_s: float, jam_s: float, hot_s: float) -> float:
    if plan.klass is Klass.SUPPLY_LOST:
        return _first_s(traces, traces.supply <= 0.0, plan.event_s)
    if plan.klass is Klass.OVERHEAT:
        return max(_first_s(traces, traces.abnormal, 0.0), hot_s - MOST_LEAD_S)
    if not isnan(jam_s):
        return jam_s
    first_s = _first_s(traces, _excess(traces) > PRECURSOR_EXCESS, plan.precursor_s)
    return onset_s if isnan(first_s) else min(first_s, onset_s)


def _seen_by(plan: Plan, begun_s: float, row_s: Floats, shown: dict[str, Floats]) -> tuple[str, ...]:
    if plan.klass is Klass.OVERHEAT:
        return tuple(name for name in shown if name in (PIN_TEMPERATURE, BATH_TEMPERATURE))
    if isnan(begun_s):
        return ()
    begin_s = _since_move_s(plan, begun_s, UNREST_WINDOW_S, 3.0)
    return tuple(name for name, value in shown.items() if _moves(row_s, value, begin_s, begun_s))


def _moves(row_s: Floats, value: Floats, begin_s: float, begun_s: float) -> bool:
    """Tell whether a channel moves by more than five times its own unrest about its own trend."""
    before = span(row_s, begin_s, begun_s)
    after = span(row_s, begun_s, begun_s + SEEN_WITHIN_S)
    good = np.isfinite(value[before])
    later = np.isfinite(value[after])
    if good.sum() < 10 or later.sum() < 3:
        return False
    degree = 1 if begun_s - begin_s > 0.5 * UNREST_WINDOW_S else 0
    line = np.polyfit(row_s[before][good] - begun_s, value[before][good], degree)
    rest = value[before][good] - np.polyval(line, row_s[before][good] - begun_s)
    unrest = max(float(np.std(rest)), 1e-9)
    moved = value[after][later] - np.polyval(line, row_s[after][later] - begun_s)
    width = max(1, moved.size // 40)
    smooth = np.convolve(moved, np.full(width, 1.0 / width), mode="valid")
    return bool(np.max(np.abs(smooth)) > SEEN_RATIO * unrest)
