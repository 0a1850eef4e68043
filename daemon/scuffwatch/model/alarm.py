"""Alarms: conditions that ask a person to act, with what to do about each.

Reads nothing. The guard keeps their life cycle after ISA-18.2 / IEC 62682; the pages and the uplink show and send them.
"""

from dataclasses import dataclass
from enum import Enum


class Priority(Enum):
    """Rank of an alarm: T needs a person now and stands until reset, W soon, N when convenient."""

    TRIP = "T"
    WARNING = "W"
    NOTICE = "N"


class AlarmState(Enum):
    """Life cycle states, words of ISA-18.2."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned to normal, unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched, unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched, acknowledged"
    SHELVED = "shelved"
    SUPPRESSED_BY_DESIGN = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


@dataclass(frozen=True, slots=True)
class AlarmDefinition:
    """One row of the rationalisation table. Every text is filled; a test holds that.

    Attributes:
        key: stable name.
        short_name: at most 14 characters, read at five metres.
        priority: see `Priority`.
        latching: whether it stands after the condition has gone, until reset.
        cause, consequence, action: one sentence each.
        respond_within_s: time a person has, s.
        on_delay_s, off_delay_s: s; the on-delay of a trip is 0.
    """

    key: str
    short_name: str
    priority: Priority
    latching: bool
    cause: str
    consequence: str
    action: str
    respond_within_s: float
    on_delay_s: float
    off_delay_s: float


@dataclass(frozen=True, slots=True)
class AlarmTransition:
    """One change of one alarm, as it goes into the journal.

    Attributes:
        key: the alarm.
        t_rig_s: node time, s.
        before, after: states.
        event: what caused it, for instance `condition true`, `acknowledge`.
        actor: who, where a person did it; else empty.
    """

    key: str
    t_rig_s: float
    before: AlarmState
    after: AlarmState
    event: str
    actor: str
