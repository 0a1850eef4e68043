"""A folder of compiled detectors without a compiler: copies of the source stand for the compiled modules."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from scuffwatch.service import compiled

DAEMON = Path(compiled.__file__).parents[2]
AT = """
import sys
from pathlib import Path
from scuffwatch.service import compiled
compiled.default_folder = lambda: Path(sys.argv[1])
"""
"""Begin of a script whose first word is the folder of its compiled detectors."""


def make_folder(folder: Path) -> Path:
    """Fill a folder with stand-ins and a stamp that holds."""
    shutil.copytree(DAEMON / "scuffwatch" / "detect", folder / "scuffwatch" / "detect")
    (folder / "scuffwatch" / "detect" / "__init__.py").unlink()
    shutil.rmtree(folder / "scuffwatch" / "detect" / "__pycache__", ignore_errors=True)
    (folder / f"{compiled.LIBRARY}.py").write_text("HERE = True\n", encoding="utf-8")
    return stamp(folder)


def stamp(folder: Path, **other: str) -> Path:
    """Write a stamp of what stands there, and of what is said to be otherwise."""
    told = {
        "sources": compiled.sources_hash(),
        "python": compiled.interpreter(),
        "files": compiled.hash_of(folder, compiled.files_of(folder)),
        **other,
    }
    (folder / compiled.STAMP).write_text(json.dumps(told), encoding="utf-8")
    return folder


def run_python(
    script: str, *words: object, switch: str = "yes", daemon: Path = DAEMON
) -> "subprocess.CompletedProcess[str]":
    """Run a script in a process that has imported nothing yet."""
    environment = {**os.environ, compiled.SWITCH: switch, "PYTHONPATH": str(daemon)}
    command = [sys.executable, "-c", script, *map(str, words)]
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60)
