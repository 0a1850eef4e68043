"""Wakes the control thread from another thread without waiting.

Reads nothing, gives a descriptor that a selector can watch.
"""

import contextlib
import os


class Waker:
    """A counter in the kernel (eventfd(2)): ringing it any number of times costs one wake."""

    def __init__(self) -> None:
        self.fd = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._shut = False

    def wake(self) -> None:
        """Ring. Never blocks, never raises; after `close` it does nothing."""
        if not self._shut:
            with contextlib.suppress(OSError):
                os.eventfd_write(self.fd, 1)

    def clear(self) -> None:
        """Take note of all rings so far."""
        with contextlib.suppress(BlockingIOError):
            os.eventfd_read(self.fd)

    def close(self) -> None:
        """Give the descriptor back. Call from the thread that rings, or after it has ended."""
        if not self._shut:
            self._shut = True
            os.close(self.fd)
