"""Replay: a recorded run gives its own findings again; a table is taken as it is, whatever is wrong with it."""

import math
import time
from pathlib import Path

import numpy as np
import pytest
from co_rig import CoRig
from hypothesis import given, settings
from hypothesis import strategies as st

from scuffwatch.cli.demo_rig import HEADING, rig_values
from scuffwatch.control.commands import Mark
from scuffwatch.model.errors import ConfigError
from scuffwatch.model.event import EventKind
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.jsons import finding_json
from scuffwatch.service.replay import ReplayResult, TableReplay, replay_columns, replay_run
from scuffwatch.service.replay_settings import load_replay_settings
from scuffwatch.service.settings_doc import annotated_toml
from scuffwatch.store.items import RunOpened
from scuffwatch.store.reader import Archive
from scuffwatch.store.recorder import Recorder

RATE_HZ = 100.0
RIG = """
[rig]
ring_diameter_mm = 35.0
ring_speed_rpm = 600.0
[motor]
no_load_current_a = 0.8
[channels.pin_temperature_degc]
range = [-10.0, 300.0]
[limits]
pin_temperature_degc = 120.0
"""


# --- recorded runs ----------------------------------------------------------------------------------------


def recorded(folder: Path, rig: CoRig) -> str:
    """Put what a core offered into a record, as its own writer would; the result is the run's name."""
    recorder = Recorder(folder)
    recorder.start()
    for item in rig.sink.items:
        while recorder.status.queue_s > 20.0:  # its queue holds 60 s and drops what is beyond, as it must
            time.sleep(0.01)
        recorder.offer(item)
    assert recorder.status.dropped_items == 0
    assert recorder.close(60.0)
    return next(item.header.name for item in rig.sink.items if isinstance(item, RunOpened))


def live_findings(rig: CoRig) -> list[object]:
    """Give what the detectors said while the run was open, in order; the course beside a finding is not theirs."""
    found, is_open = [], False
    for item in rig.events(EventKind.RUN_OPENED, EventKind.FINDING, EventKind.STAGE):
        is_open = is_open or item.kind is EventKind.RUN_OPENED
        if is_open and item.kind is not EventKind.RUN_OPENED:
            found.append({key: value for key, value in item.data.items() if key != "course"})
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("scenario", "seed"), [("scuffing-short", 2), ("jam", 5)])
def test_a_recorded_run_gives_its_own_findings_again(tmp_path: Path, scenario: str, seed: int) -> None:
    rig = CoRig(scenario, seed, settings_toml=annotated_toml(rig_values("/dev/null", "simulated"), HEADING))
    rig.run_motor()
    rig.wait(30.0)
    rig.tell(Mark(actor="anna"))
    assert rig.until(lambda: not rig.permitted, 420.0)
    rig.wait(5.0)
    name = recorded(tmp_path, rig)
    with Archive(tmp_path).open_run(name) as reader:
        again = replay_run(reader)
        twice = replay_run(reader)
        (trip,) = reader.trips()
    assert again.findings == twice.findings
    assert [finding_json(finding) for finding in again.findings] == live_findings(rig)
    assert again.summary.trip_t_s == rig.core.guard.first_out.t_rig_s == trip.first_out.t_rig_s
    assert again.summary.first_out == rig.core.guard.first_out.kind.value
    assert len(again.summary.stages) >= 1


# --- tables -----------------------------------------------------------------------------------------------


