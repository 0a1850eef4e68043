"""Draw every page over the real core into a folder: healthy with the stages climbing, stale, tripped, and afterwards.

    python tests/board/real_sheet.py FOLDER [--speed 12] [--seed 5] [--stage 3]

The rig is simulated and runs `scuffing`; everything else is what `deploy/demo` starts. Needs Debian's Chromium.
"""

import argparse
import os
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from chromium import browser
from real_core import RealRig, real_rig

SIZES = {"wall": (1920, 1080), "tablet": (1280, 800), "phone": (390, 844)}
LIVE_PAGES = {"wall": "/wall", "bench": "/bench", "alarms": "/alarms"}
SETTLE_MS = 1200
STALE_MS = 2500


def pictures(rig: RealRig, chromium: Any, pages: dict[str, str], state: str) -> Iterator[tuple[str, bytes]]:
    """Give a name and a picture of every page, theme and size in the state the rig is in, few tabs at a time."""
    for name, path in pages.items():
        for size, (width, height) in SIZES.items():
            tabs = []
            for theme in ("day", "night"):
                tab = chromium.new_page(viewport={"width": width, "height": height}, reduced_motion="reduce")
                tab.goto(f"{rig.url}{path}{'&' if '?' in path else '?'}theme={theme}")
                tabs.append((f"{name}-{state}-{theme}-{size}", tab))
            tabs[-1][1].wait_for_timeout(SETTLE_MS)
            if state == "stale":
                silence_the_core(rig, tabs[-1][1])
            whole = name not in ("wall", "bench") or size == "phone"
            for shot, tab in tabs:
                yield shot, tab.screenshot(full_page=whole)
                tab.close()
            if state == "stale":
                os.kill(rig.core_pid(), signal.SIGCONT)


def silence_the_core(rig: RealRig, tab: Any) -> None:
    """Stop the core's process; the permit, had it one, would lapse by itself."""
    os.kill(rig.core_pid(), signal.SIGSTOP)
    tab.wait_for_timeout(STALE_MS)


def keep(folder: Path, drawn: Iterator[tuple[str, bytes]]) -> None:
    """Write pictures."""
    for name, picture in drawn:
        (folder / f"{name}.png").write_bytes(picture)
        print(name, flush=True)


def wait_for_stage(rig: RealRig, stage: int) -> None:
    """Wait until a stage has been under way for a third of its dwell."""
    while (run := rig.picture()["run"]) is None or run["stage"] < stage or run["stage_elapsed_s"] < run["dwell_s"] / 3:
        if rig.picture()["permit"]["state"] == "tripped":
            raise RuntimeError(f"tripped before stage {stage}: {rig.picture()['permit']['first_out']}")
        time.sleep(0.1)


def draw(rig: RealRig, chromium: Any, folder: Path, stage: int) -> None:
    """Draw everything there is to see in one run."""
    rig.run_under_load()
    wait_for_stage(rig, stage)
    keep(folder, pictures(rig, chromium, LIVE_PAGES, "healthy"))
    permit = rig.picture()["permit"]
    if permit["state"] == "tripped" and permit["first_out"]["kind"] == "rig_box":
        raise RuntimeError(
            f"{permit['first_out']['says']} It tripped while the healthy pictures were drawn, so they are none: the "
            "browser took the processor from the core. Draw them again with a lower --speed, or on a quieter machine."
        )
    while rig.picture()["permit"]["state"] == "permitted":
        time.sleep(0.1)
    keep(folder, pictures(rig, chromium, LIVE_PAGES, "tripped"))
    keep(folder, pictures(rig, chromium, LIVE_PAGES, "stale"))
    rig.session.close_run()
    still = {
        "runs": "/runs", "run": f"/runs/{rig.run}", "run_trip": f"/runs/{rig.run}?zoom=minute", "rig": "/rig",
        "settings": "/settings", "norun": "/bench",
    }  # fmt: skip
    keep(folder, pictures(rig, chromium, still, "after"))


def main() -> int:
    """Draw into the folder."""
    parser = argparse.ArgumentParser(description="Draw every page over the real core.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--speed", type=float, default=12.0)
    parser.add_argument("--scenario", default="scuffing")
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--stage", type=int, default=3)
    parser.add_argument("--keep", type=Path, help="keep the record in this folder")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="scuff-") as made, browser() as chromium:
        data = given.keep or Path(made)
        with real_rig(data, given.scenario, given.speed, given.seed) as rig:
            draw(rig, chromium, given.folder, given.stage)
    return 0


if __name__ == "__main__":
    sys.exit(main())
