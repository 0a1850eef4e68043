"""The permit on the wire: renewed in one place, withdrawn at once, or left to lapse.

Reads the guard's lease action and the data block it was decided on, gives bytes for the port. Last link of the chain.
"""

from scuffwatch.guard.states import LeaseAction
from scuffwatch.wire.protocol import Lease, encode

DECIDING_GROUP = 0
RENEW_EVERY_S = 0.02
"""Leases are sent no more often than this in host time; a withdrawal is never held back."""


class PermitLine:
    """Words the permit as lease frames.

    Args:
        lease_ms: life asked for; the node caps it at its own limit.

    What survives a call: the lease counter and when the last lease was sent.
    """

    def __init__(self, lease_ms: int) -> None:
        self._lease_ms = lease_ms
        self._counter = 0
        self._last_renewed_mono_s = float("-inf")

    @property
    def counter(self) -> int:
        """Give the counter of the last lease sent."""
        return self._counter

    def continue_from(self, counter: int) -> None:
        """Go on above the counter the node already holds, after a restart of the host."""
        if self._counter == 0:
            self._counter = counter

    def word(self, action: LeaseAction, block_sequence: int, t_mono_s: float) -> bytes:
        """Give the frame for an action, or nothing where none is due.

        Args:
            action: what the guard decided.
            block_sequence: wire sequence number of the data block decided on.
            t_mono_s: host monotonic clock, s.
        """
        if action is LeaseAction.RENEW:
            if t_mono_s - self._last_renewed_mono_s < RENEW_EVERY_S:
                return b""
            self._last_renewed_mono_s = t_mono_s
            return self._lease(block_sequence, self._lease_ms)
        self._last_renewed_mono_s = float("-inf")
        return self._lease(block_sequence, 0) if action is LeaseAction.WITHDRAW else b""

    def _lease(self, block_sequence: int, lease_ms: int) -> bytes:
        self._counter = (self._counter + 1) % (1 << 32)
        return encode(Lease(self._counter, DECIDING_GROUP, block_sequence, lease_ms))
