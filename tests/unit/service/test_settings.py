"""Settings: every key documented, every problem told at once, no safety key with a default."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from pydantic.fields import FieldInfo

from scuffwatch.model.errors import ConfigError
from scuffwatch.model.settings_file import kind_of
from scuffwatch.service import settings, settings_doc

ROOT = Path(__file__).parents[3]
EXAMPLE = (ROOT / "config" / "rig.toml").read_text(encoding="utf-8")
REFUSED = sorted((ROOT / "tests" / "refuse").glob("*.toml"))


def leaves() -> list[tuple[str, str, FieldInfo]]:
    found = []
    for section, field in settings.RigSettings.model_fields.items():
        found += [(section, key, item) for key, item in kind_of(field).model_fields.items()]
    return found


@pytest.mark.parametrize(
    ("section", "key", "field"), leaves(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_every_key_has_help_unit_and_bounds(section: str, key: str, field: FieldInfo) -> None:
    assert field.description, f"[{section}] {key} has no help"
    assert not field.description.endswith("."), "help is a clause"
    if field.annotation in (float, int):
        assert settings_doc.unit_of_key(key), f"[{section}] {key} has no unit"
        assert settings_doc.bounds_of(field), f"[{section}] {key} has no bounds"


@pytest.mark.parametrize("section", settings.SAFETY_SECTIONS)
def test_safety_sections_have_no_default(section: str) -> None:
    kind: Any = settings.RigSettings.model_fields[section].annotation
    assert [key for key, field in kind.model_fields.items() if not field.is_required()] == []


@pytest.mark.parametrize("path", REFUSED, ids=lambda path: path.stem)
def test_refused_files_say_why(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    expected = [line[2:].strip() for line in text.splitlines() if line.startswith("#!")]
    assert expected, "a refused file states the sentences it expects"
    with pytest.raises(ConfigError) as raised:
        settings.parse(text, "rig.toml")
    for sentence in expected:
        assert sentence in raised.value.sentence()
    assert len(raised.value.problems) == len(expected)


def test_the_example_is_accepted_and_is_what_the_table_makes() -> None:
    made = settings.parse(EXAMPLE, "rig.toml")
    heading = "\n".join(line[2:] for line in EXAMPLE.split("\n\n")[0].splitlines())
    assert settings_doc.annotated_toml(tomllib.loads(EXAMPLE), heading) == EXAMPLE
    assert made.guard.lease_ms <= 150


@pytest.mark.parametrize("section", settings.SAFETY_SECTIONS)
def test_every_missing_safety_key_is_told(section: str) -> None:
    raw = tomllib.loads(EXAMPLE)
    keys = list(raw[section])
    raw[section] = {}
    with pytest.raises(ConfigError) as raised:
        settings.parse(settings_doc.annotated_toml(raw, "x"), "rig.toml")
    told = raised.value.sentence()
    assert all(f"[{section}] {key}: missing; it is a safety key and has no default" in told for key in keys)


def test_a_file_that_is_not_there_is_told_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(ConfigError) as raised:
        settings.load(tmp_path / "rig.toml")
    assert raised.value.sentence() == "rig.toml: cannot be read: No such file or directory. Nothing has been started."


def test_a_number_where_a_section_belongs_is_told_in_words() -> None:
    with pytest.raises(ConfigError) as raised:
        settings.parse("rig = 3", "rig.toml")
    assert "rig.toml [rig]: 3 is no section. Nothing has been started." in raised.value.problems


def test_infinite_and_missing_numbers_are_refused() -> None:
    for word in ("inf", "-inf", "nan"):
        with pytest.raises(ConfigError) as raised:
            settings.parse(EXAMPLE.replace("lease_ms = 140", f"lease_ms = {word}"), "rig.toml")
        assert "[guard] lease_ms" in raised.value.sentence()


def test_the_fingerprint_changes_with_the_text() -> None:
    assert settings.fingerprint(EXAMPLE) != settings.fingerprint(EXAMPLE + " ")
    # FIPS 180-4: SHA-256 of the empty string, from memory.
    assert settings.fingerprint("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
