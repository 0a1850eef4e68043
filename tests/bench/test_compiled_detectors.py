"""Compiled detectors, really built: the build compares them itself; here they pass the detectors' own tests and worlds.

Needs a C compiler and the headers of Python, as `deploy/setup --compiled` installs them.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from scuffwatch.cli import compiled_build, compiled_check
from scuffwatch.service.compiled import SWITCH

pytestmark = [pytest.mark.long, pytest.mark.timeout(3600)]

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "tests" / "bench" / "detection"
AT = """
import runpy, sys
from pathlib import Path
from scuffwatch.service import compiled
folder = Path(sys.argv.pop(1))
compiled.default_folder = lambda: folder
"""
CAMPAIGN = AT + "sys.argv[0] = 'campaign'\nrunpy.run_module('campaign', run_name='__main__', alter_sys=True)\n"
TESTS = """
found = compiled.use_compiled()
assert found.is_compiled, found.kind
import pytest
sys.exit(pytest.main(sys.argv[1:]))
"""
KINDS = (
    "SCUFFING_ONSET",
    "STALL",
    "JAM",
    "OVERHEAT",
    "OVERLOAD",
    "FRICTION_LIMIT",
    "SENSOR_FAULT",
    "STICK_SLIP",
    "STAGE",
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("built") / "compiled"
    assert compiled_build.main(["--folder", str(folder)]) == 0
    return folder


def run(cwd: Path, script: str, *words: object) -> str:
    command = [sys.executable, "-c", script, *map(str, words)]
    environment = {**os.environ, SWITCH: "yes"}
    ran = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


def test_the_comparison_before_they_are_put_in_place_shows_every_kind_of_finding() -> None:
    said = "".join(line for recording in compiled_check.recordings() for line in compiled_check.said(recording))
    assert [kind for kind in KINDS if f"FindingKind.{kind}:" not in said] == []


def test_they_pass_the_detectors_own_tests(folder: Path) -> None:
    """None of those tests replaces what is inside of a detector: that compiled code would not notice."""
    words = ("-q", "-p", "no:cacheprovider", "-m", "not long and not bench", "tests/unit/detect")
    assert " passed" in run(ROOT, AT + TESTS, folder, *words)


@pytest.mark.parametrize("world", ["a", "b", "c", "d"])
def test_they_give_the_same_verdicts_over_every_class_of_a_world(folder: Path, world: str, tmp_path: Path) -> None:
    words = ["--world", world, "--per-class", "1", "--first-seed", "9820", "--alone"]
    rows = []
    for kind in ("plain", "compiled"):
        out = tmp_path / f"{kind}.json"
        run(BENCH, CAMPAIGN, folder, *words, "--out", out, *(["--compiled"] if kind == "compiled" else []))
        rows.append(out.read_text(encoding="utf-8"))
    assert rows[0] == rows[1]
    assert rows[0].count('"world"') == 14
