"""What the core does when the record is in trouble: it says so, opens no run, gives no permit, and takes none away."""

from co_rig import CoRig

from scuffwatch.control.commands import Acknowledge, OpenRun
from scuffwatch.model.event import EventKind
from scuffwatch.model.run import RunKind

FAULT = "The record cannot be written: Recording failed (run): disk I/O error."
NEARLY = "The disk is nearly full: 1900 MiB left. Delete or move old runs."


def said(rig: CoRig) -> list[str]:
    return [event.says for event in rig.events(EventKind.ALARM) if event.data["key"] == "record"]


def test_a_run_under_way_goes_on_and_the_alarm_stands_within_two_seconds() -> None:
    """Row 13: an alarm within 2 s. A run is ended by a person who reads it, not by a disk."""
    rig = CoRig()
    rig.permit()
    assert said(rig) == []
    rig.core.store_fault = lambda: FAULT
    rig.wait(2.0)
    assert said(rig) == ["Alarm Not recorded: normal to unacknowledged (cause present)."]
    assert rig.core.alarms.book.records["record"].says == FAULT
    assert rig.permitted


def test_without_a_record_no_permit_is_given() -> None:
    rig = CoRig()
    rig.connect()
    rig.open_run()
    rig.core.store_fault = lambda: FAULT
    rig.tell(Acknowledge(actor="anna"))
    rig.wait(3.0)
    assert "prestart" in rig.unmet()
    assert FAULT in [need.says for need in rig.core.decision.needs]
    rig.press_reset()
    assert not rig.permitted
    rig.core.store_fault = lambda: ""
    rig.wait(1.0)
    rig.press_reset()
    assert rig.permitted


def test_without_a_record_no_run_opens() -> None:
    rig = CoRig()
    rig.connect()
    rig.core.store_fault = lambda: FAULT
    reply = rig.tell(OpenRun(RunKind.SETUP, actor="anna"))
    assert not reply.ok
    assert FAULT.rstrip(".") in reply.says
    assert rig.core.runs.current is None


def test_a_disk_that_fills_is_an_alarm_early_and_stops_nobody() -> None:
    """Row 11: at a tenth of the disk left there is still room for a run."""
    rig = CoRig()
    rig.core.store_warning = lambda: NEARLY
    rig.permit()
    rig.wait(2.0)
    assert said(rig)
    assert rig.core.alarms.book.records["record"].says == NEARLY
    assert rig.permitted
