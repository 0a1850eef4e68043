"""Inputs of the rig box from one status to the next: what a person did there, and what opened.

Reads two statuses, gives what happened in words, and a trip finding for each required interlock that opened.
"""

from dataclasses import dataclass

from scuffwatch.model.event import EventKind, JsonValue
from scuffwatch.model.finding import Finding
from scuffwatch.service import causes
from scuffwatch.wire.protocol import Inputs, Status


@dataclass(frozen=True, slots=True)
class Noticed:
    """One thing that happened at the rig box.

    Attributes:
        kind, says, actor: of its event.
        data: beside it.
        placed: whether the detectors count from it, so that its place among the slices is recorded.
    """

    kind: EventKind
    says: str
    actor: str = ""
    data: tuple[tuple[str, JsonValue], ...] = ()
    placed: bool = False


class InputWatch:
    """Compare each status with the one before.

    Args:
        interlocks: of this rig.

    Attributes:
        interlocks: the same.
        open_locks: a trip finding for each required interlock that is open now.

    What survives a call: the count of mark presses, which a new start of the rig box begins anew.
    """

    def __init__(self, interlocks: tuple[causes.Interlock, ...]) -> None:
        self.interlocks = interlocks
        self.open_locks: tuple[Finding, ...] = ()
        self._marks: int | None = None

    def restarted(self) -> None:
        """Take that the rig box has started anew: its counts begin again."""
        self._marks = None

    def see(self, before: Status | None, status: Status, t_rig_s: float) -> tuple[Noticed, ...]:
        """Take a status and give what has happened since the one before it, in the order it is told."""
        self.open_locks = causes.open_interlocks(self.interlocks, status.inputs, t_rig_s)
        return (*self._mark(status), *self._interlocks(before, status), *_contactor(before, status))

    def opened(self, before: Status | None, status: Status) -> tuple[Finding, ...]:
        """Give the finding of each required interlock that was closed and is open."""
        if before is None:
            return ()
        lost = [lock.says_open for lock in self.interlocks if before.inputs & lock.bit and not status.inputs & lock.bit]
        return tuple(finding for finding in self.open_locks if finding.says in lost)

    def _mark(self, status: Status) -> tuple[Noticed, ...]:
        pressed = self._marks is not None and status.mark_presses != self._marks
        self._marks = status.mark_presses
        return (Noticed(EventKind.MARK, "Mark: weight is on.", "rig", placed=True),) if pressed else ()

    def _interlocks(self, before: Status | None, status: Status) -> tuple[Noticed, ...]:
        if before is None:
            return ()
        changed = before.inputs ^ status.inputs
        return tuple(
            Noticed(EventKind.INTERLOCK, f"{lock.name} {'closed' if status.inputs & lock.bit else 'open'}.", "rig")
            for lock in self.interlocks
            if changed & lock.bit
        )


def _contactor(before: Status | None, status: Status) -> tuple[Noticed, ...]:
    closed = bool(status.inputs & Inputs.CONTACTOR_CLOSED)
    if before is not None and bool(before.inputs & Inputs.CONTACTOR_CLOSED) == closed:
        return ()
    says = f"Contactor {'closed' if closed else 'open'}."
    return (Noticed(EventKind.CONTACTOR, says, data=(("closed", closed),), placed=True),)
