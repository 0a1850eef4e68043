"""Scuffing told from what looks like it, on tables made here: one trait each, with noise, at 100 rows a second.

What is healthy and what is not follows published descriptions (scuffing: a sharp and unrecoverable friction rise, Peng,
Spikes and Kadiric 2019, doi 10.1007/s11249-019-1149-8); sizes and times are common practice, no source.
"""

import numpy as np
import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

pytestmark = pytest.mark.slow

RATE_HZ = 100.0
RIG = "[rig]\nring_speed_rpm = 600.0\n[motor]\nno_load_current_a = 0.8\n"
Columns = dict[str, np.ndarray]


def steady(seconds: float, load_n: float = 200.0, seed: int = 1, mu: float = 0.1) -> tuple[np.ndarray, Columns]:
    """Give a rig that runs under one load."""
    random = np.random.default_rng(seed)
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    n = len(t_s)
    friction_n = load_n * mu + random.normal(0.0, 0.5, n)
    return t_s, {
        "normal_load_n": load_n + random.normal(0.0, 0.8, n),
        "friction_force_n": friction_n,
        "motor_current_a": 0.8 + 0.04 * friction_n + random.normal(0.0, 0.01, n),
        "sound_level_db": 62.0 + random.normal(0.0, 0.3, n),
        "pin_temperature_degc": 60.0 + random.normal(0.0, 0.05, n),
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, n),
    }


def findings(t_s: np.ndarray, columns: Columns, text: str = RIG) -> list[Finding]:
    return list(replay_columns(t_s, columns, load_replay_settings(text)).findings)


def trips(found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.level is Level.TRIP]


def drive(columns: Columns, times: np.ndarray) -> None:
    """Multiply friction, and let the current follow as its torque does."""
    columns["motor_current_a"] += 0.04 * columns["friction_force_n"] * (times - 1.0)
    columns["friction_force_n"] *= times


def staircase(seed: int, see_load: bool) -> tuple[np.ndarray, Columns]:
    """Give twelve equal weights, 20 s each, with lever bounce and running-in at every one."""
    t_s, columns = steady(250.0, 1.0, seed, 0.0)
    random = np.random.default_rng(seed)
    load_n = np.zeros_like(t_s)
    excess = np.ones_like(t_s)
    for k in range(12):
        since_s = t_s - 8.0 - 20.0 * k
        on = since_s >= 0.0
        bounce = 1.0 + 0.5 * np.exp(-since_s / 0.4) * np.cos(2 * np.pi * 4.0 * since_s)
        load_n[on] += 50.0 * bounce[on]
        excess[on] = 1.0 + random.uniform(0.05, 0.3) * np.exp(-since_s[on] / 5.0)
    friction_n = load_n * 0.09 * excess
    columns["normal_load_n"] += load_n
    columns["friction_force_n"] += friction_n
    columns["motor_current_a"] += 0.04 * friction_n
    if not see_load:
        del columns["normal_load_n"]
    return t_s, columns


@pytest.mark.parametrize("see_load", [True, False])
@pytest.mark.parametrize("seed", [1, 2])
def test_weights_bounce_and_running_in_are_no_scuffing(seed: int, see_load: bool) -> None:
    assert trips(findings(*staircase(seed, see_load))) == []


@pytest.mark.parametrize("after_s", [0.3, 2.0, 8.0])
def test_scuffing_soon_after_a_weight_is_still_caught(after_s: float) -> None:
    t_s, columns = staircase(1, see_load=True)
    onset_s = 8.0 + 20.0 * 9 + after_s
    drive(columns, np.minimum(2.0 ** (np.clip(t_s - onset_s, 0.0, None) / 0.3), 6.0))
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < onset_s + 0.8


def test_scuffing_under_the_first_weight_of_a_run_is_caught() -> None:
    """Nothing is usual yet but the two seconds since the weight: it must not be in motion for ever."""
    t_s, columns = steady(60.0)
    loaded = t_s >= 20.0
    share = np.where(loaded, 1.0 + 0.1 * np.exp(-(t_s - 20.0) / 0.8) * np.cos(18.0 * t_s), 0.005)
    columns["normal_load_n"] *= share
    onset_s = 23.5
    growth = np.minimum(2.0 ** (np.clip(t_s - onset_s, 0.0, None) / 0.3), 6.0)
    drive(columns, share * growth)
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < onset_s + 0.3 * np.log2(3.0)


