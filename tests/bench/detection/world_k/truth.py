"""What really happened, by the noise-free trace and by the made channels. Gives `Truth` on the recording's clock."""

import math
from dataclasses import replace

import numpy as np
from world_b.values import NAN, TRIP_WORTHY, Flags, Floats, Klass, Nuisance, Truth

from world_k.core import Trace
from world_k.losses import stamped_s
from world_k.plan import Plan
from world_k.rig import Rig

SEVERE_RATIO = 3.0
STALL_RATIO = 0.02
EARLIEST_BEFORE_LIMIT_S = 180.0
SEEN_DEVIATIONS = 5.0
SEEN_WITHIN_S = 10.0
MAD_TO_DEVIATION = 1.4826


def first_s(rows: Flags, from_s: float, rate_hz: float) -> float:
    """Give the time of the first row at or after `from_s` that is set, or NaN."""
    first = math.ceil(from_s * rate_hz)
    found = np.flatnonzero(rows[first:])
    return float(first + found[0]) / rate_hz if found.size else NAN


def steady_before(plan: Plan, t_s: float, rate_hz: float, longest_s: float) -> slice:
    """Give the rows before a time in which load and motor were left alone, at least one second of them."""
    events_s = [change.t_s for change in plan.changes] + [edge_s for run in plan.runs for edge_s in run]
    last_s = max([event_s + 3.0 for event_s in events_s if event_s < t_s - 1.0], default=0.0)
    return slice(max(int(max(min(last_s, t_s - 1.0), t_s - longest_s) * rate_hz), 0), int(t_s * rate_hz))


def seen(plan: Plan, channels: dict[str, Floats], rate_hz: float, earliest_s: float, event_s: float) -> tuple[str, ...]:
    """Give the channels that move by more than five times their own unrest within ten seconds of an event.

    Unrest: the deviation by the median of absolute deviations in up to 30 quiet seconds before, no less than half the
    smallest step. Move: of the median over 0.2 s.
    """
    quiet = steady_before(plan, earliest_s, rate_hz, 30.0)
    first = int(event_s * rate_hz)
    last = first + int(SEEN_WITHIN_S * rate_hz)
    width = max(int(0.2 * rate_hz), 1)
    names = []
    for name, values in channels.items():
        before, after = values[quiet], values[first:last]
        before, rows = before[np.isfinite(before)], after.size // width
        if before.size < 10 or rows == 0 or not np.isfinite(after).any():
            continue
        usual = float(np.median(before))
        steps = np.abs(np.diff(before))
        smallest = float(steps[steps > 0.0].min()) if (steps > 0.0).any() else 1e-9
        unrest = max(MAD_TO_DEVIATION * float(np.median(np.abs(before - usual))), 0.5 * smallest, 1e-9)
        blocks = after[: rows * width].reshape(rows, width)
        blocks = blocks[np.isfinite(blocks).any(axis=1)]
        moved = np.abs(np.nanmedian(blocks, axis=1) - usual).max(initial=0.0)
        if moved > SEEN_DEVIATIONS * unrest:
            names.append(name)
    return tuple(names)


def truth_of(
    plan: Plan, rig: Rig, trace: Trace, channels: dict[str, Floats], limits: dict[str, float], rate_hz: float
) -> Truth:
    """Give the truth; `channels` are those the rig has, faults included, before rows are lost."""
    klass = plan.klass
    truth = Truth(
        trip_worthy=klass in TRIP_WORTHY,
        supply_lost_s=stamped_s(plan, plan.supply_lost_s),
        fault_s=stamped_s(plan, plan.fault_s),
        fault=plan.fault,
        fault_channel=plan.fault_channel,
        precursor=plan.precursor,
        nuisances=_nuisances(plan),
    )
    if klass is Klass.OVERHEAT:
        earliest_s = max(plan.heat_from_s, trace.overheat_s - EARLIEST_BEFORE_LIMIT_S)
        return replace(
            truth,
            earliest_legitimate_trip_s=stamped_s(plan, earliest_s),
            overheat_s=stamped_s(plan, trace.overheat_s),
            seen_by=tuple(name for name in channels if name in limits and name.endswith("degc")),
        )
    stalled = trace.live & (trace.ring_rad_s < STALL_RATIO * rig.set_speed_rad_s)
    if klass is Klass.JAM:
        return replace(
            truth,
            earliest_legitimate_trip_s=stamped_s(plan, plan.jam_s),
            jam_s=stamped_s(plan, plan.jam_s),
            stall_s=stamped_s(plan, first_s(stalled, plan.jam_s, rate_hz)),
            seen_by=seen(plan, channels, rate_hz, plan.jam_s, plan.jam_s),
        )
    if klass not in TRIP_WORTHY:
        return truth
    earliest_s = plan.precursor_s
    whole = {name: values for name, values in channels.items() if name != plan.fault_channel}
    usual_n = float(np.median(trace.friction_n[steady_before(plan, earliest_s, rate_hz, 5.0)]))
    return replace(
        truth,
        earliest_legitimate_trip_s=stamped_s(plan, earliest_s),
        onset_s=stamped_s(plan, plan.onset_s),
        severe_s=stamped_s(plan, first_s(trace.friction_n >= SEVERE_RATIO * usual_n, plan.onset_s, rate_hz)),
        stall_s=stamped_s(plan, first_s(stalled, plan.onset_s, rate_hz)),
        seen_by=seen(plan, whole, rate_hz, earliest_s, plan.onset_s),
    )


def _nuisances(plan: Plan) -> tuple[Nuisance, ...]:
    kept = [item for item in plan.nuisances if item.t_s <= plan.duration_s]
    return tuple(sorted((replace(item, t_s=stamped_s(plan, item.t_s)) for item in kept), key=lambda item: item.t_s))
