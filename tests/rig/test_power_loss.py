"""A killed core, from the run it was in to the next start: said by every command, lost nowhere, and it goes on."""

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from lease_bench import LeaseBench

from scuffwatch.control.client import LiveClient, send
from scuffwatch.control.commands import CloseRun
from scuffwatch.model.event import EventKind
from scuffwatch.model.run import Outcome
from scuffwatch.store.reader import Archive

pytestmark = pytest.mark.rig
LOST_AT_MOST_S = 1.0


def scuffwatch(data: Path, *words: str) -> tuple[int, str]:
    command = [sys.executable, "-m", "scuffwatch.cli.main", *words, "--data", str(data)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    return done.returncode, done.stdout + done.stderr


def picture(bench: LeaseBench) -> dict[str, object]:
    live = LiveClient(bench.folder / "data" / "live.sock")
    try:
        seen = live.latest(5.0)
    finally:
        live.close()
    assert seen is not None
    return dict(seen[0])


def open_run(bench: LeaseBench) -> str:
    """Permit and give the run's name, once the record has caught up with what is shown."""
    bench.start_core()
    bench.permit()

    def caught_up() -> bool:
        store = picture(bench)["store"]
        assert isinstance(store, dict)
        return bool(store["last_recorded_event"] == store["last_event"] and store["queue_s"] < LOST_AT_MOST_S)

    bench._await(caught_up, 20.0)
    run = picture(bench)["run"]
    assert isinstance(run, dict)
    return str(run["name"])


def check_said(data: Path, name: str) -> None:
    """All three commands say that the run was ended by power loss, and none calls the record damaged."""
    code, told = scuffwatch(data, "runs")
    assert code == 0
    assert f"{name}" in told
    assert "ended by power loss" in told
    code, told = scuffwatch(data, "show", name)
    assert code == 0
    assert "Outcome: ended by power loss" in told
    code, told = scuffwatch(data, "verify", name)
    assert code == 0, told
    assert "Ended by power loss; its last sample is at" in told


def test_a_killed_core_leaves_a_run_ended_by_power_loss_and_the_next_goes_on(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    with LeaseBench(tmp_path_factory.mktemp("p") / "b") as bench:
        data = bench.folder / "data"
        first = open_run(bench)
        shown = picture(bench)
        bench.hurt("kill")
        bench.end_core()
        before = Archive(data).events(0, 10_000)
        check_said(data, first)  # already before anybody has put the record in order

        bench.start_core()
        second = open_run(bench)
        assert second > first
        check_said(data, first)
        live = Archive(data).run(second)
        assert live.live
        assert "A core records it now" in scuffwatch(data, "verify", second)[1]
        assert send(data / "command.sock", CloseRun(), "bench").ok
        assert bench.core is not None
        bench.core.send_signal(signal.SIGTERM)
        assert bench.core.wait(20.0) == 0

        runs = {run.name: run for run in Archive(data).runs()}
        assert runs[first].outcome is Outcome.POWER_LOSS
        assert runs[second].outcome is Outcome.STOPPED
        events = Archive(data).events(0, 10_000)
        assert events[: len(before)] == before  # nothing that was recorded has gone
        says = [event.says for event in events[len(before) :] if event.kind is EventKind.STORE]
        assert any(f"Run {first} was ended by power loss" in text for text in says)
        assert any("power loss or kill" in text for text in says)
        after = [event for event in events[len(before) :] if event.kind is EventKind.PERMITTED]
        assert len(after) == 1  # only the press of the reset in the second life
        with Archive(data).open_run(first) as reader:
            t_rig_s = shown["t_rig_s"]
            assert isinstance(t_rig_s, float)
            assert reader.last_t_rig_s() > t_rig_s - LOST_AT_MOST_S - 0.2
            assert all(account.balances for account in reader.ledger())
            assert {gap.why for gap in reader.gaps()} == {"core stopped"}
        code, told = scuffwatch(data, "verify", "--json")
        assert code == 0, told
        rows = [json.loads(line) for line in told.splitlines()]
        assert {row["name"]: len(row["notes"]) for row in rows} == {"journal": 0, first: 1, second: 0}


def test_alarms_outlive_a_kill(tmp_path_factory: pytest.TempPathFactory) -> None:
    with LeaseBench(tmp_path_factory.mktemp("p") / "a") as bench:
        data = bench.folder / "data"
        open_run(bench)
        bench.panel.ask(do="guard", closed=False)

        def recorded() -> bool:
            return any(a.key == "interlock" and a.state == "unacknowledged" for a in Archive(data).latest_alarms())

        bench._await(recorded, 10.0)
        bench.hurt("kill")
        bench.end_core()
        assert recorded()
        changes = [event for event in Archive(data).events(0, 10_000) if event.kind is EventKind.ALARM]
        assert [event.data["after"] for event in changes if event.data["key"] == "interlock"][-1] == "unacknowledged"
