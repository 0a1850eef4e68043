"""The panel of the simulated rig: what hands would do at a real one.

Talks one JSON line over a Unix socket to the simulated rig's own process. Exists only where the server was started
with a panel; nothing here can reach the core or a real rig.
"""

import json
import socket
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, jsonify, render_template, request

TIMEOUT_S = 3.0
LINE_LIMIT_BYTES = 64 * 1024
RESET_HOLD_RIG_S = 0.5

Json = dict[str, Any]


def ask(path: Path, message: Json) -> Json:
    """Send one line to the panel and give its answer. Raises OSError or ValueError where there is none."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(TIMEOUT_S)
        connection.connect(str(path))
        connection.sendall(json.dumps(message).encode() + b"\n")
        with connection.makefile("rb") as stream:
            line = stream.readline(LINE_LIMIT_BYTES)
    answer = json.loads(line)
    if not isinstance(answer, dict):
        raise ValueError("the panel answered something that is no object")
    return answer


def message_of(body: Json) -> Json | None:
    """Give the panel's line for a page's request, or None where the request is not one of the seven acts."""
    act, on = body.get("do"), body.get("on")
    if act == "press_reset":
        return {"do": "press_reset", "hold_s": RESET_HOLD_RIG_S}
    if act in ("start_motor", "stop_motor"):
        return {"do": act}
    if act == "guard" and isinstance(on, bool):
        return {"do": "guard", "closed": on}
    if act == "cable" and isinstance(on, bool):
        return {"do": "cable", "plugged": on}
    if act == "scenario" and isinstance(body.get("name"), str) and isinstance(body.get("seed"), int):
        return {"do": "scenario", "name": body["name"][:80], "seed": body["seed"]}
    return None


def make_blueprint(path: Path) -> Blueprint:
    """Give the page `/rig`, its status and its acts."""
    blueprint = Blueprint("panel", __name__)

    @blueprint.get("/rig")
    def rig() -> str:
        return render_template("rig.html")

    @blueprint.get("/rig/status")
    def status() -> tuple[Response, int]:
        return relay(path, {"do": "status"})

    @blueprint.post("/rig/do")
    def do() -> tuple[Response, int]:
        body = request.get_json(silent=True)
        message = message_of(body) if isinstance(body, dict) else None
        if message is None:
            return jsonify(ok=False, says="The simulated rig has no such handle."), 422
        if message["do"] == "press_reset":
            message["hold_s"] = RESET_HOLD_RIG_S / speed_of(path)
        return relay(path, message)

    return blueprint


def speed_of(path: Path) -> float:
    """Give how many times faster than real time the simulated rig runs; 1 where it does not say."""
    try:
        speed = ask(path, {"do": "status"}).get("speed", 1.0)
    except (OSError, ValueError):
        return 1.0
    return float(speed) if isinstance(speed, int | float) and speed > 0 else 1.0


def relay(path: Path, message: Json) -> tuple[Response, int]:
    """Pass one line on and give the answer, or say that the simulated rig is silent."""
    try:
        return jsonify(ask(path, message)), 200
    except (OSError, ValueError):
        return jsonify(ok=False, says="The simulated rig does not answer."), 503
