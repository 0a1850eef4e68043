"""Which detectors run: the plain ones, or the same source compiled beforehand (`deploy/setup --compiled`).

Reads the folder `compiled` of the interpreter's environment, gives which kind runs and why. Whatever runs detectors
calls `use_compiled` before it imports one. Compiled code runs only where its stamp names the very sources, the very
interpreter and the very files that stand there: else the plain ones run and one sentence says so.
"""

import hashlib
import importlib
import importlib.machinery
import importlib.util
import json
import os
import platform
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scuffwatch.model.errors import ConfigError

SWITCH = "SCUFFWATCH_COMPILED"
"""Environment variable: `no` keeps the plain detectors; `yes`, empty or unset takes compiled ones where they hold."""
STAMP = "stamp.json"
LIBRARY = "scuffwatch_detect__mypyc"
"""Module that holds all compiled code; those beside it only lead there, and ask for it by this name."""
PACKAGE = "scuffwatch.detect"
SOURCES = ("detect", "model", "signals")
"""Rooms the compiled code depends on: its own, and those whose values and constants are built into it."""
_DO = "Run deploy/setup --compiled."


@dataclass(frozen=True, slots=True)
class Detectors:
    """Which detectors run, or would run.

    Attributes:
        is_compiled: whether the compiled ones.
        why: why the plain ones; empty where compiled ones run or nobody has built any.
        is_wanted: whether compiled ones were meant to run and do not: then a person is told.
    """

    is_compiled: bool
    why: str = ""
    is_wanted: bool = False

    @property
    def kind(self) -> str:
        """Give `compiled` or `plain`, and why where it is not as built."""
        return "compiled" if self.is_compiled else f"plain ({self.why})" if self.why else "plain"

    @property
    def sentence(self) -> str:
        """Give what a person is told where compiled detectors were meant to run; else nothing."""
        if not self.is_wanted:
            return ""
        return f"Compiled detectors not used: {self.why}. The plain ones run: same findings, more time. {_DO}"


def default_folder() -> Path:
    """Give the folder of the compiled detectors of this interpreter's environment."""
    return Path(sys.prefix) / "compiled"


def interpreter() -> str:
    """Give version and binary interface of this interpreter, as the stamp keeps them."""
    return f"{platform.python_implementation()} {platform.python_version()} {importlib.machinery.EXTENSION_SUFFIXES[0]}"


def sources_hash() -> str:
    """Give the hash of the sources that stand here and that compiled code depends on."""
    root = Path(__file__).parents[1]
    return hash_of(root, (path for room in SOURCES for path in sorted((root / room).glob("*.py"))))


def hash_of(root: Path, paths: Iterable[Path]) -> str:
    """Give the hash over names below a folder and contents, in the order of the paths."""
    found = hashlib.sha256()
    for path in paths:
        content = path.read_bytes()
        found.update(f"{path.relative_to(root)}\n{len(content)}\n".encode())
        found.update(content)
    return found.hexdigest()


def look(folder: Path | None = None) -> Detectors:
    """Say which detectors would run, from the stamp and the files; nothing is loaded.

    Args:
        folder: of the compiled detectors; by default the environment's own.
    Raises:
        ConfigError: the switch is neither yes nor no.
    """
    switch = os.environ.get(SWITCH, "")
    if switch not in ("", "yes", "no"):
        raise ConfigError((f"{SWITCH}={switch}: limits yes or no. Nothing has been started. Correct the variable.",))
    place = folder or default_folder()
    if not place.is_dir():
        return Detectors(False)
    if switch == "no":
        return Detectors(False, f"switched off by {SWITCH}")
    why = _fault(place)
    return Detectors(not why, why, bool(why))


def _fault(folder: Path) -> str:
    """Say what keeps the compiled detectors of a folder from being run; nothing where they hold."""
    try:
        stamp: dict[str, Any] = json.loads((folder / STAMP).read_text(encoding="utf-8"))
        if stamp["python"] != interpreter():
            return f"they were built for {stamp['python']}, this is {interpreter()}"
        if stamp["sources"] != sources_hash():
            return "the source has changed since they were built"
        if stamp["files"] != hash_of(folder, files_of(folder)):
            return f"files in {folder} are not those that were built"
    except OSError as error:
        return f"{error.filename}: {error.strerror}"
    except (ValueError, KeyError, TypeError):
        return f"{folder / STAMP} cannot be read"
    return ""


def files_of(folder: Path) -> list[Path]:
    """Give the compiled files of a folder, in order."""
    found = (path for path in folder.rglob("*.*") if path.name != STAMP and path.parent.name != "__pycache__")
    return sorted(path for path in found if path.is_file())


def use_compiled(folder: Path | None = None) -> Detectors:
    """Let the compiled detectors run where they hold; to be called before any detector is imported.

    What survives a call: the compiled modules are found before the plain ones, in this process and its forks.

    Args:
        folder: of the compiled detectors; by default the environment's own.
    Returns:
        Which detectors run from now on.
    Raises:
        ConfigError: the switch is neither yes nor no.
    """
    place = folder or default_folder()
    found = look(place)
    if not found.is_compiled:
        return found
    loaded = [name for name in sys.modules if name.startswith(f"{PACKAGE}.")]
    if loaded:
        if all(_is_from(place, name) for name in loaded):
            return found
        return Detectors(False, f"{loaded[0]} had been imported before they were asked for", True)
    try:
        load(place)
    except ImportError as error:
        _forget(place)
        return Detectors(False, f"they cannot be loaded: {' '.join(str(error).split())}", True)
    return found


def running() -> Detectors:
    """Say which detectors this process has loaded."""
    bank = importlib.import_module(f"{PACKAGE}.bank")
    if Path(str(bank.__file__)).parent != Path(__file__).parents[1] / "detect":
        return Detectors(True)
    found = look()
    return Detectors(False) if found.is_compiled else found


def load(folder: Path) -> None:
    """Load the compiled detectors of a folder, unchecked; what `use_compiled` does once it has looked.

    Raises:
        ImportError: they cannot be loaded.
    """
    library = next(iter(folder.glob(f"{LIBRARY}.*")), folder / LIBRARY)
    spec = importlib.util.spec_from_file_location(LIBRARY, library)
    if spec is None or spec.loader is None:
        raise ImportError(f"{library} is no module")
    module = importlib.util.module_from_spec(spec)
    sys.modules[LIBRARY] = module
    spec.loader.exec_module(module)
    importlib.import_module(PACKAGE).__path__.insert(0, str(_modules(folder)))
    importlib.import_module(f"{PACKAGE}.bank")


def _forget(folder: Path) -> None:
    """Leave things as if no compiled detector had been looked for."""
    for name in [name for name in sys.modules if name == LIBRARY or name.startswith(f"{PACKAGE}.")]:
        del sys.modules[name]
    path = importlib.import_module(PACKAGE).__path__
    path[:] = [place for place in path if place != str(_modules(folder))]


def _is_from(folder: Path, name: str) -> bool:
    file = getattr(sys.modules[name], "__file__", None)
    return file is not None and Path(file).parent == _modules(folder)


def _modules(folder: Path) -> Path:
    """Give where the modules are that lead into the library; the library itself names its modules so."""
    return folder.joinpath(*PACKAGE.split("."))
