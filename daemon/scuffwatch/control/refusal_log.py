"""Refused command lines in the log: the first few in full, the rest as a number.

Reads sentences, writes to the log. Driven by `command_desk` in the control thread.
"""

import logging

from scuffwatch.control.inbox import Peer
from scuffwatch.control.rules import in_one_line

PERIOD_S = 60.0
IN_FULL = 10
"""Refusals of one period that are written out; a script gone wild must not fill the disk through the log."""


class RefusalLog:
    """Writes refusals.

    Args:
        log: where to.
        now_s: host monotonic clock, s.
    """

    def __init__(self, log: logging.Logger, now_s: float) -> None:
        self._log = log
        self._t_period_s = now_s
        self._count = 0

    def refused(self, peer: Peer, says: str) -> None:
        """Note one refusal."""
        self._count += 1
        if self._count <= IN_FULL:
            self._log.warning("command line from %s: %s", peer.says, in_one_line(says))

    def sweep(self, now_s: float) -> None:
        """Write the number of those not written out, once a period."""
        if now_s - self._t_period_s < PERIOD_S:
            return
        if self._count > IN_FULL:
            self._log.warning("%d more command lines refused in %.0f s", self._count - IN_FULL, PERIOD_S)
        self._t_period_s, self._count = now_s, 0
