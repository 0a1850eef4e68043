"""The other end of both sockets, for pages and command line.

Reads snapshots, sends commands, gives replies. Imports no more of Python than it needs, so that a command starts fast.
No thread, no retry of a command: what may have been carried out is never sent twice.
"""

import contextlib
import errno
import json
import os
import socket
import time
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import Any

from scuffwatch.control.messages import (
    COMMAND_KINDS,
    LINE_MAX_BYTES,
    Acknowledge,
    CloseRun,
    Command,
    CommandKind,
    Mark,
    Note,
    Observation,
    Observe,
    OpenRun,
    Refusal,
    Reply,
    StopRequest,
    Tare,
    build,
    in_one_line,
    reply_from_line,
    to_line,
)
from scuffwatch.control.snapshot import SNAPSHOT_MAX_BYTES, SNAPSHOT_VERSION
from scuffwatch.model.errors import CommandRefused, OperatorError

__all__ = [
    "send", "LiveClient", "CoreNotReached", "Reach", "CommandRefused",
    "COMMAND_KINDS", "CommandKind", "Command", "OpenRun", "CloseRun", "Mark", "Note", "Observe", "Observation",
    "Acknowledge", "StopRequest", "Tare", "Reply", "Refusal", "build", "in_one_line",
]  # fmt: skip

SEND_TIMEOUT_S = 3.0
"""Longer than the 2 s after which the core itself says that its loop did not answer."""
BACKOFF_FIRST_S = 0.1
BACKOFF_MAX_S = 2.0
_AGAIN_S = 0.02
_READ_BYTES = 64 * 1024

Received = tuple[dict[str, Any], float]
"""A snapshot, and when it was made, host monotonic clock, s."""


class Reach(Enum):
    """Why the core was not reached."""

    NO_CORE = "no core"
    NO_PERMISSION = "no permission"
    NO_ANSWER = "no answer"
    CUT_OFF = "cut off"


class CoreNotReached(OperatorError):
    """A command has got no reply.

    Args:
        path: of the socket.
        reason: see `Reach`.
        why: one clause.
        do: what it means and what to do next.
    """

    def __init__(self, path: Path, reason: Reach, why: str, do: str) -> None:
        super().__init__(path, reason, why, do)
        self.path, self.reason, self.why, self.do = path, reason, why, do

    def sentence(self) -> str:
        """Give the sentence a person reads."""
        return f"Core at {self.path}: {self.why}. {self.do}"


def send(path: Path, command: Command, actor: str = "", timeout_s: float = SEND_TIMEOUT_S) -> Reply:
    """Send one command and wait for its reply.

    Args:
        path: of `command.sock`.
        command: what to ask.
        actor: who asks; where empty, the command's own actor stands.
        timeout_s: for the whole exchange, s.
    Returns:
        The core's reply, also where it says no.
    Raises:
        CommandRefused: a field breaks its limit; nothing has been sent.
        CoreNotReached: no reply; `reason` and the sentence tell what that means.
    """
    line = to_line(command, actor)
    path = Path(path)
    t_end_s = time.monotonic() + timeout_s
    try:
        connection = _connect(path, t_end_s)
    except OSError as error:
        raise _not_reached(path, error) from error
    with connection:
        try:
            return _reply(_exchange(connection, line, t_end_s), path)
        except TimeoutError as error:
            why = f"no answer within {timeout_s:g} s"
            raise CoreNotReached(path, Reach.NO_ANSWER, why, f"{_LAPSED} {_UNKNOWN}") from error
        except OSError as error:
            raise CoreNotReached(path, Reach.CUT_OFF, _words(error), _UNKNOWN) from error