def test_a_weight_lifted_slowly_is_no_scuffing_where_only_the_current_shows_the_drag() -> None:
    t_s, columns = steady(60.0, load_n=42.0)
    del columns["friction_force_n"]
    swing = 1.0 + 0.05 * np.sin(2.0 * np.pi * 1.2 * t_s)
    share = np.clip(1.0 - (t_s - 40.0) / 1.0, 0.02, 1.0)
    columns["normal_load_n"] *= share * swing
    columns["motor_current_a"] = 0.8 + 0.04 * 4.2 * share + np.random.default_rng(5).normal(0.0, 0.01, len(t_s))
    assert trips(findings(t_s, columns)) == []


def test_a_tachometer_of_few_pulses_does_not_blind_the_scuffing_detector() -> None:
    t_s, columns = steady(60.0)
    random = np.random.default_rng(7)
    columns["ring_speed_rpm"] = 600.0 * (1.0 + random.normal(0.0, 0.19, len(t_s)))
    onset_s = 40.0
    drive(columns, np.minimum(2.0 ** (np.clip(t_s - onset_s, 0.0, None) / 0.3), 6.0))
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < onset_s + 0.3 * np.log2(3.0)


def test_without_a_load_cell_a_rise_beyond_any_weight_is_scuffing() -> None:
    t_s, columns = staircase(2, see_load=False)
    onset_s = 8.0 + 20.0 * 10 + 9.0
    drive(columns, np.minimum(2.0 ** (np.clip(t_s - onset_s, 0.0, None) / 0.3), 6.0))
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < onset_s + 0.3 * np.log2(3.0)


@pytest.mark.parametrize(("doubling_s", "chatter"), [(2.0, 0.0), (0.5, 0.2)])
def test_without_a_load_cell_what_behaves_as_no_weight_is_scuffing(doubling_s: float, chatter: float) -> None:
    """Before any weight has been seen: a rise that goes on for seconds, and one that never comes to rest."""
    t_s, columns = steady(90.0)
    del columns["normal_load_n"]
    onset_s = 60.0
    growth = np.minimum(2.0 ** (np.clip(t_s - onset_s, 0.0, None) / doubling_s), 4.0)
    swing = np.where(t_s > onset_s, chatter * np.sin(2.0 * np.pi * 7.0 * t_s), 0.0)
    drive(columns, growth * (1.0 + swing))
    (first, *_) = trips(findings(t_s, columns))
    assert first.kind is FindingKind.SCUFFING_ONSET
    assert onset_s < first.t_rig_s < onset_s + 6.5


def test_without_a_load_cell_a_weight_that_bounces_for_seconds_is_no_scuffing() -> None:
    t_s, columns = steady(90.0)
    del columns["normal_load_n"]
    since_s = np.clip(t_s - 60.0, 0.0, None)
    bounce = 0.4 * np.exp(-since_s / 0.8) * np.cos(18.0 * since_s)
    drive(columns, np.where(t_s > 60.0, 3.5 * (1.0 + bounce), 1.0))
    assert trips(findings(t_s, columns)) == []


def test_swings_are_no_bursts() -> None:
    """Stick-slip that comes and goes goes below what is usual as far as above it; a warning for it cries wolf."""
    t_s, columns = steady(200.0)
    swinging = (t_s > 40.0) & (t_s % 6.0 < 2.5)
    drive(columns, np.where(swinging, 0.75 + 0.5 * ((t_s * 2.0) % 1.0), 1.0))
    assert [f.says for f in findings(t_s, columns) if f.level is Level.WARN] == []


@pytest.mark.parametrize("samples", [1, 2, 3])
def test_a_spike_of_a_few_samples_is_no_scuffing_however_high(samples: int) -> None:
    t_s, columns = steady(60.0)
    at = 4000
    columns["friction_force_n"][at : at + samples] = -1100.0
    assert trips(findings(t_s, columns)) == []


def test_heat_that_friction_makes_by_itself_is_a_weak_second_kind() -> None:
    """A third more friction heats the pin: no scuffing; two thirds more with heat as the only other kind is."""
    for more, many in ((0.38, 0), (0.70, 1)):
        t_s, columns = steady(90.0)
        drive(columns, 1.0 + more * np.clip((t_s - 50.0) / 3.0, 0.0, 1.0))
        columns["pin_temperature_degc"] += 0.9 * np.clip(t_s - 50.0, 0.0, 20.0)
        assert len(trips(findings(t_s, columns))) == many


