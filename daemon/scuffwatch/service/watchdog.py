"""Tells the service manager that the loop lives, after the sd_notify protocol (systemd, man page sd_notify(3)).

Reads the address of the manager's datagram socket, gives nothing back. Without a manager it does nothing.
"""

import socket


class Watchdog:
    """Datagrams to the service manager, at most one in `every_s` for life signs.

    Args:
        address: value of NOTIFY_SOCKET; empty for none.
        every_s: least time between two life signs, s.
    """

    def __init__(self, address: str, every_s: float = 0.5) -> None:
        self._every_s = every_s
        self._last_mono_s = float("-inf")
        self._socket: socket.socket | None = None
        if address:
            self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
            self._address = "\0" + address[1:] if address.startswith("@") else address

    def ready(self, says: str) -> None:
        """Say that the core runs, and in which state."""
        self._send(f"READY=1\nSTATUS={says}")

    def alive(self, t_mono_s: float) -> None:
        """Give a life sign. Called by the loop and by nothing else, so a frozen loop is found out."""
        if t_mono_s - self._last_mono_s >= self._every_s:
            self._last_mono_s = t_mono_s
            self._send("WATCHDOG=1")

    def stopping(self) -> None:
        """Say that the core goes."""
        self._send("STOPPING=1")

    def close(self) -> None:
        """Give the socket back."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send(self, text: str) -> None:
        if self._socket is None:
            return
        try:
            self._socket.sendto(text.encode("ascii", "replace"), self._address)
        except OSError:
            self._last_mono_s = float("-inf")  # the manager is busy or gone: try again at the next life sign
