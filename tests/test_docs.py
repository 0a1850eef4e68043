"""What the two pages say is what the program does: tables made from tables, commands that exist, cautions that stay."""

import re
from pathlib import Path

import pytest

from scuffwatch.cli import write_docs
from scuffwatch.cli.main import COMMANDS
from scuffwatch.sim.scenario import SCENARIOS
from scuffwatch.uplink.settings import parse

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_example_rig_file_is_made_from_the_settings() -> None:
    assert (ROOT / "config" / "rig.toml").read_text(encoding="utf-8") == write_docs.rig_toml()


def test_the_example_uplink_file_is_made_from_the_settings_and_is_accepted() -> None:
    text = (ROOT / "config" / "uplink.toml").read_text(encoding="utf-8")
    assert text == write_docs.uplink_toml()
    assert parse(text, "uplink.toml").alerts.quiet_priorities == "N"


@pytest.mark.parametrize(("name", "marker"), write_docs.PARTS, ids=lambda value: value)
def test_the_marked_parts_are_made_from_the_tables(name: str, marker: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert write_docs.with_part(text, marker, write_docs.PARTS[name, marker]()) == text


def test_the_readme_opens_with_the_job_and_keeps_its_cautions_near_the_top() -> None:
    head = README[:3500]
    assert README.startswith("# Scuffwatch\n\nA bench technician compares lubricants on a pin-on-ring friction rig")
    for words in ("rotating machinery", "hot oil", "solvent vapour", "hanging weights", "not a safety device"):
        assert words in head.replace("\n> ", " ").replace("**", "")
    assert "risk assessment" in head


def test_every_scenario_stands_in_the_readme() -> None:
    assert [name for name in SCENARIOS if f"`{name}`" not in README] == []


def test_every_command_line_of_the_readme_names_a_command_and_a_file_that_exist() -> None:
    blocks = re.findall(r"```\n(.*?)```", README, re.DOTALL)
    lines = [line.split("#")[0].strip() for block in blocks for line in block.splitlines()]
    known = {command.name for command in COMMANDS}
    for line in lines:
        words = line.split()
        if words and words[0].startswith("deploy/"):
            assert (ROOT / words[0]).is_file(), line
        if words and words[0].endswith("/scuffwatch"):
            assert words[1] in known, line
