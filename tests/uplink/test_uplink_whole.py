"""The whole way with nothing made up but the rig: core, uplink, store, broker and mail server as they are used."""

import json
import re
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, closing
from mailbox import Mailbox, body, secret_file
from pathlib import Path
from typing import Any

import pytest
from servers import Mosquitto, Subscriber, VictoriaMetrics, free_port, listens, wait_for

from scuffwatch.cli.demo_session import Session
from scuffwatch.cli.processes import Children
from scuffwatch.control.commands import Acknowledge
from scuffwatch.uplink.status import OLD_S

HOME_WITHIN_S = 2.0
MAIL_WITHIN_S = 5.0
STEP_S = 0.5


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    """Give a broker of its own."""
    (tmp_path / "broker").mkdir()
    server = Mosquitto(tmp_path / "broker")
    server.start()
    yield server
    server.stop()


def scrape(port: int) -> dict[str, float]:
    """Give the metrics by name and labels."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=5) as reply:
        lines = reply.read().decode().splitlines()
    assert lines[-1] == "# EOF"
    return {found[1]: float(found[2]) for line in lines if (found := re.fullmatch(r"([a-z_]+(?:\{.*\})?) (\S+)", line))}


def settings_file(folder: Path, store: VictoriaMetrics, broker: Mosquitto, box: Mailbox, metrics_port: int) -> Path:
    """Write the settings of an uplink to all three."""
    mail = secret_file(folder, "mail.secret", box.url)
    credentials = secret_file(folder, "broker.secret", "rig:oil")
    path = folder / "uplink.toml"
    path.write_text(
        f'[uplink]\nrig = "rig 2"\nmetrics_port = {metrics_port}\n[timeseries]\nurl = "{store.url}"\n'
        f'[mqtt]\nhost = "localhost"\nport = {broker.tls_port}\nca_file = "{broker.ca_file}"\n'
        f'credentials_file = "{credentials}"\n'
        f'[alerts]\ntimeout_s = 3\n[channels.mail]\nurl_file = "{mail}"\npriorities = "T"\n'
    )
    return path


def permit(session: Session) -> None:
    """Get the permit; again where a busy machine lets it lapse at once."""
    for _ in range(5):
        session.tell(Acknowledge())
        session.wait("everything but the reset", lambda: _unmet(session) == ["reset"])
        session.panel.ask(do="press_reset", hold_s=0.5)
        end_s = time.monotonic() + 3.0
        while time.monotonic() < end_s:
            if session.snapshot()["permit"]["state"] == "permitted":
                return
    raise AssertionError("no permit: the machine is too busy")


def _unmet(session: Session) -> list[str]:
    return [need["key"] for need in session.snapshot()["permit"]["needs"] if not need["met"]]


def lags_s(port: int, seconds: float) -> list[float]:
    """Watch the age of the newest row accepted for some time."""
    end_s, found = time.monotonic() + seconds, []
    while time.monotonic() < end_s:
        found.append(scrape(port)["scuffwatch_uplink_lag_seconds"])
        time.sleep(0.05)
    return found


@pytest.mark.rig
@pytest.mark.slow
def test_a_sample_is_home_in_two_seconds_and_a_trip_in_the_mailbox_in_five(
    data_dir: Path, store: VictoriaMetrics, broker: Mosquitto
) -> None:
    metrics_port = free_port()
    with (
        ExitStack() as held,
        closing(Subscriber(broker.port)) as wall,
        Mailbox() as box,
        Children(data_dir) as children,
    ):
        settings = settings_file(data_dir, store, broker, box, metrics_port)
        session = Session(data_dir, children, "healthy", 1, 1.0)
        held.callback(session.live.close)
        session.start_rig()
        session.start_core()
        where = ["--data", str(data_dir), "--settings", str(settings)]
        tested = subprocess.run(
            [sys.executable, "-m", "scuffwatch.cli.main", "alert", "--test", "--json", *where],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert json.loads(tested.stdout) == {"channel": "mail", "accepted": True, "says": ""}
        assert box.subjects() == ["rig 2: test of alert channel mail"]
        uplink = children.start("uplink", "scuffwatch.cli.main", "uplink", *where)
        wait_for("the uplink", lambda: listens(metrics_port))
        time.sleep(2.0)  # it starts heavily; on a busy machine that can cost the acknowledgement
        run = session.open_test_run()
        wait_for("rows", lambda: scrape(metrics_port)["scuffwatch_uplink_lag_seconds"] < 3.0)
        worst_s = max(lags_s(metrics_port, 5.0)) - STEP_S
        print(f"\nsample to store, worst of 5 s: {worst_s:.2f} s")
        assert worst_s < HOME_WITHIN_S

        permit(session)
        before = len(box.mails)
        session.panel.ask(do="guard", closed=False)
        tripped_s = time.monotonic()
        wait_for("the mail", lambda: len(box.mails) > before)
        print(f"trip to mailbox: {box.mails[before][0] - tripped_s:.2f} s")
        assert box.mails[before][0] - tripped_s < MAIL_WITHIN_S
        assert f"Run {run} (test" in body(box.mails[before][1])
        assert "Recorded: yes." in body(box.mails[before][1])
        wait_for("the state", lambda: wall.of("rig2/state")[-1].get("permit") == "tripped", 2.0)

        session.close_run()
        wait_for("everything", lambda: _all_sent(metrics_port))
        status = json.loads((data_dir / "uplink" / "status.json").read_text())
        assert status["t_wall_utc_s"] > time.time() - OLD_S
        assert status["alerts"]["silent"] is False
        assert status["faults"] == {}
        uplink.terminate()
        assert uplink.wait(20.0) == 0
        wait_for("the goodbye", lambda: wall.of("rig2/state")[-1].get("why") == "stopped")
        assert not (data_dir / "uplink" / "status.json").exists()


def _all_sent(port: int) -> bool:
    found: dict[str, Any] = scrape(port)
    queued = [value for name, value in found.items() if name.startswith("scuffwatch_uplink_rows_queued")]
    return queued == [0.0, 0.0]


def test_the_metrics_are_read_by_another_program(data_dir: Path, store: VictoriaMetrics) -> None:
    """The store itself reads the exposition format: an outside check of what `/metrics` says."""
    from scuffwatch.uplink.alerts import ChannelState
    from scuffwatch.uplink.ledger import Totals
    from scuffwatch.uplink.mqtt import BrokerState
    from scuffwatch.uplink.status import Status, openmetrics
    from scuffwatch.uplink.timeseries import SendState

    channel = ChannelState('the "night" phone', True, "no", 5.0, 2, False)
    told = Status(
        "rig 2", 1000.0, 5.0, 900.0, 0.1, (SendState(True, "", 0.0, 999_000, 1, 7), Totals(10, 6, 1, 2)),
        (BrokerState(), Totals(4, 4, 0, 0)), (channel,), {},
    )  # fmt: skip
    request = urllib.request.Request(f"{store.url}/api/v1/import/prometheus", openmetrics(told).encode(), method="POST")
    urllib.request.urlopen(request, timeout=10).close()
    wait_for("the metrics", lambda: bool(store.series("scuffwatch_uplink_rewinds_total")), 5.0)
    series = {
        (s["metric"]["__name__"], s["metric"].get("destination", "")): s["values"][0]
        for s in store.series('{__name__=~"scuffwatch_uplink_.*"}')
    }
    assert series["scuffwatch_uplink_rows_produced_total", "timeseries"] == 10
    assert series["scuffwatch_uplink_rows_queued", "timeseries"] == 3
    assert series["scuffwatch_uplink_lag_seconds", ""] == 1.0
    (phone,) = store.series("scuffwatch_alert_channel_up")
    assert phone["metric"]["channel"] == 'the "night" phone'
    assert store.series("scuffwatch_alerts_silent")[0]["values"] == [1]
