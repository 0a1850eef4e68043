"""The core under a service manager: ready when it can be asked, silent when it is frozen, gone with a word."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffwatch.cli import demo_rig
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.sim.machine import IDENTITY

FREEZE_S = 1.5
"""Three life signs long."""


@pytest.fixture
def manager(data_dir: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(data_dir / "notify"))
        listening.settimeout(20.0)
        yield listening


@pytest.fixture
def core(data_dir: Path, manager: socket.socket) -> "Iterator[subprocess.Popen[bytes]]":
    rig_file = data_dir / "rig.toml"
    values = demo_rig.rig_values(str(data_dir / "no-rig-box"), IDENTITY, None)
    rig_file.write_text(annotated_toml(values, demo_rig.HEADING), encoding="utf-8")
    command = [sys.executable, "-m", "scuffwatch.cli.main", "daemon", "--rig", str(rig_file), "--data", str(data_dir)]
    environment = {**os.environ, "NOTIFY_SOCKET": str(data_dir / "notify")}
    with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as process:
        try:
            yield process
        finally:
            process.kill()


def test_it_is_ready_when_it_answers_and_says_that_it_starts_tripped(
    data_dir: Path, manager: socket.socket, core: "subprocess.Popen[bytes]"
) -> None:
    ready, _, status = manager.recv(4096).partition(b"\n")
    assert ready == b"READY=1"
    assert status.startswith(b"STATUS=started tripped, permit off")
    for name in ("live.sock", "command.sock"):
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as caller:
            caller.connect(str(data_dir / name))
    assert manager.recv(4096) == b"WATCHDOG=1"
    core.terminate()
    last = b"WATCHDOG=1"
    while last == b"WATCHDOG=1":
        last = manager.recv(4096)
    assert last == b"STOPPING=1"
    assert core.wait(20.0) == 0


def test_a_frozen_core_gives_no_life_sign(manager: socket.socket, core: "subprocess.Popen[bytes]") -> None:
    for expected in (b"READY=1", b"WATCHDOG", b"WATCHDOG"):
        assert manager.recv(4096).startswith(expected)
    core.send_signal(signal.SIGSTOP)
    os.waitid(os.P_PID, core.pid, os.WSTOPPED | os.WNOWAIT)
    manager.setblocking(False)
    while True:  # what it said before
        try:
            manager.recv(4096)
        except BlockingIOError:
            break
    manager.settimeout(FREEZE_S)
    with pytest.raises(TimeoutError):
        manager.recv(4096)
    core.send_signal(signal.SIGCONT)
    manager.settimeout(20.0)
    assert manager.recv(4096) == b"WATCHDOG=1"