class LiveClient:
    """Follows `live.sock`, connects again by itself. For one thread.

    Args:
        path: of `live.sock`.

    `problem` holds one sentence on why nothing comes, and is empty while snapshots come. `reconnects` counts
    connections made, `refused_lines` lines that were no snapshot of our version.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self.problem = "Not connected yet."
        self.reconnects = self.refused_lines = 0
        self._connection: socket.socket | None = None
        self._pending = bytearray()
        self._told_why = False
        self._backoff_s = BACKOFF_FIRST_S
        self._t_again_s = 0.0

    def __enter__(self) -> "LiveClient":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection; a later call of `latest` opens it again."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None
        self._pending.clear()

    def latest(self, timeout_s: float) -> Received | None:
        """Give the newest snapshot that has not been given yet.

        Args:
            timeout_s: how long to wait for one, s; 0 takes only what has come.
        Returns:
            The snapshot and the time it was made (`t_mono_s` in it; where it bears none, the time it was read), host
            monotonic clock, s. None where none came: the same snapshot is never given twice.
        """
        t_end_s = time.monotonic() + timeout_s
        while True:
            left_s = max(0.0, t_end_s - time.monotonic())
            received = self._read(left_s) if self._connected(left_s) else None
            if received is not None or time.monotonic() >= t_end_s:
                return received

    def follow(self, silence_s: float = 1.0) -> Iterator[Received | None]:
        """Give every newest snapshot as it comes, for ever, and None after each `silence_s` without one."""
        while True:
            yield self.latest(silence_s)

    def _connected(self, left_s: float) -> bool:
        """Connect where that is due; wait for it at most `left_s`."""
        if self._connection is not None:
            return True
        wait_s = self._t_again_s - time.monotonic()
        if wait_s > left_s:
            time.sleep(left_s)
            return False
        time.sleep(max(0.0, wait_s))
        self._told_why = False
        try:
            self._connection = _connect(self.path, time.monotonic())
        except OSError as error:
            self._lost(f"Core at {self.path}: {_not_reached(self.path, error).why}.")
            return False
        self.reconnects += 1
        self.problem = f"Core at {self.path}: connected, no snapshot has come yet."
        return True

    def _read(self, left_s: float) -> Received | None:
        """Take all that has come and give the newest complete snapshot in it."""
        connection = self._connection
        if connection is None:
            return None
        try:
            newest, ended = self._drain(connection, left_s)
        except OSError as error:
            self._lost(f"Core at {self.path}: {_words(error)}.")
            return None
        received = self._parsed(newest) if newest else None
        if ended:
            self._lost(f"Core at {self.path}: the connection has ended.")
        return received

    def _drain(self, connection: socket.socket, left_s: float) -> tuple[bytes, bool]:
        """Give the last complete line of all that comes within `left_s` and then at once, and whether it is the end."""
        newest = b""
        connection.settimeout(left_s)
        while True:
            try:
                came = connection.recv(_READ_BYTES)
            except (BlockingIOError, TimeoutError):
                return newest, False
            newest = self._take(came) or newest
            if not came or len(self._pending) > SNAPSHOT_MAX_BYTES:
                return newest, True
            connection.settimeout(0.0)

    def _take(self, came: bytes) -> bytes:
        """Add bytes and give the last complete line, or nothing."""
        self._pending += came
        end = self._pending.rfind(b"\n")
        if end < 0:
            return b""
        line = bytes(self._pending[self._pending.rfind(b"\n", 0, end) + 1 : end])
        del self._pending[: end + 1]
        return line

    def _parsed(self, line: bytes) -> Received | None:
        now_s = time.monotonic()
        try:
            snapshot = json.loads(line)
        except (ValueError, RecursionError):
            snapshot = None
        if not isinstance(snapshot, dict) or "seq" not in snapshot or snapshot.get("v") != SNAPSHOT_VERSION:
            self.refused_lines += 1
            self.problem = self._why_refused(line)
            self._told_why = True
            return None
        self._told_why = False
        self._backoff_s = BACKOFF_FIRST_S
        self.problem = ""
        made = snapshot.get("t_mono_s")
        return snapshot, min(now_s, made) if isinstance(made, int | float) else now_s

    def _why_refused(self, line: bytes) -> str:
        reply = reply_from_line(line)
        if isinstance(reply, Reply):
            return f"Core at {self.path}: {reply.says}"
        return f"Core at {self.path}: a line that is no snapshot of version {SNAPSHOT_VERSION}."

    def _lost(self, problem: str) -> None:
        self.close()
        if not self._told_why:  # a core that hangs up has said why in its last line
            self.problem = problem
        self._t_again_s = time.monotonic() + self._backoff_s
        self._backoff_s = min(BACKOFF_MAX_S, 2.0 * self._backoff_s)


_LAPSED = "A core that stands still renews no lease, so the motor permit has lapsed."
_UNKNOWN = "Whether the command was carried out is not known: look at the rig, and at the record before you send again."


def _connect(path: Path, t_end_s: float) -> socket.socket:
    """Connect, and try again until `t_end_s` where the core is there but too busy to take the call."""
    connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        while True:
            connection.setblocking(False)
            try:
                connection.connect(os.fspath(path))
            except BlockingIOError:
                if time.monotonic() >= t_end_s:
                    raise TimeoutError("the core takes no connection") from None
                time.sleep(_AGAIN_S)
                continue
            return connection
    except OSError:
        connection.close()
        raise


def _exchange(connection: socket.socket, line: bytes, t_end_s: float) -> bytes:
    """Send a line and give the line that comes back; less than a line where the core hangs up."""
    connection.settimeout(_left_s(t_end_s))
    with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # turned away: the reply that says why is there
        connection.sendall(line)
    came = b""
    while not came.endswith(b"\n") and len(came) <= LINE_MAX_BYTES:
        connection.settimeout(_left_s(t_end_s))
        try:
            more = connection.recv(_READ_BYTES)
        except ConnectionResetError:
            more = b""
        if not more:
            break
        came += more
    return came


def _left_s(t_end_s: float) -> float:
    left_s = t_end_s - time.monotonic()
    if left_s <= 0.0:
        raise TimeoutError("time is up")
    return left_s


def _reply(line: bytes, path: Path) -> Reply:
    if not line.endswith(b"\n"):
        raise CoreNotReached(path, Reach.CUT_OFF, "the connection ended before the reply came", _UNKNOWN)
    reply = reply_from_line(line)
    if isinstance(reply, Refusal):
        raise CoreNotReached(path, Reach.CUT_OFF, f"the reply cannot be read ({reply.why})", _UNKNOWN)
    return reply


def _not_reached(path: Path, error: OSError) -> CoreNotReached:
    """Give the error of a connection that could not be made: nothing has been sent."""
    if isinstance(error, TimeoutError):
        do = f"Nothing has been sent. {_LAPSED} Look at the rig."
        return CoreNotReached(path, Reach.NO_ANSWER, _words(error), do)
    if error.errno in (errno.EACCES, errno.EPERM):
        do = "Nothing has been sent. Ask to be added to the operators' group."
        return CoreNotReached(path, Reach.NO_PERMISSION, "this user may not use the socket", do)
    absent = error.errno in (errno.ENOENT, errno.ECONNREFUSED, errno.ENOTSOCK)
    do = "Nothing has been sent. Start the core, or name the data folder it was started with."
    return CoreNotReached(path, Reach.NO_CORE, "no core answers" if absent else _words(error), do)


def _words(error: OSError) -> str:
    return error.strerror or str(error) or type(error).__name__
