"""What happened, told from the noise-free world on the inner clock.

Reads rig, plan, world and readings, gives a `Truth` on the clock of the stamps.
"""

from dataclasses import replace

import numpy as np
from scipy.ndimage import uniform_filter1d
from world_b import values as v
from world_b.values import NAN, Floats, Kind, Klass, Nuisance, Truth

from .bench import Made
from .chance import STEP_S
from .facts import ranges_of
from .plan import Event, Plan
from .readings import clean
from .rig import Rig
from .stamps import Clock

SMOOTHED_S = 0.05
BEFORE_S = 2.0
STANDS = 0.02
_SEVERE, _SEEN, _WITHIN_S, _AHEAD_S = 3.0, 5.0, 10.0, 180.0

_TIMES = (
    "earliest_legitimate_trip_s", "onset_s", "severe_s", "stall_s", "jam_s", "overheat_s", "supply_lost_s", "fault_s"
)  # fmt: skip


def overheat_s(rig: Rig, plan: Plan, made: Made, limits: dict[str, float]) -> float:
    """Give when the true temperature passes a limit of a fitted channel; of the pin where none is fitted."""
    if plan.event is None or not plan.event.heating_s > 0.0:
        return NAN
    true = {v.PIN_TEMPERATURE: made.world.pin_degc, v.BATH_TEMPERATURE: made.world.bath_degc}
    fitted = [name for name in true if name in limits and name in v.CHANNELS_OF[rig.sensing.channel_set]]
    over = np.zeros(len(made.world.t_s), dtype=np.bool_)
    for name in fitted or [v.PIN_TEMPERATURE]:
        over |= (true[name] > limits[name]) & (made.world.t_s >= plan.event.heating_s)
    return float(made.world.t_s[np.argmax(over)]) if over.any() else NAN


def truth_of(
    rig: Rig, plan: Plan, klass: Klass, made: Made, limits: dict[str, float], at_s: Floats, readings: dict[str, Floats]
) -> Truth:
    """Give the truth on the inner clock.

    Args:
        rig, plan, klass, made, limits: of the recording.
        at_s: (m,) moments of the samples.
        readings: name to (m,), with noise, before spikes and faults: a channel's unrest is told from them.
    """
    event, broken = plan.event, plan.broken
    found = Truth(
        trip_worthy=klass in v.TRIP_WORTHY,
        fault_s=NAN if broken is None else broken.t_s,
        fault=None if broken is None else broken.fault,
        fault_channel="" if broken is None else broken.channel,
        nuisances=_with_rail(rig, plan, at_s, readings),
    )
    if event is None:
        return found
    over_s = overheat_s(rig, plan, made, limits)
    fitted = v.CHANNELS_OF[rig.sensing.channel_set]
    if event.heating_s > 0.0:
        seen = tuple(name for name in (v.PIN_TEMPERATURE, v.BATH_TEMPERATURE) if name in fitted and name in limits)
        return replace(
            found, overheat_s=over_s, earliest_legitimate_trip_s=max(event.heating_s, over_s - _AHEAD_S), seen_by=seen
        )
    sound = [name for name in fitted if broken is None or name != broken.channel]
    moving = event.onset_s if event.onset_s > 0.0 else event.jam_s
    return replace(
        found,
        earliest_legitimate_trip_s=event.first_s,
        onset_s=event.onset_s,
        severe_s=_severe_s(event, made),
        stall_s=_stall_s(rig, event, made),
        jam_s=event.jam_s,
        supply_lost_s=event.supply_s,
        precursor=event.precursor,
        seen_by=tuple(name for name in sound if moving > 0.0 and _sees(rig, plan, made, name, at_s, readings[name])),
    )


def stamped(truth: Truth, clock: Clock) -> Truth:
    """Give the truth on the clock of the stamps."""
    moved = {name: clock.stamp(getattr(truth, name)) for name in _TIMES}
    nuisances = [replace(nuisance, t_s=clock.stamp(nuisance.t_s)) for nuisance in truth.nuisances]
    nuisances.sort(key=lambda nuisance: nuisance.t_s)
    return replace(truth, **moved, nuisances=tuple(nuisances))  # type: ignore[arg-type]


