"""Inputs from one status to the next: what is told, what trips, and what a new start of the rig box forgets."""

from scuffwatch.model.event import EventKind
from scuffwatch.service import causes
from scuffwatch.service.inputs import InputWatch
from scuffwatch.wire.protocol import Inputs, NodeCause, NodePermit, Status

ALL_CLOSED = Inputs.EMERGENCY_STOP_CLOSED | Inputs.GUARD_CLOSED | Inputs.EXTRACTION_ON | Inputs.BATH_UP


def status(inputs: Inputs = ALL_CLOSED, mark_presses: int = 0) -> Status:
    return Status(inputs, NodePermit.LATCHED, NodeCause.START_UP, 0, 1, 0, mark_presses=mark_presses)


def watch() -> InputWatch:
    return InputWatch(causes.interlocks(extraction_required=True, bath_required=False))


def test_an_interlock_that_opens_is_told_and_trips_where_it_is_required() -> None:
    inputs, before, after = watch(), status(), status(ALL_CLOSED & ~Inputs.GUARD_CLOSED & ~Inputs.BATH_UP)
    inputs.see(None, before, 1.0)
    noticed = inputs.see(before, after, 2.0)
    assert [(n.kind, n.says, n.actor) for n in noticed] == [
        (EventKind.INTERLOCK, "Guard open.", "rig"),
        (EventKind.INTERLOCK, "Bath open.", "rig"),
    ]
    assert [finding.says for finding in inputs.opened(before, after)] == ["Guard open."]
    assert inputs.opened(after, after) == ()
    assert [finding.says for finding in inputs.open_locks] == ["Guard open."]


def test_what_is_open_from_the_first_status_on_stands_but_has_not_opened() -> None:
    inputs, first = watch(), status(ALL_CLOSED & ~Inputs.EXTRACTION_ON)
    assert all(noticed.kind is EventKind.CONTACTOR for noticed in inputs.see(None, first, 1.0))
    assert inputs.opened(None, first) == ()
    assert [finding.says for finding in inputs.open_locks] == ["Extraction off."]


def test_a_mark_is_a_count_that_changed_and_not_the_first_count_heard() -> None:
    inputs = watch()
    seen = [inputs.see(status(), status(mark_presses=n), float(n)) for n in (4, 4, 5)]
    assert [[noticed.kind for noticed in one] for one in seen] == [[], [], [EventKind.MARK]]
    assert seen[2][0].placed
    inputs.restarted()
    assert inputs.see(status(), status(mark_presses=0), 9.0) == ()


def test_the_contactor_is_told_at_first_and_when_it_changes() -> None:
    inputs, opened, closed = watch(), status(), status(ALL_CLOSED | Inputs.CONTACTOR_CLOSED)
    steps = [(None, opened), (opened, opened), (opened, closed), (closed, opened)]
    told = [[noticed.says for noticed in inputs.see(before, after, 1.0)] for before, after in steps]
    assert told == [["Contactor open."], [], ["Contactor closed."], ["Contactor open."]]
