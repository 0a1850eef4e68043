"""Life signs to the service manager: as sd_notify(3) words them, no more often than needed, and never in the way."""

import itertools
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffwatch.service.watchdog import Watchdog


@pytest.fixture
def manager(data_dir: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(data_dir / "notify"))
        listening.setblocking(False)
        yield listening


@pytest.fixture
def watchdog(manager: socket.socket) -> Iterator[Watchdog]:
    made = Watchdog(manager.getsockname(), every_s=0.5)
    yield made
    made.close()


def said(manager: socket.socket) -> list[bytes]:
    came = []
    while True:
        try:
            came.append(manager.recv(4096))
        except BlockingIOError:
            return came


def test_start_and_end_are_told_in_the_words_of_sd_notify(manager: socket.socket, watchdog: Watchdog) -> None:
    watchdog.ready("started tripped")
    watchdog.stopping()
    assert said(manager) == [b"READY=1\nSTATUS=started tripped", b"STOPPING=1"]


def test_life_signs_keep_their_distance(manager: socket.socket, watchdog: Watchdog) -> None:
    signs = []
    for turn in range(200):  # a loop of 20 ms
        watchdog.alive(100.0 + 0.02 * turn)
        signs.append(len(said(manager)))
    told = [turn for turn, number in enumerate(signs) if number]
    assert told[0] == 0
    assert set(signs) == {0, 1}
    assert {later - earlier for earlier, later in itertools.pairwise(told)} <= {25, 26}


def test_a_manager_that_is_busy_is_told_at_the_next_turn(manager: socket.socket, watchdog: Watchdog) -> None:
    turns = 2000  # more than its queue takes: a send that waited would end in the test's time limit
    for turn in range(turns):
        watchdog.alive(100.0 + turn)
    assert 0 < len(said(manager)) < turns
    watchdog.alive(100.0 + turns - 1 + 0.02)
    assert said(manager) == [b"WATCHDOG=1"]


def test_a_manager_that_is_gone_is_no_fault_of_the_core(manager: socket.socket, watchdog: Watchdog) -> None:
    Path(manager.getsockname()).unlink()
    watchdog.ready("started tripped")
    watchdog.alive(100.0)
    watchdog.stopping()
    assert said(manager) == []


def test_an_abstract_address_begins_with_an_at_sign() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind("\0scuffwatch-test-of-the-watchdog")
        manager.setblocking(False)
        watchdog = Watchdog("@scuffwatch-test-of-the-watchdog")
        watchdog.alive(100.0)
        watchdog.close()
        assert said(manager) == [b"WATCHDOG=1"]


def test_without_a_manager_nothing_is_opened_and_nothing_sent() -> None:
    watchdog = Watchdog("")
    watchdog.ready("started tripped")
    watchdog.alive(100.0)
    watchdog.stopping()
    watchdog.close()
    assert watchdog._socket is None
