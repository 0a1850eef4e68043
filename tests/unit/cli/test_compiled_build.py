"""Nothing is put in place that was not compiled, or that differs from the plain detectors in a single bit."""

import itertools
import json
import math
import subprocess
from pathlib import Path

import pytest

from scuffwatch.cli import compiled_build, compiled_check
from scuffwatch.service import compiled


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder in which older compiled detectors stand."""
    folder = tmp_path / "compiled"
    folder.mkdir()
    (folder / "old.so").write_text("old")
    return folder


def _compiles(monkeypatch: pytest.MonkeyPatch, code: int, differs: str = "") -> None:
    """Let the compiler end with a code and leave one file, and the comparison say what it says."""

    def run(words: list[str], **_: object) -> "subprocess.CompletedProcess[bytes]":
        (Path(words[-1]) / "new.so").write_text("new")
        return subprocess.CompletedProcess(words, code, b"cc: no such thing")

    monkeypatch.setattr(compiled_build.subprocess, "run", run)
    monkeypatch.setattr(compiled_build, "difference", lambda _: differs)


@pytest.mark.parametrize(
    ("code", "differs", "says"),
    [
        (1, "", "The detectors could not be compiled, see the lines above. Nothing has been put in place; "),
        (0, "they differ", "The compiled detectors have been refused: they differ. Nothing has been put in place; "),
    ],
)
def test_what_cannot_be_used_is_not_put_in_place(
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    code: int,
    differs: str,
    says: str,
) -> None:
    _compiles(monkeypatch, code, differs)
    assert compiled_build.main(["--folder", str(folder)]) == 1
    told = capsys.readouterr().err.splitlines()
    assert told[-1] == says + "the plain detectors run."
    assert ("cc: no such thing" in told) == bool(code)
    assert [path.name for path in folder.parent.iterdir()] == ["compiled"]
    assert [path.name for path in folder.iterdir()] == ["old.so"]


def test_what_holds_is_put_in_place_of_the_old_and_not_built_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _compiles(monkeypatch, 0)
    assert compiled_build.main(["--folder", str(folder)]) == 0
    assert {path.name for path in folder.iterdir()} == {"new.so", "stamp.json"}
    _compiles(monkeypatch, 1)
    assert compiled_build.main(["--folder", str(folder)]) == 0
    version = json.loads((folder / compiled.STAMP).read_text())["built_with"].split()[1]
    assert compiled_build.main(["--folder", str(folder), "--holds", version]) == 0
    assert compiled_build.main(["--folder", str(folder), "--holds", "0.1"]) == 1
    (folder / "new.so").write_text("other")
    assert compiled_build.main(["--folder", str(folder), "--holds", version]) == 1


def test_floating_point_is_compiled_as_it_is_written() -> None:
    assert "-ffp-contract=off" in compiled_build.FLAGS
    assert not {"-ffast-math", "-Ofast", "-march=native"} & set(compiled_build.FLAGS)


def test_recordings_show_noise_holes_and_missing_cells_and_are_the_same_again() -> None:
    rows = list(itertools.islice(compiled_check._noisy_rows(1, 100.0), 6_000))
    assert repr(rows) == repr(list(itertools.islice(compiled_check._noisy_rows(1, 100.0), 6_000)))
    steps = [after[0] - before[0] for before, after in itertools.pairwise(rows)]
    assert max(steps) > 0.6
    assert any(math.isnan(value) for _, values in rows for value in values)


@pytest.mark.slow
def test_a_last_bit_that_differs_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "service"))
    from compiled_folder import make_folder

    folder = make_folder(tmp_path / "compiled")
    smooth = folder / "scuffwatch" / "detect" / "smooth.py"
    written, otherwise = "1.0 - math.exp(-dt_s / memory_s)", "-math.expm1(-dt_s / memory_s)"
    text = smooth.read_text(encoding="utf-8")
    assert written in text
    smooth.write_text(text.replace(written, otherwise), encoding="utf-8")
    assert compiled_check.difference(folder).startswith("they differ from the plain ones, after ")


def test_what_cannot_even_be_loaded_is_told(tmp_path: Path) -> None:
    assert compiled_check.difference(tmp_path) == "they end early, after their start"
