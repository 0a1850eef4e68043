"""The alarms of one core: conditions in, transitions out, what lamp and sounder do, what pages list.

Reads findings, acts and the host's monotonic clock; gives transitions for the journal and rows for the snapshot.
"""

import math
from collections.abc import Callable, Iterable

from scuffwatch.guard import alarm_list
from scuffwatch.guard.alarm_book import ActKind, AlarmAct, AlarmInput, AlarmOutcome, leader_of
from scuffwatch.guard.alarm_cycle import UNACKNOWLEDGED, AlarmRecord, LifeEvent
from scuffwatch.guard.alarm_table import ALARMS, ALERT_CHANNELS, RECORD, Condition, alarm_key_of, conditions_of
from scuffwatch.guard.alarms import advance, new_book
from scuffwatch.model.alarm import AlarmTransition, Priority
from scuffwatch.model.event import JsonValue
from scuffwatch.model.finding import Finding
from scuffwatch.service.jsons import number
from scuffwatch.wire.protocol import Annunciator, Pattern

SOUND_FOR_S = 5.0
"""The sounder sounds this long at each annunciation and repeat."""
_SHORT_NAMES = {alarm.key: alarm.short_name for alarm in ALARMS}
_WHY = {LifeEvent.TRUE.value: "cause present", LifeEvent.CLEAR.value: "cause gone"}
"""The words of the state table that are no words for a reader; the others stand as they are."""
_PATTERN = {Priority.TRIP: Pattern.TRIP, Priority.WARNING: Pattern.WARNING, Priority.NOTICE: Pattern.NOTICE}


class AlarmDesk:
    """Keeps the alarm book up to date.

    What survives a call: the book, and until when the sounder sounds.
    """

    def __init__(self) -> None:
        self.book = new_book()
        self._sound_until_mono_s = -math.inf

    def update(
        self,
        t_mono_s: float,
        t_rig_s: float,
        standing: Iterable[Finding],
        new: Iterable[Finding] = (),
        *,
        acts: tuple[AlarmAct, ...] = (),
        reset: bool = False,
        first_out: Finding | None = None,
        record_fault: str = "",
        alerts_silent: str = "",
        suppress: frozenset[str] = frozenset(),
    ) -> AlarmOutcome:
        """Move all alarms by one step; see `guard.alarms.advance`."""
        fresh = tuple(new)
        conditions = conditions_of((*standing, *fresh))
        if record_fault:
            conditions[RECORD] = Condition(record_fault, t_rig_s)
        if alerts_silent:
            conditions[ALERT_CHANNELS] = Condition(alerts_silent, t_rig_s)
        given = AlarmInput(
            t_mono_s=t_mono_s,
            t_rig_s=t_rig_s,
            conditions=conditions,
            again=frozenset(key for key in map(alarm_key_of, fresh) if key),
            acts=acts,
            reset=reset,
            first_out=alarm_key_of(first_out) if first_out is not None else "",
            suppress=suppress,
        )
        self.book, outcome = advance(self.book, given)
        if outcome.annunciated or outcome.repeated:
            self._sound_until_mono_s = t_mono_s + SOUND_FOR_S
        return outcome

    def acknowledgement(self, key: str, actor: str) -> AlarmAct:
        """Give the act of acknowledging one alarm, or all where `key` is empty."""
        return AlarmAct(ActKind.ACKNOWLEDGE, key, actor)

    def is_trip(self, key: str) -> bool:
        """Say whether an alarm is a trip alarm; no key stands for all."""
        record = self.book.records.get(key)
        return key == "" or (record is not None and record.definition.priority is Priority.TRIP)

    def annunciator(self, t_mono_s: float) -> Annunciator:
        """Give what lamp and sounder at the rig shall do now."""
        ranks = [record.definition.priority for record in alarm_list.standing(self.book)]
        highest = next((rank for rank in _PATTERN if rank in ranks), None)
        pattern = _PATTERN[highest] if highest is not None else Pattern.OFF
        waiting = any(record.state in UNACKNOWLEDGED for record in self.book.records.values())
        return Annunciator(pattern, waiting and t_mono_s < self._sound_until_mono_s)

    def shown(self, label_utc_s: Callable[[float], float]) -> list[JsonValue]:
        """Give the rows of the alarm list, in its order.

        Args:
            label_utc_s: wall clock label of a node time.
        """
        rows = (*alarm_list.standing(self.book), *alarm_list.put_aside(self.book))
        return [self._row(record, label_utc_s) for record in rows]

    def _row(self, record: AlarmRecord, label_utc_s: Callable[[float], float]) -> JsonValue:
        definition = record.definition
        return {
            "key": definition.key,
            "short_name": definition.short_name,
            "priority": definition.priority.value,
            "state": record.state.value,
            "says": record.says,
            "cause": definition.cause,
            "consequence": definition.consequence,
            "action": definition.action,
            "respond_within_s": number(definition.respond_within_s),
            "t_rig_s": number(record.t_rig_s),
            "since_utc_s": number(label_utc_s(record.t_rig_s), 3),
            "group": leader_of(self.book, definition.key),
        }


def transition_says(made: AlarmTransition) -> str:
    """Give the sentence of one transition for the journal."""
    why = _WHY.get(made.event, made.event)
    return f"Alarm {_SHORT_NAMES[made.key]}: {made.before.value} to {made.after.value} ({why})."
