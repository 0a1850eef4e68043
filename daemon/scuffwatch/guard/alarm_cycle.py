"""The life cycle of one alarm as a table: states and words of ISA-18.2 / IEC 62682.

Reads one record and one event; gives the state after it. Rows after ISA-18.2. Three are added because the
table leaves the case open: a latched alarm whose condition comes back (two rows), and a further cause behind an alarm
that was acknowledged (re-alarm); each must ask for an answer again.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from scuffwatch.model.alarm import AlarmDefinition, AlarmState, Priority

UNACKNOWLEDGED = frozenset(
    {AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.LATCHED_UNACKNOWLEDGED}
)
STANDING = UNACKNOWLEDGED | {AlarmState.ACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED}
PUT_ASIDE = frozenset({AlarmState.SHELVED, AlarmState.SUPPRESSED_BY_DESIGN, AlarmState.OUT_OF_SERVICE})
IN_PLACE = STANDING | {AlarmState.NORMAL}


class LifeEvent(Enum):
    """What can move an alarm."""

    TRUE = "condition true"
    AGAIN = "re-alarm"
    CLEAR = "condition clear"
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SUPPRESS = "suppress by design"
    UNSUPPRESS = "suppression ended"
    TAKE_OUT = "out of service"
    RETURN = "return to service"


@dataclass(frozen=True, slots=True)
class Shelving:
    """Who put an alarm on the shelf, why, and until when (s of the clock of `AlarmInput.t_mono_s`)."""

    actor: str
    why: str
    until_mono_s: float


@dataclass(frozen=True, slots=True)
class AlarmRecord:
    """One alarm and all that survives a step.

    Attributes:
        definition: its row of the rationalisation table.
        state: where it stands.
        since_mono_s: since when, s; NaN before the first change.
        says, t_rig_s: sentence and node time (s) of its latest occurrence; empty and NaN before the first.
        condition: whether the condition is true, delays included.
        changing_since_mono_s: since when the bare condition differs from `condition`, s; else None.
        latched: whether an occurrence of a latching alarm waits for reset.
        shelving: while shelved, else None.
        suppressed: whether design logic wants it suppressed.
        out_why: why it is out of service; else empty.
        annunciated_mono_s, sounded_mono_s: last annunciation, last sound of either kind, s; minus infinity before.
        due: whether an annunciation is being held back by the chattering limit.
        annunciations, held_back, repeats: counters.
    """

    definition: AlarmDefinition
    state: AlarmState = AlarmState.NORMAL
    since_mono_s: float = float("nan")
    says: str = ""
    t_rig_s: float = float("nan")
    condition: bool = False
    changing_since_mono_s: float | None = None
    latched: bool = False
    shelving: Shelving | None = None
    suppressed: bool = False
    out_why: str = ""
    annunciated_mono_s: float = float("-inf")
    sounded_mono_s: float = float("-inf")
    due: bool = False
    annunciations: int = 0
    held_back: int = 0
    repeats: int = 0


class When(Enum):
    """What else must hold for a row; the first row that holds is taken."""

    ALWAYS = "always"
    LATCHING = "the alarm latches"
    ABSENT = "condition absent"
    PRESENT = "condition present"
    LATCHED = "an occurrence waits for reset"
    NO_TRIP = "not a trip alarm"
    NO_TRIP_STANDS = "not a trip alarm that stands"
    WANTED = "design logic wants it suppressed, and no trip waits for reset"
    ON_SHELF = "its time on the shelf is not over"


_HOLDS: dict[When, Callable[[AlarmRecord], bool]] = {
    When.ALWAYS: lambda record: True,
    When.LATCHING: lambda record: record.definition.latching,
    When.ABSENT: lambda record: not record.condition,
    When.PRESENT: lambda record: record.condition,
    When.LATCHED: lambda record: record.latched,
    When.NO_TRIP: lambda record: record.definition.priority is not Priority.TRIP,
    When.NO_TRIP_STANDS: lambda record: record.definition.priority is not Priority.TRIP or record.state not in STANDING,
    When.WANTED: lambda record: (
        record.suppressed and not (record.latched and record.definition.priority is Priority.TRIP)
    ),
    When.ON_SHELF: lambda record: record.shelving is not None,
}


@dataclass(frozen=True, slots=True)
class LifeRow:
    """One row: from which state, by which event, under which condition, to which state."""

    before: AlarmState
    event: LifeEvent
    when: When
    after: AlarmState


def _back(before: AlarmState, event: LifeEvent, when: When, aside: AlarmState) -> tuple[LifeRow, ...]:
    return (
        LifeRow(before, event, when, aside),
        LifeRow(before, event, When.PRESENT, AlarmState.UNACKNOWLEDGED),
        LifeRow(before, event, When.LATCHED, AlarmState.LATCHED_UNACKNOWLEDGED),
        LifeRow(before, event, When.ALWAYS, AlarmState.NORMAL),
    )


_S, _E, _W = AlarmState, LifeEvent, When
LIFE_CYCLE = (
    LifeRow(_S.NORMAL, _E.TRUE, _W.ALWAYS, _S.UNACKNOWLEDGED),
    LifeRow(_S.UNACKNOWLEDGED, _E.ACKNOWLEDGE, _W.ALWAYS, _S.ACKNOWLEDGED),
    LifeRow(_S.UNACKNOWLEDGED, _E.CLEAR, _W.LATCHING, _S.LATCHED_UNACKNOWLEDGED),
    LifeRow(_S.UNACKNOWLEDGED, _E.CLEAR, _W.ALWAYS, _S.RETURNED_UNACKNOWLEDGED),
    LifeRow(_S.ACKNOWLEDGED, _E.CLEAR, _W.LATCHING, _S.LATCHED_ACKNOWLEDGED),
    LifeRow(_S.ACKNOWLEDGED, _E.CLEAR, _W.ALWAYS, _S.NORMAL),
    LifeRow(_S.ACKNOWLEDGED, _E.AGAIN, _W.ALWAYS, _S.UNACKNOWLEDGED),
    LifeRow(_S.RETURNED_UNACKNOWLEDGED, _E.ACKNOWLEDGE, _W.ALWAYS, _S.NORMAL),
    LifeRow(_S.RETURNED_UNACKNOWLEDGED, _E.TRUE, _W.ALWAYS, _S.UNACKNOWLEDGED),
    LifeRow(_S.LATCHED_UNACKNOWLEDGED, _E.ACKNOWLEDGE, _W.ALWAYS, _S.LATCHED_ACKNOWLEDGED),
    LifeRow(_S.LATCHED_UNACKNOWLEDGED, _E.TRUE, _W.ALWAYS, _S.UNACKNOWLEDGED),
    LifeRow(_S.LATCHED_ACKNOWLEDGED, _E.TRUE, _W.ALWAYS, _S.UNACKNOWLEDGED),
    LifeRow(_S.LATCHED_ACKNOWLEDGED, _E.RESET, _W.ABSENT, _S.NORMAL),
    *(
        LifeRow(state, _E.SHELVE, _W.NO_TRIP, _S.SHELVED)
        for state in AlarmState
        if state not in (_S.SHELVED, _S.OUT_OF_SERVICE)
    ),
    *_back(_S.SHELVED, _E.UNSHELVE, _W.WANTED, _S.SUPPRESSED_BY_DESIGN),
    *(
        LifeRow(state, _E.SUPPRESS, _W.NO_TRIP_STANDS, _S.SUPPRESSED_BY_DESIGN)
        for state in AlarmState
        if state not in (_S.SUPPRESSED_BY_DESIGN, _S.OUT_OF_SERVICE)
    ),
    *_back(_S.SUPPRESSED_BY_DESIGN, _E.UNSUPPRESS, _W.ON_SHELF, _S.SHELVED),
    *(
        LifeRow(state, _E.TAKE_OUT, _W.ALWAYS, _S.OUT_OF_SERVICE)
        for state in AlarmState
        if state is not _S.OUT_OF_SERVICE
    ),
    *_back(_S.OUT_OF_SERVICE, _E.RETURN, _W.WANTED, _S.SUPPRESSED_BY_DESIGN),
)

_ROWS: dict[tuple[AlarmState, LifeEvent], tuple[LifeRow, ...]] = {
    (state, event): tuple(row for row in LIFE_CYCLE if row.before is state and row.event is event)
    for state in AlarmState
    for event in LifeEvent
}


def after(record: AlarmRecord, event: LifeEvent) -> AlarmState | None:
    """Give the state an event leads to, or None where the table has no row that holds.

    Args:
        record: the alarm, with everything already in it that the event changes besides its state.
        event: what happens.
    """
    for row in _ROWS[record.state, event]:
        if _HOLDS[row.when](record):
            return row.after
    return None
