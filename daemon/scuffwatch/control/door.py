"""The listening end of one socket: lets connections in, so many a second.

Reads the listening socket, gives connections. Driven by `endpoint` in the control thread.
"""

import selectors
import socket
from collections.abc import Callable

from scuffwatch.control.messages import Reply, reply_to_line
from scuffwatch.control.sockets import Claim

ACCEPTS_PER_ALLOWANCE = 100
"""New connections each `allowance_s`; a caller in a circle must not take the loop its processor time."""


class Door:
    """Accepts connections and hands them over, non-blocking.

    Args:
        selector: of the control thread.
        claim: listening socket and its file.
        greet: takes a new connection.
    """

    def __init__(self, selector: selectors.BaseSelector, claim: Claim, greet: Callable[[socket.socket], None]) -> None:
        self._selector, self._claim, self._greet = selector, claim, greet
        self._left = ACCEPTS_PER_ALLOWANCE
        self._listening = False
        self._listen(True)

    def refill(self) -> None:
        """Allow another second's worth of connections."""
        self._left = ACCEPTS_PER_ALLOWANCE
        self._listen(True)

    def close(self) -> None:
        """Close the socket and remove its file."""
        self._listen(False)
        self._claim.release()

    def _ready(self, mask: int) -> None:
        while self._left > 0:
            try:
                connection, _ = self._claim.listener.accept()
            except BlockingIOError:
                return
            except OSError:
                break  # no descriptor or memory left: asking again at once would only burn time
            self._left -= 1
            connection.setblocking(False)
            try:
                self._greet(connection)
            except OSError:
                connection.close()  # gone already, or no room left in the kernel
        self._listen(False)

    def _listen(self, wanted: bool) -> None:
        if wanted and not self._listening:
            self._selector.register(self._claim.listener, selectors.EVENT_READ, self._ready)
        if self._listening and not wanted:
            self._selector.unregister(self._claim.listener)
        self._listening = wanted


def turn_away(connection: socket.socket, says: str) -> None:
    """Send one sentence as far as the socket takes it, and close."""
    with connection:
        try:
            connection.send(reply_to_line(Reply(False, says)))
        except OSError:
            return  # gone already: nobody is left to tell
