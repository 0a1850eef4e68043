"""The live socket: every snapshot to those who read, none to be waited for, none that is old to those who come."""

import json
from pathlib import Path

from control_core import core, until

from scuffwatch.control.client import LiveClient, send
from scuffwatch.control.endpoint import EndpointLimits
from scuffwatch.control.messages import (
    Mark,
    StopRequest,
    to_line,
)
from scuffwatch.control.snapshot import SNAPSHOT_MAX_BYTES


def test_a_reader_follows_every_snapshot(data_dir: Path) -> None:
    with core(data_dir) as made, LiveClient(made.live) as reader:
        seen = []
        for received in reader.follow(20.0):
            assert received is not None
            seen.append(received[0]["seq"])
            if len(seen) == 10:
                break
        assert seen == list(range(seen[0], seen[0] + 10))


def test_a_new_reader_is_never_shown_what_a_frozen_loop_left(data_dir: Path) -> None:
    with core(data_dir, running=False) as made:
        made.publish()
        with LiveClient(made.live) as first, LiveClient(made.live) as second:
            assert first.latest(0.3) is None
            assert second.latest(0.3) is None
            made.publish()
            for reader in (first, second):
                received = reader.latest(20.0)
                assert received is not None
                assert received[0]["seq"] == 2


def test_a_reader_that_does_not_read_loses_snapshots_and_delays_nobody(data_dir: Path) -> None:
    with core(data_dir, running=False) as made, made.connect(made.live) as slow, LiveClient(made.live) as quick:
        until(lambda: made.endpoint.counters.readers == 1)
        quick.latest(0.0)
        until(lambda: made.endpoint.counters.readers == 2)
        for _ in range(40):
            made.publish()
            received = quick.latest(20.0)
            assert received is not None
            assert received[0]["seq"] == made.seq
        came = b""
        while json.loads(came.splitlines()[-1])["seq"] != 40 if came.endswith(b"\n") else True:
            came += slow.recv(65_536)
        numbers = [json.loads(line)["seq"] for line in came.splitlines()]
        assert numbers == sorted(set(numbers)), "whole lines, in order, none twice"
        assert len(numbers) == 40 - made.endpoint.counters.snapshots_dropped
        assert len(numbers) < 20, "the backlog of a sleeper is short"


def test_a_hung_reader_is_let_go(data_dir: Path) -> None:
    limits = EndpointLimits(hung_s=0.5)
    with core(data_dir, limits) as made, made.connect(made.live) as hung, LiveClient(made.live) as quick:
        until(lambda: quick.latest(0.1) is not None and made.endpoint.counters.readers_hung == 1)
        assert made.endpoint.counters.readers == 1
        while hung.recv(65_536):
            continue


def test_a_reader_to_whom_nothing_is_said_is_not_taken_for_hung(data_dir: Path) -> None:
    limits = EndpointLimits(hung_s=0.1, allowance_s=0.05)
    with core(data_dir, limits, running=False) as made, LiveClient(made.live) as reader:
        assert reader.latest(0.5) is None
        made.publish()
        received = reader.latest(20.0)
        assert received is not None
        assert reader.reconnects == 1
        assert made.endpoint.counters.readers_hung == 0


def test_a_reader_that_talks_is_let_go(data_dir: Path) -> None:
    with core(data_dir) as made, made.connect(made.live) as talker:
        talker.sendall(to_line(StopRequest()))
        until(lambda: made.endpoint.counters.readers == 0)
        assert send(made.command, Mark()).ok
        assert [type(t.command) for t in made.taken] == [Mark]


def test_a_snapshot_too_long_for_a_reader_is_counted_not_sent(data_dir: Path) -> None:
    with core(data_dir, running=False) as made, LiveClient(made.live) as reader:
        assert reader.latest(0.1) is None
        made.snapshots.publish(b"x" * (SNAPSHOT_MAX_BYTES + 1))
        until(lambda: made.endpoint.counters.snapshots_too_long == 1)
        made.publish()
        received = reader.latest(20.0)
        assert received is not None
        assert received[0]["seq"] == 1
