"""Metrics: `/metrics` on this computer only.

Reads a callable that gives the text, serves it in a thread of its own.
"""

from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, HTTPServer

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
TIMEOUT_S = 5.0
POLL_S = 0.2


class MetricsServer:
    """Serves the metrics on loopback.

    Args:
        port: to listen on; 0 takes a free one, see `port`.
        text: gives the metrics.
    Raises:
        OSError: the port is taken.
    """

    def __init__(self, port: int, text: Callable[[], str]) -> None:
        class Handler(BaseHTTPRequestHandler):
            timeout = TIMEOUT_S

            def do_GET(self) -> None:
                known = self.path == "/metrics"
                body = text().encode() if known else b"There is /metrics only.\n"
                self.send_response(200 if known else 404)
                self.send_header("Content-Type", CONTENT_TYPE if known else "text/plain")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def version_string(self) -> str:
                return "uplink"

            def log_message(self, *_: object) -> None:
                """Say nothing; a scrape every few seconds is no news."""

        self._server = HTTPServer(("127.0.0.1", port), Handler)
        self.port = int(self._server.server_address[1])

    def run(self) -> None:
        """Serve until stopped."""
        self._server.serve_forever(POLL_S)

    def stop(self) -> None:
        """End, and give the port back."""
        self._server.shutdown()
        self._server.server_close()
