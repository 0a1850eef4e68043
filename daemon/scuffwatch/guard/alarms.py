"""All alarms together: conditions, acts of people, sounds, and what goes into the journal.

Reads which conditions are true, what people did and which cause came first; gives transitions and sounds. Sits beside
the permit: nothing here can give or keep a permit, and an alarm put aside never disables its trip.

The clock here is the host's monotonic one, not node time: an alarm must sound again and a shelf must empty while the
rig box is silent. Node time is carried as a label.
"""

import math
from dataclasses import replace

from scuffwatch.guard.alarm_acts import do
from scuffwatch.guard.alarm_book import (
    DEFAULTS,
    HALF_STEP_S,
    ActKind,
    AlarmAct,
    AlarmBook,
    AlarmInput,
    AlarmOutcome,
    AlarmSettings,
    Work,
    leader_of,
    move,
)
from scuffwatch.guard.alarm_cycle import IN_PLACE, PUT_ASIDE, UNACKNOWLEDGED, AlarmRecord, LifeEvent
from scuffwatch.guard.alarm_table import ALARMS, Condition
from scuffwatch.model.alarm import AlarmDefinition, AlarmState, Priority

__all__ = [
    "ActKind",
    "AlarmAct",
    "AlarmBook",
    "AlarmInput",
    "AlarmOutcome",
    "AlarmRecord",
    "AlarmSettings",
    "advance",
    "leader_of",
    "new_book",
]

_NOTHING = AlarmOutcome()


def new_book(definitions: tuple[AlarmDefinition, ...] = ALARMS, settings: AlarmSettings = DEFAULTS) -> AlarmBook:
    """Give a book in which every alarm is normal.

    Args:
        definitions: the rationalisation table.
        settings: times.
    """
    return AlarmBook({definition.key: AlarmRecord(definition) for definition in definitions}, settings)


def advance(book: AlarmBook, given: AlarmInput) -> tuple[AlarmBook, AlarmOutcome]:
    """Move all alarms by one step. Pure: the same arguments give the same result.

    Args:
        book: what the last step gave, or `new_book()`; the same object comes back where nothing changed.
        given: what is known now.
    Returns:
        The new book and what happened.
    """
    t_mono_s = given.t_mono_s if book.t_mono_s < given.t_mono_s < math.inf else book.t_mono_s
    if _quiet(book, given, t_mono_s):
        return book, _NOTHING
    work = Work(t_mono_s, given.t_rig_s, book.settings, dict(book.records), given.first_out)
    for act in given.acts:
        do(work, act)
    for key in book.records:
        _follow_condition(work, key, given.conditions.get(key), key in given.again)
        if given.reset:
            _reset(work, key, given.conditions.get(key))
        _put_aside_by_itself(work, key, key in given.suppress)
    for key in book.records:
        _sound(work, key)
    unknown = given.conditions.keys() - book.records.keys() - book.present
    work.refused.extend(f"Alarm {key} is not in the table." for key in sorted(unknown))
    outcome = AlarmOutcome(tuple(work.transitions), tuple(work.annunciated), tuple(work.repeated), tuple(work.refused))
    return _closed(work, given), outcome


def _quiet(book: AlarmBook, given: AlarmInput, t_mono_s: float) -> bool:
    return (
        t_mono_s < book.due_mono_s - HALF_STEP_S
        and given.conditions.keys() == book.present
        and given.first_out == book.first_out
        and given.suppress == book.suppress
        and not (given.acts or given.again or given.reset)
    )


def _closed(work: Work, given: AlarmInput) -> AlarmBook:
    return AlarmBook(
        records=work.records,
        settings=work.settings,
        t_mono_s=work.t_mono_s,
        due_mono_s=min((_due_mono_s(record, work.settings) for record in work.records.values()), default=math.inf),
        present=frozenset(given.conditions),
        first_out=given.first_out,
        suppress=given.suppress,
    )


def _due_mono_s(record: AlarmRecord, settings: AlarmSettings) -> float:
    due_s = math.inf
    if record.changing_since_mono_s is not None:
        due_s = record.changing_since_mono_s + _delay_s(record)
    if record.due:
        due_s = min(due_s, record.annunciated_mono_s + settings.annunciation_gap_s)
    if _repeats(record):
        due_s = min(due_s, record.sounded_mono_s + settings.repeat_s)
    if record.shelving is not None:
        due_s = min(due_s, record.shelving.until_mono_s)
    return due_s


