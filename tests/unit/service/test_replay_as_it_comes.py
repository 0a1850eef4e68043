"""Tables as they come: stamps of any origin, ranges that nobody has stated, no channel that tells the ring turns.

Made up here; sizes and times are common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import ReplayResult, replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

RATE_HZ, END_S, EVENT_S = 100.0, 60.0, 40.0
LOAD_N, FRICTION_N, CURRENT_A = 200.0, 18.0, 2.0
Columns = dict[str, np.ndarray]


def healthy() -> tuple[np.ndarray, Columns]:
    """Give a rig under one load; its converters have twelve bits, so that values repeat themselves now and then."""
    random = np.random.default_rng(11)
    t_s = np.round(np.arange(round(END_S * RATE_HZ)) / RATE_HZ, 2)

    def read(value: float, noise: float, step: float) -> np.ndarray:
        return np.round((value + random.normal(0.0, noise, len(t_s))) / step) * step

    return t_s, {
        "normal_load_n": read(LOAD_N, 1.0, 0.2),
        "friction_force_n": read(FRICTION_N, 0.3, 0.1),
        "motor_current_a": read(CURRENT_A, 0.02, 0.01),
        "ring_speed_rpm": read(600.0, 1.0, 0.5),
    }


def replayed(t_s: np.ndarray, columns: Columns) -> ReplayResult:
    return replay_columns(t_s, columns, load_replay_settings())


def trips(result: ReplayResult) -> list[Finding]:
    return [finding for finding in result.findings if finding.level is Level.TRIP]


def scuffing() -> tuple[np.ndarray, Columns]:
    t_s, columns = healthy()
    columns["friction_force_n"] *= np.clip(2.0 ** ((t_s - EVENT_S) / 0.3), 1.0, 5.0)
    return t_s, columns


@pytest.mark.slow
@pytest.mark.parametrize("origin_s", [0.005, 100.0, 1_765_000_000.0])
def test_wherever_its_stamps_begin_a_table_gives_the_same_findings(origin_s: float) -> None:
    """A double of seconds since 1970 is good to 0.24 us, so the same steps of 10 ms differ from one another there."""
    t_s, columns = scuffing()
    here, there = replayed(t_s, columns), replayed(t_s + origin_s, columns)
    assert len(trips(here)) == 1
    assert [replace(finding, t_rig_s=0.0) for finding in there.findings] == [
        replace(finding, t_rig_s=0.0) for finding in here.findings
    ]
    for mine, its in zip(here.findings, there.findings, strict=True):
        assert its.t_rig_s == pytest.approx(mine.t_rig_s + origin_s, abs=1e-5)
    assert there.summary.trip_t_s == pytest.approx((here.summary.trip_t_s or 0.0) + origin_s, abs=1e-5)
    assert there.summary.stages[0].t_start_s == pytest.approx(here.summary.stages[0].t_start_s + origin_s, abs=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "end"), [("friction_force_n", 400.0), ("friction_force_n", -400.0), ("motor_current_a", 25.0)]
)
def test_a_value_that_jumps_and_never_moves_again_is_the_end_of_a_range_and_no_event(name: str, end: float) -> None:
    t_s, columns = healthy()
    columns[name][t_s >= EVENT_S] = end
    result = replayed(t_s, columns)
    assert trips(result) == []
    (fault,) = (finding for finding in result.findings if finding.level is Level.WARN)
    assert (fault.kind, fault.channels) == (FindingKind.SENSOR_FAULT, (name,))
    assert EVENT_S < fault.t_rig_s < EVENT_S + 1.0


@pytest.mark.slow
def test_a_value_that_jumps_and_moves_is_an_event_one_row_later() -> None:
    t_s, columns = scuffing()
    columns["friction_force_n"][t_s >= EVENT_S] *= 3.0
    (trip,) = trips(replayed(t_s, columns))
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert EVENT_S < trip.t_rig_s < EVENT_S + 0.1


def contact_alone(coefficient: float) -> tuple[np.ndarray, Columns]:
    """Give a contact under its weight at rest, that begins to turn; then friction goes to so much of the load."""
    t_s, columns = healthy()
    rest, turn = t_s < 15.0, (t_s >= 15.0) & (t_s < 15.2)
    columns["friction_force_n"] *= np.where(rest, 0.35, np.where(turn, 1.4, 1.0))
    columns["friction_force_n"] *= np.where(t_s >= EVENT_S, coefficient * LOAD_N / FRICTION_N, 1.0)
    return t_s, {name: columns[name] for name in ("normal_load_n", "friction_force_n")}


@pytest.mark.slow
@pytest.mark.parametrize(("coefficient", "is_scuffing"), [(FRICTION_N / LOAD_N, False), (0.4, True)])
def test_where_nothing_tells_that_the_ring_turns_a_start_is_no_scuffing(coefficient: float, is_scuffing: bool) -> None:
    """Friction at rest is a third of what it is on a ring that turns, and breaks away at half as much again."""
    result = replayed(*contact_alone(coefficient))
    assert [finding.kind for finding in trips(result)] == [FindingKind.SCUFFING_ONSET] * is_scuffing
    assert all(EVENT_S < finding.t_rig_s < EVENT_S + 0.2 for finding in trips(result))
    assert not [finding for finding in result.findings if finding.level is Level.WARN]


@pytest.mark.slow
@pytest.mark.parametrize("lost_s", [0.12, 0.3])
def test_rows_that_are_lost_once_a_second_blind_nobody(lost_s: float) -> None:
    """A logger that writes its file while it should sample: a start that never ended was watched by nobody."""
    t_s, columns = scuffing()
    kept = t_s % 1.0 < 1.0 - lost_s
    result = replayed(t_s[kept], {name: values[kept] for name, values in columns.items()})
    (trip,) = trips(result)
    assert (trip.kind, trip.t_rig_s) == (FindingKind.SCUFFING_ONSET, pytest.approx(EVENT_S + 0.6, abs=0.4))
    assert FindingKind.SCUFFING_ONSET.value not in result.summary.blind_to


@pytest.mark.slow
def test_a_load_cell_that_has_never_shown_a_load_is_named_and_the_contact_is_watched_without_it() -> None:
    t_s, columns = scuffing()
    columns["normal_load_n"][:] = np.random.default_rng(2).normal(0.0, 0.05, len(t_s))
    columns["sound_level_db"] = 70.0 + 8.0 * (t_s > EVENT_S + 0.3) + np.random.default_rng(3).normal(0.0, 0.3, len(t_s))
    columns["pin_temperature_degc"] = 60.0 + 2.0 * np.clip(t_s - EVENT_S, 0.0, None)
    result = replayed(t_s, columns)
    fault, trip = [finding for finding in result.findings if finding.level is not Level.NOTICE]
    assert (fault.kind, fault.channels[0]) == (FindingKind.SENSOR_FAULT, "normal_load_n")
    assert fault.t_rig_s < 30.0
    assert "under a contact with" in fault.says
    assert trip.kind is FindingKind.SCUFFING_ONSET


@pytest.mark.slow
def test_a_load_cell_is_believed_where_nothing_hangs_beside_a_friction_cell_whose_zero_is_off() -> None:
    """The ring stands for five seconds with the same force, and turns without a weight."""
    t_s, columns = healthy()
    turns = t_s > 5.0
    columns["normal_load_n"] -= LOAD_N
    columns["ring_speed_rpm"] *= turns
    columns["motor_current_a"] *= turns
    assert [finding.kind for finding in replayed(t_s, columns).findings] == []


@pytest.mark.slow
def test_an_open_thermocouple_is_no_overheat_where_nobody_has_stated_its_range() -> None:
    t_s, columns = healthy()
    columns["pin_temperature_degc"] = np.where(t_s < EVENT_S, 60.0, 1372.0)
    result = replay_columns(t_s, columns, load_replay_settings("[limits]\npin_temperature_degc = 80.0"))
    (fault,) = [finding for finding in result.findings if finding.level is not Level.NOTICE]
    assert (fault.kind, fault.level) == (FindingKind.SENSOR_FAULT, Level.WARN)
    assert "pin temperature over range at 1" in fault.says
    assert FindingKind.OVERHEAT.value in result.summary.blind_to
