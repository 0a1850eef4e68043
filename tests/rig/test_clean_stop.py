"""A core that is told to stop closes its run: only a core that was killed leaves one that reads as power loss."""

import signal
from pathlib import Path

import pytest
from lease_bench import LeaseBench

from scuffwatch.model.run import Outcome
from scuffwatch.store.archive import Archive

pytestmark = pytest.mark.rig


def test_a_stopped_core_closes_its_run_and_keeps_its_alarms(tmp_path_factory: pytest.TempPathFactory) -> None:
    with LeaseBench(tmp_path_factory.mktemp("r") / "b") as bench:
        bench.start_core()
        bench.permit()
        bench.panel.ask(do="guard", closed=False)
        bench.opened_ms(0)
        assert bench.core is not None
        bench.core.send_signal(signal.SIGTERM)
        assert bench.core.wait(20.0) == 0
        data: Path = bench.folder / "data"
        (run,) = Archive(data).runs()
        assert run.outcome is Outcome.STOPPED
        assert "Guard open" in run.first_out
        assert "interlock" in {alarm.key for alarm in Archive(data).latest_alarms()}
