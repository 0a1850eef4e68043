"""A dead uplink seen by the core: its status file is old, nobody away from the rig would be called."""

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from control_core import until

from scuffwatch.cli.demo_rig import rig_values
from scuffwatch.control.client import LiveClient
from scuffwatch.model.event import EventKind
from scuffwatch.service.app import App, Paths
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.store.reader import Archive

SAYS = "The uplink has said nothing"


@pytest.fixture
def paths(data_dir: Path, tmp_path: Path) -> Paths:
    """Give a rig whose port is not there, and the status of an uplink that died when the computer started."""
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(annotated_toml(rig_values(str(tmp_path / "no-port"), "sim-rig"), "no rig"), encoding="utf-8")
    (data_dir / "uplink").mkdir(parents=True)
    status = {"t_boot_s": 0.0, "alerts": {"silent": False, "says": ""}}
    (data_dir / "uplink" / "status.json").write_text(json.dumps(status), encoding="utf-8")
    return Paths(rig_file, data_dir)


def test_the_core_looks_at_the_uplink_from_its_start(paths: Paths) -> None:
    app = App(paths, lambda _: None)
    loop = threading.Thread(target=app.run)
    loop.start()
    try:
        until(lambda: app.core.alerts_silent().startswith(SAYS))
    finally:
        app.stop()
        loop.join(20.0)
    assert not loop.is_alive()


@pytest.mark.long
@pytest.mark.timeout(300)
def test_a_dead_uplink_is_an_alarm_on_the_socket_and_in_the_record_within_75_s(paths: Paths) -> None:
    words = ["-m", "scuffwatch.cli.main", "daemon", "--rig", str(paths.rig_file), "--data", str(paths.data)]
    core = subprocess.Popen([sys.executable, *words], stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT)
    begun_s = time.monotonic()
    try:
        until(paths.live.exists)
        with LiveClient(paths.live) as live:
            until(lambda: _shown(live).startswith(SAYS), 75.0)
    finally:
        core.terminate()
        core.wait(20.0)
    assert time.monotonic() - begun_s >= 60.0, "its on-delay keeps a short outage from being an alarm"
    found = [event.says for event in Archive(paths.data).events() if event.kind is EventKind.ALARM]
    assert "Alarm Alerts silent: normal to unacknowledged (cause present)." in found


def _shown(live: LiveClient) -> str:
    """Give what the alarm says on the live socket; empty while it is not listed."""
    seen = live.latest(2.0)
    alarms = [] if seen is None else seen[0]["alarms"]
    return next((str(alarm["says"]) for alarm in alarms if alarm["key"] == "alert_channels"), "")