# --- what happens by itself -----------------------------------------------------------------------------------


def _delay_s(record: AlarmRecord) -> float:
    return record.definition.off_delay_s if record.condition else record.definition.on_delay_s


def _follow_condition(work: Work, key: str, bare: Condition | None, again: bool) -> None:
    record = work.records[key]
    if (bare is not None) is record.condition:
        if record.changing_since_mono_s is not None:
            work.records[key] = replace(record, changing_since_mono_s=None)
        if bare is not None and again and move(work, key, LifeEvent.AGAIN):
            _word(work, key, bare)
        return
    since_s = work.t_mono_s if record.changing_since_mono_s is None else record.changing_since_mono_s
    if work.t_mono_s - since_s < _delay_s(record) - HALF_STEP_S:
        work.records[key] = replace(record, changing_since_mono_s=since_s)
        return
    work.records[key] = replace(record, condition=bare is not None, changing_since_mono_s=None)
    move(work, key, LifeEvent.CLEAR if bare is None else LifeEvent.TRUE)
    if bare is not None:
        _word(work, key, bare)


def _word(work: Work, key: str, bare: Condition) -> None:
    work.records[key] = replace(work.records[key], says=bare.says, t_rig_s=bare.t_rig_s)


def _reset(work: Work, key: str, bare: Condition | None) -> None:
    record = work.records[key]
    if bare is not None or not record.latched:
        return
    if record.condition:
        # The guard found no cause present: the off-delay must not leave a latch behind that nothing could clear.
        work.records[key] = replace(record, condition=False, changing_since_mono_s=None)
        move(work, key, LifeEvent.CLEAR)
    if move(work, key, LifeEvent.RESET) or record.state in PUT_ASIDE:
        work.records[key] = replace(work.records[key], latched=False, annunciated_mono_s=-math.inf)


def _put_aside_by_itself(work: Work, key: str, wanted: bool) -> None:
    before = work.records[key]
    if before.shelving is not None and work.t_mono_s >= before.shelving.until_mono_s - HALF_STEP_S:
        work.records[key] = replace(before, shelving=None)
        if before.state is AlarmState.SHELVED:
            move(work, key, LifeEvent.UNSHELVE, "", "time is over")
    record = work.records[key]
    if wanted is not record.suppressed:
        work.records[key] = replace(record, suppressed=wanted)
        if wanted or record.state is AlarmState.SUPPRESSED_BY_DESIGN:
            move(work, key, LifeEvent.SUPPRESS if wanted else LifeEvent.UNSUPPRESS)
    elif wanted and record.state in IN_PLACE:
        move(work, key, LifeEvent.SUPPRESS)


# --- sounds ---------------------------------------------------------------------------------------------------


def _repeats(record: AlarmRecord) -> bool:
    return record.definition.priority is Priority.TRIP and record.state in UNACKNOWLEDGED


def _sound(work: Work, key: str) -> None:
    record, t_mono_s = work.records[key], work.t_mono_s
    if record.state not in UNACKNOWLEDGED:
        if record.due:
            work.records[key] = replace(record, due=False)
        return
    raised = key in work.raised
    repeat = _repeats(record) and t_mono_s - record.sounded_mono_s >= work.settings.repeat_s - HALF_STEP_S
    if _sounds_with_first_out(work, key):
        record = replace(record, due=False, sounded_mono_s=t_mono_s) if raised or repeat else record
    elif (raised or record.due) and _gap_is_over(work, record):
        work.annunciated.append(key)
        count = record.annunciations + 1
        record = replace(record, annunciated_mono_s=t_mono_s, sounded_mono_s=t_mono_s, due=False, annunciations=count)
    elif raised:
        record = replace(record, due=True, held_back=record.held_back + 1)
    elif repeat:
        work.repeated.append(key)
        record = replace(record, sounded_mono_s=t_mono_s, repeats=record.repeats + 1)
    work.records[key] = record


def _gap_is_over(work: Work, record: AlarmRecord) -> bool:
    return work.t_mono_s - record.annunciated_mono_s >= work.settings.annunciation_gap_s - HALF_STEP_S


def _sounds_with_first_out(work: Work, key: str) -> bool:
    leader = leader_of(work, key)
    return bool(leader) and work.records[leader].state in UNACKNOWLEDGED
