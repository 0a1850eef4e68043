"""`scuffwatch daemon`: the core, from the serial port to the permit."""

import argparse
import sys
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--rig", metavar="FILE", default="rig.toml", help="settings of the rig (default: rig.toml)")
    parser.add_argument("--command-group", metavar="NAME", default="", help="group whose members may send commands")


def run(args: argparse.Namespace) -> int:
    """Run the core until it is told to stop."""
    from scuffwatch import __version__
    from scuffwatch.model.errors import ConfigError
    from scuffwatch.service.app import Paths, serve
    from scuffwatch.service.compiled import running

    if not args.data:
        raise ConfigError(("No data folder: say --data DIR or set SCUFFWATCH_DATA. Nothing has been started.",))
    _say(f"scuffwatch {__version__}, detectors {running().kind}")
    return serve(Paths(Path(args.rig), Path(args.data), args.command_group), _say)


def _say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)
