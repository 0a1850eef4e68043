"""The trip path while the uplink meets everything at once: the same lateness as with no uplink at all."""

import random
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from mailbox import Mailbox, secret_file
from pathlib import Path

import pytest
from real_core import RealRig, real_rig
from servers import FaultProxy, Mosquitto, VictoriaMetrics, free_port
from test_uplink_long import Nemesis

pytestmark = [pytest.mark.rig, pytest.mark.long, pytest.mark.timeout(1800)]

STRETCH_S = 20.0
STRETCHES = 6
SHIFT_MS, TRIP_S = 5.0, 0.25


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    """Give a broker of its own, not yet started."""
    (tmp_path / "broker").mkdir()
    server = Mosquitto(tmp_path / "broker")
    yield server
    server.stop()


def settings_file(folder: Path, proxy: FaultProxy, broker: Mosquitto, box: Mailbox) -> Path:
    """Write the settings of an uplink whose store and broker come and go, with one mailbox of two that refuses."""
    path = folder / "uplink.toml"
    dead = secret_file(folder, "dead.secret", box.url.replace(str(box.port), str(free_port())))
    path.write_text(
        f'[uplink]\nrig = "rig 2"\nmetrics_port = 0\n[timeseries]\nurl = "{proxy.url}"\ntimeout_s = 2\n'
        f'[mqtt]\nhost = "localhost"\nport = {broker.tls_port}\nca_file = "{broker.ca_file}"\n'
        f'credentials_file = "{secret_file(folder, "broker.secret", "rig:oil")}"\n'
        f'[alerts]\ntimeout_s = 2\n[channels.mail]\nurl_file = "{secret_file(folder, "mail.secret", box.url)}"\n'
        f'[channels.dead]\nurl_file = "{dead}"\n'
    )
    return path


@contextmanager
def hurt_uplink(
    rig: RealRig, settings: Path, proxy: FaultProxy, store: VictoriaMetrics, broker: Mosquitto, box: Mailbox
) -> Iterator[None]:
    """Run an uplink while its store fails in every way and its broker and mail server come and go."""
    words = [sys.executable, "-m", "scuffwatch.cli.main", "uplink", "--data", str(rig.folder)]
    with (rig.folder / "uplink.log").open("ab") as log:
        uplink = subprocess.Popen([*words, "--settings", str(settings)], stdout=log, stderr=log)
    nemesis = Nemesis(proxy, store)
    broker.start()
    nemesis.start()
    box.answer = "451 try again later"
    try:
        yield
        assert uplink.poll() is None, "the uplink ended"
    finally:
        nemesis.stop()
        box.answer = ""
        broker.stop()
        uplink.kill()
        uplink.wait()


def test_the_trip_path_is_the_same_whatever_the_uplink_meets(
    data_dir: Path, store: VictoriaMetrics, proxy: FaultProxy, broker: Mosquitto
) -> None:
    """Without and with an uplink in trouble, 20 s each, six times in turns: lateness of each slice, and the trips."""
    late_ms: dict[str, list[float]] = {"alone": [], "hurt": []}
    took_s: dict[str, list[float]] = {how: [] for how in late_ms}
    with Mailbox() as box, real_rig(data_dir) as rig:
        settings = settings_file(data_dir, proxy, broker, box)
        for how in random.Random(59).sample(list(late_ms) * STRETCHES, 2 * STRETCHES):
            rig.permit()
            if how == "alone":
                lateness, took = rig.stretch(STRETCH_S)
            else:
                with hurt_uplink(rig, settings, proxy, store, broker, box):
                    time.sleep(3.0)  # it starts heavily: modules are read once, at the start of the week
                    rig.permit()
                    lateness, took = rig.stretch(STRETCH_S)
            late_ms[how] += lateness
            took_s[how].append(took)
    p999_ms = {how: sorted(found)[int(0.999 * len(found))] for how, found in late_ms.items()}
    print({how: (len(late_ms[how]), p999_ms[how], max(took_s[how])) for how in late_ms})
    assert p999_ms["hurt"] - p999_ms["alone"] < SHIFT_MS, p999_ms
    assert max(max(found) for found in took_s.values()) <= TRIP_S, took_s
