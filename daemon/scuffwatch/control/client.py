"""The other end of both sockets, for pages and command line.

Sends commands, gives replies; `LiveClient` follows the snapshots. Imports no more of Python than it needs, so that a
command starts fast. No command is sent twice: it may have been carried out.
"""

import contextlib
import socket
import time
from pathlib import Path

from scuffwatch.control.live_client import LiveClient, Received
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
from scuffwatch.control.reach import LAPSED, CoreNotReached, Reach, connect, not_reached, words
from scuffwatch.model.errors import CommandRefused

__all__ = [
    "send", "LiveClient", "Received", "CoreNotReached", "Reach", "CommandRefused",
    "COMMAND_KINDS", "CommandKind", "Command", "OpenRun", "CloseRun", "Mark", "Note", "Observe", "Observation",
    "Acknowledge", "StopRequest", "Tare", "Reply", "Refusal", "build", "in_one_line",
]  # fmt: skip

SEND_TIMEOUT_S = 3.0
"""Longer than the 2 s after which the core itself says that its loop did not answer."""
_READ_BYTES = 64 * 1024
_UNKNOWN = "Whether the command was carried out is not known: look at the rig, and at the record before you send again."


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
        connection = connect(path, t_end_s)
    except OSError as error:
        raise not_reached(path, error) from error
    with connection:
        try:
            return _reply(_exchange(connection, line, t_end_s), path)
        except TimeoutError as error:
            why = f"no answer within {timeout_s:g} s"
            raise CoreNotReached(path, Reach.NO_ANSWER, why, f"{LAPSED} {_UNKNOWN}") from error
        except OSError as error:
            raise CoreNotReached(path, Reach.CUT_OFF, words(error), _UNKNOWN) from error


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
