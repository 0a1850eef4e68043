"""The serial port of the rig box: bytes in with a deadline, bytes out without waiting.

Reads a device path, gives bytes; `b''` is silence. First link of the chain.
"""

import errno
import os
import select

import serial

from scuffwatch.model.errors import RigNotConnected


class PortClosed(Exception):
    """The device has gone: unplugged, or closed at the other end."""


class SerialPort:
    """One exclusively opened serial port.

    Args:
        path: device path, a by-id path where there is one.
        baud_hz: bit rate.
    Raises:
        RigNotConnected: it is not there, not allowed, or another program holds it.
    """

    def __init__(self, path: str, baud_hz: int) -> None:
        self.path = path
        try:
            self._serial = serial.Serial(path, baud_hz, timeout=0, write_timeout=0, exclusive=True)
        except serial.SerialException as error:
            raise _not_connected(path, error) from error
        self._fd: int = self._serial.fileno()
        self.unsent_bytes = 0
        self._serial.reset_input_buffer()

    def fileno(self) -> int:
        """Give the descriptor, to wait on together with others."""
        return self._fd

    def read(self, timeout_s: float) -> bytes:
        """Give what has come, waiting at most `timeout_s`; `b''` is silence.

        Raises:
            PortClosed: the device has gone.
        """
        try:
            ready, _, _ = select.select([self._fd], [], [], timeout_s)
            if not ready:
                return b""
            data = os.read(self._fd, 65536)
        except OSError as error:
            raise PortClosed(str(error)) from error
        if not data:
            raise PortClosed("end of file")
        return data

    def write(self, data: bytes) -> None:
        """Send without waiting; what the device does not take is counted and dropped, the lease then lapses.

        Raises:
            PortClosed: the device has gone.
        """
        try:
            sent = os.write(self._fd, data)
        except BlockingIOError:
            sent = 0
        except OSError as error:
            raise PortClosed(str(error)) from error
        self.unsent_bytes += len(data) - sent

    def close(self) -> None:
        """Give the device back."""
        self._serial.close()


def _not_connected(path: str, error: serial.SerialException) -> RigNotConnected:
    number = getattr(error, "errno", None)
    if number == errno.ENOENT:
        return RigNotConnected(path, "no such device", "Check the cable between computer and rig box.")
    if number == errno.EACCES:
        return RigNotConnected(path, "no permission", "Add the user of the core to the group dialout.")
    if number in (errno.EAGAIN, errno.EBUSY) or "exclusively lock" in str(error):
        return RigNotConnected(path, "held by another program", "Stop the other program; two cannot share a rig box.")
    if number in (errno.EISDIR, errno.ENOTDIR, errno.ENOTTY) or f"({errno.ENOTTY}," in str(error):
        return RigNotConnected(path, "no serial port", "Name the rig box's device: [link] port in the rig file.")
    return RigNotConnected(path, f"cannot be opened ({error})", "Check the cable between computer and rig box.")
