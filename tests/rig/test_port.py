"""The serial port over a real pseudo-terminal: silence, a gone device, a second opener, a device that takes nothing."""

import contextlib
import os
import pty
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffwatch.model.errors import RigNotConnected
from scuffwatch.rig.port import PortClosed, SerialPort


@pytest.fixture
def pair() -> Iterator[tuple[int, str]]:
    master, slave = pty.openpty()
    tty.setraw(slave)
    name = os.ttyname(slave)
    os.close(slave)
    yield master, name
    with contextlib.suppress(OSError):  # a test may have closed it
        os.close(master)


def test_bytes_come_as_they_are_and_silence_is_empty(pair: tuple[int, str]) -> None:
    master, name = pair
    port = SerialPort(name, 230400)
    assert port.read(0.01) == b""
    os.write(master, b"\x00\x0a\x0d\x13\xff")
    assert port.read(1.0) == b"\x00\x0a\x0d\x13\xff"
    port.write(b"\x11\x00")
    assert os.read(master, 10) == b"\x11\x00"
    port.close()


@pytest.mark.parametrize("kind", ["file", "folder", "below a file"])
def test_what_is_no_serial_port_is_told_in_words(tmp_path: Path, kind: str) -> None:
    (tmp_path / "file").touch()
    path = {"file": tmp_path / "file", "folder": tmp_path, "below a file": tmp_path / "file" / "port"}[kind]
    with pytest.raises(RigNotConnected) as raised:
        SerialPort(str(path), 230400)
    assert ": no serial port. The motor permit stays off. Name the rig box's device" in raised.value.sentence()


def test_a_second_opener_is_refused_with_what_to_do(pair: tuple[int, str]) -> None:
    _, name = pair
    port = SerialPort(name, 230400)
    with pytest.raises(RigNotConnected) as raised:
        SerialPort(name, 230400)
    assert "held by another program" in raised.value.sentence()
    assert "permit stays off" in raised.value.sentence()
    port.close()


def test_a_gone_device_is_told(pair: tuple[int, str]) -> None:
    master, name = pair
    port = SerialPort(name, 230400)
    os.close(master)
    with pytest.raises(PortClosed):
        port.read(1.0)
    port.close()


def test_no_such_device(tmp_path: Path) -> None:
    with pytest.raises(RigNotConnected) as raised:
        SerialPort(str(tmp_path / "nothing"), 230400)
    assert "no such device" in raised.value.sentence()


def test_a_device_that_takes_nothing_never_blocks_the_loop(pair: tuple[int, str]) -> None:
    _, name = pair
    port = SerialPort(name, 230400)
    sent = 0
    while port.unsent_bytes == 0 and sent < 10_000_000:
        port.write(b"\x55" * 4096)
        sent += 4096
    assert port.unsent_bytes > 0
    port.close()
