"""The page of the simulated rig: seven acts, one line each, and nothing where there is no panel."""

import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

COMMAND = {"X-Scuffboard": "1", "Content-Type": "application/json"}


class Panel:
    """Answers lines on the panel's socket and keeps them."""

    def __init__(self, path: Path) -> None:
        self.heard: list[dict[str, Any]] = []
        self.answer: bytes = b'{"ok": true, "speed": 5.0}\n'
        self._listening = socket.socket(socket.AF_UNIX)
        self._listening.bind(str(path))
        self._listening.listen()
        self._thread = threading.Thread(target=self._run, name="panel")
        self._thread.start()

    def _run(self) -> None:
        while True:
            connection, _ = self._listening.accept()
            with connection, connection.makefile("rb") as stream:
                line = stream.readline()
                if not line:
                    return
                self.heard.append(json.loads(line))
                connection.sendall(self.answer)

    def close(self, path: Path) -> None:
        with socket.socket(socket.AF_UNIX) as last:
            last.connect(str(path))
        self._thread.join()
        self._listening.close()


@pytest.fixture
def panel(tmp_path: Path) -> Iterator[Panel]:
    made = Panel(tmp_path / "panel.sock")
    yield made
    made.close(tmp_path / "panel.sock")


@pytest.mark.parametrize(
    ("asked", "sent"),
    [
        (
            {"do": "press_reset"},
            {"do": "press_reset", "hold_s": 0.1},
        ),  # 0.5 s of the rig's time at five times real time
        ({"do": "start_motor"}, {"do": "start_motor"}),
        ({"do": "guard", "on": False}, {"do": "guard", "closed": False}),
        ({"do": "cable", "on": True}, {"do": "cable", "plugged": True}),
        ({"do": "scenario", "name": "stall", "seed": 3}, {"do": "scenario", "name": "stall", "seed": 3}),
    ],
)
def test_each_handle_is_one_line(client: Any, panel: Panel, asked: dict[str, Any], sent: dict[str, Any]) -> None:
    answer = client.post("/rig/do", headers=COMMAND, data=json.dumps(asked))
    assert (answer.status_code, answer.json["ok"]) == (200, True)
    assert panel.heard[-1] == sent


@pytest.mark.parametrize(
    "body", ["[]", "{}", '{"do": "permit"}', '{"do": "guard"}', '{"do": "scenario", "name": 1, "seed": 1}']
)
def test_there_is_no_other_handle(client: Any, panel: Panel, body: str) -> None:
    assert client.post("/rig/do", headers=COMMAND, data=body).status_code == 422
    assert panel.heard == []


@pytest.mark.parametrize("nonsense", [b"\n", b"[1]\n", b"", b"{" * 70_000])
def test_a_panel_that_talks_nonsense_is_said(client: Any, panel: Panel, nonsense: bytes) -> None:
    panel.answer = nonsense
    answer = client.get("/rig/status")
    assert (answer.status_code, answer.json["ok"]) == (503, False)


def test_without_a_panel_there_is_no_such_page(make_app: Any) -> None:
    client = make_app().test_client()
    assert [client.get(path).status_code for path in ("/rig", "/rig/status")] == [404, 404]
    assert b"Simulated rig" not in client.get("/runs").data
