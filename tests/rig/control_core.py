"""An endpoint with a stand-in for the core's loop, and callers, for the tests of both sockets."""

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from scuffwatch.control.endpoint import Endpoint, EndpointLimits, Inbox, SnapshotSource, Ticket
from scuffwatch.control.messages import (
    Reply,
    reply_from_line,
)
from scuffwatch.control.snapshot import encode

SNAPSHOT_PADDING = "x" * 5_000


def until(true: Callable[[], bool], within_s: float = 20.0) -> None:
    """Wait for a state; a state that never comes is the failure, not the time it took."""
    t_end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < t_end_s, "waited in vain"
        time.sleep(0.005)


@dataclass
class Core:
    """An endpoint and a thread that stands in for the core's loop: publishes, polls, answers."""

    folder: Path
    limits: EndpointLimits = field(default_factory=EndpointLimits)
    snapshots: SnapshotSource = field(default_factory=SnapshotSource)
    inbox: Inbox = field(default_factory=Inbox)
    taken: list[Ticket] = field(default_factory=list)
    runs: threading.Event = field(default_factory=threading.Event)
    ended: bool = False
    seq: int = 0

    def __post_init__(self) -> None:
        self.live, self.command = self.folder / "live.sock", self.folder / "command.sock"
        self.endpoint = Endpoint(self.live, self.command, self.snapshots, self.inbox, limits=self.limits)

    def publish(self) -> None:
        self.seq += 1
        snapshot = {"v": 1, "seq": self.seq, "padding": SNAPSHOT_PADDING}
        self.snapshots.publish(encode(snapshot, time.monotonic()))

    def slice(self) -> None:
        ticket = self.inbox.take()
        if ticket is not None:
            self.taken.append(ticket)
            ticket.answer(Reply(True, f"Done: {type(ticket.command).__name__}."))

    def loop(self) -> None:
        slices = 0
        while not self.ended:
            self.runs.wait()
            slices += 1
            if slices % 10 == 0:
                self.publish()
            self.slice()
            time.sleep(0.01)

    def connect(self, path: Path | None = None) -> socket.socket:
        caller = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        caller.connect(str(path or self.command))
        caller.settimeout(20.0)
        return caller


@contextlib.contextmanager
def core(folder: Path, limits: EndpointLimits | None = None, running: bool = True) -> Iterator[Core]:
    made = Core(folder, limits or EndpointLimits())
    if running:
        made.runs.set()
    thread = threading.Thread(target=made.loop, name="stand-in loop")
    thread.start()
    made.endpoint.start()
    try:
        yield made
        assert made.endpoint.failed == ""
    finally:
        made.ended = True
        made.runs.set()
        thread.join()
        made.endpoint.stop()


def lines(caller: socket.socket, number: int) -> list[Reply]:
    """Read a number of replies; fewer where the other side hangs up."""
    came = b""
    while came.count(b"\n") < number:
        try:
            more = caller.recv(65_536)
        except ConnectionResetError:
            break
        if not more:
            break
        came += more
    replies = [reply_from_line(line) for line in came.splitlines()]
    assert all(isinstance(each, Reply) for each in replies), came[:200]
    return [each for each in replies if isinstance(each, Reply)]


def hung_up(caller: socket.socket) -> bool:
    try:
        return caller.recv(1) == b""
    except ConnectionResetError:
        return True
