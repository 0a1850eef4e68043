"""Entry of the command line: finds the command, imports only its file, turns errors into one sentence."""

import argparse
import importlib
import io
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, Protocol


class CommandModule(Protocol):
    """What each file in this room offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's words."""

    def run(self, args: argparse.Namespace) -> int:
        """Do it; the result is the exit code."""


class Command(NamedTuple):
    """One command: its name, the file that holds it, one line of help, and whether detectors run in it."""

    name: str
    module: str
    help: str
    detects: bool = False


COMMANDS = (
    Command("demo", "demo", "run the simulated rig, the core and the pages on a fresh folder", detects=True),
    Command("daemon", "daemon", "run the core: serial port to permit", detects=True),
    Command("uplink", "uplink", "send the record to a store, a broker and people"),
    Command("alert", "alert", "test the alert channels"),
    Command("runs", "runs", "list the runs of a data folder"),
    Command("show", "show", "show one run: stages, outcome, ledger, events"),
    Command("export", "export", "write one run as a data package for other programs"),
    Command("verify", "verify", "check that a record is whole"),
    Command("replay", "replay", "put a recording through the detectors: a table, or a run file", detects=True),
    Command("benchmark", "benchmark", "measure what the core costs on this machine", detects=True),
)
EXIT_CODES = (
    "0 done; 1 the answer is no, or it cannot be done; 2 wrong words or a wrong setting; "
    "3 the rig box or the core cannot be reached; 70 a fault of the program; 130 stopped by Ctrl-C."
)
EXIT_NO = 1
EXIT_USAGE = 2
EXIT_NOT_CONNECTED = 3
EXIT_FAULT = 70
EXIT_STOPPED = 130


def main(argv: list[str] | None = None) -> int:
    """Run one command; the result is the exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal that has no µ gets a question mark, not the end
        sys.stdout.reconfigure(errors="replace")
    return _guarded(lambda: _run(sys.argv[1:] if argv is None else argv))


def _run(words: list[str]) -> int:
    from scuffwatch.model.errors import ConfigError

    if words and words[0].partition("=")[0] == "--data":
        raise ConfigError(("--data stands behind the command: scuffwatch COMMAND --data DIR. Nothing has been done.",))
    args = _parser(words).parse_args(words)
    if any(command.detects for command in COMMANDS if command.name == args.command):
        _choose_detectors()
    return _module(args.command).run(args)


def _choose_detectors() -> None:
    """Take the compiled detectors where they hold, before anything imports one; say where they do not."""
    from scuffwatch.service.compiled import use_compiled

    says = use_compiled().sentence
    if says:
        print(says, file=sys.stderr, flush=True)


def _parser(words: list[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="scuffwatch",
        description="Watches a pin-on-ring friction rig and takes the motor's permit away. Not a safety device.",
        epilog="exit codes: " + EXIT_CODES,
    )
    parser.add_argument(
        "--version", action=_ShowVersion, help="show version and which kind of detectors runs, and exit"
    )
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument(
        "--data",
        metavar="DIR",
        default=os.environ.get("SCUFFWATCH_DATA", ""),
        help="data folder (default: the variable SCUFFWATCH_DATA)",
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


class _ShowVersion(argparse.Action):
    """Print the version; which detectors run is looked up only where it is asked for."""

    def __init__(self, option_strings: list[str], dest: str, **rest: Any) -> None:
        super().__init__(option_strings, dest, nargs=0, **rest)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from scuffwatch import __version__
        from scuffwatch.service.compiled import look

        print(f"scuffwatch {__version__}, detectors {look().kind}")
        parser.exit()


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
        print("Stopped before the end. What was asked for is not complete.", file=sys.stderr)
        return EXIT_STOPPED
    except OSError as error:
        print(_of_the_system(error), file=sys.stderr)
        return EXIT_NO
    except Exception as error:  # noqa: BLE001 - the end of the process: a person gets a sentence, whoever mends the place
        print(_of_the_program(error), file=sys.stderr)
        return EXIT_FAULT


def _of_the_system(error: OSError) -> str:
    place = f"{error.filename}: " if error.filename else ""
    why = error.strerror or str(error)
    return f"{place}{why}. The command has ended. Check the path, the disk and who may use them."


def _of_the_program(error: Exception) -> str:
    import traceback

    last = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{'/'.join(Path(last.filename).parts[-2:])}:{last.lineno}"
    says = " ".join(f"{type(error).__name__}: {error}".split())
    return f"Fault of the program: {says} ({where}). The command has ended. Send this line to its maintainer."


if __name__ == "__main__":
    sys.exit(main())
