"""How the house stands: layers, places where errors are caught, sizes, names, and what may be written in a file."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from scuffwatch.model.channel import UNIT_OF_SUFFIX

ROOT = Path(__file__).parents[1]
PACKAGES = (ROOT / "daemon", ROOT / "dashboard")
MODULES = sorted(path for package in PACKAGES for path in package.rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
NOT_OURS = {"__pycache__", "build", "dist", "node_modules", "vendor", "demo-data", "fonts"}

CATCH_ALL = {
    # main loops of threads: the fault becomes a finding, an alarm or the end of that thread, never nothing
    "service/app.py": {"run"},
    "control/endpoint.py": {"_main"},
    "store/recorder.py": {"_work", "_finish", "offer"},  # and one sink's offer: it must never hurt the loop
    "scuffboard/hub.py": {"_run"},
    "uplink/threads.py": {"_main"},
    "cli/main.py": {"_guarded"},  # the end of a command: one sentence with the place, and exit code 70
}


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _files() -> Iterator[Path]:
    """Give the files that belong to the project, hidden folders but .ci left out."""
    for path in sorted(ROOT.rglob("*")):
        parts = path.relative_to(ROOT).parts
        hidden = any(part.startswith(".") and part != ".ci" for part in parts[:-1])
        if not hidden and not NOT_OURS.intersection(parts) and path.is_file() and not parts[-1].startswith(".coverage"):
            yield path


def _texts() -> Iterator[tuple[str, str]]:
    for path in _files():
        try:
            yield _name(path), path.read_text()
        except UnicodeDecodeError:
            continue  # an image or a recording


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def _catches_all(handler: ast.ExceptHandler) -> bool:
    """Say whether a handler takes everything and does not pass it on."""
    named = {node.id for node in ast.walk(handler.type) if isinstance(node, ast.Name)} if handler.type else {"all"}
    passes_on = isinstance(handler.body[-1], ast.Raise) and handler.body[-1].exc is None
    return bool(named & {"Exception", "BaseException", "all"}) and not passes_on


def test_rooms_import_only_to_their_right() -> None:
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_everything_is_caught_in_two_kinds_of_places_only() -> None:
    found: dict[str, set[str]] = {}
    for path in MODULES:
        for function in _functions(ast.parse(path.read_text())):
            handlers = [node for node in ast.walk(function) if isinstance(node, ast.ExceptHandler)]
            if any(map(_catches_all, handlers)):
                found.setdefault("/".join(path.parts[-2:]), set()).add(function.name)
    assert found == CATCH_ALL


@pytest.mark.parametrize(
    ("source", "caught"),
    [
        ("except Exception: x", True),
        ("except (OSError, Exception): x", True),
        ("except: x", True),
        ("except BaseException: x; raise", False),
        ("except OSError: x", False),
    ],
)
def test_the_check_above_sees_what_it_shall(source: str, caught: bool) -> None:
    handler = next(node for node in ast.walk(ast.parse(f"try: x\n{source}")) if isinstance(node, ast.ExceptHandler))
    assert _catches_all(handler) is caught


@pytest.mark.parametrize("path", [*MODULES, *TESTS], ids=_name)
def test_a_module_says_what_it_is_for(path: Path) -> None:
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree), f"{_name(path)} has no docstring"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_no_function_is_longer_than_60_lines(path: Path) -> None:
    lengths = {
        function.name: (function.end_lineno or 0) - function.lineno + 1
        for function in _functions(ast.parse(path.read_text()))
    }
    assert {name: lines for name, lines in lengths.items() if lines > 60} == {}


QUANTITY = re.compile(
    "load|force|mass|weight|torque|pressure|viscosity|current|voltage|resistance|temperature|speed|level|rate|frequency|"
    "volume|distance|length|width|diameter|radius|time|delay|duration|period|interval|timeout|deadline|age"
)
TIMES_REAL_TIME = "speed"
"""Of a simulation: a ratio, named as its option is."""


def _numbers(tree: ast.AST) -> Iterator[str]:
    """Give the names of all fields and arguments that are a float."""
    for node in ast.walk(tree):
        annotated = node.target if isinstance(node, ast.AnnAssign) else node
        annotation = getattr(node, "annotation", None)
        name = getattr(annotated, "id", None) or getattr(annotated, "arg", None)
        if name and annotation is not None and ast.unparse(annotation) in {"float", "float | None"}:
            yield name


def test_a_physical_number_bears_its_unit() -> None:
    """Spot check: a name must not end in the quantity itself, and a time is in seconds."""
    bare = []
    for path in MODULES:
        for name in _numbers(ast.parse(path.read_text())):
            last = name.rsplit("_", 1)[-1]
            without_unit = QUANTITY.fullmatch(last) and name != TIMES_REAL_TIME
            if without_unit or (name.startswith("t_") and last not in {"s", "utc"}):
                bare.append(f"{_name(path)}: {name}")
    assert not bare
    assert not any(QUANTITY.fullmatch(suffix) for suffix in UNIT_OF_SUFFIX)


def test_no_file_names_this_machine_or_an_index_of_packages() -> None:
    home, python = str(Path.home()), sys.base_prefix
    here = [str(ROOT), f"{home}/" if home != "/" else str(ROOT)] + ([python] if python != "/usr" else [])
    index = re.compile(r"://[^\s\"'<>]*\b(py" r"pi|pythonhosted|npmjs|piwheels)\b|--(extra-)?index-url|--find-links")
    found = [
        f"{name}: {what}"
        for name, text in _texts()
        if name != _name(Path(__file__))
        for what in [*(path for path in here if path in text), *(hit[0] for hit in index.finditer(text))]
    ]
    assert not found


def test_lock_files_hold_hashes_and_no_address() -> None:
    for lock in ("requirements.txt", "requirements-dev.txt", "requirements-compiled.txt"):
        text = (ROOT / "deploy" / lock).read_text()
        entries = re.findall(r"^[a-z0-9-]+==.*(?:\n {4}--hash=sha256:[0-9a-f]{64}.*)+", text, re.MULTILINE)
        assert "://" not in text
        assert len(entries) == len(re.findall(r"^\S", text, re.MULTILINE)) > 10


def test_the_lock_for_tests_holds_all_that_runs_and_all_that_compiles() -> None:
    runs, compiles, tests = (
        set(re.findall(r"^[a-z0-9-]+==[^ ]+", (ROOT / "deploy" / name).read_text(), re.MULTILINE))
        for name in ("requirements.txt", "requirements-compiled.txt", "requirements-dev.txt")
    )
    assert runs < compiles < tests


def test_nothing_is_put_off_in_a_comment() -> None:
    later = re.compile(r"\b(TO" r"DO|FIX" r"ME|XX" r"X)\b")
    assert [f"{name}: {hit[0]}" for name, text in _texts() for hit in later.finditer(text)] == []


@pytest.mark.parametrize("arguments", [["--help"], ["--version"]], ids=" ".join)
def test_help_needs_no_heavy_import(arguments: list[str]) -> None:
    script = f"""
import sys
from scuffwatch.cli.main import main
sys.argv = ["scuffwatch", *{arguments!r}]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
heavy = {{"numpy", "flask", "pydantic", "waitress", "serial", "sqlite3"}} & sys.modules.keys()
sys.exit(f"imported: {{sorted(heavy)}}" if heavy else 0)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "scuffwatch" in done.stdout
