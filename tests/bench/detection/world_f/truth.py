"""The truth of a recording, on the clock of its stamps.

Reads a `World`, the channels as read and the sensor that failed; gives a `Truth`.
"""

from dataclasses import replace
from math import isnan

import numpy as np
from world_b.values import NAN, TRIP_WORTHY, Floats, Klass, Precursor, Truth

from .chance import mean_over
from .instruments import lasting_zero_a, shown_by
from .moments import Moments, moments_of, passes
from .plan import Plan
from .rig_draws import shown
from .spoil import Failed
from .stamps import stamp_of
from .world import World, calm

SEEN_SPREADS = 5.0
SEEN_WITHIN_S = 10.0
SPREAD_OVER_S = 20.0
_SETTLED_S = 2.0
"""After a weight, from which its swing no longer counts as unrest."""
_LEAST_S = 1.0
_HELD_S = 0.1


def truth_of(
    world: World, klass: Klass, clean: dict[str, Floats], rows: dict[str, Floats], failed: Failed | None
) -> Truth:
    """Give the truth; `clean` on the fine grid and `rows` as read, both of all seven channels."""
    plan = world.plan
    channels = shown(world.rig)
    limited = tuple(name for name in channels if not isnan(passes(world, name)))
    moments = moments_of(world, limited)
    seen = limited if klass is Klass.OVERHEAT else _seen_by(world, moments, clean, rows)
    lost = () if failed is None else (failed.channel,)
    scuffing = plan.scuffing
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=_stamped(plan, moments.earliest_s),
        onset_s=_stamped(plan, moments.onset_s),
        severe_s=_stamped(plan, moments.severe_s),
        stall_s=_stamped(plan, moments.stall_s),
        jam_s=_stamped(plan, moments.jam_s),
        overheat_s=_stamped(plan, moments.overheat_s),
        supply_lost_s=_stamped(plan, moments.supply_lost_s),
        fault_s=NAN if plan.fault is None or failed is None else _stamped(plan, plan.fault.t_s),
        fault=None if failed is None else failed.fault,
        fault_channel="" if failed is None else failed.channel,
        precursor=Precursor.NONE if scuffing is None else scuffing.precursor,
        seen_by=tuple(name for name in channels if name in seen and name not in lost),
        nuisances=tuple(
            sorted(
                (replace(each, t_s=_stamped(plan, each.t_s)) for each in plan.nuisances()), key=lambda each: each.t_s
            )
        ),
    )


def _stamped(plan: Plan, t_s: float) -> float:
    return NAN if isnan(t_s) else float(stamp_of(plan, t_s))


def _seen_by(world: World, moments: Moments, clean: dict[str, Floats], rows: dict[str, Floats]) -> tuple[str, ...]:
    """Give the channels that depart from those of the same world without its event."""
    sign_s = moments.earliest_s
    acts_s = moments.jam_s if isnan(moments.onset_s) else moments.onset_s
    if isnan(acts_s):
        return ()
    without = calm(world, sign_s, acts_s + SEEN_WITHIN_S)
    usual = shown_by(without, lasting_zero_a(world, sign_s))
    part = np.searchsorted(world.t_s, without.t_s)
    judged = (without.t_s >= acts_s) & (without.t_s < acts_s + SEEN_WITHIN_S)
    begin_s = max([sign_s - SPREAD_OVER_S, *_settled_s(world.plan, sign_s)])
    begin_s = min(begin_s, sign_s - _LEAST_S)
    seen = []
    for name, course in clean.items():
        departs = np.abs(mean_over(course[part] - usual[name], _HELD_S))[judged]
        if departs.max() > SEEN_SPREADS * _spread(world, name, rows[name], begin_s, sign_s):
            seen.append(name)
    return tuple(seen)


def _settled_s(plan: Plan, sign_s: float) -> list[float]:
    return [load.t_s + _SETTLED_S for load in plan.loads if load.t_s < sign_s]


def _spread(world: World, name: str, read: Floats, begin_s: float, end_s: float) -> float:
    """Give the spread of a reading, robust against spikes, and no less than its converter's step, in its unit."""
    step_s = float(world.t_s[-1]) / max(len(read) - 1, 1)
    part = read[max(int(begin_s / step_s), 0) : int(end_s / step_s)]
    part = part[np.isfinite(part)]
    if len(part) < 2:
        return float("inf")
    low, high = np.percentile(part, [16.0, 84.0])
    return max(0.5 * float(high - low), 0.3 * world.rig.sensing.gauges[name].step)
