"""What really happened, read from the noise-free world. Gives `Truth` on the clock of the stamps."""

import math
from dataclasses import dataclass, replace

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    NAN,
    PIN_TEMPERATURE,
    TRIP_WORTHY,
    Flags,
    Floats,
    Klass,
    Nuisance,
    Precursor,
    RigFacts,
    Truth,
)

from .chance import STEP_S
from .courses import Courses
from .plan import Plan
from .rig import Rig
from .stamps import Stamps
from .turning import Turned

SEEN_S = 10.0
_BEFORE_S = 20.0
_TIMES = 5.0
_EARLIER_S = 180.0


@dataclass(frozen=True, slots=True)
class Moments:
    """Moments on the inner clock, s; NaN where a thing did not happen."""

    severe_s: float = NAN
    stall_s: float = NAN
    overheat_s: float = NAN


def trailing(course: Floats, lasts_s: float, step_s: float = STEP_S) -> Floats:
    """Give (n,) the mean over the last lasts_s."""
    width = max(round(lasts_s / step_s), 1)
    added = np.concatenate([np.full(width, course[0]), course]).cumsum()
    return np.asarray((added[width:] - added[:-width]) / width, dtype=np.float64)


def moments_of(rig: Rig, plan: Plan, courses: Courses, turned: Turned, limits: dict[str, float]) -> Moments:
    """Give when the force tripled, the ring stood and the limit was passed."""
    t_s = turned.t_s
    if plan.trouble is not None:
        return Moments(overheat_s=_overheat_s(plan.trouble.t_s, turned, limits))
    if plan.harm is None and plan.jam is None:
        return Moments()
    pulls = courses.on & (courses.supply > 0.5)
    stands = pulls & (turned.ring_rad_s < 0.02 * rig.set_rad_s) & (t_s >= plan.first_s)
    stall_s = _first_s(t_s, stands)
    if plan.harm is None:
        return Moments(stall_s=stall_s)
    before = (t_s >= plan.first_s - 2.0) & (t_s < plan.first_s)
    tripled = trailing(turned.friction_n, 0.05) >= 3.0 * turned.friction_n[before].mean()
    return Moments(severe_s=_first_s(t_s, tripled & (t_s >= plan.harm.onset_s)), stall_s=stall_s)


def _first_s(t_s: Floats, true: Flags) -> float:
    return float(t_s[int(true.argmax())]) if true.any() else NAN


def _overheat_s(begin_s: float, turned: Turned, limits: dict[str, float]) -> float:
    over = np.zeros(len(turned.t_s), dtype=np.bool_)
    for name, course in ((PIN_TEMPERATURE, turned.pin_degc), (BATH_TEMPERATURE, turned.bath_degc)):
        over |= course > limits.get(name, math.inf)
    return _first_s(turned.t_s, over & (turned.t_s >= begin_s))


def temperature_limits(rig: Rig, limits: dict[str, float]) -> dict[str, float]:
    """Give the temperature limits by which an overheat is told: of what is shown, or of the pin where nothing is."""
    both = {name: limits[name] for name in (PIN_TEMPERATURE, BATH_TEMPERATURE)}
    seen = {name: limit for name, limit in both.items() if name in CHANNELS_OF[rig.channel_set]}
    return seen or {PIN_TEMPERATURE: both[PIN_TEMPERATURE]}


def seen_by(
    plan: Plan, clean: dict[str, Floats], without: dict[str, Floats], real: dict[str, Floats], t_s: Floats
) -> tuple[str, ...]:
    """Give the channels that depart from those of the same world without the event.

    Args:
        plan: when it begins.
        clean: (n,) noise-free readings on the recording's clock.
        without: (n,) the same of the world without the event; NaN where it was not turned.
        real: (n,) readings as recorded.
        t_s: (n,) the recording's clock.
    """
    acts_s = plan.harm.onset_s if plan.harm else plan.first_s
    touched_s = [hang.t_s + hang.takes_s + 3.0 for hang in plan.hands.hangs]
    touched_s += [at_s + 5.0 for at_s, _ in plan.hands.switches]
    begin_s = min(max([plan.first_s - _BEFORE_S, *touched_s]), plan.first_s - 2.0)
    before = (t_s >= begin_s) & (t_s < plan.first_s)
    after = (t_s >= acts_s) & (t_s <= acts_s + SEEN_S)
    seen = []
    for name, read in real.items():
        if plan.fault is not None and plan.fault.channel == name:
            continue
        quiet = read[before & ~np.isnan(read)]
        spread = float(np.diff(np.percentile(quiet, [15.87, 84.13]))[0]) / 2.0 if len(quiet) > 3 else math.inf
        departs = np.abs(clean[name][after] - without[name][after])
        if np.nanmax(departs, initial=0.0) > _TIMES * max(spread, 1e-9):
            seen.append(name)
    return tuple(seen)


def truth_of(
    klass: Klass, plan: Plan, moments: Moments, facts: RigFacts, seen: tuple[str, ...], stamps: Stamps
) -> Truth:
    """Give the truth on the clock of the stamps."""
    harm, first_s = plan.harm, plan.first_s
    if plan.trouble is not None:
        first_s = max(plan.trouble.t_s, moments.overheat_s - _EARLIER_S)
        seen = tuple(name for name in (PIN_TEMPERATURE, BATH_TEMPERATURE) if name in facts.limits)
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        earliest_legitimate_trip_s=stamps.of(first_s),
        onset_s=stamps.of(harm.onset_s) if harm else NAN,
        severe_s=stamps.of(moments.severe_s),
        stall_s=stamps.of(moments.stall_s),
        jam_s=stamps.of(plan.jam.t_s) if plan.jam else NAN,
        overheat_s=stamps.of(moments.overheat_s),
        supply_lost_s=stamps.of(plan.supply_lost_s),
        fault_s=stamps.of(plan.fault.t_s) if plan.fault else NAN,
        fault=plan.fault.fault if plan.fault else None,
        fault_channel=plan.fault.channel if plan.fault else "",
        precursor=harm.precursor if harm else Precursor.NONE,
        seen_by=seen,
        nuisances=tuple(_stamped(each, stamps) for each in plan.nuisances),
    )


def _stamped(nuisance: Nuisance, stamps: Stamps) -> Nuisance:
    return replace(nuisance, t_s=stamps.of(nuisance.t_s))
