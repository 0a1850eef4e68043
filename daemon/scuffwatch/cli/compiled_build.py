"""Compile the detectors: `python -m scuffwatch.cli.compiled_build`, as `deploy/setup --compiled` calls it.

Reads the sources that stand here, gives the folder `compiled` of the interpreter's environment, with a stamp. Nothing
is built where the stamp still holds; nothing is put in place that has not been compared with the plain detectors.
Needs mypy, setuptools, a C compiler and the headers of Python.
"""

import argparse
import importlib.metadata
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from scuffwatch.cli.compiled_check import difference
from scuffwatch.service import compiled

FLAGS = ("-O2", "-g0", "-ffp-contract=off")
"""Contracted, a multiplication and an addition are rounded once instead of twice where the processor has such a step:
other digits than the plain detectors give. Nothing here may reorder floating point either."""
_NOT = ("-Werror",)
"""What mypyc asks for and an unknown compiler need not pass: its warnings are about code nobody here wrote."""
_LOG_MOST = 4000
_ROOT = Path(compiled.__file__).parents[2]


def main(arguments: list[str] | None = None) -> int:
    """Build, compare and put in place; the exit code is 0 where compiled detectors stand ready."""
    parser = argparse.ArgumentParser(prog="python -m scuffwatch.cli.compiled_build", description="Compile detectors.")
    parser.add_argument("--folder", type=Path, default=compiled.default_folder(), help="where they are put")
    parser.add_argument(
        "--holds", metavar="VERSION", help="build nothing; exit code 0 where they stand ready, built with this mypy"
    )
    parser.add_argument("--only-compile", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.only_compile:
        _compile(given.folder)
        return 0
    if given.holds is not None:
        return 0 if holds(given.folder, given.holds) else 1
    return 0 if holds(given.folder, _mypy()) else _build(given.folder)


def holds(folder: Path, mypy: str) -> bool:
    """Say whether the compiled detectors of a folder are those that a build with this mypy would give now."""
    try:
        stamp = json.loads((folder / compiled.STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return bool(stamp == _stamp(folder, mypy))


def _stamp(folder: Path, mypy: str) -> dict[str, str]:
    return {
        "sources": compiled.sources_hash(),
        "python": compiled.interpreter(),
        "built_with": " ".join((f"mypy {mypy}", *FLAGS)),
        "files": compiled.hash_of(folder, compiled.files_of(folder)),
    }


def _mypy() -> str:
    """Give the version of the mypy that is installed here; empty where none is."""
    try:
        return importlib.metadata.version("mypy")
    except importlib.metadata.PackageNotFoundError:
        return ""


def _build(folder: Path) -> int:
    new, old = (folder.with_name(f"{folder.name}.{word}") for word in ("new", "old"))
    for left in (new, old):
        shutil.rmtree(left, ignore_errors=True)
    new.mkdir(parents=True)
    try:
        refused = _compiled_and_compared(new)
        if refused:
            _say(f"{refused}. Nothing has been put in place; the plain detectors run.")
            return 1
        (new / compiled.STAMP).write_text(json.dumps(_stamp(new, _mypy()), indent=1) + "\n", encoding="utf-8")
        if folder.exists():
            folder.rename(old)
        new.rename(folder)
    finally:
        for left in (new, old):
            shutil.rmtree(left, ignore_errors=True)
    return 0


def _compiled_and_compared(folder: Path) -> str:
    """Fill a folder; the result is what speaks against using it, or nothing."""
    _say("Compiling the detectors (under a minute on a desktop computer, some minutes on a Pi) ...")
    words = [sys.executable, "-m", __spec__.name, "--only-compile", "--folder", str(folder)]
    done = subprocess.run(words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    if done.returncode:
        _say(done.stdout.decode(errors="replace")[-_LOG_MOST:])
        return "The detectors could not be compiled, see the lines above"
    _say("Comparing them with the plain ones ...")
    differs = difference(folder)
    return f"The compiled detectors have been refused: {differs}" if differs else ""


def _compile(folder: Path) -> None:
    """Compile into a folder; speaks a lot, and ends the process where it cannot."""
    from mypyc.build import mypycify
    from setuptools import Distribution

    work = folder.resolve() / "work"
    os.chdir(_ROOT)
    sources = [str(path.relative_to(_ROOT)) for path in sorted((_ROOT / "scuffwatch" / "detect").glob("*.py"))]
    words = ["--config-file=", f"--cache-dir={work / 'cache'}"]
    # A file a module: a third less memory and time than all in one, at the same speed of what comes out.
    extensions = mypycify(
        [*words, *(name for name in sources if not name.endswith("__init__.py"))],
        multi_file=True,
        target_dir=str(work / "c"),
        group_name=compiled.LIBRARY.removesuffix("__mypyc"),
    )
    for extension in extensions:
        extension.extra_compile_args = [*(f for f in extension.extra_compile_args if f not in _NOT), *FLAGS]
    distribution = Distribution({"name": "detectors", "ext_modules": extensions})
    command = distribution.get_command_obj("build_ext")
    command.build_lib, command.build_temp = str(work / "lib"), str(work / "objects")
    command.ensure_finalized()
    command.run()
    for made in (work / "lib").iterdir():
        made.rename(folder / made.name)
    shutil.rmtree(work)


def _say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
