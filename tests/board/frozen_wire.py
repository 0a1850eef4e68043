"""A TCP relay that can stand still without closing anything: a network that has gone away."""

import selectors
import socket
import threading


class FrozenWire:
    """Relays a port of this machine; while `frozen` is set nothing passes either way and nothing ends."""

    def __init__(self, port: int) -> None:
        self.frozen = False
        self._to = port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listening, selectors.EVENT_READ, None)
        self._open: list[socket.socket] = []
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="frozen wire")

    def __enter__(self) -> "FrozenWire":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self._selector.close()
        for end in (*self._open, self._listening):
            end.close()

    def _run(self) -> None:
        while not self._stop.is_set():
            if self.frozen:
                self._stop.wait(0.02)
                continue
            for key, _ in self._selector.select(0.05):
                if key.data is None:
                    self._accept()
                else:
                    self._pass_on(key.fileobj, key.data)

    def _accept(self) -> None:
        near, _ = self._listening.accept()
        far = socket.create_connection(("127.0.0.1", self._to))
        self._open += [near, far]
        self._selector.register(near, selectors.EVENT_READ, far)
        self._selector.register(far, selectors.EVENT_READ, near)

    def _pass_on(self, source: socket.socket, sink: socket.socket) -> None:
        try:
            piece = source.recv(65536)
            sink.sendall(piece)
        except OSError:
            piece = b""
        if not piece:
            for end in (source, sink):
                if end.fileno() >= 0:  # both ends may have ended in one round: then the first has closed both
                    self._selector.unregister(end)
                    end.close()
