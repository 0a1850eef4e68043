"""Smoke and flash point of a lubricant: lower limits for its runs, the same in replay, and said where none is known.

An alarm 50 K below the flash point and a stop on visible smoke: common practice, no source.
"""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from co_rig import CoRig
from recorded_rig import RecordedRig

from scuffwatch.cli.demo_rig import HEADING, rig_values
from scuffwatch.control.commands import OpenRun
from scuffwatch.model.errors import ConfigError
from scuffwatch.model.finding import Level
from scuffwatch.model.run import RunKind
from scuffwatch.service.params import axis_of, lubricant_on_record, oil_heat, oil_limits
from scuffwatch.service.replay import replay_run
from scuffwatch.service.settings import RigSettings, parse
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.store.reader import Archive

OIL = "HEES-46, batch 12 (invented)"


def settings_with(channels: tuple[str, ...] | None = None, **points: dict[str, float]) -> RigSettings:
    values: dict[str, Any] = rig_values("/dev/null", "sim-rig", channels)
    values["limits"]["bath_temperature_max_degc"] = 180.0
    values["lubricants"] = {name.replace("_", "-"): point for name, point in points.items()}
    return RigSettings.model_validate(values)


def limits_of(settings: RigSettings, lubricant: str = OIL) -> dict[Level, tuple[str, float, str]]:
    return {row.level: (row.channel, row.high, row.label) for row in oil_limits(settings, lubricant)}


def test_the_nearer_of_smoke_and_flash_point_decides() -> None:
    settings = settings_with(HEES_46={"flash_point_degc": 200.0, "smoke_point_degc": 170.0})
    assert limits_of(settings) == {
        Level.TRIP: ("bath_temperature_degc", 170.0, "Smoke point near"),
        Level.WARN: ("bath_temperature_degc", 145.0, "Smoke point near"),
    }
    settings = settings_with(HEES_46={"flash_point_degc": 180.0, "smoke_point_degc": 170.0})
    assert limits_of(settings)[Level.TRIP] == ("bath_temperature_degc", 155.0, "Flash point near")
    assert limits_of(settings)[Level.WARN][1] == 130.0


def test_nothing_is_added_above_the_rigs_own_limit_or_without_a_record() -> None:
    settings = settings_with(HEES_46={"flash_point_degc": 220.0})
    assert limits_of(settings) == {Level.WARN: ("bath_temperature_degc", 170.0, "Flash point near")}
    assert oil_heat(oil_limits(settings, OIL)) == ()
    assert limits_of(settings, "PAO-6") == {}
    assert limits_of(settings_with(HEES_46={})) == {}


def test_without_a_bath_thermocouple_the_pin_is_watched() -> None:
    channels = ("friction_force_n", "normal_load_n", "motor_current_a", "pin_temperature_degc")
    found = limits_of(settings_with(channels, HEES_46={"smoke_point_degc": 60.0}))
    assert found[Level.TRIP] == ("pin_temperature_degc", 60.0, "Smoke point near")
    assert limits_of(settings_with(channels[:3], HEES_46={"smoke_point_degc": 60.0})) == {}


@pytest.mark.parametrize(
    ("asked", "smoke_degc"),
    [("HEES-46", 165.0), ("hees-46, batch 12", 165.0), ("HEES-46 plus 4 %", 150.0), ("HEES-460", None), ("HEES", None)],
)
def test_a_record_stands_for_its_batches_and_for_no_other_grade(asked: str, smoke_degc: float | None) -> None:
    values = rig_values("/dev/null", "sim-rig")
    values["lubricants"] = {"HEES-46": {"smoke_point_degc": 165.0}, "HEES-46 plus": {"smoke_point_degc": 150.0}}
    found = lubricant_on_record(RigSettings.model_validate(values), asked)
    assert (None if found is None else found.smoke_point_degc) == smoke_degc


def test_a_name_that_is_no_bare_key_is_quoted_in_the_annotated_file() -> None:
    values = rig_values("/dev/null", "sim-rig")
    values["lubricants"] = {"PAO 6": {"flash_point_degc": 240.0}}
    text = annotated_toml(values, HEADING)
    assert tomllib.loads(text)["lubricants"] == {"PAO 6": {"flash_point_degc": 240.0}}
    assert parse(text, "rig.toml").lubricants["PAO 6"].flash_point_degc == 240.0


def test_the_axis_shows_the_lower_limits() -> None:
    settings = settings_with(HEES_46={"smoke_point_degc": 150.0})
    more = oil_limits(settings, OIL)
    plain, drawn = axis_of(settings, "bath_temperature_degc"), axis_of(settings, "bath_temperature_degc", more)
    assert (plain.warn, plain.trip) == (None, 180.0)
    assert (drawn.warn, drawn.trip) == (125.0, 150.0)


@pytest.mark.slow
def test_a_run_of_that_oil_trips_where_another_would_not_and_replay_says_the_same(data_dir: Path) -> None:
    """The bath heats up by 40 K, below the rig's own limit; its thermocouple follows."""
    first_out = {}
    for lubricant in (OIL, "PAO-6"):
        folder = data_dir / lubricant[:3]
        folder.mkdir()
        with RecordedRig(folder, lubricants={"HEES-46": {"smoke_point_degc": 60.0}}) as rig:
            rig.connect()
            assert rig.tell(OpenRun(RunKind.TEST, lubricant)).ok
            name = rig.core.runs.name
            rig.permit()
            rig.machine.play.rig.heat.bath_degc += 40.0
            rig.wait(20.0)
            found = rig.core.guard.first_out
            first_out[lubricant] = None if rig.permitted or found is None else found.says
            assert rig.close()
        with Archive(folder).open_run(name) as reader:
            told = [finding.says for finding in replay_run(reader).findings if finding.level is Level.TRIP]
            with pytest.raises(ConfigError, match=r"other\.toml \[rig\]: missing"):
                replay_run(
                    reader, "", "other.toml"
                )  # an empty file that was named is no leave to take the recorded one
        assert told[:1] == ([first_out[lubricant]] if first_out[lubricant] else [])
    assert str(first_out[OIL]).startswith("Smoke point near: bath temperature 6"), first_out
    assert first_out["PAO-6"] is None


def test_an_unknown_oil_is_said_where_others_are_on_record() -> None:
    said = opening_says("PAO-6")
    assert said.endswith("No smoke or flash point of PAO-6 is on record: the rig's own limits hold alone.")
    assert "on record" not in opening_says(OIL)


def opening_says(lubricant: str) -> str:
    rig = CoRig()
    rig.connect()
    return rig.tell(OpenRun(RunKind.TEST, lubricant)).says