def _severe_s(event: Event, made: Made) -> float:
    """Give when the force, averaged over 50 ms, is three times its mean in the two seconds before the first sign."""
    if not event.onset_s > 0.0:
        return NAN
    t_s = made.world.t_s
    force = uniform_filter1d(made.world.turned.friction_n, round(SMOOTHED_S / STEP_S))
    before = float(made.world.turned.friction_n[(t_s >= event.first_s - BEFORE_S) & (t_s < event.first_s)].mean())
    over = (force >= _SEVERE * before) & (t_s >= event.onset_s)
    return float(t_s[np.argmax(over)]) if over.any() else NAN


def _stall_s(rig: Rig, event: Event, made: Made) -> float:
    begin_s = event.onset_s if event.onset_s > 0.0 else event.jam_s
    slow = made.world.turned.ring_rad_s < STANDS * rig.motor.set_speed_rad_s
    over = slow & made.on & (made.world.t_s >= begin_s)
    return float(made.world.t_s[np.argmax(over)]) if over.any() else NAN


def _sees(rig: Rig, plan: Plan, made: Made, channel: str, at_s: Floats, read: Floats) -> bool:
    """Say whether the event moves a reading by five times its unrest, against the same world without the event."""
    event, calm = plan.event, made.calm
    assert event is not None
    assert calm is not None
    moment_s = event.onset_s if event.onset_s > 0.0 else event.first_s
    t_s = calm.t_s
    part = (t_s >= moment_s) & (t_s < moment_s + _WITHIN_S)
    moved = clean(rig, made.world, channel)[: len(t_s)] - clean(rig, calm, channel)
    settled = uniform_filter1d(moved, round(0.1 / STEP_S))[part]
    return bool(np.abs(settled).max() > _SEEN * unrest_of(rig, plan, channel, at_s, read))


def unrest_of(rig: Rig, plan: Plan, channel: str, at_s: Floats, read: Floats) -> float:
    """Give the spread of a reading about its own trend in up to 20 s before the first sign, in its unit."""
    event = plan.event
    assert event is not None
    end_s = event.first_s - 0.2
    last = max((load for load in plan.loads if load.t_s < end_s), key=lambda load: load.t_s)
    begin_s = max(end_s - 20.0, last.settled_s)
    if end_s - begin_s < 4.0:
        begin_s, end_s = last.t_s - 20.5, last.t_s - 0.5
    part = (at_s >= begin_s) & (at_s < end_s)
    values, moments_s = read[part], at_s[part]
    low, high = ranges_of(rig)[channel]
    floor = 1e-5 * (high - low)
    if channel.endswith("degc"):
        floor = 0.3 * (0.5 if rig.coarse else max(rig.sensing.couple_step_k, 0.02))
    if len(values) < 4:
        return floor
    line = np.polynomial.polynomial.polyfit(moments_s - begin_s, values, 1)
    return max(float(np.std(values - np.polynomial.polynomial.polyval(moments_s - begin_s, line))), floor)


def _with_rail(rig: Rig, plan: Plan, at_s: Floats, readings: dict[str, Floats]) -> tuple[Nuisance, ...]:
    """Give the nuisances of the plan and the starts whose current is beyond the sensor."""
    if v.MOTOR_CURRENT not in readings:
        return plan.nuisances
    railed = readings[v.MOTOR_CURRENT] >= rig.sensing.current_full_a
    if plan.event is not None:
        railed &= at_s < plan.event.first_s
    moments_s = at_s[railed]
    new = np.flatnonzero(np.diff(moments_s, prepend=-10.0) > 2.0)
    rails = [Nuisance(Kind.CURRENT_RAIL, float(moments_s[first]), 1.0) for first in new]
    return tuple(sorted((*plan.nuisances, *rails), key=lambda nuisance: nuisance.t_s))
