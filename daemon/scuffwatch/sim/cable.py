"""The cable of the simulated rig: a pseudo-terminal behind a link with a lasting name.

Gives bytes both ways without ever waiting. What the host does not take is dropped and counted, as a USB port does.
"""

import contextlib
import fcntl
import os
import pty
import struct
import termios
import tty
from pathlib import Path

UNREAD_BYTES = 512
"""A few blocks. The pty itself would hold 64 KiB, which the lease is much too short for."""
_COUNT = struct.Struct("i")


class Cable:
    """One pty and the link that names it.

    Args:
        link: path of the link, as a by-id name.
    """

    def __init__(self, link: Path) -> None:
        self._link = link
        self._master = self._slave = -1
        self._rest = b""
        self.frames_dropped = 0
        self.plug()

    @property
    def plugged(self) -> bool:
        """Say whether the cable is in."""
        return self._master >= 0

    def fileno(self) -> int:
        """Give the descriptor to wait on; -1 while pulled."""
        return self._master

    def plug(self) -> None:
        """Put the cable in: another pty under the same name."""
        if self.plugged:
            return
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self._link.unlink(missing_ok=True)
        self._link.symlink_to(os.ttyname(self._slave))

    def pull(self) -> None:
        """Pull the cable: the name goes and the host's descriptor ends."""
        if self.plugged:
            self._link.unlink(missing_ok=True)
            os.close(self._slave)
            os.close(self._master)
            self._master = self._slave = -1
            self._rest = b""

    @property
    def taken(self) -> bool:
        """Say whether the host has taken all but `UNREAD_BYTES`; a pulled cable keeps nobody waiting."""
        if not self.plugged:
            return True
        (unread,) = _COUNT.unpack(fcntl.ioctl(self._slave, termios.FIONREAD, bytes(_COUNT.size)))
        return self._flush() and unread <= UNREAD_BYTES

    def write(self, frame: bytes) -> bool:
        """Send one frame; False where it was dropped because an earlier one is still not taken."""
        if not self.plugged or not self._flush():
            self.frames_dropped += 1
            return False
        self._rest = frame
        self._flush()
        return True

    def read(self) -> bytes:
        """Give what the host has sent."""
        if not self.plugged:
            return b""
        with contextlib.suppress(BlockingIOError, OSError):
            return os.read(self._master, 65536)
        return b""

    def _flush(self) -> bool:
        if self._rest:
            with contextlib.suppress(BlockingIOError, OSError):
                self._rest = self._rest[os.write(self._master, self._rest) :]
        return not self._rest
