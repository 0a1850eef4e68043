"""The one thing a recording is about: scuffing, seizure, jam, overheating, supply lost.

Reads the draws; says when it shows first, begins and is over. What it does to the rig is in `inputs.py`.
"""

from dataclasses import dataclass
from enum import Enum

from world_b.values import NAN, Klass, Precursor

from .draws import Rng, chance, uniform
from .rig import Rig


class Cause(Enum):
    """What makes a rig too hot."""

    NONE = "none"
    HEATER_STUCK = "the thermostat's contact has welded and the heater stays on"
    OIL_LOST = "the bath has leaked and the pin sheds little heat"


@dataclass(frozen=True, slots=True)
class Event:
    """The one thing a recording is about; NaN where there is none."""

    sign_s: float = NAN
    onset_s: float = NAN
    end_s: float = NAN
    precursor: Precursor = Precursor.NONE
    seizes: bool = False
    jam_share: float = 0.0
    overheat: Cause = Cause.NONE
    supply_lost: bool = False


def draw_event(rng: Rng, klass: Klass, sign_s: float, rig: Rig) -> Event:
    """Draw the event of that class, first sign at sign_s."""
    sorts = (Precursor.BURSTS, Precursor.ONCE_PER_TURN, Precursor.CREEP, Precursor.MICRO_SCUFF)
    precursor = sorts[int(rng.integers(4))]
    watch_s = uniform(rng, 20.0, 60.0)
    if klass is Klass.OVERHEAT:
        cause = Cause.HEATER_STUCK if rig.paths.heater_w and chance(rng, 0.7) else Cause.OIL_LOST
        return Event(sign_s, NAN, sign_s + 400.0, overheat=cause)
    if klass is Klass.JAM:
        share = uniform(rng, 0.5, 0.9) if chance(rng, 0.2) else uniform(rng, 1.5, 4.0)
        return Event(sign_s, NAN, sign_s + 0.7 * watch_s, jam_share=share)
    if klass is Klass.SUPPLY_LOST:
        return Event(sign_s, NAN, sign_s + 0.7 * watch_s, supply_lost=True)
    lead_s = {
        Klass.SCUFFING_LONG: uniform(rng, 20.0, 240.0),
        Klass.SCUFFING_SHORT: uniform(rng, 1.0, 14.0),
        Klass.SCUFFING_SUDDEN: 0.0,
    }.get(klass, (0.0, uniform(rng, 3.0, 15.0), uniform(rng, 20.0, 120.0))[int(rng.integers(3))])
    if lead_s == 0.0:
        precursor = Precursor.NONE
    onset_s = sign_s + lead_s
    return Event(sign_s, onset_s, onset_s + watch_s, precursor, seizes=klass is Klass.SEIZURE)
