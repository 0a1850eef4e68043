"""Reaching the core's sockets from outside: connecting, and why it did not work.

Reads a path, gives a connection or an error that says what it means. Used by `client` and `live_client`.
"""

import errno
import os
import socket
import time
from enum import Enum
from pathlib import Path

from scuffwatch.model.errors import OperatorError

LAPSED = "A core that stands still renews no lease, so the motor permit has lapsed."
_AGAIN_S = 0.02


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


def connect(path: Path, t_end_s: float) -> socket.socket:
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


def not_reached(path: Path, error: OSError) -> CoreNotReached:
    """Give the error of a connection that could not be made: nothing has been sent."""
    if isinstance(error, TimeoutError):
        do = f"Nothing has been sent. {LAPSED} Look at the rig."
        return CoreNotReached(path, Reach.NO_ANSWER, words(error), do)
    if error.errno in (errno.EACCES, errno.EPERM):
        do = "Nothing has been sent. Ask to be added to the operators' group."
        return CoreNotReached(path, Reach.NO_PERMISSION, "this user may not use the socket", do)
    absent = error.errno in (errno.ENOENT, errno.ECONNREFUSED, errno.ENOTSOCK)
    do = "Nothing has been sent. Start the core, or name the data folder it was started with."
    return CoreNotReached(path, Reach.NO_CORE, "no core answers" if absent else words(error), do)


def words(error: OSError) -> str:
    return error.strerror or str(error) or type(error).__name__
