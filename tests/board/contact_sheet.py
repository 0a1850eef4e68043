"""Draw every page in every state, theme and size into a folder, and one sheet of them all.

    python tests/board/contact_sheet.py FOLDER [--only wall]

Needs Debian's Chromium. The core is the stand-in; states are its scripts, and three that only a page can be in.
"""

import argparse
import html
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from board_server import Board, serving, settings_for
from chromium import browser
from stand_in_core import STATES, StandInCore

SIZES = {"wall": (1920, 1080), "tablet": (1280, 800), "phone": (390, 844)}
PAGE_STATES = ("stale", "lost", "full")
LIVE_PAGES = {"wall": "/wall", "bench": "/bench", "alarms": "/alarms"}
STILL_PAGES = {
    "runs": "/runs", "run": "/runs/2026-03-11-rig2-03", "run_trip": "/runs/2026-03-11-rig2-03?zoom=trip",
    "rig": "/rig", "settings": "/settings", "missing": "/nothing-here",
}  # fmt: skip
SETTLE_MS = 900
SILENCE_MS = 2600


def sizes_of(page: str) -> tuple[str, ...]:
    """Give the sizes a page is made for."""
    return ("wall",) if page == "wall" else ("tablet", "phone") if page == "bench" else ("wall", "tablet", "phone")


def shots(board: Board, chromium: Any, state: str, pages: dict[str, str]) -> Iterator[tuple[str, bytes]]:
    """Give a name and a picture for every page, theme and size in the state the board is in."""
    for name, path in pages.items():
        for theme in ("day", "night"):
            for size in sizes_of(name):
                width, height = SIZES[size]
                tab = chromium.new_page(viewport={"width": width, "height": height}, reduced_motion="reduce")
                join = "&" if "?" in path else "?"
                tab.goto(f"{board.url}{path}{join}theme={theme}")
                tab.wait_for_timeout(SETTLE_MS)
                into_page_state(board, tab, state)
                yield f"{name}-{state}-{theme}-{size}", tab.screenshot(full_page=name not in ("wall", "bench"))
                tab.close()
                board.core.frozen = False


def into_page_state(board: Board, tab: Any, state: str) -> None:
    """Bring about what no snapshot can say: silence of the core, no server, no room."""
    if state == "stale":
        board.core.frozen = True
        tab.wait_for_timeout(SILENCE_MS)
    elif state == "lost":
        tab.context.set_offline(True)
        board.hub.drop_streams()
        tab.wait_for_timeout(SILENCE_MS)
        tab.context.set_offline(False)


def draw(folder: Path, only: str) -> list[str]:
    """Draw all pictures; give their names."""
    drawn = []
    with browser() as chromium:
        for state in (*STATES, *PAGE_STATES, "still"):
            pages = STILL_PAGES if state == "still" else LIVE_PAGES
            wanted = {name: path for name, path in pages.items() if not only or name == only}
            scripted = state if state in STATES else "healthy"
            with tempfile.TemporaryDirectory(prefix="board-") as made, StandInCore(Path(made), scripted) as core:
                cap = 0 if state == "full" else 24
                settings = settings_for(Path(made), panel_path=Path(made) / "panel.sock", viewers_cap=cap)
                with serving(core, settings) as board:
                    for name, picture in shots(board, chromium, state, wanted):
                        (folder / f"{name}.png").write_bytes(picture)
                        drawn.append(name)
    return drawn


def sheet(names: list[str]) -> str:
    """Give the sheet: every picture with its name."""
    figure = '<figure><img src="{0}.png" alt="{0}"><figcaption>{0}</figcaption></figure>'
    cells = "".join(figure.format(html.escape(name)) for name in names)
    grid = "body{display:grid;grid-template-columns:repeat(4,1fr);gap:12px;font:14px sans-serif}"
    style = grid + "img{width:100%}figure{margin:0}"
    return f"<!doctype html><title>Contact sheet</title><style>{style}</style>{cells}"


def main() -> int:
    """Draw and write the sheet."""
    parser = argparse.ArgumentParser(description="Draw every page in every state.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="one page by its name")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    names = draw(given.folder, given.only)
    (given.folder / "index.html").write_text(sheet(names))
    print(f"{len(names)} pictures in {given.folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