def test_swings_about_a_mean_that_rises_by_two_fifths_are_no_scuffing() -> None:
    t_s, columns = steady(90.0)
    late = t_s >= 50.0
    swing = np.where(late, 0.2 * np.sin(2.0 * np.pi * 6.0 * t_s), 0.0)
    drive(columns, (1.0 + 0.4 * np.clip((t_s - 50.0) / 2.0, 0.0, 1.0)) * (1.0 + swing))
    assert trips(findings(t_s, columns)) == []


def test_stick_slip_is_named_and_no_trip() -> None:
    t_s, columns = steady(120.0)
    swinging = (t_s > 40.0) & (t_s < 80.0)
    phase = (t_s * 3.0) % 1.0
    times = np.where(swinging, 0.6 + 0.8 * phase, 1.0)
    drive(columns, times)
    columns["sound_level_db"][swinging] += 9.0
    found = findings(t_s, columns)
    assert trips(found) == []
    assert any(finding.kind is FindingKind.STICK_SLIP for finding in found)


def test_sound_and_heat_without_the_mechanical_kind_never_trip() -> None:
    t_s, columns = steady(90.0)
    loud = (t_s > 30.0) & (t_s < 60.0)
    columns["sound_level_db"][loud] += 25.0
    columns["pin_temperature_degc"] += np.clip(t_s - 30.0, 0.0, 20.0) * 1.5
    assert trips(findings(t_s, columns)) == []


def test_a_slow_film_transition_is_followed() -> None:
    t_s, columns = steady(400.0)
    drive(columns, 1.0 + 0.4 * np.clip((t_s - 60.0) / 200.0, 0.0, 1.0))
    assert trips(findings(t_s, columns)) == []


def test_a_slow_rise_with_a_second_kind_is_scuffing() -> None:
    t_s, columns = steady(120.0)
    since_s = np.clip(t_s - 60.0, 0.0, None)
    drive(columns, np.minimum(1.0 + 0.1 * since_s, 2.5))
    columns["sound_level_db"] += np.minimum(since_s, 8.0)
    (first, *_) = trips(findings(t_s, columns))
    assert 62.0 < first.t_rig_s < 70.0
    assert len(first.evidence) >= 2


def test_bursts_before_scuffing_are_a_warning_that_says_so() -> None:
    t_s, columns = steady(120.0)
    times = np.ones_like(t_s)
    for at_s in (60.0, 64.0, 67.5, 71.0):
        times[(t_s >= at_s) & (t_s < at_s + 0.3)] = 1.35
    drive(columns, times)
    found = findings(t_s, columns)
    assert trips(found) == []
    (warning,) = [finding for finding in found if finding.level is Level.WARN]
    assert warning.kind is FindingKind.SCUFFING_ONSET
    assert 66.0 < warning.t_rig_s < 72.0
    assert "bursts" in warning.says


def test_a_friction_cell_driven_to_its_rail_is_believed_and_one_that_jumps_there_is_not() -> None:
    text = RIG + "[channels.friction_force_n]\nrange = [-10.0, 34.0]\n"
    t_s, columns = steady(60.0)
    driven = {name: values.copy() for name, values in columns.items()}
    drive(driven, np.minimum(2.0 ** (np.clip(t_s - 40.0, 0.0, None) / 0.2), 6.0))
    driven["friction_force_n"] = np.minimum(driven["friction_force_n"], 34.5)
    (first, *_) = trips(findings(t_s, driven, text))
    assert 40.0 < first.t_rig_s < 40.5
    unseen = {name: values for name, values in driven.items() if name != "normal_load_n"}
    (first, *_) = trips(findings(t_s, unseen, text))
    assert 41.0 < first.t_rig_s < 41.6
    assert first.says.startswith("Scuffing: friction rose fast and is beyond its range for 1.00 s, limit 1.00")
    columns["friction_force_n"][t_s > 40.0] = 34.5
    found = findings(t_s, columns, text)
    assert trips(found) == []
    assert any(finding.kind is FindingKind.SENSOR_FAULT for finding in found)


def test_a_lost_load_cell_leaves_the_friction_its_meaning() -> None:
    t_s, columns = steady(90.0)
    columns["normal_load_n"][t_s > 40.0] = np.nan
    drive(columns, np.minimum(2.0 ** (np.clip(t_s - 70.0, 0.0, None) / 0.3), 6.0))
    (first, *_) = trips(findings(t_s, columns))
    assert 70.0 < first.t_rig_s < 71.0
