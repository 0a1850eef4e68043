"""Runs from the core into the record: resumed, not resumed, closed, and every alarm on the way."""

import json
from pathlib import Path

import pytest
from recorded_rig import RecordedRig

from scuffwatch.cli.main import main
from scuffwatch.control.commands import Acknowledge, CloseRun
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.run import Outcome
from scuffwatch.store.items import RunClosed
from scuffwatch.store.reader import Archive
from scuffwatch.store.verify import verify_journal, verify_run

pytestmark = pytest.mark.slow

WINDOW_S = 12.0


def listed(folder: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    """Give what `runs --json` says."""
    assert main(["runs", "--json", "--data", str(folder)]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def shown(folder: Path, run: str, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    """Give the result that `show --json` says."""
    assert main(["show", run, "--json", "--data", str(folder)]) == 0
    told = json.loads(capsys.readouterr().out)["result"]
    assert isinstance(told, dict)
    return told


def whole(folder: Path, run: str) -> None:
    assert verify_run(folder, run).findings == ()
    assert verify_journal(folder).findings == ()


def test_a_run_resumed_within_the_window_is_interrupted(data_dir: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with RecordedRig(data_dir, resume_within_s=WINDOW_S) as rig:
        rig.permit()
        name = rig.core.runs.name
        rig.wait(3.0)
        rig.trip_by("guard")
        tripped_s = rig.t_s
        rig.wait(WINDOW_S / 2)
        rig.permit()
        assert rig.t_s - tripped_s < WINDOW_S
        assert rig.core.runs.name == name
        rig.wait(WINDOW_S)  # the window of a trip that was resumed closes nothing
        assert rig.core.runs.name == name
        assert rig.tell(CloseRun(actor="anna")).ok
        assert rig.close()

    (row,) = listed(data_dir, capsys)
    assert (row["run"], row["outcome"], row["interrupted"], row["first_out"]) == (name, "stopped", True, "")
    assert shown(data_dir, name, capsys)["interrupted"] is True
    with Archive(data_dir).open_run(name) as reader:
        kinds = [event.kind for event in reader.events()]
        assert kinds.count(EventKind.PERMITTED) == 2
        assert reader.trips()[0].first_out.says == "Guard open."
        assert all(account.balances and account.marked == 0 for account in reader.ledger())
    whole(data_dir, name)


def test_a_run_that_is_not_resumed_is_closed_with_its_first_out(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with RecordedRig(data_dir, resume_within_s=WINDOW_S) as rig:
        rig.permit()
        name = rig.core.runs.name
        rig.trip_by("guard")
        rig.permit()
        rig.wait(2.0)
        rig.trip_by("emergency_stop")  # this one nobody resumes
        rig.wait(WINDOW_S - 2.0)
        assert rig.core.runs.name == name
        rig.wait(2.0)
        assert rig.core.runs.name == ""
        rig.tell(Acknowledge(actor="anna"))
        rig.wait(3.0)
        assert rig.unmet()[0] == "run_open"
        rig.press_reset()
        assert not rig.permitted
        assert rig.close()

    (row,) = listed(data_dir, capsys)
    assert (row["outcome"], row["first_out"], row["interrupted"]) == ("stopped", "Emergency stop pressed.", True)
    assert shown(data_dir, name, capsys)["outcome"] == "stopped"
    with Archive(data_dir).open_run(name) as reader:
        closing = [event for event in reader.events() if event.kind is EventKind.RUN_CLOSED]
        assert [event.actor for event in closing] == ["scuffwatch"]
        assert closing[0].data["outcome_says"] == "Not resumed in time."
        assert [trip.first_out.says for trip in reader.trips()] == ["Guard open.", "Emergency stop pressed."]
    whole(data_dir, name)


def test_a_run_that_tripped_cannot_be_kept_open_by_the_clock_on_the_wall(data_dir: Path) -> None:
    with RecordedRig(data_dir, resume_within_s=WINDOW_S) as rig:
        rig.permit()
        rig.trip_by("guard")
        rig.wall_shift_s = -3600.0
        rig.wait(WINDOW_S + 1.0)
        assert rig.core.runs.name == ""
        assert rig.close()
    assert Archive(data_dir).runs()[0].outcome is Outcome.STOPPED


def test_every_change_of_an_alarm_is_in_the_journal_in_order(data_dir: Path) -> None:
    with RecordedRig(data_dir) as rig:
        rig.permit()
        rig.trip_by("guard")
        rig.tell(Acknowledge(actor="anna"))
        rig.wait(3.0)
        rig.machine.cable_pulled = True
        rig.wait(2.0)
        rig.machine.cable_pulled = False
        rig.wait(5.0)
        rig.tell(Acknowledge(actor="ben"))
        rig.wait(3.0)
        rig.permit()
        rig.wait(2.0)
        assert rig.close()

    made = [item for item in rig.sink.items if isinstance(item, Event)]
    kept = Archive(data_dir).events(0, 100_000)
    ours = [event for event in kept if event.kind is not EventKind.STORE]
    assert [(e.kind, e.says, e.actor, e.data) for e in ours] == [(e.kind, e.says, e.actor, e.data) for e in made]
    changes = [event for event in ours if event.kind is EventKind.ALARM]
    assert len({str(event.data["key"]) for event in changes}) >= 2
    last: dict[str, object] = {}
    for event in changes:
        key = str(event.data["key"])
        assert event.data["before"] == last.get(key, event.data["before"])  # no change in between is missing
        last[key] = event.data["after"]
    assert {alarm.key: alarm.state for alarm in Archive(data_dir).latest_alarms()} == last
    book = rig.core.alarms.book.records
    assert all(book[key].state.value == state for key, state in last.items())


def test_a_run_that_is_open_when_the_record_ends_reads_as_ended_by_power_loss(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with RecordedRig(data_dir) as rig:
        rig.permit()
        name = rig.core.runs.name
        rig.wait(1.0)
        assert not any(isinstance(item, RunClosed) for item in rig.sink.items)
        assert rig.close()
    assert listed(data_dir, capsys)[0]["outcome"] == "ended by power loss"
    with RecordedRig(data_dir) as again:
        assert again.found == ()  # the end was clean; the run was not closed
        again.permit()
        assert again.core.runs.name > name
        assert again.tell(CloseRun(actor="anna")).ok
        assert again.close()
    assert {row["run"]: row["outcome"] for row in listed(data_dir, capsys)} == {
        name: "ended by power loss",
        f"{name[:-3]}002": "stopped",
    }
