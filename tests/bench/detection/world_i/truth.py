"""What really happened, worked out from the trace, and whether the class keeps its promise.

Reads plan, trace and readings; every time here is on the world's own clock.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import BATH_TEMPERATURE, MOTOR_CURRENT, NAN, PIN_TEMPERATURE, SCUFFINGS, Flags, Floats, Klass

from .engine import Trace
from .events import Event
from .inputs import Inputs
from .plan import Plan
from .rig import Rig

STALLED_SHARE = 0.02
ABNORMAL_BEFORE_S = 180.0
SEEN_WITHIN_S = 10.0
SEEN_TIMES = 5.0


@dataclass(frozen=True, slots=True)
class Times:
    """When things came to pass, in s; NaN where they did not."""

    severe_s: float
    stall_s: float
    overheat_s: float


def _first(t_s: Floats, flags: Flags) -> float:
    return float(t_s[int(np.argmax(flags))]) if bool(flags.any()) else NAN


def windowed_mean(t_s: Floats, values: Floats, start_s: float, end_s: float) -> float:
    """Give the mean over time between two moments, whatever the steps."""
    grid_s = np.arange(start_s, end_s, 0.01)
    return float(np.interp(grid_s, t_s, values).mean())


def work_out(rig: Rig, plan: Plan, inputs: Inputs, trace: Trace, limits: dict[str, float]) -> Times:
    """Work out severe wear, stall and overheating; all of them after the first sign of an event."""
    event, t_s = plan.event, trace.t_s
    if np.isnan(event.sign_s):
        return Times(NAN, NAN, NAN)
    after = t_s >= event.sign_s
    stalled = after & (trace.ring_rad_s < STALLED_SHARE * rig.set_speed_rad_s) & (inputs.supply > 0)
    hot = after & ((trace.pin_degc > limits[PIN_TEMPERATURE]) | (trace.bath_degc > limits[BATH_TEMPERATURE]))
    severe_s = NAN
    if not np.isnan(event.onset_s):
        before_n = windowed_mean(t_s, trace.friction_n, event.sign_s - 8.0, event.sign_s)
        severe_s = _first(t_s, (t_s >= event.onset_s) & (trace.friction_n >= 3.0 * before_n))
    return Times(severe_s, _first(t_s, stalled), _first(t_s, hot))


def earliest_trip_s(event: Event, overheat_s: float, klass: Klass) -> float:
    """Give the time before which no trip is right."""
    if klass is Klass.OVERHEAT:
        return max(event.sign_s, overheat_s - ABNORMAL_BEFORE_S)
    return event.sign_s


def moved(t_s: Floats, readings: dict[str, Floats], event: Event) -> tuple[str, ...]:
    """Give the channels on which the event moves by more than five times their own unrest within ten seconds.

    Unrest is the standard deviation over the 12 s before the first sign, a move that of the mean over half a second.
    """
    start_s = event.onset_s if not np.isnan(event.onset_s) else event.sign_s
    before = (t_s >= event.sign_s - 12.0) & (t_s < event.sign_s - 0.1)
    after = (t_s >= start_s) & (t_s < start_s + SEEN_WITHIN_S)
    count = max(round(0.5 / (t_s[1] - t_s[0])), 1)
    found = []
    for name, values in readings.items():
        quiet, late = values[before], values[after]
        if np.isfinite(quiet).sum() < 10 or np.isfinite(late).sum() < count:
            continue
        late = late[np.isfinite(late)]
        total = np.cumsum(np.insert(late, 0, 0.0))
        means = (total[count:] - total[:-count]) / count
        unrest = max(float(np.nanstd(quiet)), 1e-12)
        if float(np.abs(means - np.nanmean(quiet)).max(initial=0.0)) > SEEN_TIMES * unrest:
            found.append(name)
    return tuple(found)


def runs_healthy(rig: Rig, plan: Plan, inputs: Inputs, trace: Trace) -> bool:
    """Say whether the rig, left alone, behaves: starts, keeps turning, no friction out of the ordinary."""
    t_s = trace.t_s
    settled = inputs.on.copy()
    for start_s, _ in plan.switches:
        settled &= ~((t_s >= start_s - 0.1) & (t_s < start_s + 8.0))
    for happening in plan.happenings:
        settled &= ~((t_s >= happening.t_s - 0.1) & (t_s < happening.t_s + min(happening.duration_s, 60.0) + 4.0))
    turning = bool((trace.ring_rad_s[settled] > 0.4 * rig.set_speed_rad_s).all())
    loaded = settled & (trace.load_n > 0.02 * rig.top_load_n)
    friction = trace.friction_n[loaded] / trace.load_n[loaded]
    return turning and bool(friction.size) and bool((friction > 0.02).all() and (friction < 0.2).all())


def keeps_promise(
    klass: Klass, plan: Plan, trace: Trace, times: Times, seen: tuple[str, ...], pin_limit_degc: float
) -> bool:
    """Say whether the recording is what its class says; `seen` are the channels of a whole rig without faults."""
    event = plan.event
    if klass is Klass.OVERHEAT:
        pin_degc = np.interp(times.overheat_s, trace.t_s, trace.pin_degc)
        hot_by_pin = (
            pin_degc > pin_limit_degc - 0.1
            and 25.0 < times.overheat_s - event.sign_s < 360.0
            and np.isnan(times.stall_s)
        )
        before_n = windowed_mean(trace.t_s, trace.friction_n, event.sign_s - 8.0, event.sign_s)
        calm = trace.friction_n[trace.t_s > event.sign_s].max() < 1.7 * before_n
        return bool(hot_by_pin and calm)
    if klass is Klass.SUPPLY_LOST:
        return True
    if klass is Klass.JAM:
        return MOTOR_CURRENT in seen and (event.jam_share < 1.0 or not np.isnan(times.stall_s))
    if klass is Klass.SEIZURE:
        return MOTOR_CURRENT in seen and times.stall_s > event.onset_s
    if klass in SCUFFINGS:
        before_n = windowed_mean(trace.t_s, trace.friction_n, event.sign_s - 8.0, event.sign_s)
        late_s = min(event.end_s, np.nanmin([times.stall_s, event.end_s]))
        after = (trace.t_s >= event.onset_s) & (trace.t_s < late_s)
        early_stall = times.stall_s < event.onset_s
        doubled = trace.friction_n[after].size and np.quantile(trace.friction_n[after], 0.9) >= 2.0 * before_n
        return bool(MOTOR_CURRENT in seen and doubled and not early_stall)
    return True
