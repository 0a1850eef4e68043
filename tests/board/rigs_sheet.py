"""Draw the page of all rigs in every state, theme and size into a folder, and one sheet of them all.

python tests/board/rigs_sheet.py FOLDER [--only night]
"""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from board_server import Board, serving, settings_for
from chromium import browser
from contact_sheet import SETTLE_MS, SILENCE_MS, SIZES, sheet
from many_rigs import NIGHT, SHOP, Shop
from stand_in_core import StandInCore

SHOPS = {
    "calm": SHOP, "night": NIGHT, "four": NIGHT[:4], "twenty": NIGHT * 2,
    "hundred": ["healthy"] * 56 + list(NIGHT) + ["healthy"] * 34,
    "answered": ("healthy", "acknowledged", "warning"), "silent": ("healthy", "gone", "silent", "bad", "stopped"),
    "stale": NIGHT, "lost": NIGHT, "no_broker": SHOP, "no_file": (), "no_rig": (),
}  # fmt: skip


def into_state(state: str, shop: Shop, board: Board, path: Path, tab: Any) -> None:
    """Bring about what no rig can say: a list that stands still or is gone, a broker or a server that is away."""
    if state == "stale":
        shop.frozen = True
    elif state == "no_broker":
        shop.problem = "The broker at 127.0.0.1:8883 cannot be reached: connection refused."
    elif state == "no_file":
        shop.frozen = True
        tab.wait_for_timeout(SETTLE_MS)
        path.unlink(missing_ok=True)
        tab.reload()
    elif state == "lost":
        tab.context.set_offline(True)
        board.app.extensions["rigs_hub"].drop_streams()
    else:
        return
    tab.wait_for_timeout(SILENCE_MS)


def shots(state: str, chromium: Any, folder: Path) -> Iterator[tuple[str, bytes]]:
    """Give a name and a picture for every theme and size of one state."""
    path = folder / "rigs.json"
    for theme in ("day", "night"):
        for size, (width, height) in SIZES.items():
            with (
                StandInCore(folder) as core,
                Shop(path, SHOPS[state]) as shop,
                serving(core, settings_for(folder, rigs_path=path)) as board,
            ):
                shape = {"width": width, "height": height}
                context = chromium.new_context(viewport=shape, reduced_motion="reduce")
                tab = context.new_page()
                tab.goto(f"{board.url}/rigs?theme={theme}")
                tab.wait_for_timeout(SETTLE_MS)
                into_state(state, shop, board, path, tab)
                yield f"rigs-{state}-{theme}-{size}", tab.screenshot(full_page=False)
                context.close()


def main() -> int:
    """Draw and write the sheet."""
    parser = argparse.ArgumentParser(description="Draw the page of all rigs in every state.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", choices=("", *SHOPS), help="one state by its name")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    names = []
    with browser() as chromium:
        for state in [given.only] if given.only else SHOPS:
            with tempfile.TemporaryDirectory(prefix="rigs-") as made:
                for name, picture in shots(state, chromium, Path(made)):
                    (given.folder / f"{name}.png").write_bytes(picture)
                    names.append(name)
    (given.folder / "index.html").write_text(sheet(names))
    print(f"{len(names)} pictures in {given.folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
