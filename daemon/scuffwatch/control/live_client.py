"""Following the live snapshots, for pages and command line.

Reads `live.sock`, gives the newest snapshot, connects again by itself. No thread.
"""

import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from scuffwatch.control.messages import Reply, reply_from_line
from scuffwatch.control.reach import connect, not_reached, words
from scuffwatch.control.snapshot import SNAPSHOT_MAX_BYTES, SNAPSHOT_VERSION

BACKOFF_FIRST_S = 0.1
BACKOFF_MAX_S = 2.0
_READ_BYTES = 64 * 1024

Received = tuple[dict[str, Any], float]
"""A snapshot, and when it was made, host monotonic clock, s."""


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
            self._connection = connect(self.path, time.monotonic())
        except OSError as error:
            self._lost(f"Core at {self.path}: {not_reached(self.path, error).why}.")
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
            self._lost(f"Core at {self.path}: {words(error)}.")
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
