"""A viewer that is no browser: a thread that reads the live stream."""

import http.client
import socket
import threading
from contextlib import suppress
from urllib.parse import urlsplit


class Viewer:
    """Reads the live stream as fast as it comes, and counts it."""

    bytes_read = 0

    def __init__(self, url: str) -> None:
        address = urlsplit(url)
        assert address.hostname
        self._connection = http.client.HTTPConnection(address.hostname, address.port, timeout=60.0)
        self._connection.request("GET", "/live")
        self._socket = self._connection.sock
        self._thread = threading.Thread(target=self._read, args=(self._connection.getresponse(),))
        self._thread.start()

    def _read(self, answer: http.client.HTTPResponse) -> None:
        with suppress(OSError, http.client.HTTPException):
            while got := answer.read1(65536):
                self.bytes_read += len(got)

    def close(self) -> None:
        self._socket.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        self._connection.close()