def table(
    seconds: float = 60.0, rate_hz: float = RATE_HZ, scuffs_at_s: float = math.inf, seed: int = 3
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Give a rig at one load that runs, and from a time on a friction that doubles every 0.4 s up to five times."""
    random = np.random.default_rng(seed)
    t_s = np.arange(round(seconds * rate_hz)) / rate_hz
    n = len(t_s)
    since_s = np.clip(t_s - scuffs_at_s, 0.0, None)
    times = np.minimum(2.0 ** (since_s / 0.4), 5.0)
    load_n = 200.0 + random.normal(0.0, 1.0, n)
    friction_n = 200.0 * 0.1 * times + random.normal(0.0, 0.6, n)
    return t_s, {
        "normal_load_n": load_n,
        "friction_force_n": friction_n,
        "motor_current_a": 0.8 + 0.04 * friction_n + random.normal(0.0, 0.01, n),
        "sound_level_db": 62.0 + random.normal(0.0, 0.3, n) + 4.0 * np.log2(times),
        "pin_temperature_degc": 60.0 + random.normal(0.0, 0.05, n) + 4.0 * since_s,
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, n),
    }


def replayed(t_s: np.ndarray, channels: dict[str, np.ndarray], text: str = RIG) -> ReplayResult:
    return replay_columns(t_s, channels, load_replay_settings(text))


def trips(result: ReplayResult) -> list[Finding]:
    return [finding for finding in result.findings if finding.level is Level.TRIP]


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [10.0, 100.0, 817.0, 1000.0])
def test_scuffing_is_seen_before_the_force_has_tripled_and_health_is_left_alone(rate_hz: float) -> None:
    onset_s = 40.0
    tripled_s = onset_s + 0.4 * math.log2(3.0)
    result = replayed(*table(rate_hz=rate_hz, scuffs_at_s=onset_s))
    first = trips(result)[0]
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < tripled_s
    assert result.summary.outcome == "scuffed"
    assert result.summary.first_out == "scuffing_onset"
    assert result.summary.trip_t_s == first.t_rig_s
    assert not trips(replayed(*table(rate_hz=rate_hz)))


@pytest.mark.slow
def test_a_trip_names_the_two_strongest_kinds_of_evidence() -> None:
    first = trips(replayed(*table(scuffs_at_s=40.0)))[0]
    assert len(first.evidence) >= 2
    assert all(item.value >= item.limit for item in first.evidence)
    assert "friction" in first.says
    assert any(kind in first.says for kind in ("sound", "unrest", "heating"))


@pytest.mark.slow
@pytest.mark.parametrize("lost", ["sound_level_db", "ring_speed_rpm", "motor_current_a", "friction_force_n"])
def test_any_one_channel_may_be_missing(lost: str) -> None:
    t_s, channels = table(scuffs_at_s=40.0)
    del channels[lost]
    first = trips(replayed(t_s, channels))[0]
    assert 40.0 < first.t_rig_s < 42.0


@pytest.mark.slow
def test_a_shortened_recording_gives_the_same_up_to_its_end() -> None:
    t_s, channels = table(scuffs_at_s=40.0)
    whole = replayed(t_s, channels).findings
    for seconds in (41.0, 40.5, 20.0):
        n = round(seconds * RATE_HZ)
        part = replayed(t_s[:n], {name: values[:n] for name, values in channels.items()}).findings
        assert part == tuple(finding for finding in whole if finding.t_rig_s <= t_s[n - 1])


@pytest.mark.slow
def test_stamps_that_do_not_go_on_are_refused_and_counted() -> None:
    t_s, channels = table()
    broken = t_s.copy()
    broken[1000] = broken[999]
    broken[2000] = broken[1900]
    broken[3000] = math.nan
    result = replayed(broken, channels)
    assert result.summary.rows_refused == 3
    assert not trips(result)


@pytest.mark.slow
def test_a_hole_is_a_marked_gap_and_nothing_is_found_across_it() -> None:
    t_s, channels = table()
    keep = (t_s < 20.0) | (t_s >= 25.0)
    result = replayed(t_s[keep], {name: values[keep] for name, values in channels.items()})
    assert result.summary.gaps_s == pytest.approx(5.01, abs=0.02)
    assert not trips(result)


@pytest.mark.slow
def test_a_channel_that_stays_blank_is_a_sensor_fault_and_its_kinds_are_blind() -> None:
    t_s, channels = table()
    channels["pin_temperature_degc"][2000:] = math.nan
    result = replayed(t_s, channels)
    (fault,) = [finding for finding in result.findings if finding.kind is FindingKind.SENSOR_FAULT]
    assert fault.channels == ("pin_temperature_degc",)
    assert t_s[2000] < fault.t_rig_s < t_s[2000] + 6.5
    assert "overheat" in result.summary.blind_to


@pytest.mark.slow
def test_twenty_rows_missing_in_a_hundred_change_little() -> None:
    t_s, channels = table(scuffs_at_s=40.0)
    keep = np.random.default_rng(8).random(len(t_s)) > 0.2
    first = trips(replayed(t_s[keep], {name: values[keep] for name, values in channels.items()}))[0]
    assert 40.0 < first.t_rig_s < 40.64


@pytest.mark.slow
def test_a_normal_stop_and_restart_is_no_event() -> None:
    t_s, channels = table()
    off = (t_s >= 25.0) & (t_s < 35.0)
    for name in ("ring_speed_rpm", "motor_current_a", "friction_force_n"):
        channels[name][off] = np.random.default_rng(1).normal(0.0, 0.01, int(off.sum()))
    surge = (t_s >= 35.0) & (t_s < 35.4)
    channels["motor_current_a"][surge] = 5.0
    channels["ring_speed_rpm"][surge] = np.linspace(0.0, 600.0, int(surge.sum()))
    assert [finding for finding in replayed(t_s, channels).findings if finding.level is not Level.NOTICE] == []


VALUES = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True), st.sampled_from([0.0, 1e300, -1e300, 200.0, math.nan])
)


@pytest.mark.slow
@given(st.lists(st.tuples(st.floats(allow_nan=True, allow_infinity=True), VALUES, VALUES, VALUES), max_size=150))
@settings(deadline=None)
def test_nothing_crashes(rows: list[tuple[float, float, float, float]]) -> None:
    names = ("normal_load_n", "friction_force_n", "motor_current_a")
    replay = TableReplay(names, load_replay_settings())
    for t_s, *values in rows:
        replay.take(t_s, values)
    replay.finish()
    assert replay.summary().rows_refused <= len(rows)


# --- settings ---------------------------------------------------------------------------------------------


def test_every_wrong_setting_is_told_at_once() -> None:
    text = '[rig]\nring_speed_rpm = "fast"\n[channels.sound_level_db]\nrange = [90.0, 40.0]\n[limits]\nwarmth = 3.0\n'
    with pytest.raises(ConfigError) as refused:
        load_replay_settings(text, ["pin_temperature_degc=hot", "nonsense"], "my.toml")
    says = refused.value.sentence()
    assert len(refused.value.problems) == 5
    for part in ("ring_speed_rpm", "range", "warmth", "hot", "nonsense"):
        assert part in says


def test_a_whole_rig_file_will_do_and_what_is_not_used_is_named() -> None:
    known = load_replay_settings(annotated_toml(rig_values("/dev/null", "x"), HEADING))
    assert known.ring_speed_rpm == 600.0
    assert known.limits[("pin_temperature_degc", Level.TRIP)] == 120.0
    assert "guard.lease_ms" in known.ignored


def test_a_limit_on_the_command_line_goes_before_the_file() -> None:
    known = load_replay_settings(RIG, ["pin_temperature_degc=95"])
    assert known.limits[("pin_temperature_degc", Level.TRIP)] == 95.0
