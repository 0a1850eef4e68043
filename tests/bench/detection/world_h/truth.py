"""The truth, read from the noise-free inside of a world.

Reads a `World`, its instruments and what they read, gives a `Truth` on the clock of the stamps.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from world_b.values import (
    BATH_TEMPERATURE,
    NAN,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    Floats,
    Kind,
    Klass,
    Nuisance,
    Truth,
)

from .drives import DT_S
from .events import onset_s
from .instruments import Instruments, fitted
from .promise import severe_s, stall_s
from .spoils import Failure
from .stamps import clock
from .world import World, passes_s

_SOON_S = 10.0
_SPREADS = 5.0
_BEFORE_S = 20.0
_WARNED_S = 180.0


def read_truth(world: World, instruments: Instruments, failure: Failure | None, seen_by: tuple[str, ...]) -> Truth:
    """Give the truth.

    Args:
        world, instruments, failure: see there.
        seen_by: of `seeing`.
    """
    klass, first_s = world.event.klass, world.plan.first_sign_s
    contact = klass in (*SCUFFINGS, Klass.SEIZURE)
    overheat_s = _overheat_s(world, instruments) if klass is Klass.OVERHEAT else NAN
    earliest_s = first_s if klass in (*TRIP_WORTHY, Klass.SUPPLY_LOST) else NAN
    if klass is Klass.OVERHEAT:
        earliest_s = max(first_s, overheat_s - _WARNED_S)
    at = {
        "earliest_legitimate_trip_s": earliest_s,
        "onset_s": onset_s(world.event, first_s),
        "severe_s": severe_s(world) if contact else NAN,
        "stall_s": _within(stall_s(world), world.end_s) if contact or klass is Klass.JAM else NAN,
        "jam_s": first_s if klass is Klass.JAM else NAN,
        "overheat_s": overheat_s,
        "supply_lost_s": first_s if klass is Klass.SUPPLY_LOST else NAN,
        "fault_s": NAN if failure is None else failure.t_s,
    }
    return Truth(
        trip_worthy=klass in TRIP_WORTHY,
        **{name: float(clock(world.plan, np.array([value]))[0]) for name, value in at.items()},
        fault=None if failure is None else failure.fault,
        fault_channel="" if failure is None else failure.channel,
        precursor=world.event.precursor,
        seen_by=seen_by,
        nuisances=_on_the_clock(world),
    )


def seeing(
    world: World,
    instruments: Instruments,
    failure: Failure | None,
    plain: Mapping[str, Floats],
    still: Mapping[str, Floats],
    real: Mapping[str, Floats],
    t_s: Floats,
) -> tuple[str, ...]:
    """Give the fitted channels that see the event.

    Args:
        world, instruments, failure: see there; a sensor that shows nothing any more sees nothing.
        plain, still: noise-free readings, with and without the event.
        real: what was read, before spikes and lost samples.
        t_s: of the rows.
    """
    klass, first_s = world.event.klass, world.plan.first_sign_s
    if klass not in TRIP_WORTHY:
        return ()
    names = [name for name in fitted(instruments) if failure is None or name != failure.channel or not failure.blinds]
    if klass is Klass.OVERHEAT:
        return tuple(name for name in names if name in (PIN_TEMPERATURE, BATH_TEMPERATURE))
    begin_s = first_s if klass is Klass.JAM else first_s + world.event.lead_s
    soon = (t_s >= begin_s) & (t_s <= begin_s + _SOON_S)
    settled_s = max(first_s - _BEFORE_S, world.plan.stages[-1].ready_s, *(end_s for _, end_s in world.plan.off), 0.0)
    before = (t_s >= min(settled_s, first_s - 3.0)) & (t_s < first_s)
    found = []
    for name in names:
        spread = max(float(np.std(real[name][before])), instruments.sensors[name].step / np.sqrt(12.0))
        if float(np.max(np.abs(plain[name][soon] - still[name][soon]))) > _SPREADS * spread:
            found.append(name)
    return tuple(found)


def _overheat_s(world: World, instruments: Instruments) -> float:
    """Give the first passing of a fitted limit; of the pin's would-be limit where no thermocouple is fitted."""
    names = [name for name in (PIN_TEMPERATURE, BATH_TEMPERATURE) if name in fitted(instruments)]
    return float(np.nanmin([passes_s(world, name) for name in names or [PIN_TEMPERATURE]]))


def _within(at_s: float, end_s: float) -> float:
    return at_s if at_s <= end_s - DT_S else NAN


def _on_the_clock(world: World) -> tuple[Nuisance, ...]:
    end_s = world.end_s
    inside = [one for one in world.plan.nuisances if one.t_s <= end_s]
    inside = [replace(one, duration_s=min(one.duration_s, end_s - one.t_s)) for one in inside]
    moved = [replace(one, t_s=float(clock(world.plan, np.array([one.t_s]))[0])) for one in inside]
    return tuple(sorted(moved, key=lambda one: (one.t_s, list(Kind).index(one.kind))))
