"""One connected reader, one connected sender of commands: their buffers, each with a bound.

Reads and writes non-blocking sockets, knows no selector and no clock. Driven by `endpoint` in the control thread.
"""

import socket
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from scuffwatch.control.inbox import Peer, Ticket
from scuffwatch.control.messages import LINE_MAX_BYTES, Reply, reply_to_line

READ_BYTES = 16 * 1024
OUT_MAX_BYTES = 256 * 1024
"""Replies a sender may leave unread before it is cut off."""
WAITING_MAX = 32
"""Commands of one sender that may wait for answers; further lines stay unread until one is answered."""
LINES_PER_ALLOWANCE = 50
"""Lines of one sender served each `allowance_s`; a flood must not take the loop its processor time."""
LIVE_BUFFER_BYTES = 32 * 1024
"""Asked of the kernel for each reader: a reader that pauses finds a few old snapshots, not seconds of them."""


class LiveReader:
    """A reader of snapshots: one line under way, at most one behind it.

    Args:
        connection: non-blocking.
        now_s: host monotonic clock, s.
    """

    __slots__ = ("_next", "_rest", "connection", "t_progress_s")

    def __init__(self, connection: socket.socket, now_s: float) -> None:
        self.connection = connection
        self.t_progress_s = now_s
        self._rest: memoryview = memoryview(b"")
        self._next = b""
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, LIVE_BUFFER_BYTES)

    @property
    def behind(self) -> bool:
        """Give whether bytes wait for room in the socket."""
        return bool(self._rest or self._next)

    def offer(self, line: bytes) -> int:
        """Put a snapshot behind the line under way; give the number it takes the place of, 0 or 1."""
        dropped = bool(self._next)
        self._next = line
        return int(dropped)

    def flush(self, now_s: float) -> int:
        """Write what the socket takes now; give the number of snapshots completed.

        Raises:
            OSError: the reader is gone.
        """
        completed = 0
        while self.behind:
            if not self._rest:
                self._rest, self._next = memoryview(self._next), b""
            try:
                taken = self.connection.send(self._rest)
            except BlockingIOError:
                self._put_back()
                return completed
            self.t_progress_s = now_s
            self._rest = self._rest[taken:]
            completed += not self._rest
        self.t_progress_s = now_s
        return completed

    def _put_back(self) -> None:
        """Let a line of which nothing has been sent be replaced by a newer one."""
        whole = self._rest.obj
        if isinstance(whole, bytes) and len(self._rest) == len(whole) and not self._next:
            self._rest, self._next = memoryview(b""), whole


@dataclass(frozen=True, slots=True)
class Settled:
    """A reply that no ticket stands for; it keeps its place among those that wait."""

    reply: Reply


class CommandSender:
    """A sender of commands: lines in, replies out in the order of the lines.

    Args:
        connection: non-blocking.
        peer: who it is.
        now_s: host monotonic clock, s.

    `ended`: it has shut its side down, answers are still owed. `closing`: no further line is read, the connection
    closes when the replies are out. `lines_left`: what it may still ask in this second.
    """

    __slots__ = (
        "_in",
        "_out",
        "_searched",
        "closing",
        "connection",
        "ended",
        "lines_left",
        "peer",
        "t_last_s",
        "waiting",
    )

    def __init__(self, connection: socket.socket, peer: Peer, now_s: float) -> None:
        self.connection, self.peer, self.t_last_s = connection, peer, now_s
        self.waiting: deque[Ticket | Settled] = deque()
        self.lines_left = LINES_PER_ALLOWANCE
        self.ended = self.closing = False
        self._in = bytearray()
        self._out = bytearray()
        self._searched = 0

    @property
    def may_read(self) -> bool:
        """Give whether more bytes are welcome now."""
        return not self.ended and not self.closing and self._has_room and len(self._in) <= LINE_MAX_BYTES

    @property
    def _has_room(self) -> bool:
        return self.lines_left > 0 and len(self.waiting) < WAITING_MAX

    @property
    def unsent(self) -> bool:
        """Give whether replies wait for room in the socket."""
        return bool(self._out)

    @property
    def done(self) -> bool:
        """Give whether nothing more will be read and nothing is owed."""
        over = self.closing or (self.ended and b"\n" not in self._in)
        return over and not self.waiting and not self._out

    def receive(self) -> None:
        """Take the bytes that have come.

        Raises:
            OSError: the sender is gone.
        """
        try:
            came = self.connection.recv(READ_BYTES)
        except BlockingIOError:
            return
        self._in += came
        self.ended = not came

    def lines(self) -> Iterator[bytes]:
        """Give complete lines, oldest first, as far as this sender may be served now.

        A line that has grown past `LINE_MAX_BYTES` is given as it is, cut there, for `from_line` to refuse. Half a
        line at the end of the connection is never given: a command counts only with its line end.
        """
        while self._has_room and not self.closing:
            end = self._in.find(b"\n", self._searched)
            if end < 0:
                self._searched = len(self._in)
                if len(self._in) <= LINE_MAX_BYTES:
                    return
                end = LINE_MAX_BYTES
            line = bytes(self._in[: end + 1])
            del self._in[: end + 1]
            self._searched = 0
            self.lines_left -= 1
            yield line

    def pump(self) -> None:
        """Move the answers at the head of the queue to the output."""
        while self.waiting and self.waiting[0].reply is not None:
            answered = self.waiting.popleft().reply
            if answered is not None:
                self._out += reply_to_line(answered)

    def flush(self) -> None:
        """Write what the socket takes now.

        Raises:
            OSError: the sender is gone, or leaves too many replies unread.
        """
        while self._out:
            try:
                taken = self.connection.send(self._out)
            except BlockingIOError:
                break
            del self._out[:taken]
        if len(self._out) > OUT_MAX_BYTES:
            raise ConnectionAbortedError(f"{len(self._out)} bytes of replies unread, limit {OUT_MAX_BYTES}")
