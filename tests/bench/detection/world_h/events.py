"""The event a class is named after: drawn before the plan, which leaves room for it, then laid over healthy acts.

Reads class, rig, plan and acts, gives an `Event` and the acts with it.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.random import Generator
from world_b.values import NAN, SCUFFINGS, Klass, Precursor

from .acts import SLOW_S, Acts
from .chance import chance, log_between
from .growth import draw_growth
from .precursors import announce, draw_precursor
from .rig import Rig

_LEADS_S = {
    Klass.SCUFFING_LONG: (30.0, 160.0),
    Klass.SCUFFING_SHORT: (1.2, 14.0),
    Klass.SCUFFING_WITH_FAULT: (1.2, 90.0),
    Klass.SEIZURE: (1.0, 40.0),
}
HEATING_S = 420.0
"""How long an abnormal heating may take to pass a limit."""
_HELD = (1.3, 4.0)


class Heating(Enum):
    """Closed set of reasons to overheat."""

    HEATER_STUCK = "the thermostat's contact has welded"
    FAN_STOPPED = "the draught over the bath has stopped, heat stays"
    STRAY_HEAT = "something hot has been put against the bath"
    OIL_GONE = "the oil has been thrown off, the pin runs hot"


@dataclass(frozen=True, slots=True)
class Event:
    """What happens to a rig.

    Attributes:
        klass: of the recording.
        precursor: see `Precursor`.
        lead_s: from the first sign to the onset.
        tail_s: from the onset to the end of the recording.
    """

    klass: Klass
    precursor: Precursor = Precursor.NONE
    lead_s: float = 0.0
    tail_s: float = 0.0

    @property
    def quiet_s(self) -> float:
        """Give how long nobody may touch the rig at the end, s; 0 for a class without an event."""
        return self.lead_s + self.tail_s


def draw_event(rng: Generator, klass: Klass) -> Event:
    """Draw the event of a class; of a healthy class, one that takes no time."""
    tail_s = rng.uniform(12.0, 45.0)
    if klass in (*SCUFFINGS, Klass.SEIZURE):
        if klass is Klass.SCUFFING_SUDDEN or (klass is Klass.SEIZURE and chance(rng, 0.3)):
            return Event(klass, tail_s=tail_s)
        return Event(klass, draw_precursor(rng), log_between(rng, *_LEADS_S[klass]), tail_s)
    if klass is Klass.OVERHEAT:
        return Event(klass, tail_s=HEATING_S + 20.0)
    return Event(klass, tail_s=tail_s) if klass in (Klass.JAM, Klass.SUPPLY_LOST) else Event(klass)


def lay_over(rng: Generator, rig: Rig, event: Event, first_s: float, acts: Acts) -> Acts:
    """Give the acts with the event, which begins to act at `first_s`; the healthy ones stay as they are."""
    with_event = acts.copy()
    after_s = acts.t_s - first_s
    if event.klass in (*SCUFFINGS, Klass.SEIZURE):
        if event.precursor is not Precursor.NONE:
            announce(rng, with_event, event.precursor, first_s, first_s + event.lead_s)
        _scuff(rng, with_event, event, first_s + event.lead_s)
    elif event.klass is Klass.JAM:
        most_nm = min(rig.motor.stall_nm, rig.motor.belt_nm) * rng.uniform(*_HELD)
        with_event.jam_nm += most_nm * np.clip(after_s / log_between(rng, 0.01, 0.6), 0.0, 1.0)
        with_event.clang_db += np.where(after_s > 0.0, rng.uniform(0.0, 10.0), 0.0)
    elif event.klass is Klass.OVERHEAT:
        _heat(rng, rig, with_event, first_s)
    elif event.klass is Klass.SUPPLY_LOST:
        with_event.supply[after_s >= 0.0] = 0.0
    return with_event


def onset_s(event: Event, first_s: float) -> float:
    """Give when the contact begins to scuff, s; NaN of an event that is none of the contact."""
    return first_s + event.lead_s if event.klass in (*SCUFFINGS, Klass.SEIZURE) else NAN


def _scuff(rng: Generator, acts: Acts, event: Event, begin_s: float) -> None:
    growth = draw_growth(rng, event.klass is Klass.SEIZURE)
    multiple = growth.multiple(acts.t_s - begin_s)
    acts.grip *= multiple
    share = np.clip((multiple - 1.0) / 3.0, 0.0, 1.0)
    acts.unrest *= 1.0 + rng.uniform(0.5, 4.0) * share
    acts.clang_db += rng.uniform(1.0, 12.0) * share


def _heat(rng: Generator, rig: Rig, acts: Acts, begin_s: float) -> None:
    later = np.arange(len(acts.film)) * SLOW_S >= begin_s
    causes = [Heating.FAN_STOPPED, Heating.STRAY_HEAT, Heating.OIL_GONE]
    if rig.warmth.heater_w > 0.0:
        causes += [Heating.HEATER_STUCK] * 4
    cause = causes[int(rng.integers(len(causes)))]
    if cause is Heating.HEATER_STUCK:
        acts.heater_stuck[later] = 1.0
    elif cause is Heating.FAN_STOPPED:
        acts.cooling[later] = rng.uniform(0.02, 0.3)
    elif cause is Heating.STRAY_HEAT:
        acts.heat_w[later] += rig.warmth.bath_j_k * log_between(rng, 0.08, 0.8)
    else:
        since_s = np.arange(len(acts.film)) * SLOW_S - begin_s
        dried = np.where(later, 1.0 - np.exp(-np.clip(since_s, 0.0, None) / log_between(rng, 10.0, 120.0)), 0.0)
        acts.pin_heat *= 1.0 + rng.uniform(2.0, 8.0) * dried
        acts.film *= 1.0 + rng.uniform(0.0, 0.3) * dried
