"""What every request must satisfy and every answer must carry.

Reads the request's headers, gives refusals and response headers. Sits in front of all routes.
A stop request needs no login; no request of any kind can give the motor permit.
"""

import re
from urllib.parse import urlsplit

from flask import Flask, Response, abort, request

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
COMMAND_HEADER = "X-Scuffboard"
BODY_LIMIT_BYTES = 32 * 1024
SAME_ORIGIN = frozenset({"same-origin", "none"})
_HOST = re.compile(r"(?P<name>\[[0-9a-f:]+\]|[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?)(?::\d{1,5})?", re.IGNORECASE)


def install(app: Flask, allowed_hosts: frozenset[str]) -> None:
    """Put the checks before, and the headers after, every request of `app`."""
    app.config["MAX_CONTENT_LENGTH"] = BODY_LIMIT_BYTES
    app.config["PROVIDE_AUTOMATIC_OPTIONS"] = False

    @app.before_request
    def check() -> None:
        check_host(allowed_hosts)
        if request.method not in ("GET", "HEAD"):
            check_command_origin()

    app.after_request(add_headers)


def check_host(allowed_hosts: frozenset[str]) -> None:
    """Refuse a malformed host name with 400 and a strange one with 421, against DNS rebinding."""
    found = _HOST.fullmatch(request.environ.get("HTTP_HOST", ""))
    if found is None:
        abort(400, "The request names no host.")
    if found["name"].lower() not in allowed_hosts:
        abort(421, "This server does not answer under that name.")


def check_command_origin() -> None:
    """Refuse with 403 whatever did not come from a page of this server."""
    if request.headers.get(COMMAND_HEADER) != "1":
        abort(403, "Commands come from the pages only.")
    if request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
        abort(403, "Commands come from the pages only.")
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc.lower() != request.environ["HTTP_HOST"].lower():
        abort(403, "Commands come from the pages only.")


def check_reader_origin() -> None:
    """Refuse with 403 a stream or a download asked for by another site's page."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in SAME_ORIGIN:
        abort(403, "This is served to the pages only.")


def add_headers(response: Response) -> Response:
    """Give the answer its policy headers; data are never kept by a browser or proxy."""
    response.headers["Content-Security-Policy"] = CONTENT_SECURITY_POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["Cache-Control"] = "no-cache" if request.endpoint == "static" else "no-store"
    return response
