"""Commands on their way from the control thread to the core's loop, with who sent them.

The control thread offers tickets, the loop takes one a slice and answers it. No lock: one thread offers, one takes, and
every step is a single operation on a deque. Bounded; a stop request has a place of its own and is never lost.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from scuffwatch.control.commands import Command, StopRequest
from scuffwatch.control.messages import Reply

INBOX_MAX = 32


@dataclass(frozen=True, slots=True)
class Peer:
    """The process at the other end of a socket, as the kernel names it at connect time.

    Attributes:
        uid, gid, pid: of the process; no word of its own is believed for these.
    """

    uid: int
    gid: int
    pid: int

    @property
    def user(self) -> str:
        """Give the user's name, or `uid N` where the system knows none.

        Asks the system's user database, which may wait for a server: not for the core's loop.
        """
        import pwd  # the loop never needs it

        try:
            return pwd.getpwuid(self.uid).pw_name
        except KeyError:
            return f"uid {self.uid}"

    @property
    def says(self) -> str:
        """Give the credentials for a log, without asking anybody."""
        return f"uid {self.uid}, gid {self.gid}, pid {self.pid}"


class Ticket:
    """One command that waits for the loop's answer.

    Args:
        command: what is asked.
        peer: who asks.
        t_mono_s: when its line was complete, host monotonic clock, s.
        deliver: takes the answer, from the loop's thread; must neither block nor raise.
    """

    __slots__ = ("_claim", "_deliver", "command", "peer", "reply", "t_mono_s")

    def __init__(
        self, command: Command, peer: Peer, t_mono_s: float, deliver: "Callable[[Ticket, Reply], None]"
    ) -> None:
        self.command, self.peer, self.t_mono_s = command, peer, t_mono_s
        self.reply: Reply | None = None
        self._deliver = deliver
        self._claim: deque[None] = deque((None,))

    def claim(self) -> bool:
        """Take the right to carry the command out, or to withdraw it; only the first caller gets it."""
        try:
            self._claim.pop()
        except IndexError:
            return False
        return True

    def answer(self, reply: Reply) -> None:
        """Send the answer. Never blocks; an answer that comes too late or a second time is dropped."""
        self._deliver(self, reply)


class Offer(Enum):
    """What became of a ticket that was offered."""

    QUEUED = "queued"
    FULL = "full"
    JOINED = "joined"
    """A stop request is waiting already: this one is answered with it."""


class Inbox:
    """Holds what the loop has not taken yet.

    Args:
        most: commands at most, the stop request not counted.
    """

    def __init__(self, most: int = INBOX_MAX) -> None:
        self.most = most
        self._queue: deque[Ticket] = deque()
        self._stop: Ticket | None = None

    def __len__(self) -> int:
        return len(self._queue) + (self._stop is not None)

    def offer(self, ticket: Ticket) -> Offer:
        """Add a ticket, from the control thread only. Never blocks."""
        if isinstance(ticket.command, StopRequest):
            if self._stop is not None:
                return Offer.JOINED
            self._stop = ticket
            return Offer.QUEUED
        if len(self._queue) >= self.most:
            return Offer.FULL
        self._queue.append(ticket)
        return Offer.QUEUED

    def take(self) -> Ticket | None:
        """Give the next ticket, from the loop only: a stop request first, then in order; None where none waits.

        A ticket that was withdrawn while it waited is passed over. A stop request never is: late is better than lost.
        """
        stop = self._stop
        if stop is not None:
            self._stop = None
            stop.claim()
            return stop
        while self._queue:
            ticket = self._queue.popleft()
            if ticket.claim():
                return ticket
        return None
