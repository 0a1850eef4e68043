"""Compiled detectors run only where stamp, source, interpreter and files agree; else the plain ones, and it is said."""

import importlib.machinery
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from compiled_folder import AT, DAEMON, make_folder, run_python, stamp

from scuffwatch.cli.main import COMMANDS, main
from scuffwatch.model.errors import ConfigError
from scuffwatch.service import compiled
from scuffwatch.service.compiled import SWITCH, Detectors, look, running, use_compiled

WHICH = """
from scuffwatch.service.compiled import running, use_compiled
found = use_compiled()
from scuffwatch.detect import arl, bank
print(found.is_compiled, running().kind, *{Path(module.__file__).parent for module in (arl, bank)})
print(found.sentence)
"""
COMMAND = """
from scuffwatch.cli.main import main
code = main(sys.argv[2:])
print("runs", compiled.running().kind)
sys.exit(code)
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv(SWITCH)
    return make_folder(tmp_path / "compiled")


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "table.csv"
    path.write_text("time_s,motor_current_a\n" + "".join(f"{0.1 * k:.1f},1.{k % 10}\n" for k in range(100)))
    return path


# --- what is looked at ------------------------------------------------------------------------------------


def test_tests_run_the_plain_detectors() -> None:
    assert not running().is_compiled


def test_where_nobody_has_built_any_nothing_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(SWITCH)
    found = look(tmp_path / "none")
    assert (found, found.kind, found.sentence) == (Detectors(False), "plain", "")


def test_what_agrees_is_taken(folder: Path) -> None:
    found = look(folder)
    assert (found, found.kind, found.sentence) == (Detectors(True), "compiled", "")


def test_what_is_switched_off_is_not_taken_and_nobody_is_told_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(SWITCH, "no")
    found = use_compiled(folder)
    assert (found.kind, found.sentence) == (f"plain (switched off by {SWITCH})", "")


def test_a_switch_that_is_neither_yes_nor_no_stops_the_start(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SWITCH, "maybe")
    with pytest.raises(ConfigError, match=f"{SWITCH}=maybe: limits yes or no"):
        use_compiled(folder)


def _add(folder: Path) -> None:
    (folder / "scuffwatch" / "detect" / "more.py").write_text("MORE = 1\n")


def _change(folder: Path) -> None:
    with (folder / f"{compiled.LIBRARY}.py").open("a") as file:
        file.write("HERE = False\n")


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        (lambda folder: stamp(folder, sources="0"), "the source has changed since they were built"),
        (lambda folder: stamp(folder, python="CPython 3.10.0 .so"), "they were built for CPython 3.10.0 .so, this is "),
        (lambda folder: (folder / "scuffwatch" / "detect" / "arl.py").unlink(), "are not those that were built"),
        (lambda folder: shutil.rmtree(folder / "scuffwatch"), "are not those that were built"),
        (_add, "are not those that were built"),
        (_change, "are not those that were built"),
        (lambda folder: (folder / "stamp.json").unlink(), "stamp.json: No such file or directory"),
        (lambda folder: (folder / "stamp.json").write_text("{"), "stamp.json cannot be read"),
        (lambda folder: (folder / "stamp.json").write_text("[]"), "stamp.json cannot be read"),
        (lambda folder: (folder / "stamp.json").write_text("{}"), "stamp.json cannot be read"),
        (lambda folder: (folder / "stamp.json").write_bytes(b"\xff"), "stamp.json cannot be read"),
    ],
)
def test_what_does_not_agree_is_not_taken_and_a_person_is_told(
    folder: Path, harm: Callable[[Path], object], says: str
) -> None:
    harm(folder)
    found = use_compiled(folder)
    assert not found.is_compiled
    assert says in found.why
    assert found.sentence.startswith("Compiled detectors not used: ")
    assert found.sentence.endswith("The plain ones run: same findings, more time. Run deploy/setup --compiled.")


def test_a_folder_that_may_not_be_read_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As its service sees it; to root nothing is closed, so a file in the way stands for it."""
    (folder / "stamp.json").unlink()
    (folder / "stamp.json").mkdir()
    assert look(folder).why.endswith("stamp.json: Is a directory")


