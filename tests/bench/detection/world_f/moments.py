"""When things really happen, from the noise-free world, on its clock without breaks.

Reads a `World`, gives its `Moments`. The first sign, the onset, the jam and the lost supply are when the cause begins
to act; all others are looked up in the courses.
"""

from dataclasses import dataclass
from math import isnan

import numpy as np
from world_b.values import BATH_TEMPERATURE, NAN, PIN_TEMPERATURE, Flags

from .chance import mean_over
from .world import World

SEVERE = 3.0
FORCE_MEAN_S = 0.05
BEFORE_S = 2.0
STALLED_SHARE = 0.02
AHEAD_OF_LIMIT_S = 180.0


@dataclass(frozen=True, slots=True)
class Moments:
    """See `Truth`; s, NaN where a thing does not happen."""

    earliest_s: float = NAN
    onset_s: float = NAN
    severe_s: float = NAN
    stall_s: float = NAN
    jam_s: float = NAN
    overheat_s: float = NAN
    supply_lost_s: float = NAN


def moments_of(world: World, limited: tuple[str, ...] = ()) -> Moments:
    """Give the moments; `limited` are the shown channels with a temperature limit, where one must pass it."""
    plan = world.plan
    if plan.scuffing is not None:
        onset_s, sign_s = plan.scuffing.onset_s, plan.scuffing.sign_s
        return Moments(sign_s, onset_s, _severe_s(world, sign_s, onset_s), _stall_s(world, onset_s))
    if plan.jam is not None:
        return Moments(plan.jam.t_s, jam_s=plan.jam.t_s, stall_s=_stall_s(world, plan.jam.t_s))
    if plan.overheat is not None:
        over_s = _overheat_s(world, limited)
        return Moments(max(plan.overheat.t_s, over_s - AHEAD_OF_LIMIT_S), overheat_s=over_s)
    if not isnan(plan.supply_lost_s):
        return Moments(plan.supply_lost_s, supply_lost_s=plan.supply_lost_s)
    return Moments()


def passes(world: World, name: str) -> float:
    """Give when the true temperature of a channel passes its limit, s; NaN if it never does or there is none."""
    courses = {PIN_TEMPERATURE: world.pin_degc, BATH_TEMPERATURE: world.bath_degc}
    if name not in world.rig.limits or name not in courses or world.plan.overheat is None:
        return NAN
    return _first_s(world, (courses[name] > world.rig.limits[name]) & (world.t_s > world.plan.overheat.t_s))


def _overheat_s(world: World, limited: tuple[str, ...]) -> float:
    """Give when the first limit is passed: of a shown channel if one passes, else of any."""
    for names in (limited, (PIN_TEMPERATURE, BATH_TEMPERATURE)):
        passed = [at_s for at_s in (passes(world, name) for name in names) if not isnan(at_s)]
        if passed:
            return min(passed)
    return NAN


def _severe_s(world: World, sign_s: float, onset_s: float) -> float:
    force = world.turned.friction_n
    before = float(force[(world.t_s >= sign_s - BEFORE_S) & (world.t_s < sign_s)].mean())
    return _first_s(world, (mean_over(force, FORCE_MEAN_S) >= SEVERE * before) & (world.t_s >= onset_s))


def _stall_s(world: World, from_s: float) -> float:
    slow = world.turned.ring_rad_s < STALLED_SHARE * world.rig.motor.set_rad_s
    return _first_s(world, slow & (world.courses.supply > 0.0) & (world.t_s >= from_s))


def _first_s(world: World, when: Flags) -> float:
    return float(world.t_s[int(np.argmax(when))]) if when.any() else NAN
