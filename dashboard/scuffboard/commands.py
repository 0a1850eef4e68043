"""What a page may ask of the core: it can take away, record and answer, never give the permit.

Reads one JSON body a request, has it checked by the core's own table of commands, sends it, and answers with the
core's own sentence. A stop request needs nothing but to be asked for.
"""

from typing import Any

from flask import Blueprint, Response, abort, jsonify, request

from scuffboard.core_link import Send
from scuffwatch.control.messages import COMMAND_KINDS, Refusal, build
from scuffwatch.model.errors import ScuffwatchError

PAGES = frozenset({"wall", "bench", "alarms", "runs", "run", "rig", "settings"})
ALWAYS_ALLOWED = frozenset({"stop_request"})

Json = dict[str, Any]


def actor_of(page: object, name: str) -> str:
    """Give who asked, as the record will say it: the page and the address, nobody having logged in."""
    where = f"{page if isinstance(page, str) and page in PAGES else 'unnamed'} page at {request.remote_addr}"
    return f"{where}, unauthenticated" if name in ALWAYS_ALLOWED else where


def make_blueprint(send: Send, *, read_only: bool) -> Blueprint:
    """Give the command routes; `read_only` refuses all but the stop request."""
    blueprint = Blueprint("commands", __name__)

    @blueprint.post("/command/<name>")
    def command(name: str) -> tuple[Response, int]:
        if name not in COMMAND_KINDS:
            abort(404)
        if read_only and name not in ALWAYS_ALLOWED:
            return answer(False, "This server only shows. Use a page of the bench's own server.", 403)
        body = request.get_json(silent=True)
        if not isinstance(body, dict):
            if name not in ALWAYS_ALLOWED:
                return answer(False, "The command could not be read.", 400)
            body = {}
        page = body.pop("page", None)
        return ask_core(send, name, body, actor_of(page, name))

    return blueprint


def ask_core(send: Send, name: str, fields: Json, actor: str) -> tuple[Response, int]:
    """Check and send one command; every way it can fail says that nothing has been changed, or that it is not known."""
    built = build(name, fields, actor)
    if isinstance(built, Refusal):
        return answer(False, built.says, 422)
    try:
        reply = send(built, actor)
    except ScuffwatchError as error:
        return answer(False, error.sentence(), 503)
    return answer(reply.ok, reply.says, 200 if reply.ok else 409)


def answer(ok: bool, says: str, status: int) -> tuple[Response, int]:
    """Give the JSON a page shows after a command."""
    return jsonify(ok=ok, says=says), status
