"""Child processes of a command: started together, ended together, the youngest first.

Reads argument lists, gives handles. Nothing that was started here outlives the command.
"""

import contextlib
import subprocess
import sys
from pathlib import Path
from types import TracebackType

STOP_S = 10.0


class Children:
    """The processes one command has started.

    Args:
        log_folder: each child's standard output and error go to a file there.
    """

    def __init__(self, log_folder: Path) -> None:
        self._log_folder = log_folder
        self._children: list[tuple[str, subprocess.Popen[bytes]]] = []

    def start(self, name: str, module: str, *words: str) -> subprocess.Popen[bytes]:
        """Start `python -m module words` with its own log file."""
        with (self._log_folder / f"{name}.log").open("ab") as log:
            child = subprocess.Popen(
                [sys.executable, "-m", module, *words], stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )
        self._children.append((name, child))
        return child

    def dead(self) -> str:
        """Give the name of a child that has ended by itself, or an empty string."""
        return next((name for name, child in self._children if child.poll() is not None), "")

    def how_ended(self, name: str) -> str:
        """Give how a child ended: `by signal 9`, or `with code 1`."""
        code = next(child.poll() for known, child in self._children if known == name)
        return f"by signal {-code}" if code is not None and code < 0 else f"with code {code}"

    def kill(self, name: str) -> None:
        """End a child without a warning, as a power cut would, and forget it."""
        found = next(child for known, child in self._children if known == name)
        found.kill()
        found.wait()
        self._children = [(known, child) for known, child in self._children if child is not found]

    def log_tail(self, name: str) -> str:
        """Give the last lines a child has printed."""
        lines = (self._log_folder / f"{name}.log").read_text(encoding="utf-8", errors="replace").splitlines()
        return "\n".join(lines[-5:])

    def __enter__(self) -> "Children":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for _, child in reversed(self._children):
            if child.poll() is None:
                child.terminate()
                with contextlib.suppress(subprocess.TimeoutExpired):
                    child.wait(STOP_S)
            if child.poll() is None:
                child.kill()
                child.wait()
