"""The permit on the wire: renewed in one place, withdrawn at once, or left to lapse.

Reads the guard's lease action and the data block it was decided on, gives bytes for the port. Last link of the chain.
"""

from scuffwatch.guard.states import LeaseAction
from scuffwatch.wire.protocol import Lease, encode

DECIDING_GROUP = 0
RENEW_EVERY_S = 0.02
"""Leases are sent no more often than this in host time; a first withdrawal is never held back."""
WITHDRAW_AGAIN_S = 0.005
"""A withdrawal is repeated this often until the rig box says that it has latched."""


class PermitLine:
    """Words the permit as lease frames.

    Args:
        lease_ms: life asked for; the node caps it at its own limit.

    What survives a call: the lease counter, and when the last lease and the last withdrawal were sent.
    """

    def __init__(self, lease_ms: int) -> None:
        self._lease_ms = lease_ms
        self._counter = 0
        self._last_renewed_mono_s = self._withdrawn_mono_s = float("-inf")

    @property
    def counter(self) -> int:
        """Give the counter of the last lease sent."""
        return self._counter

    def continue_from(self, counter: int) -> None:
        """Go on above the counter the node already holds, after a restart of the host."""
        if self._counter == 0:
            self._counter = counter

    def word(self, action: LeaseAction, block_sequence: int, t_mono_s: float, *, latched: bool = False) -> bytes:
        """Give the frame for an action, or nothing where none is due.

        Args:
            action: what the guard decided.
            block_sequence: wire sequence number of the data block decided on.
            t_mono_s: host monotonic clock, s.
            latched: whether the rig box says that it has latched: then a withdrawal is not repeated.
        """
        if action is LeaseAction.WITHDRAW:
            return self._withdrawal(block_sequence, t_mono_s, latched)
        self._withdrawn_mono_s = float("-inf")
        if action is LeaseAction.RENEW:
            if t_mono_s - self._last_renewed_mono_s < RENEW_EVERY_S:
                return b""
            self._last_renewed_mono_s = t_mono_s
            return self._lease(block_sequence, self._lease_ms)
        self._last_renewed_mono_s = float("-inf")
        return b""

    def last_word(self, block_sequence: int) -> bytes:
        """Give a withdrawal whatever was sent before: the host ends."""
        return self._lease(block_sequence, 0)

    def _withdrawal(self, block_sequence: int, t_mono_s: float, latched: bool) -> bytes:
        self._last_renewed_mono_s = float("-inf")
        again = self._withdrawn_mono_s > float("-inf")
        if again and (latched or t_mono_s - self._withdrawn_mono_s < WITHDRAW_AGAIN_S):
            return b""
        self._withdrawn_mono_s = t_mono_s
        return self._lease(block_sequence, 0)

    def _lease(self, block_sequence: int, lease_ms: int) -> bytes:
        self._counter = (self._counter + 1) % (1 << 32)
        return encode(Lease(self._counter, DECIDING_GROUP, block_sequence, lease_ms))
