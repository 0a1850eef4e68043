"""Real servers on loopback for the uplink's tests, and a proxy that fails in every way a network can.

Debian's victoria-metrics and mosquitto, started as child processes on free ports with folders of their own.
"""

import gzip
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import paho.mqtt.client

START_S = 20.0
VALUES = '{__name__=~"scuffwatch_.+"}'


def free_port() -> int:
    """Give a port of loopback nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(what: str, done: Callable[[], bool], timeout_s: float = START_S) -> None:
    """Wait until something is so, and fail where it does not come."""
    end_s = time.monotonic() + timeout_s
    while not done():
        assert time.monotonic() < end_s, f"{what} did not come within {timeout_s:g} s"
        time.sleep(0.01)


def listens(port: int) -> bool:
    """Say whether somebody listens on a port of loopback."""
    try:
        socket.create_connection(("127.0.0.1", port), timeout=0.5).close()
    except OSError:
        return False
    return True


class Server:
    """A child process that listens on a port."""

    def __init__(self, folder: Path, words: list[str], port: int) -> None:
        self.folder, self.port = folder, port
        self._words = words
        self._child: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it listens."""
        with (self.folder / "server.log").open("ab") as log:
            self._child = subprocess.Popen(self._words, stdout=log, stderr=log, stdin=subprocess.DEVNULL)
        wait_for(self._words[0], lambda: listens(self.port))

    def stop(self, how: int = signal.SIGTERM) -> None:
        """Stop it, or kill it, and wait for its end."""
        child, self._child = self._child, None
        if child is not None:
            child.send_signal(how)
            child.wait()

    def kill(self) -> None:
        """End it without a warning."""
        self.stop(signal.SIGKILL)

    def signal(self, how: int) -> None:
        """Send a signal, for instance SIGSTOP."""
        assert self._child is not None
        self._child.send_signal(how)


class VictoriaMetrics(Server):
    """A time-series store with one value a ms and series."""

    def __init__(self, folder: Path) -> None:
        port = free_port()
        binary = shutil.which("victoria-metrics")
        assert binary, "victoria-metrics is missing: deploy/setup --dev installs it"
        words = [
            binary, f"-storageDataPath={folder / 'vm'}", f"-httpListenAddr=127.0.0.1:{port}",
            "-retentionPeriod=100y", "-dedup.minScrapeInterval=1ms", "-loggerLevel=ERROR", "-memory.allowedPercent=5",
        ]  # fmt: skip
        super().__init__(folder, words, port)
        self.url = f"http://127.0.0.1:{port}"

    def get(self, path: str, **query: str) -> bytes:
        """Give the answer to a GET."""
        text = urllib.parse.urlencode(query)
        with urllib.request.urlopen(f"{self.url}{path}?{text}", timeout=60) as reply:
            return bytes(reply.read())

    def series(self, match: str = VALUES) -> list[dict[str, Any]]:
        """Give all series with their values and stamps, as they were stored."""
        self.get("/internal/force_flush")
        ask = {"match[]": match, "start": "1", "end": "4102444800"}  # else it ends now, and a made-up rig may be ahead
        return [json.loads(line) for line in self.get("/api/v1/export", **ask).splitlines()]

    def count(self, match: str = VALUES) -> int:
        """Give the number of values, and fail where one stands twice."""
        total = 0
        for series in self.series(match):
            stamps = series["timestamps"]
            assert len(set(stamps)) == len(stamps), series["metric"]
            total += len(stamps)
        return total


@dataclass
class Script:
    """What the proxy does with each write, in order; the last entry holds for ever.

    Entries: `pass`, a number (that status, nothing forwarded), `drop` (connection cut, nothing forwarded),
    `lost reply` (forwarded, then cut), `slow` (forwarded after `slow_s`), `partial` (lines with `poison` refused with
    400, the others forwarded), `swallow` (204, nothing forwarded: what a killed server had in memory only).
    """

    acts: list[str | int] = field(default_factory=lambda: ["pass"])
    poison: str = "\0"
    slow_s: float = 0.5
    retry_after: str = ""

    def next(self) -> str | int:
        """Give the act for the next write."""
        return self.acts.pop(0) if len(self.acts) > 1 else self.acts[0]


