"""The hub: shares the newest, queues nothing, tells a silent core from a repeated snapshot."""

import json
import math
import socket
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from board_server import serving, settings_for
from stand_in_core import STATES, Script, StandInCore

from scuffboard.climb_history import ROWS_NOW, ClimbHistory
from scuffboard.hub import LiveHub, ViewersFull, reduce_snapshot
from scuffwatch.control.snapshot import check


def events(stream: Iterator[bytes], kind: str, n: int) -> list[dict[str, Any]]:
    """Give the data of the next `n` events of a kind."""
    found = []
    while len(found) < n:
        text = next(stream).decode()
        if text.startswith(f"event: {kind}\n"):
            found.append(json.loads(text.split("data: ", 1)[1]))
    return found


class Feed:
    """A source under the test's hand."""

    def __init__(self) -> None:
        self.script = Script()
        self.repeat: dict[str, Any] | None = None
        self.silent = False

    def __call__(self, timeout_s: float) -> tuple[dict[str, Any], float] | None:
        time.sleep(0.02)
        if self.silent:
            return None
        return self.repeat or self.script.snapshot(), time.monotonic()


@pytest.fixture
def feed() -> Feed:
    return Feed()


@pytest.fixture
def hub(feed: Feed) -> Iterator[LiveHub]:
    made = LiveHub(feed, viewers_cap=3)
    made.start()
    yield made
    made.close()


@pytest.mark.parametrize("state", STATES)
def test_the_stand_in_speaks_as_the_core_does(state: str) -> None:
    assert check(Script(state).snapshot()) == []


def test_two_viewers_get_the_same_frames_in_order(hub: LiveHub) -> None:
    with hub.viewer() as one, hub.viewer() as two:
        a, b = events(one.stream(), "frame", 4), events(two.stream(), "frame", 4)
    assert [frame["n"] for frame in a] == sorted({frame["n"] for frame in a})
    assert {frame["server"] for frame in a + b} == {hub.server_id}


def test_a_viewer_too_slow_misses_frames_and_is_counted(hub: LiveHub) -> None:
    with hub.viewer() as slow:
        stream = slow.stream()
        first = events(stream, "frame", 1)[0]["n"]
        time.sleep(1.5)
        second = events(stream, "frame", 1)[0]["n"]
        assert slow.missed == second - first - 1 > 2
    assert hub.missed_frames == slow.missed


def test_there_is_room_for_the_cap_and_no_more(hub: LiveHub) -> None:
    taken = [hub.enter() for _ in range(3)]
    with pytest.raises(ViewersFull):
        hub.enter()
    hub.leave(taken[0])
    hub.leave(hub.enter())
    assert (hub.viewers, hub.refused_viewers) == (2, 1)


@pytest.mark.parametrize("how", ["silent", "repeat"])
def test_a_silent_core_is_said_and_never_shown_as_news(hub: LiveHub, feed: Feed, how: str) -> None:
    with hub.viewer() as viewer:
        stream = viewer.stream()
        last = events(stream, "frame", 2)[-1]
        if how == "silent":
            feed.silent = True
        else:
            feed.repeat = feed.script.snapshot()  # a core whose loop hangs: its control thread repeats itself
        still = events(stream, "still", 2)
        assert still[-1]["silent_s"] >= 1.0
        feed.silent, feed.repeat = False, None
        assert events(stream, "frame", 1)[0]["seq"] > last["seq"]


def test_a_trip_does_not_wait_for_its_turn(hub: LiveHub, feed: Feed) -> None:
    with hub.viewer() as viewer:
        stream = viewer.stream()
        events(stream, "frame", 1)
        feed.script.state = "tripped"
        asked_s = time.monotonic()
        while events(stream, "frame", 1)[0]["permit"]["state"] != "tripped":
            assert time.monotonic() - asked_s < 10.0
        frames = events(stream, "frame", 3)
    assert frames[0]["permit"]["first_out"]["kind"] == "scuffing_onset"


