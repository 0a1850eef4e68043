"""Cores, servers and one browser for the tests of the pages."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from board_server import settings_for
from chromium import browser
from fake_archive import FakeArchive
from stand_in_core import Script
from tabs import Tabs

from scuffboard.app import Outside, create_app
from scuffwatch.control.messages import Reply, kind_of


class Desk:
    """A core without sockets: the newest snapshot of a script, and every command that was sent."""

    def __init__(self) -> None:
        self.script = Script()
        self.commands: list[tuple[str, Any, str]] = []
        self.reply = Reply(ok=True, says="Done.")

    def source(self, timeout_s: float) -> tuple[dict[str, Any], float]:
        """Give a snapshot at the pace of the core."""
        import time

        time.sleep(0.01)
        return self.script.snapshot(), time.monotonic()

    def send(self, command: Any, actor: str) -> Reply:
        """Keep the command."""
        self.commands.append((kind_of(command).name, command, actor))
        return self.reply


@pytest.fixture
def desk() -> Desk:
    """Give a core without sockets."""
    return Desk()


@pytest.fixture
def make_app(tmp_path: Path, desk: Desk) -> Iterator[Any]:
    """Give a function that makes an application; what it made is closed at the end."""
    made = []

    def make(archive: Any = None, **changes: Any) -> Any:
        outside = Outside(desk.source, desk.send, archive or FakeArchive())
        app = create_app(settings_for(tmp_path, **changes), outside)
        made.append(app)
        return app

    yield make
    for app in made:
        for hub in app.extensions["hubs"]:
            hub.close()


@pytest.fixture
def client(make_app: Any, tmp_path: Path) -> Any:
    """Give a client of an application with the panel of the simulated rig."""
    return make_app(panel_path=tmp_path / "panel.sock").test_client()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Give one browser for all tests."""
    with browser() as started:
        yield started


@pytest.fixture
def tabs(chromium: Any) -> Iterator[Tabs]:
    """Give pages to open; a page that complained of anything fails the test."""
    made = Tabs(chromium)
    yield made
    made.close()
    assert made.complaints == []
