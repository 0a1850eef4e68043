"""`scuffwatch demo`: the simulated rig, the core and the pages on a fresh folder, no hardware needed.

With `--once` one scenario is run to its end and compared with the truth; the exit code says whether it ended so.
"""

import argparse
import contextlib
import json
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    from scuffwatch.sim.scenario import SCENARIOS

    parser.add_argument("--once", action="store_true", help="run one scenario to its end, compare with the truth, exit")
    parser.add_argument("--json", action="store_true", help="print the result as one JSON object")
    parser.add_argument("--scenario", choices=sorted(SCENARIOS), default="scuffing", help="what happens at the rig")
    parser.add_argument("--seed", type=int, default=1, help="number the scenario is drawn from (default: 1)")
    parser.add_argument("--speed", type=float, help="times real time, 0.5 to 50 (default: 12; without --once: 5)")
    parser.add_argument("--port", type=int, metavar="N", help="of the pages (default: the first free one from 8180 on)")


def run(args: argparse.Namespace) -> int:
    """Run the demonstration; the result is the exit code."""
    from scuffwatch.cli.demo_live import run as run_live
    from scuffwatch.cli.demo_once import run as run_once
    from scuffwatch.model.errors import ConfigError

    speed = args.speed if args.speed is not None else 12.0 if args.once else 5.0
    wrong = []
    if not 0.5 <= speed <= 50.0:
        wrong.append(f"--speed {speed:g}: limits 0.5 to 50 times real time. Nothing has been started.")
    if args.seed < 0:
        wrong.append(f"--seed {args.seed}: it must be 0 or more. Nothing has been started.")
    if args.port is not None and not 1 <= args.port <= 65_535:
        wrong.append(f"--port {args.port}: limits 1 to 65535. Nothing has been started.")
    if wrong:
        raise ConfigError(tuple(wrong))
    with _folder(args.data) as folder:
        if not args.once:
            return run_live(folder, args.scenario, args.seed, speed, args.port)
        result = run_once(folder, args.scenario, args.seed, speed, _progress(args.json))
    if args.json:
        print(json.dumps(result.as_json(), ensure_ascii=False, indent=2))
    else:
        print(result.as_text())
    return 0 if result.as_expected else 1


@contextlib.contextmanager
def _folder(data: str) -> Iterator[Path]:
    """Give a fresh folder: below `data`, where it stays, or a temporary one, which goes with the demonstration."""
    from scuffwatch.model.errors import ConfigError

    if not data:
        with tempfile.TemporaryDirectory(prefix="scuffwatch-demo-") as made:
            yield Path(made)
        return
    folder = Path(data) / time.strftime("demo-%Y%m%d-%H%M%S")
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        says = f"--data {data}: {error.strerror}. Nothing has been started. Give a folder you may write in."
        raise ConfigError((says,)) from error
    yield folder
    print(f"Everything was kept in {folder}.", file=sys.stderr)


def _progress(quiet: bool) -> "Progress":
    return Progress(shown=not quiet or sys.stderr.isatty())


class Progress:
    """One line on standard error that says how far the run is.

    Args:
        shown: whether anything is printed.
    """

    def __init__(self, shown: bool) -> None:
        self._shown = shown
        self._last = ""

    def say(self, line: str) -> None:
        """Show a line in place of the last one; on a file, only where it changed."""
        if not self._shown or line == self._last:
            return
        self._last = line
        if sys.stderr.isatty():
            print(f"\r\033[K{line}", end="", file=sys.stderr, flush=True)

    def done(self) -> None:
        """End the line."""
        if self._shown and sys.stderr.isatty():
            print(file=sys.stderr)
