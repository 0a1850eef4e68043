"""The pages over the stand-in core, served by the real server in a thread of this process, or as a process of its own.

python tests/board/board_server.py FOLDER --state warning --port 8181 --touch
"""

import argparse
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from fake_archive import FakeArchive
from stand_in_core import STATES, StandInCore

from scuffboard.app import Outside, create_app
from scuffboard.main import make_server
from scuffboard.settings import BoardSettings


@dataclass
class Board:
    """A running page server."""

    url: str
    hub: Any
    core: StandInCore
    app: Any


def settings_for(folder: Path, **changes: Any) -> BoardSettings:
    """Give settings for a server over the stand-in core of a folder, on a free port."""
    plain = BoardSettings(folder, folder / "live.sock", folder / "command.sock", port=0, touch=True)
    return replace(plain, **changes)


@contextmanager
def serving(core: StandInCore, settings: BoardSettings, archive: Any = None) -> Iterator[Board]:
    """Serve until the block ends."""
    app = create_app(settings, Outside(archive=archive or FakeArchive()))
    hub, hubs = app.extensions["hub"], app.extensions["hubs"]
    server = make_server(app, settings)
    thread = threading.Thread(target=server.run, name="page server")
    thread.start()
    try:
        yield Board(f"http://127.0.0.1:{server.effective_port}", hub, core, app)
    finally:
        for made in hubs:
            made.close()
        server.task_dispatcher.shutdown()
        server.trigger.pull_trigger(lambda: server.asyncore.close_all(server._map, ignore_all=True))
        thread.join()


def main() -> None:
    """Serve until interrupted; prints the address."""
    parser = argparse.ArgumentParser(description="Serve the pages over the stand-in core.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--state", choices=STATES, default="healthy")
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--touch", action="store_true")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    settings = settings_for(given.folder, port=given.port, touch=given.touch, panel_path=given.folder / "panel.sock")
    with StandInCore(given.folder, given.state) as core, serving(core, settings) as board:
        print(board.url, flush=True)
        threading.Event().wait()


if __name__ == "__main__":
    main()
