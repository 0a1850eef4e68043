"""The service files: systemd takes them without a word, they are as closed as they claim, their processes come up."""

import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

from scuffboard.main import parser as board_parser
from scuffwatch.cli.main import EXIT_USAGE, _parser
from scuffwatch.service.watchdog import Watchdog

ROOT = Path(__file__).parents[1]
UNITS = sorted((ROOT / "deploy").glob("*.service"))
README = (ROOT / "README.md").read_text(encoding="utf-8")
CORE, PAGES, UPLINK = (
    ROOT / "deploy" / f"{name}.service" for name in ("scuffwatch", "scuffboard", "scuffwatch-uplink")
)
OPERATORS = "scuffwatch-operators"
EXPOSURE_MAX = {CORE: 10}
"""In tenths, of 100. Others than the core have the network in reach."""
EXPOSURE_OTHERS_MAX = 15
LOADS = {
    "scuffwatch": "import os, scuffwatch.service.app as app; app.go_first()",
    "scuffboard": "import numpy, scuffboard.app, waitress.server",
    "scuffwatch-uplink": "import numpy, scuffwatch.uplink.app, scuffwatch.uplink.broker, scuffwatch.uplink.post",
    "scuffwatch-rigs": "import numpy, scuffwatch.uplink.wall, scuffwatch.uplink.broker",
    "scuffboard-rigs": "import numpy, scuffboard.app, waitress.server",
}
"""What each process imports and does first; numpy itself asks for more than it needs."""

each_unit = pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.stem)


def values(unit: Path, key: str) -> list[str]:
    """Give every word of every line of a key."""
    lines = [line.partition("=") for line in unit.read_text(encoding="utf-8").splitlines()]
    return [word for name, _, value in lines if name == key for word in value.split()]


def value(unit: Path, key: str) -> str:
    (only,) = values(unit, key)
    return only


def analyse(*words: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(["systemd-analyze", "--no-pager", *words], capture_output=True, text=True, timeout=60)


@each_unit
def test_systemd_takes_the_file_without_a_word(unit: Path, tmp_path: Path) -> None:
    """A key it does not know is only a warning to it."""
    copy = tmp_path / unit.name
    here = unit.read_text(encoding="utf-8").replace("/opt/scuffwatch/.venv", sys.prefix)
    copy.write_text(here.replace("file:/opt/scuffwatch", f"file:{ROOT}"), encoding="utf-8")
    ran = analyse("verify", str(copy))
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "", "")


@each_unit
def test_the_exposure_is_as_low_as_claimed(unit: Path) -> None:
    limit = EXPOSURE_MAX.get(unit, EXPOSURE_OTHERS_MAX)
    ran = analyse("security", "--offline=yes", f"--threshold={limit}", str(unit))
    assert ran.returncode == 0, ran.stdout.splitlines()[-1]


@each_unit
def test_what_runs_in_it_runs_under_its_filter(unit: Path) -> None:
    command = [sys.executable, str(ROOT / "tests" / "confined.py"), str(unit), LOADS[unit.stem] + "; print('up')"]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert (ran.returncode, ran.stdout) == (0, "up\n"), ran.stderr


@each_unit
def test_its_command_line_is_understood(unit: Path) -> None:
    program, *words = values(unit, "ExecStart")
    parser = board_parser() if program.endswith("/scuffboard") else _parser(words)
    assert program in ("/opt/scuffwatch/.venv/bin/scuffboard", "/opt/scuffwatch/.venv/bin/scuffwatch")
    parser.parse_args(words)  # ends the test where a word is unknown


def test_the_core_tells_systemd_often_enough_that_it_lives() -> None:
    every_s = inspect.signature(Watchdog).parameters["every_s"].default
    assert value(CORE, "Type") == "notify"
    assert 4 * every_s <= float(value(CORE, "WatchdogSec")) <= 2.0
    assert value(CORE, "WatchdogSignal") == "SIGKILL"


def test_the_core_comes_back_but_not_for_ever_and_not_with_a_wrong_setting() -> None:
    assert value(CORE, "Restart") == "always"
    assert float(value(CORE, "RestartSec")) + float(value(CORE, "WatchdogSec")) <= 5.0
    assert int(value(CORE, "StartLimitBurst")) * 5.0 < float(value(CORE, "StartLimitIntervalSec"))
    assert int(value(CORE, "RestartPreventExitStatus")) == EXIT_USAGE


def test_only_the_core_reaches_the_serial_port_and_it_reaches_no_network() -> None:
    for unit in UNITS:
        assert ("dialout" in values(unit, "SupplementaryGroups")) == (unit == CORE)
        assert (values(unit, "PrivateDevices") == ["yes"]) == (unit != CORE)
        assert bool(values(unit, "DeviceAllow")) == (unit == CORE)
    assert values(CORE, "DevicePolicy") == ["closed"]
    assert values(CORE, "RestrictAddressFamilies") == ["AF_UNIX"]
    assert values(CORE, "PrivateNetwork") == ["yes"]


def test_only_the_core_and_the_pages_may_use_the_command_socket() -> None:
    may = {unit for unit in UNITS if OPERATORS in values(unit, "SupplementaryGroups") + values(unit, "Group")}
    assert may == {CORE, PAGES}
    words = values(CORE, "ExecStart")
    assert words[words.index("--command-group") + 1] == OPERATORS


def test_the_pages_have_a_user_of_their_own_that_writes_nowhere() -> None:
    assert [unit for unit in UNITS if values(unit, "User") == ["scuffboard"]] == [PAGES]
    assert values(PAGES, "ProtectSystem") == ["strict"]
    assert values(PAGES, "ReadWritePaths") + values(PAGES, "StateDirectory") == []


def test_core_and_uplink_read_each_others_files_by_their_group() -> None:
    for unit in (CORE, UPLINK):
        assert value(unit, "Group") == "scuffwatch"
        assert value(unit, "UMask") == "0027"


@each_unit
def test_the_readme_makes_every_user_group_and_folder_it_needs(unit: Path) -> None:
    made = set(re.findall(r"^sudo (?:user|group)add .* (\S+)$", README, re.MULTILINE)) | {"dialout"}
    named = values(unit, "User") + values(unit, "Group") + values(unit, "SupplementaryGroups")
    assert set(named) <= made
    for folder in values(unit, "ReadWritePaths"):
        owner = rf"^sudo install -d -o {value(unit, 'User')} -g {value(unit, 'Group')} -m 0750 {folder}$"
        assert re.search(owner, README, re.MULTILINE)
    assert f"deploy/{unit.name}" in README


def test_the_readme_puts_the_rig_file_where_the_core_looks() -> None:
    words = values(CORE, "ExecStart")
    assert f"config/rig.toml {words[words.index('--rig') + 1]}\n" in README
    assert "**No restart\nrestores a permit**" in README
