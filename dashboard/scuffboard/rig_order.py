"""Which rig needs a person, and in which order the tiles stand.

Reads rigs, gives an order that is calm: a rig that needs somebody moves to the front at once; it goes back only after
it has needed nobody for a minute; among equals the name decides, never an age or a value.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from scuffboard.rig_list import WORD_STALE_S, Rig

HOLD_S = 60.0


class Need(IntEnum):
    """Whether a rig needs a person."""

    NOW = 0
    """A trip that nobody has acknowledged."""
    LOOK = 1
    """A warning nobody has acknowledged, or nothing known of a rig that should be known."""
    ANSWERED = 2
    """A trip that stands, and that somebody has acknowledged."""
    NOBODY = 3


@dataclass(slots=True)
class _Place:
    need: Need
    lower_since_s: float | None = None


def is_real_trip(rig: Rig) -> bool:
    """Tell a trip from the tripped state every start begins in."""
    return rig.permit == "tripped" and rig.first_out_kind != "start_up"


def need_of(rig: Rig, list_age_s: float) -> Need:
    """Give whether a rig needs a person.

    Args:
        rig: as the list has it.
        list_age_s: how long ago the list was written, s.
    """
    if rig.bad:
        return Need.LOOK
    if not rig.online:
        return Need.NOBODY if rig.why == "stopped" else Need.LOOK
    if not rig.live or rig.age_s + list_age_s >= WORD_STALE_S or rig.core != "speaking" or rig.permit is None:
        return Need.LOOK
    waits = rig.alarm is not None and rig.alarm.waits
    if is_real_trip(rig):
        return Need.ANSWERED if rig.acknowledged else Need.NOW
    if waits and rig.alarm is not None and rig.alarm.priority != "N":
        return Need.NOW if rig.alarm.priority == "T" else Need.LOOK
    return Need.NOBODY


def by_name(rig: Rig) -> tuple[object, ...]:
    """Give what a rig is sorted by: its name, numbers in it by value, then its topic."""
    parts = re.split(r"([0-9]+)", rig.name.casefold())
    return ([(int(part), "") if part.isdigit() and part.isascii() else (-1, part) for part in parts], rig.key)


class Order:
    """Keeps the tiles calm. Between calls survive: the place of each rig, and since when it has deserved another."""

    def __init__(self, hold_s: float = HOLD_S) -> None:
        self._hold_s = hold_s
        self._places: dict[str, _Place] = {}

    def arrange(self, rigs: Sequence[Rig], needs: dict[str, Need], now_s: float, *, blind: bool) -> list[Rig]:
        """Give the rigs in order.

        Args:
            rigs: at most as many as a list may hold.
            needs: of each rig, by its key.
            now_s: host monotonic clock, s.
            blind: nothing is known of any rig; then nobody moves.
        """
        places = {rig.key: self._place(rig.key, needs[rig.key], now_s, blind=blind) for rig in rigs}
        self._places = places
        return sorted(rigs, key=lambda rig: (places[rig.key].need, by_name(rig)))

    def _place(self, key: str, need: Need, now_s: float, *, blind: bool) -> _Place:
        place = self._places.get(key)
        if blind:
            return place or _Place(Need.NOBODY)
        if place is None:
            return _Place(need)
        if need <= place.need:
            return _Place(need)
        since_s = now_s if place.lower_since_s is None else place.lower_since_s
        return _Place(need) if now_s - since_s >= self._hold_s else _Place(place.need, since_s)
