"""The panel of the simulated rig: what a hand does at a real one, as JSON lines on a Unix socket.

Reads one request a line, gives one answer a line. `Panel` serves without ever waiting; `PanelClient` asks.
"""

import contextlib
import json
import socket
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scuffwatch.sim.scenario import Truth

LINE_MAX_BYTES = 64 * 1024
CLIENTS_MAX = 16
ASK_TIMEOUT_S = 5.0
Json = dict[str, Any]


class Panel:
    """The serving end.

    Args:
        path: socket file; an old one is removed.
        act: does what a request says and gives the answer.
    """

    def __init__(self, path: Path, act: Callable[[Json], Json]) -> None:
        self._path, self._act = path, act
        path.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.setblocking(False)
        self._listener.bind(str(path))
        self._listener.listen(CLIENTS_MAX)
        self._clients: dict[socket.socket, bytearray] = {}

    def waiting_on(self) -> list[socket.socket]:
        """Give the sockets to wait on."""
        return [self._listener, *self._clients]

    def serve(self, ready: Sequence[object]) -> None:
        """Answer what has come on the sockets that are ready."""
        for client in list(self._clients):
            if client in ready:
                self._read(client)
        if self._listener in ready:
            with contextlib.suppress(BlockingIOError):
                client, _ = self._listener.accept()
                client.setblocking(False)
                self._clients[client] = bytearray()
                if len(self._clients) > CLIENTS_MAX:
                    self._drop(next(iter(self._clients)))

    def close(self) -> None:
        """Let everybody go and remove the socket file."""
        for client in list(self._clients):
            self._drop(client)
        self._listener.close()
        self._path.unlink(missing_ok=True)

    def _read(self, client: socket.socket) -> None:
        pending = self._clients[client]
        try:
            data = client.recv(LINE_MAX_BYTES)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        pending += data
        if not data or len(pending) > LINE_MAX_BYTES:
            self._drop(client)
            return
        while (end := pending.find(b"\n")) >= 0:
            line = bytes(pending[:end])
            del pending[: end + 1]
            self._answer(client, line)

    def _answer(self, client: socket.socket, line: bytes) -> None:
        try:
            request = json.loads(line)
            answer = self._act(request) if isinstance(request, dict) else {"ok": False, "says": "no JSON object"}
        except (ValueError, KeyError, TypeError) as error:
            answer = {"ok": False, "says": f"not understood: {error}"}
        try:
            client.sendall(json.dumps(answer).encode() + b"\n")
        except OSError:
            self._drop(client)

    def _drop(self, client: socket.socket) -> None:
        if self._clients.pop(client, None) is not None:
            client.close()


class PanelClient:
    """The asking end; one connection a request.

    Args:
        path: socket file of the panel.
    """

    def __init__(self, path: Path) -> None:
        self._path = path

    def ask(self, **request: object) -> Json:
        """Do one thing, for instance `ask(do="press_reset", hold_s=0.5)`.

        Raises:
            OSError: the panel cannot be reached.
            ValueError: it refused; the message says why.
        """
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(ASK_TIMEOUT_S)
            connection.connect(str(self._path))
            connection.sendall(json.dumps(request).encode() + b"\n")
            with connection.makefile("rb") as stream:
                answer = json.loads(stream.readline(LINE_MAX_BYTES))
        if not isinstance(answer, dict) or not answer.get("ok"):
            raise ValueError(f"the simulated rig refused {request}: {answer}")
        return answer

    def status(self) -> Json:
        """Give how the simulated rig stands."""
        return self.ask(do="status")

    def truth(self) -> "Truth":
        """Give the truth about the scenario it plays, from a twin run in this process; about a second."""
        from scuffwatch.sim.scenario import SCENARIOS
        from scuffwatch.sim.twin import run

        status = self.status()
        return run(SCENARIOS[status["scenario"]], status["seed"], status["rate_hz"])