class FaultProxy:
    """An HTTP server between the uplink and a store."""

    def __init__(self, upstream_port: int) -> None:
        self.script = Script()
        self.upstream_port = upstream_port
        self.writes: list[list[str]] = []
        self.statuses: list[str | int] = []
        self.started_utc_s: float | None = None
        self.tells_all = False
        self.keeps_writes = True
        self.bytes_in = 0
        self._serve()

    def _serve(self) -> None:
        proxy = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                proxy.post(self)

            def do_GET(self) -> None:
                proxy.get(self)

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        class Quiet(ThreadingHTTPServer):
            daemon_threads = True
            block_on_close = True

            def handle_error(self, *_: object) -> None:
                """Say nothing: cut connections are the purpose."""

        self._server = Quiet(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), name="fault proxy")
        self._thread.start()

    def close(self) -> None:
        """Stop listening."""
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def post(self, request: BaseHTTPRequestHandler) -> None:
        """Answer one write as the script says."""
        body = request.rfile.read(int(request.headers["Content-Length"]))
        self.bytes_in += len(body)
        lines = gzip.decompress(body).decode() if request.headers.get("Content-Encoding") == "gzip" else body.decode()
        act = self.script.next()
        self.statuses.append(act)
        request.close_connection = True
        if isinstance(act, int):
            self._answer(request, act)
        elif act == "partial":
            self._partial(request, lines.split("\n"))
        elif act == "swallow":
            self._answer(request, 204)
        elif act != "drop":
            if act == "slow":
                time.sleep(self.script.slow_s)
            status = self._forward(lines.split("\n"), request.path)
            if act != "lost reply":
                self._answer(request, status)

    def _partial(self, request: BaseHTTPRequestHandler, lines: list[str]) -> None:
        good = [line for line in lines if self.script.poison not in line]
        status = self._forward(good, request.path) if good else 204
        self._answer(request, status if len(good) == len(lines) else 400, b'{"message":"partial write: field type"}')

    def _forward(self, lines: list[str], path: str) -> int:
        try:
            connection = http.client.HTTPConnection("127.0.0.1", self.upstream_port, timeout=30)
            connection.request("POST", path, "\n".join(lines).encode())
            status = connection.getresponse().status
            connection.close()
        except OSError:
            return 502
        if self.keeps_writes:
            self.writes.append(lines)
        return status

    def _answer(self, request: BaseHTTPRequestHandler, status: int, body: bytes = b"") -> None:
        request.send_response(status)
        if self.script.retry_after:
            request.send_header("Retry-After", self.script.retry_after)
        request.send_header("Connection", "close")
        if status != 204:
            request.send_header("Content-Length", str(len(body)))
        request.end_headers()
        request.wfile.write(body if status != 204 else b"")

    def _tell(self, request: BaseHTTPRequestHandler) -> None:
        """Forward a question as it is."""
        request.close_connection = True
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.upstream_port}{request.path}", timeout=5) as reply:
                self._answer(request, 200, reply.read())
        except OSError:
            self._answer(request, 502)

    def get(self, request: BaseHTTPRequestHandler) -> None:
        """Tell when the server started, where the test wants it told."""
        known = self.started_utc_s
        if self.tells_all:
            self._tell(request)
            return
        body = b"" if known is None else f"process_start_time_seconds {known!r}\n".encode()
        request.close_connection = True
        self._answer(request, 404 if known is None else 200, body)


ACL = "user rig\ntopic write scuffwatch/#\nuser wall\ntopic read scuffwatch/#\nuser nobody\ntopic read other/#\n"


class Mosquitto(Server):
    """A broker with passwords, an access list and a TLS listener.

    Users: `rig` with password `oil` (publishes below scuffwatch/), `wall` with `glass` (reads), `nobody` with `x`.
    """

    def __init__(self, folder: Path, acl: str = "", users: dict[str, str] | None = None) -> None:
        self.tls_port = free_port()
        self.ca_file = folder / "ca.pem"
        port = free_port()
        binary = shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/sbin")
        assert binary, "mosquitto is missing: deploy/setup --dev installs it"
        _certificates(folder)
        _passwords(folder / "passwords", users or {"rig": "oil", "wall": "glass", "nobody": "x"})
        (folder / "acl").write_text(acl or ACL)
        (folder / "broker.conf").write_text(
            f"allow_anonymous false\npassword_file {folder}/passwords\nacl_file {folder}/acl\n"
            f"persistence false\nlistener {port} 127.0.0.1\n"
            f"listener {self.tls_port} 127.0.0.1\ncafile {folder}/ca.pem\ncertfile {folder}/server.pem\n"
            f"keyfile {folder}/server.key\n" + ("user root\n" if os.getuid() == 0 else "")
        )
        super().__init__(folder, [binary, "-c", str(folder / "broker.conf")], port)


def _passwords(path: Path, users: dict[str, str]) -> None:
    path.write_text("".join(f"{user}:{word}\n" for user, word in users.items()))
    path.chmod(0o600)
    subprocess.run(["mosquitto_passwd", "-U", str(path)], check=True)


def _certificates(folder: Path) -> None:
    """Make an authority and a certificate for localhost."""
    ca, key = str(folder / "ca.pem"), str(folder / "ca.key")
    make_key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    subject = ["-subj", "/CN=workshop authority", "-days", "2"]
    openssl("req", "-x509", *make_key, "-keyout", key, "-out", ca, *subject)
    server, request = str(folder / "server.pem"), str(folder / "server.csr")
    openssl("req", *make_key, "-keyout", str(folder / "server.key"), "-out", request, "-subj", "/CN=localhost")
    (folder / "ext").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n")
    sign = ["-CA", ca, "-CAkey", key, "-CAcreateserial", "-days", "2", "-extfile", str(folder / "ext")]
    openssl("x509", "-req", "-in", request, "-out", server, *sign)


def openssl(*words: str) -> None:
    """Run openssl."""
    subprocess.run(["openssl", *words], check=True, capture_output=True)


class Subscriber:
    """Another program on the broker: keeps what comes, in a thread of its own."""

    def __init__(self, port: int, topic: str = "scuffwatch/#", user: str = "wall", password: str = "glass") -> None:
        self.got: list[tuple[str, dict[str, Any], bool]] = []
        self.expiry_s: dict[str, int] = {}
        self._client = paho.mqtt.client.Client(
            paho.mqtt.client.CallbackAPIVersion.VERSION2, protocol=paho.mqtt.client.MQTTv5
        )
        self._client.username_pw_set(user, password)
        self._client.on_message = self._keep
        self._client.on_connect = lambda *_: self._client.subscribe(topic, qos=1)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def _keep(self, client: Any, userdata: Any, message: Any) -> None:
        self.expiry_s[message.topic] = getattr(message.properties, "MessageExpiryInterval", 0)
        self.got.append((message.topic, json.loads(message.payload), message.retain))

    def of(self, ending: str) -> list[dict[str, Any]]:
        """Give the payloads of topics with an ending, in order."""
        return [payload for topic, payload, _ in list(self.got) if topic.endswith(ending)]

    def close(self) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()
