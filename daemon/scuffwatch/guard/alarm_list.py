"""The order in which alarms are shown.

Reads the book; gives records. Unacknowledged before acknowledged, then priority, then sample time; every other trip
alarm that stands hangs below the first-out; what was put aside is always listed, apart.
"""

import math

from scuffwatch.guard.alarm_book import AlarmBook, leader_of
from scuffwatch.guard.alarm_cycle import PUT_ASIDE, STANDING, UNACKNOWLEDGED, AlarmRecord
from scuffwatch.guard.alarm_table import NEVER_FOLLOWS
from scuffwatch.model.alarm import Priority

_RANK = {Priority.TRIP: 1, Priority.WARNING: 2, Priority.NOTICE: 3}


def standing(book: AlarmBook) -> tuple[AlarmRecord, ...]:
    """Give the alarms that stand, in the order of the list.

    A follower comes after its first-out; `leader_of(book, key)` tells it from the next alarm. A group counts as
    unacknowledged while any of its members is.
    """
    groups: dict[str, list[AlarmRecord]] = {}
    for key, record in book.records.items():
        if record.state in STANDING:
            groups.setdefault(leader_of(book, key) or key, []).append(record)
    ordered = sorted(groups.items(), key=lambda group: _place(book, *group))
    return tuple(record for leader, group in ordered for record in _within(leader, group))


def put_aside(book: AlarmBook) -> tuple[AlarmRecord, ...]:
    """Give what is shelved, suppressed by design or out of service, the one that returns first on top."""
    aside = (record for record in book.records.values() if record.state in PUT_ASIDE)
    return tuple(sorted(aside, key=lambda record: record.shelving.until_mono_s if record.shelving else math.inf))


def _place(book: AlarmBook, leader: str, group: list[AlarmRecord]) -> tuple[bool, int, float]:
    acknowledged = all(record.state not in UNACKNOWLEDGED for record in group)
    rank = 0 if leader in NEVER_FOLLOWS else _RANK[book.records[leader].definition.priority]
    return acknowledged, rank, _sample_time(book.records[leader])


def _within(leader: str, group: list[AlarmRecord]) -> list[AlarmRecord]:
    return sorted(group, key=lambda record: (record.definition.key != leader, _sample_time(record)))


def _sample_time(record: AlarmRecord) -> float:
    return math.inf if math.isnan(record.t_rig_s) else record.t_rig_s
