"""The application: routes, checks and errors put together.

`create_app(settings)` gives a Flask application; `main` serves it. Tests put their own core and records in.
"""

from dataclasses import dataclass
from functools import partial

from flask import Flask, current_app, jsonify, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException

from scuffboard import commands, live, pages, panel, rigs, runs, security
from scuffboard.core_link import Send, Source, command_sender
from scuffboard.hub import LiveHub, finite
from scuffboard.rig_source import RigFile
from scuffboard.run_verify import Verify
from scuffboard.settings import BoardSettings
from scuffwatch.control.client import LiveClient
from scuffwatch.model.errors import ScuffwatchError
from scuffwatch.store.reader import Archive, verify_run


@dataclass(frozen=True, slots=True)
class Outside:
    """What lies outside the pages; each part is made from the settings where it is None.

    Attributes:
        source: gives snapshots, as `LiveClient.latest` does.
        send: sends commands, as `core_link.command_sender` does.
        archive: the records, as `scuffwatch.store.reader.Archive`.
        verify: checks the record of a run, as `scuffwatch.store.reader.verify_run` does in the data folder.
    """

    source: Source | None = None
    send: Send | None = None
    archive: Archive | None = None
    verify: Verify | None = None


def create_app(settings: BoardSettings, outside: Outside | None = None) -> Flask:
    """Give the application with its live hubs started; they are `app.extensions["hubs"]` and must be closed."""
    given = outside or Outside()
    app = Flask(__name__)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    security.install(app, settings.allowed_hosts)
    archive = given.archive if given.archive is not None else Archive(settings.data_dir)
    core = LiveClient(settings.live_path)
    hub = LiveHub(given.source or core.latest, settings.viewers_cap, runs.climb_seed(archive), core.close)
    rigs_hub = hub_of_rigs(settings)
    app.extensions["hub"], app.extensions["rigs_hub"] = hub, rigs_hub
    app.extensions["hubs"] = [made for made in (hub, rigs_hub) if made is not None]
    app.register_blueprint(live.make_blueprint(hub))
    app.register_blueprint(
        commands.make_blueprint(given.send or command_sender(settings.command_path), read_only=settings.read_only)
    )
    app.register_blueprint(pages.make_blueprint())
    app.register_blueprint(rigs.make_blueprint(rigs_hub))
    app.register_blueprint(runs.make_blueprint(archive, given.verify or partial(verify_run, settings.data_dir)))
    if settings.panel_path is not None:
        app.register_blueprint(panel.make_blueprint(settings.panel_path))
    app.context_processor(lambda: {"board": settings})
    app.register_error_handler(HTTPException, show_error)
    app.register_error_handler(ScuffwatchError, show_refusal)
    app.register_error_handler(Exception, show_fault)
    for made in app.extensions["hubs"]:
        made.start()
    return app


def hub_of_rigs(settings: BoardSettings) -> LiveHub | None:
    """Give the hub of the page of all rigs, or None where no list is set."""
    if settings.rigs_path is None:
        return None
    return LiveHub(RigFile(settings.rigs_path).latest, settings.viewers_cap, reduce=finite)


def wants_json() -> bool:
    """Tell whether the asker is a script of a page and not the address bar."""
    return request.method == "POST" or request.accept_mimetypes.best_match(["text/html", "application/json"]) != (
        "text/html"
    )


def show_error(error: HTTPException) -> ResponseReturnValue:
    """Give the page, or the JSON, of a refusal; nothing of the request is repeated in it."""
    status = error.code or 500
    says = error.description if status in (400, 403, 421) else WORDS.get(status, "This did not work.")
    if wants_json():
        return jsonify(ok=False, says=says), status
    return render_template("error.html", status=status, says=says), status


def show_refusal(error: ScuffwatchError) -> ResponseReturnValue:
    """Give the sentence of something that cannot be done now, for instance a record that cannot be read."""
    if wants_json():
        return jsonify(ok=False, says=error.sentence()), 503
    return render_template("error.html", status=503, says=error.sentence()), 503


def show_fault(error: Exception) -> ResponseReturnValue:
    """Give the page of a fault of ours and log the fault; the reader is told where to look instead."""
    current_app.logger.error("page failed: %s %s", request.method, request.path, exc_info=error)
    if wants_json():
        return jsonify(ok=False, says=WORDS[500]), 500
    return render_template("error.html", status=500, says=WORDS[500]), 500


WORDS = {
    404: "There is no such page.",
    405: "This address does not answer that kind of request.",
    413: "What was sent is too long.",
    500: "The page server made a mistake. The rig is not touched by it. Look at the rig.",
}