def test_no_number_that_is_none_reaches_a_page() -> None:
    snapshot = {"channels": {"x": {"value": math.nan, "low": -math.inf}}, "loop": {}, "bursts": [1]}
    assert reduce_snapshot(snapshot) == {"channels": {"x": {"value": None, "low": None}}}


def test_the_climb_stays_bounded_and_keeps_extremes() -> None:
    climb, peak_s = ClimbHistory(), 777.0
    for k in range(20_000):
        elapsed_s = k * 0.2
        value = 0.31 if abs(elapsed_s - peak_s) < 0.1 else 0.1
        climb.accept({
            "t_rig_s": elapsed_s, "permit": {"state": "permitted"},
            "run": {"name": "r", "stage": 1, "stage_elapsed_s": elapsed_s},
            "channels": {"mu": {"value": value, "quality": "good"}},
        })  # fmt: skip
    made = climb.as_json()
    rows = made["stages"]["1"]["rows"]
    assert len(rows) <= ROWS_NOW
    assert max(row[2]["mu"] for row in rows) == 0.31
    assert len(made["recent"]) == 120


def test_a_rig_faster_than_real_time_is_drawn_without_gaps_that_are_none() -> None:
    climb = ClimbHistory()
    for k in range(900):
        t_rig_s = k * 2.0  # 20 times real time, ten pictures a second
        climb.accept({
            "t_rig_s": t_rig_s, "t_wall_utc_s": 1e9 + k * 0.1, "simulated": True, "permit": {"state": "permitted"},
            "run": {"name": "r", "stage": 1 + k // 30, "stage_elapsed_s": (k % 30) * 2.0},
            "channels": {"mu": {"value": 0.1, "quality": "good"}},
        })  # fmt: skip
    made = climb.as_json()
    assert made["first_step_s"] == pytest.approx(3.0, rel=0.01)
    track = made["stages"]["20"]
    starts = [row[0] for row in track["rows"]]
    assert max(after - before for before, after in pairwise(starts)) <= 2.5 * track["step_s"]


def test_a_real_rig_keeps_its_bins_whatever_its_clock_does() -> None:
    climb = ClimbHistory()
    for k in range(50):
        climb.accept({"t_rig_s": k * 2.0, "t_wall_utc_s": 1e9 + k * 0.1, "simulated": False, "channels": {}})
    assert climb.as_json()["first_step_s"] == 0.5


def read_head(connection: socket.socket) -> bytes:
    connection.settimeout(5.0)
    came = b""
    while b"\r\n\r\n" not in came:
        came += connection.recv(4096)
    return came


def ask_live(port: int) -> socket.socket:
    connection = socket.create_connection(("127.0.0.1", port))
    connection.sendall(b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    return connection


def test_over_the_wire_the_next_viewer_is_told_when_to_come_back(tmp_path: Path) -> None:
    with StandInCore(tmp_path) as core, serving(core, settings_for(tmp_path, viewers_cap=2)) as board:
        port = int(board.url.rpartition(":")[2])
        first = [ask_live(port), ask_live(port)]
        assert all(b" 200 " in read_head(c).split(b"\r\n")[0] for c in first)
        with ask_live(port) as third:
            head = read_head(third)
            assert b" 503 " in head.split(b"\r\n")[0]
            assert b"Retry-After: 10" in head
            assert b"Server:" not in head
        for connection in first:
            connection.close()
        give_up_s = time.monotonic() + 10.0
        while board.hub.viewers:
            assert time.monotonic() < give_up_s
            time.sleep(0.05)
        assert threading.active_count() > 0


@pytest.mark.long
def test_a_viewer_that_takes_nothing_is_dropped(tmp_path: Path) -> None:
    with StandInCore(tmp_path) as core, serving(core, settings_for(tmp_path, viewers_cap=2)) as board:
        stuck = ask_live(int(board.url.rpartition(":")[2]))
        stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        give_up_s = time.monotonic() + 110.0
        time.sleep(1.0)
        while board.hub.viewers:
            assert time.monotonic() < give_up_s, "a viewer that reads nothing still holds its place"
            time.sleep(0.5)
        stuck.close()
