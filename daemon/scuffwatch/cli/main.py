"""Entry of the command line: finds the command, imports only its file, turns errors into one sentence.

Exit codes: 0 done; 1 the answer is no (a check is red, a scenario ended otherwise); 2 wrong words or a wrong setting;
3 the rig box or the core cannot be reached; 70 a fault of the program.
"""

import argparse
import importlib
import os
import sys
from collections.abc import Callable
from typing import NamedTuple, Protocol


class CommandModule(Protocol):
    """What each file in this room offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's words."""

    def run(self, args: argparse.Namespace) -> int:
        """Do it; the result is the exit code."""


class Command(NamedTuple):
    """One command: its name, the file that holds it and one line of help."""

    name: str
    module: str
    help: str


COMMANDS = (
    Command("demo", "demo", "run the simulated rig, the core and the pages on a fresh folder"),
    Command("daemon", "daemon", "run the core: serial port to permit"),
    Command("uplink", "uplink", "send the record to a store, a broker and people"),
    Command("alert", "alert", "test the alert channels"),
    Command("runs", "runs", "list the runs of a data folder"),
    Command("show", "show", "show one run: stages, outcome, ledger, events"),
    Command("export", "export", "write one run as a data package for other programs"),
    Command("verify", "verify", "check that a record is whole"),
    Command("replay", "replay", "put a recording through the detectors: a table, or a run file"),
    Command("benchmark", "benchmark", "measure what the core costs on this machine"),
)
EXIT_NO = 1
EXIT_USAGE = 2
EXIT_NOT_CONNECTED = 3
EXIT_FAULT = 70


def main(argv: list[str] | None = None) -> int:
    """Run one command; the result is the exit code."""
    words = sys.argv[1:] if argv is None else argv
    parser = _parser(words)
    args = parser.parse_args(words)
    module = _module(args.command)
    return _guarded(lambda: module.run(args))


def _parser(words: list[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="scuffwatch",
        description="Watches a pin-on-ring friction rig and takes the motor's permit away. Not a safety device.",
    )
    parser.add_argument("--version", action="version", version=_version())
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument(
        "--data",
        metavar="DIR",
        default=os.environ.get("SCUFFWATCH_DATA", ""),
        help="data folder (default: SCUFFWATCH_DATA, else demo-data here for the demo)",
    )
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    wanted = next((word for word in words if not word.startswith("-")), "")
    for command in COMMANDS:
        child = subparsers.add_parser(command.name, help=command.help, description=command.help, parents=[shared])
        if command.name == wanted:
            _module(command.name).add_arguments(child)
    return parser


def _module(name: str) -> CommandModule:
    file = next(command.module for command in COMMANDS if command.name == name)
    module: CommandModule = importlib.import_module(f"scuffwatch.cli.{file}")
    return module


def _version() -> str:
    from scuffwatch import __version__

    return f"scuffwatch {__version__}"


def _guarded(work: Callable[[], int]) -> int:
    from scuffwatch.model.errors import ConfigError, InternalError, RigNotConnected, ScuffwatchError

    try:
        return work()
    except ScuffwatchError as error:
        print(error.sentence(), file=sys.stderr)
        if isinstance(error, InternalError):
            return EXIT_FAULT
        if isinstance(error, RigNotConnected):
            return EXIT_NOT_CONNECTED
        return EXIT_USAGE if isinstance(error, ConfigError) else EXIT_NO
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
