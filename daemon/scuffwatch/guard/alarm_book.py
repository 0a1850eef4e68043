"""The alarm book: what goes into a step over all alarms, what comes out, and one move of one alarm.

Reads the table of the life cycle; gives records and transitions. Used by `alarms.advance` and its parts.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum

from scuffwatch.guard.alarm_cycle import STANDING, AlarmRecord, LifeEvent, after
from scuffwatch.guard.alarm_table import NEVER_FOLLOWS, Condition
from scuffwatch.model.alarm import AlarmState, AlarmTransition, Priority

HALF_STEP_S = 0.5e-3
"""What is due at a time is done at that time, whatever floating point makes of it."""


@dataclass(frozen=True, slots=True)
class AlarmSettings:
    """Times of the alarm life cycle.

    Attributes:
        shelve_max_s: longest time on the shelf.
        annunciation_gap_s: least time between two annunciations of one alarm.
        repeat_s: an unacknowledged trip alarm sounds again after this.
    """

    shelve_max_s: float = 28_800.0
    annunciation_gap_s: float = 60.0
    repeat_s: float = 60.0


DEFAULTS = AlarmSettings()


class ActKind(Enum):
    """What a person can do to an alarm."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    TAKE_OUT = "out of service"
    RETURN = "return to service"


@dataclass(frozen=True, slots=True)
class AlarmAct:
    """One act of a person.

    Attributes:
        kind: see `ActKind`.
        key: the alarm; empty acknowledges all. An alarm of a first-out group is acknowledged with its group.
        actor: who.
        why: for SHELVE and TAKE_OUT.
        until_mono_s: end of a SHELVE on the clock of `AlarmInput.t_mono_s`, s.
    """

    kind: ActKind
    key: str
    actor: str
    why: str = ""
    until_mono_s: float = math.nan


@dataclass(frozen=True, slots=True)
class AlarmInput:
    """What is known at one step.

    Attributes:
        t_mono_s: host monotonic clock, s, > 0. NaN, infinite or smaller than before counts as: no time has passed.
        t_rig_s: node time for the label, s.
        conditions: alarms whose bare condition is true, by key; unknown keys are refused.
        again: keys with a further occurrence in this step; an acknowledged one asks again.
        acts: what people did, in order.
        reset: whether the permit was given by reset at the rig in this step.
        first_out: key of the alarm of the standing trip's first cause; empty while permitted or where it has none.
        suppress: keys that design logic wants suppressed now.
    """

    t_mono_s: float
    t_rig_s: float
    conditions: Mapping[str, Condition]
    again: frozenset[str] = frozenset()
    acts: tuple[AlarmAct, ...] = ()
    reset: bool = False
    first_out: str = ""
    suppress: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class AlarmBook:
    """All alarms; immutable.

    Attributes:
        records: by key, in the order of the table.
        settings: times.
        t_mono_s: clock of the last step that changed anything, s.
        due_mono_s: when something happens by itself next, s; infinite where nothing will.
        present: keys of the bare conditions last given.
        first_out, suppress: as last given.
    """

    records: Mapping[str, AlarmRecord]
    settings: AlarmSettings
    t_mono_s: float = 0.0
    due_mono_s: float = math.inf
    present: frozenset[str] = frozenset()
    first_out: str = ""
    suppress: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class AlarmOutcome:
    """What a step made happen.

    Attributes:
        transitions: every change of state, in order, for the journal.
        annunciated: keys that call for a person now; followers of an unacknowledged first-out are not among them.
        repeated: keys that sound again, counted apart.
        refused: sentences about acts that were not done.
    """

    transitions: tuple[AlarmTransition, ...] = ()
    annunciated: tuple[str, ...] = ()
    repeated: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()


@dataclass(slots=True)
class Work:
    """One step under way; never leaves `alarms.advance`."""

    t_mono_s: float
    t_rig_s: float
    settings: AlarmSettings
    records: dict[str, AlarmRecord]
    first_out: str
    transitions: list[AlarmTransition] = field(default_factory=list)
    annunciated: list[str] = field(default_factory=list)
    repeated: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    raised: set[str] = field(default_factory=set)


def move(work: Work, key: str, event: LifeEvent, actor: str = "", detail: str = "") -> bool:
    """Move one alarm by one event and note the transition.

    Args:
        work: the step; changed in place.
        key: the alarm.
        event: what happens.
        actor: who, where a person did it.
        detail: what the journal must carry besides the event.
    Returns:
        Whether the table has a row for it; else nothing is changed.
    """
    record = work.records[key]
    state = after(record, event)
    if state is None:
        return False
    says = f"{event.value}: {detail}" if detail else event.value
    work.transitions.append(AlarmTransition(key, work.t_rig_s, record.state, state, says, actor))
    raised = state is AlarmState.UNACKNOWLEDGED
    if raised:
        work.raised.add(key)
    latched = (record.latched or raised) and record.definition.latching
    work.records[key] = replace(record, state=state, since_mono_s=work.t_mono_s, latched=latched)
    return True


def leader_of(book: AlarmBook | Work, key: str) -> str:
    """Give the key of the first-out alarm this one hangs below; empty where it stands for itself."""
    first_out = book.first_out
    if key == first_out or key in NEVER_FOLLOWS or first_out not in book.records:
        return ""
    record = book.records[key]
    follows = record.definition.priority is Priority.TRIP and record.state in STANDING
    return first_out if follows and book.records[first_out].state in STANDING else ""
