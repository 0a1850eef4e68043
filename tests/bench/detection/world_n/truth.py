"""What really happened, read from the noise-free formulas on grids of its own, the same at any rate.

Reads a `Scene` and its charts, gives a `Truth` on the clock of the stamps.
"""

import math

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    NAN,
    PIN_TEMPERATURE,
    TRIP_WORTHY,
    Flags,
    Floats,
    Kind,
    Klass,
    Nuisance,
    Precursor,
    Truth,
)

from world_n.picture import Charts, paint
from world_n.scene import Event, Scene
from world_n.stamps import stamped
from world_n.witness import seen_by

FINE_S = 0.001
LOOK_BACK_S = 10.0
LOOK_AHEAD_S = 90.0
ONSET_RISE = 1.03
SEVERE_RISE = 3.0
STALL_SHARE = 0.02
LONGEST_WARNING_S = 180.0


def _first_s(t_s: Floats, flags: Flags) -> float:
    hits = np.flatnonzero(flags)
    return float(t_s[hits[0]]) if len(hits) else NAN


def _fine_times(scene: Scene, event: Event) -> Floats:
    end_s = min(event.start_s + LOOK_AHEAD_S, scene.duration_s)
    return np.arange(event.start_s - LOOK_BACK_S - 1.0, end_s, FINE_S)


def contact_times(scene: Scene, charts: Charts) -> tuple[float, float, float]:
    """Give onset, severe and stall, s; NaN where they do not come.

    The undamaged course turns with the damaged one, so that waviness cancels.
    """
    event = scene.event
    if event is None or scene.klass is Klass.OVERHEAT or scene.klass is Klass.SUPPLY_LOST:
        return NAN, NAN, NAN
    t_s = _fine_times(scene, event)
    hurt = paint(t_s, scene, charts.whole)
    stalled = (hurt.ring_share < STALL_SHARE) & hurt.motion.on & (t_s >= event.start_s)
    stall_s = _first_s(t_s, stalled)
    if math.isnan(event.rise_s):
        return NAN, NAN, stall_s
    whole_n = paint(t_s, scene, charts.whole, strike=False).friction_n
    onset_s = _first_s(t_s, (hurt.friction_n > ONSET_RISE * whole_n) & (t_s >= event.start_s))
    before = (t_s >= onset_s - LOOK_BACK_S) & (t_s < onset_s)
    usual_n = float(np.median(hurt.friction_n[before]))
    severe_s = _first_s(t_s, (hurt.friction_n >= SEVERE_RISE * usual_n) & (t_s >= onset_s))
    return onset_s, severe_s, stall_s


def overheat_s(scene: Scene, charts: Charts) -> float:
    """Give when a true temperature passes its limit first, among the channels the rig has; NaN if none does."""
    chart, there = charts.whole, CHANNELS_OF[scene.rig.channel_set]
    if PIN_TEMPERATURE not in there and BATH_TEMPERATURE not in there:
        there = (PIN_TEMPERATURE, BATH_TEMPERATURE)
    found = []
    for channel, course, limit_degc in (
        (PIN_TEMPERATURE, chart.pin_degc, charts.limits.pin_degc),
        (BATH_TEMPERATURE, chart.bath_degc, charts.limits.bath_degc),
    ):
        above = np.flatnonzero((course > limit_degc) & (chart.t_s < scene.duration_s))
        if channel in there and len(above):
            i = int(above[0])
            share = (limit_degc - course[i - 1]) / (course[i] - course[i - 1])
            found.append(float(chart.t_s[i - 1] + share * (chart.t_s[i] - chart.t_s[i - 1])))
    return min(found, default=NAN)


def _earliest_s(scene: Scene, onset_s: float, too_hot_s: float) -> float:
    event = scene.event
    if event is None:
        return NAN
    if scene.klass is Klass.OVERHEAT:
        return max(event.start_s, too_hot_s - LONGEST_WARNING_S)
    if not math.isnan(event.precursor_s):
        return event.precursor_s
    return event.start_s if math.isnan(onset_s) else onset_s


def _nuisances(scene: Scene) -> tuple[Nuisance, ...]:
    return tuple(
        Nuisance(m.kind, stamped(m.t_s, scene), stamped(m.t_s + m.duration_s, scene) - stamped(m.t_s, scene))
        for m in scene.marks
        if isinstance(m.kind, Kind)
    )


def tell(scene: Scene, charts: Charts) -> Truth:
    """Give what happened, all times as stamped."""
    event, klass, broken = scene.event, scene.klass, scene.broken
    onset_s, severe_s, stall_s = contact_times(scene, charts)
    too_hot_s = overheat_s(scene, charts) if klass is Klass.OVERHEAT else NAN
    start_s = NAN if event is None else event.start_s
    begin_s = start_s if math.isnan(onset_s) else onset_s
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=stamped(_earliest_s(scene, onset_s, too_hot_s), scene),
        onset_s=stamped(onset_s, scene),
        severe_s=stamped(severe_s, scene),
        stall_s=stamped(stall_s, scene),
        jam_s=stamped(start_s, scene) if klass is Klass.JAM else NAN,
        overheat_s=stamped(too_hot_s, scene),
        supply_lost_s=stamped(start_s, scene) if klass is Klass.SUPPLY_LOST else NAN,
        fault_s=NAN if broken is None else stamped(broken.t_s, scene),
        fault=None if broken is None else broken.fault,
        fault_channel="" if broken is None else broken.channel,
        precursor=event.precursor if event is not None else Precursor.NONE,
        seen_by=seen_by(scene, charts, begin_s),
        nuisances=_nuisances(scene),
    )
