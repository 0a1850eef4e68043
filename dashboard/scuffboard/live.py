"""The live streams and the climb, served to the pages.

Gives, for each hub below a path of its own, `/live` (server-sent events) and `/viewers` (is there room); and `/history`
(the run so far).
"""

from collections.abc import Iterator

from flask import Blueprint, Response, jsonify

from scuffboard.hub import LiveHub, Viewer, ViewersFull
from scuffboard.security import check_reader_origin

RETRY_AFTER_S = 10


class Stream:
    """A WSGI body that gives its place back when the server closes it, also before the first piece was read."""

    def __init__(self, hub: LiveHub, viewer: Viewer) -> None:
        self._hub, self._viewer = hub, viewer
        self._pieces = viewer.stream()
        self._left = False

    def __iter__(self) -> Iterator[bytes]:
        return self._pieces

    def close(self) -> None:
        """Leave the hub, once."""
        if not self._left:
            self._left = True
            self._hub.leave(self._viewer)


def add_stream(blueprint: Blueprint, hub: LiveHub, below: str = "") -> None:
    """Add the stream of one hub, and whether there is room on it."""

    @blueprint.get(f"{below}/live")
    def live() -> Response | tuple[Response, int, dict[str, str]]:
        check_reader_origin()
        try:
            stream = Stream(hub, hub.enter())
        except ViewersFull:
            says = f"This server already feeds {hub.viewers_cap} screens, as many as it is set for."
            return jsonify(ok=False, says=says), 503, {"Retry-After": str(RETRY_AFTER_S)}
        response = Response(stream, mimetype="text/event-stream")
        response.headers["X-Accel-Buffering"] = "no"
        response.call_on_close(stream.close)
        return response

    @blueprint.get(f"{below}/viewers")
    def viewers() -> Response:
        return jsonify(viewers=hub.viewers, cap=hub.viewers_cap, missed=hub.missed_frames)


def make_blueprint(hub: LiveHub) -> Blueprint:
    """Give the live routes over the core's hub."""
    blueprint = Blueprint("live", __name__)
    add_stream(blueprint, hub)

    @blueprint.get("/history")
    def history() -> Response:
        check_reader_origin()
        return jsonify(hub.climb())

    return blueprint