def test_a_call_that_comes_too_late_changes_nothing_and_is_told(folder: Path) -> None:
    """Detectors have been imported by other tests, or are now."""
    before = running()
    found = use_compiled(folder)
    assert not found.is_compiled
    assert "had been imported before they were asked for" in found.sentence
    assert not before.is_compiled
    assert not running().is_compiled


# --- what runs, each in a process of its own ---------------------------------------------------------------


def test_what_holds_runs_and_a_second_call_says_the_same(folder: Path) -> None:
    ran = run_python(
        AT + WHICH + "print(use_compiled() == found, 'HERE' in vars(sys.modules[compiled.LIBRARY]))", folder
    )
    modules = folder / "scuffwatch" / "detect"
    assert (ran.stdout, ran.stderr) == (f"True compiled {modules}\n\nTrue True\n", "")


def test_a_library_that_is_none_leaves_the_plain_ones(folder: Path) -> None:
    """The stamp holds, and the loader refuses: built for another C library, say."""
    (folder / f"{compiled.LIBRARY}.py").unlink()
    (folder / f"{compiled.LIBRARY}{importlib.machinery.EXTENSION_SUFFIXES[0]}").write_bytes(b"\x7fELF, or nearly")
    ran = run_python(AT + WHICH, stamp(folder))
    which, says = ran.stdout.splitlines()
    assert (which, ran.stderr) == (f"False plain {DAEMON / 'scuffwatch' / 'detect'}", "")
    assert says.startswith("Compiled detectors not used: they cannot be loaded: ")


def test_a_module_that_cannot_be_loaded_leaves_the_plain_ones(folder: Path) -> None:
    bank = folder / "scuffwatch" / "detect" / "bank.py"
    bank.write_text(bank.read_text(encoding="utf-8") + "\nraise ImportError('not today')\n", encoding="utf-8")
    ran = run_python(AT + WHICH, stamp(folder))
    which, says = ran.stdout.splitlines()
    assert (which, ran.stderr) == (f"False plain {DAEMON / 'scuffwatch' / 'detect'}", "")
    assert says.startswith("Compiled detectors not used: they cannot be loaded: not today.")


@pytest.mark.slow
def test_a_command_takes_them_before_it_imports_a_detector(folder: Path, table: Path) -> None:
    ran = run_python(AT + COMMAND, folder, "replay", table)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.endswith("runs compiled\n")


@pytest.mark.slow
def test_a_command_on_changed_source_runs_the_plain_ones_and_says_it_once(
    folder: Path, table: Path, tmp_path: Path
) -> None:
    """As after an update without a new setup."""
    shutil.copytree(DAEMON, tmp_path / "daemon", ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / "daemon" / "scuffwatch" / "detect" / "smooth.py").open("a") as file:
        file.write("# one line more\n")
    ran = run_python(AT + COMMAND, folder, "replay", table, daemon=tmp_path / "daemon")
    assert ran.returncode == 0
    assert ran.stdout.endswith("runs plain (the source has changed since they were built)\n")
    assert ran.stderr.splitlines() == [Detectors(False, "the source has changed since they were built", True).sentence]
    plain = run_python(AT + COMMAND, folder, "replay", table, switch="no")
    assert plain.stdout.splitlines()[:-1] == ran.stdout.splitlines()[:-1]
    assert plain.stderr == ""


def test_no_command_imports_a_detector_before_the_choice() -> None:
    names = [command.name for command in COMMANDS if command.detects]
    script = f"""
import sys
from scuffwatch.cli.main import _parser
for name in {names}:
    _parser([name])
print([name for name in sys.modules if name.startswith("scuffwatch.detect")])
"""
    assert {"daemon", "replay", "demo", "benchmark"} == set(names)
    assert run_python(script).stdout == "[]\n"


# --- where it is told -------------------------------------------------------------------------------------


def test_the_version_tells_which_run(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert not ended.value.code
    assert capsys.readouterr().out.startswith(f"scuffwatch 0.1.0, detectors {look().kind}")


def test_the_core_tells_which_run_before_anything_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["daemon", "--rig", str(tmp_path / "none.toml"), "--data", str(tmp_path)])
    assert capsys.readouterr().err.startswith("scuffwatch 0.1.0, detectors plain")
