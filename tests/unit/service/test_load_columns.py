"""A load that is read seldom, is mostly noise, or reads as nothing: what is said of it, and scuffing beside it.

Tables made here at 100 rows a second; sizes and times are common practice, no source.
"""

import numpy as np
import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import ReplayResult, replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

pytestmark = pytest.mark.slow

RATE_HZ = 100.0
Columns = dict[str, np.ndarray]


def weights(seconds: float = 100.0, each_s: float = 20.0, step_n: float = 50.0, seed: int = 1) -> Columns:
    """Give a rig on which a weight comes on every 20 s, not in step with any reading, with 'time_s' beside."""
    random = np.random.default_rng(seed)
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    n = len(t_s)
    load_n = step_n * (1.0 + np.floor((t_s + 0.37) / each_s))
    friction_n = 0.1 * load_n
    return {
        "time_s": t_s,
        "normal_load_n": load_n + random.normal(0.0, 0.004 * step_n, n),
        "friction_force_n": friction_n + random.normal(0.0, 0.002 * step_n, n),
        "motor_current_a": 1.0 + 2.0 * friction_n / step_n + random.normal(0.0, 0.02, n),
        "sound_level_db": 62.0 + random.normal(0.0, 0.3, n),
        "pin_temperature_degc": 50.0 + random.normal(0.0, 0.05, n),
        "ring_speed_rpm": 600.0 + random.normal(0.0, 1.0, n),
    }


def scuff(columns: Columns, at_s: float, times: float = 3.5) -> None:
    """Let the contact drag so many times as much within 0.3 s, and heat its pin."""
    t_s = columns["time_s"]
    more = (times - 1.0) * np.clip((t_s - at_s) / 0.3, 0.0, 1.0)
    columns["motor_current_a"] += (columns["motor_current_a"] - 1.0) * more
    columns["friction_force_n"] *= 1.0 + more
    columns["pin_temperature_degc"] += 2.0 * np.clip(t_s - at_s, 0.0, None)


def read_each(values: np.ndarray, every_s: float) -> np.ndarray:
    """Give blanks but for one value each `every_s`, as a slower logger's columns in a merged table."""
    every = round(every_s * RATE_HZ)
    seldom = np.full(len(values), np.nan)
    seldom[::every] = values[::every]
    return seldom


def replayed(columns: Columns, text: str = "") -> ReplayResult:
    rows = {name: values for name, values in columns.items() if name != "time_s"}
    return replay_columns(columns["time_s"], rows, load_replay_settings(text))


def loud(result: ReplayResult) -> list[Finding]:
    return [finding for finding in result.findings if finding.level is not Level.NOTICE]


@pytest.mark.parametrize("every_s", [0.3, 0.5, 1.0, 2.0])
def test_a_weight_is_none_however_seldom_the_load_is_read(every_s: float) -> None:
    columns = weights()
    columns["normal_load_n"] = read_each(columns["normal_load_n"], every_s)
    found = loud(replayed(columns))
    assert {finding.level for finding in found} <= {Level.WARN}
    assert {finding.kind for finding in found} <= {FindingKind.SENSOR_FAULT}
    assert len(found) <= 3, "it is late until it has shown its own rate"


@pytest.mark.parametrize("every_s", [0.3, 0.5, 1.0, 2.0])
def test_scuffing_is_found_with_the_next_reading_of_a_load_that_is_read_seldom(every_s: float) -> None:
    columns = weights()
    scuff(columns, 90.0)
    columns["normal_load_n"] = read_each(columns["normal_load_n"], every_s)
    trip = next(finding for finding in loud(replayed(columns)) if finding.level is Level.TRIP)
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert 90.0 < trip.t_rig_s < 90.5 + every_s


def test_a_column_that_misses_values_now_and_then_keeps_its_age() -> None:
    """Late once, and not again after the same time: that is no rate of its own."""
    columns = weights(60.0)
    for at_s, for_s in ((20.0, 1.0), (30.0, 2.0), (40.0, 1.5)):
        columns["sound_level_db"][(columns["time_s"] > at_s) & (columns["time_s"] < at_s + for_s)] = np.nan
    found = loud(replayed(columns))
    assert [finding.says[:33] for finding in found] == ["Sensor fault: sound level too old"] * 3


def test_a_load_cell_that_becomes_noise_is_named_and_hides_nothing() -> None:
    columns = weights(80.0, each_s=200.0)
    late = columns["time_s"] >= 30.0
    columns["normal_load_n"][late] += np.random.default_rng(5).normal(0.0, 20.0, late.sum())
    (found,) = loud(replayed(columns))
    assert (found.kind, found.level, found.channels) == (
        FindingKind.SENSOR_FAULT,
        Level.WARN,
        ("normal_load_n",),
    )
    assert "from value to value" in found.says
    assert found.evidence[0].value > found.evidence[0].limit
    scuff(columns, 60.0)
    columns["sound_level_db"][columns["time_s"] >= 60.0] += 10.0
    trips = [finding for finding in loud(replayed(columns)) if finding.level is Level.TRIP]
    assert [trip.kind for trip in trips][:1] == [FindingKind.SCUFFING_ONSET]
    assert trips[0].t_rig_s < 65.0


@pytest.mark.parametrize(("share", "seconds"), [(0.05, 80.0), (0.6, 3.0)])
def test_a_load_cell_that_is_noisy_but_not_mostly_or_not_for_long_is_believed(share: float, seconds: float) -> None:
    columns = weights(80.0, each_s=200.0)
    late = (columns["time_s"] >= 30.0) & (columns["time_s"] < 30.0 + seconds)
    columns["normal_load_n"][late] += np.random.default_rng(5).normal(0.0, share * 50.0, late.sum())
    assert loud(replayed(columns)) == []


@pytest.mark.parametrize("step_n", [0.2, 0.0])
def test_a_load_that_reads_as_nothing_under_a_contact_is_told_as_blindness(step_n: float) -> None:
    """Of a cell whose range is not stated: it may be made for grams, or not be connected at all."""
    columns = weights(70.0, step_n=50.0)
    columns["normal_load_n"] *= step_n / 50.0
    columns["friction_force_n"] *= 0.01
    result = replayed(columns)
    assert result.findings == ()
    assert "scuffing_onset" in result.summary.blind_to


def test_a_load_that_reads_as_nothing_beside_more_friction_than_the_least_load_is_named() -> None:
    """No coefficient is above 1: after 20 s the contact is watched as without the cell."""
    columns = weights(70.0, step_n=50.0)
    columns["normal_load_n"] *= 0.0
    result = replayed(columns)
    assert [(finding.kind, finding.channels[0]) for finding in loud(result)] == [
        (FindingKind.SENSOR_FAULT, "normal_load_n")
    ]
    assert "scuffing_onset" not in result.summary.blind_to


def test_a_contact_that_is_watched_is_not_told_as_blindness() -> None:
    assert "scuffing_onset" not in replayed(weights(70.0)).summary.blind_to


def test_a_friction_coefficient_beyond_its_limit_counts_by_its_size() -> None:
    """The cell reads negative where the ring turns the other way round."""
    columns = weights(60.0, each_s=200.0)
    columns["friction_force_n"] *= -1.0
    columns["friction_force_n"][columns["time_s"] >= 40.0] *= 1.3
    text = "[limits]\nfriction_coefficient_max = 0.12\n"
    trip = next(finding for finding in loud(replayed(columns, text)) if finding.level is Level.TRIP)
    assert trip.kind is FindingKind.FRICTION_LIMIT
    assert trip.evidence[0].value < trip.evidence[0].limit == -0.12
    assert trip.says.endswith("limit −0.120.")
