"""Finds what happened in the inner world on the core's clock.  Reads no rows, so that it is the same at any rate."""

import numpy as np
from scipy.ndimage import median_filter, minimum_filter1d, uniform_filter1d
from world_b.values import NAN, SCUFFINGS, SOUND_LEVEL, Floats, Klass, Precursor

from world_o.drives import Motion
from world_o.parts import CORE_DT_S, Plan, Rig, Tracks
from world_o.sensors import Sensor, level_passed, low_passed

LONGEST_RISE = 1.5
MOST_HEALTHY = 0.15
SETTLED_S = 1.6
"""A weight set down and its worst bounces take no longer than this."""
PRECURSOR_S = {
    Klass.SCUFFING_LONG: (30.0, 330.0),
    Klass.SCUFFING_SHORT: (1.0, 15.0),
    Klass.SCUFFING_SUDDEN: (-0.01, 1.5),
    Klass.SEIZURE: (-0.01, 60.0),
    Klass.SCUFFING_WITH_FAULT: (1.0, 330.0),
}


def _steps(span_s: float) -> int:
    """Give a span in steps of the core, at least one."""
    return max(1, round(span_s / CORE_DT_S))


def stays_healthy(mu: Floats, until_s: float) -> bool:
    """Tell whether friction kept to the excursions of a healthy film until a time (means of 1 s, spans of 10 s)."""
    part = mu[: _steps(until_s)] if not np.isnan(until_s) else mu
    calm = uniform_filter1d(part, _steps(1.5))[::20]
    low = minimum_filter1d(calm, 50, origin=24)
    return bool((calm / low).max() <= LONGEST_RISE and calm.max() <= MOST_HEALTHY)


def flickers_rarely(excess_log: Floats, until_s: float) -> bool:
    """Tell whether flickers of a contact stay below 60 % and the time above 10 % below one part in a hundred."""
    part = excess_log[: _steps(until_s)] if not np.isnan(until_s) else excess_log
    usual = median_filter(part[::10], 101).repeat(10)[: part.size]
    over = uniform_filter1d(part, 3) - usual
    return bool(over.max() <= np.log(1.6) and np.mean(over > np.log(1.1)) < 0.01)


def precursor_fits(plan: Plan, onset_s: float) -> bool:
    """Tell whether the onset came when its class says."""
    low_s, high_s = PRECURSOR_S[plan.klass]
    if plan.klass is Klass.SCUFFING_WITH_FAULT and onset_s < plan.fault_s + 1.0:
        return False
    return bool(low_s <= onset_s - plan.event_s <= high_s)


def _before(plan: Plan) -> slice:
    """Give the steps from which the state before the event is taken: at most 10 s, and all under the last weight."""
    set_s = max((at_s for at_s, _ in plan.steps if at_s < plan.event_s), default=0.0)
    return slice(max(0, _steps(max(plan.event_s - 10.0, set_s + SETTLED_S))), _steps(plan.event_s))


def before_n(plan: Plan, motion: Motion) -> float:
    """Give the friction force before the event, over what time the ring turned; NaN where that is too short."""
    part = _before(plan)
    turning = motion.ring_rad_s[part] > 0.3 * motion.ring_rad_s.max()
    rub = motion.friction_n[part][turning]
    return float(np.median(rub)) if rub.size > _steps(1.2) else NAN


def severe_s(plan: Plan, motion: Motion, onset_s: float, wide_s: float) -> float:
    """Give when friction force, over a turn, is three times what it was; NaN where never."""
    smooth = uniform_filter1d(motion.friction_n, _steps(wide_s))
    over = np.flatnonzero(smooth[_steps(onset_s) :] >= 3.0 * before_n(plan, motion))
    return float((_steps(onset_s) + over[0]) * CORE_DT_S) if over.size else NAN


def stall_s(rig: Rig, tracks: Tracks, motion: Motion, from_s: float) -> float:
    """Give when the ring falls below 2 % of its set speed, after a time, while the motor pulls; NaN where never."""
    slow = (motion.ring_rad_s < 0.02 * rig.drive.speed_rad_s) & (tracks.on_ratio > 0.5) & (tracks.t_s >= from_s)
    at = np.flatnonzero(slow)
    return float(tracks.t_s[at[0]]) if at.size else NAN


def ends_scuffed(plan: Plan, motion: Motion, load_n: Floats, onset_s: float) -> bool:
    """Tell whether the coefficient reaches 0.25 and 2.5 times what it was within 20 s and holds for 20 s at least."""
    rest = slice(_steps(onset_s), None)
    ratio = uniform_filter1d(motion.friction_n[rest] / np.maximum(load_n[rest], 1e-3), _steps(1.0))
    was = before_n(plan, motion) / float(np.median(load_n[_before(plan)]))
    good = ratio >= max(0.25, 2.5 * was)
    if not good.any():
        return False
    first = int(np.argmax(good))
    return bool(first < _steps(20.0) and good[first : first + _steps(22.0)].all() and good.size - first > _steps(22.0))


def seizes(motion: Motion, onset_s: float, at_s: float, was_n: float) -> bool:
    """Tell whether friction rose before the ring stood."""
    if np.isnan(at_s) or at_s - onset_s < 0.2:
        return False
    return bool(motion.friction_n[_steps(onset_s) : _steps(at_s) + 1].max() > 1.8 * was_n)


def moves(sensor: Sensor, values: Floats, at_s: float, calm_s: float, lead_s: float, kind: str) -> bool:
    """Tell whether a channel leaves its trend by five times its unrest within ten seconds of an event.

    Args:
        sensor: its noise and step count as unrest.
        values: true track on the core's clock.
        at_s: event.
        calm_s: end of the time its own unrest is taken from.
        lead_s: how long before the event its level, and of a temperature its trend, is taken.
        kind: name of the channel.
    """
    a, b = max(0, _steps(min(at_s, calm_s) - 30.0)), min(values.size, _steps(at_s + 10.0))
    seen = (level_passed if kind == SOUND_LEVEL else low_passed)(values[a:b], sensor.cut_hz, 1.0 / CORE_DT_S)
    calm = seen[: max(_steps(4.0), _steps(calm_s) - a)]
    count = calm.size // _steps(2.0)
    spread = calm[: count * _steps(2.0)].reshape(count, -1)
    own = float(np.median((spread - spread.mean(axis=1, keepdims=True)).std(axis=1))) if count else 0.0
    unrest = float(np.sqrt(own**2 + sensor.noise**2 + sensor.step**2 / 12.0))
    head = _steps(at_s) - a
    lead = seen[max(0, head - _steps(lead_s)) : head]
    slope = 0.0
    if kind.endswith("_degc"):
        slope = float(np.median(lead[lead.size // 2 :]) - np.median(lead[: lead.size // 2])) / (lead.size / 2)
    ahead = np.median(lead) + slope * (lead.size / 2 + np.arange(b - a - head))
    smooth = uniform_filter1d(np.clip(seen[head:], sensor.low, sensor.high), _steps(0.3))
    return bool(np.abs(smooth - ahead).max() > 5.0 * unrest)


def limits_of(warmest_degc: float, margin_k: float, grain_k: float) -> float:
    """Give the limit a technician sets above the warmest healthy value, rounded up."""
    return float(np.ceil((warmest_degc + margin_k) / grain_k) * grain_k)


def label(plan: Plan) -> Precursor:
    """Give what the contact showed before."""
    return plan.precursor if plan.klass in (*SCUFFINGS, Klass.SEIZURE) else Precursor.NONE
