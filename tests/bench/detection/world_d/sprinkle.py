"""Healthy things that happen by themselves, sprinkled over a plan.

Reads draws, a rig and a span of time, gives nuisances. How large each is, is drawn where it acts.
"""

from math import inf

from world_b.values import (
    FRICTION_FORCE,
    PIN_TEMPERATURE,
    SOUND_LEVEL,
    Kind,
    Nuisance,
)

from .chance import Chance
from .rig import Rig

_AN_HOUR: dict[Kind, tuple[float, float, float]] = {
    Kind.BUMP: (1.6, 0.5, 2.0),
    Kind.FILM_TRANSITION: (1.0, 30.0, 500.0),
    Kind.DEBRIS: (2.2, 0.1, 1.5),
    Kind.STICK_SLIP: (0.15, 4.0, 60.0),
    Kind.OIL_TOP_UP: (0.4, 3.0, 10.0),
    Kind.BRIEF_DIP: (0.15, 0.02, 0.12),
}
_HEARD_AN_HOUR: dict[Kind, tuple[float, float, float]] = {
    Kind.SQUEAL: (0.3, 1.0, 60.0),
    Kind.DOOR_SLAM: (4.0, 0.1, 0.4),
    Kind.NEIGHBOUR: (1.0, 20.0, 600.0),
    Kind.VOICES: (2.0, 5.0, 120.0),
}
"""Rate in 1/h, shortest and longest duration in s; common practice, no source."""

_THROUGHOUT: dict[Kind, float] = {
    Kind.SPIKES: 0.28,
    Kind.SHORT_DROPOUTS: 0.17,
    Kind.HOLES: 0.17,
    Kind.DUPLICATE_STAMPS: 0.12,
    Kind.BACKWARD_STAMPS: 0.11,
}


def happen(chance: Chance, rig: Rig, from_s: float, to_s: float) -> list[Nuisance]:
    """Draw what happens between two times; most recordings are busier or quieter than the mean."""
    busy = chance.ratio(0.5, 2.2)
    rates = _AN_HOUR | (_HEARD_AN_HOUR if SOUND_LEVEL in rig.gauges else {})
    found = []
    for kind, (per_hour, short_s, long_s) in rates.items():
        for t_s in chance.moments(from_s, to_s, busy * per_hour):
            duration_s = min(chance.ratio(short_s, long_s), to_s - t_s)
            if kind is Kind.BRIEF_DIP:
                duration_s = min(duration_s, 0.2 * spin_up_s(rig))
            found.append(Nuisance(kind, t_s, duration_s))
    return found


def spin_up_s(rig: Rig) -> float:
    """Give the time in which full torque would bring the ring to speed, s."""
    drive = rig.drive
    return (drive.motor_kgm2 + drive.ring_kgm2) * rig.set_speed_rad_s / drive.full_torque_nm


def throughout(chance: Chance, rig: Rig) -> list[Nuisance]:
    """Draw what lasts the whole recording: habits of sensors, wires and stamps."""
    kinds = [kind for kind, share in _THROUGHOUT.items() if chance.yes(share)]
    if FRICTION_FORCE in rig.gauges and chance.yes(0.25):
        kinds.append(Kind.MAINS_HUM)
    if PIN_TEMPERATURE in rig.gauges and chance.yes(0.25):
        kinds.append(Kind.COARSE_TEMPERATURE)
    return [Nuisance(kind, 0.0) for kind in kinds]


def spells(chance: Chance, kind: Kind, from_s: float, to_s: float) -> list[Nuisance]:
    """Draw spells that fill a fifth to nine tenths of a span."""
    share = chance.between(0.2, 0.9)
    found, t_s = [], from_s + chance.ratio(2.0, 60.0)
    while t_s < to_s:
        lasts_s = chance.ratio(3.0, 120.0)
        found.append(Nuisance(kind, t_s, min(lasts_s, to_s - t_s)))
        t_s += lasts_s / share * chance.between(0.8, 1.2)
    return found


def near_end(nuisances: list[Nuisance], quiet_from_s: float) -> list[Nuisance]:
    """Leave out what would reach into the event; infinite for none."""
    if quiet_from_s == inf:
        return nuisances
    always = (Kind.SPIKES, Kind.SHORT_DROPOUTS, Kind.HOLES, Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS)
    lasting = (*always, Kind.MAINS_HUM, Kind.COARSE_TEMPERATURE, Kind.DOOR_SLAM, Kind.VOICES, Kind.NEIGHBOUR)
    return [each for each in nuisances if each.kind in lasting or each.t_s + each.duration_s < quiet_from_s]
