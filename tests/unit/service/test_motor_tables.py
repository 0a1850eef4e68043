"""A motor without a tachometer, on tables made here at 100 rows a second: when its current is believed.

Sizes and times are common practice, no source.
"""

import numpy as np
import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

RIG = "[motor]\nno_load_current_a = 0.4\n[limits]\nmotor_current_a = 3.0\n"
RATE_HZ = 100.0
SURGE_S, END_S = 2.0, 40.0
Columns = dict[str, np.ndarray]


def started(noise_a: float = 0.01) -> tuple[np.ndarray, Columns]:
    """Give a small motor that starts with a surge and then runs on."""
    random = np.random.default_rng(3)
    t_s = np.arange(round(END_S * RATE_HZ)) / RATE_HZ
    current_a = np.where(t_s < SURGE_S, 0.0, 0.5 + 3.5 * np.exp(-(t_s - SURGE_S) / 0.3))
    friction_n = np.where(t_s < SURGE_S, 0.0, 4.0) + random.normal(0.0, 0.1, len(t_s))
    return t_s, {"motor_current_a": current_a + random.normal(0.0, noise_a, len(t_s)), "friction_force_n": friction_n}


def first_trip(t_s: np.ndarray, columns: Columns, keep: np.ndarray | None = None) -> Finding | None:
    keep = np.full(len(t_s), True) if keep is None else keep
    rows = {name: values[keep] for name, values in columns.items()}
    result = replay_columns(t_s[keep], rows, load_replay_settings(RIG))
    return next((finding for finding in result.findings if finding.level is Level.TRIP), None)


@pytest.mark.slow
def test_a_start_is_over_even_where_noise_is_a_fifth_of_the_current() -> None:
    """The start permissive must not wait for a current that is never steady from one slice to the next."""
    t_s, columns = started(noise_a=0.1)
    assert first_trip(t_s, columns) is None
    columns["motor_current_a"][t_s >= 20.0] += 3.5
    trip = first_trip(t_s, columns)
    assert trip is not None
    assert 20.0 <= trip.t_rig_s <= 20.1


@pytest.mark.slow
def test_a_motor_that_draws_current_after_a_short_hole_has_run_on() -> None:
    t_s, columns = started()
    columns["motor_current_a"][t_s >= 20.0] = 3.5
    trip = first_trip(t_s, columns, (t_s < 19.8) | (t_s >= 20.5))
    assert trip is not None
    assert trip.t_rig_s <= 20.6


@pytest.mark.slow
def test_after_a_long_hole_the_motor_may_be_starting() -> None:
    t_s, columns = started()
    surging = (t_s >= 30.0) & (t_s < 31.0)
    columns["motor_current_a"][surging] = 3.5
    assert first_trip(t_s, columns, (t_s < 20.0) | (t_s >= 30.0)) is None


@pytest.mark.slow
def test_current_that_rises_while_friction_falls_is_a_jam_and_under_a_weight_it_is_none() -> None:
    """A drive with a current limit shows no surge; a ring that is held from outside no longer rubs on the pin."""
    t_s, columns = started()
    late = t_s >= 20.0
    columns["motor_current_a"][late] = 0.8
    columns["friction_force_n"][late] *= 2.5
    assert first_trip(t_s, columns) is None
    columns["friction_force_n"][late] *= 0.2
    trip = first_trip(t_s, columns)
    assert trip is not None
    assert trip.kind is FindingKind.JAM
    assert trip.t_rig_s <= 20.5
    assert trip.says == "Jam: motor current 0.80 A, limit 0.65, while friction has fallen."
    assert trip.evidence[0].value > trip.evidence[0].limit


@pytest.mark.slow
def test_a_weight_lifted_takes_current_and_friction_with_it() -> None:
    t_s, columns = started()
    late = t_s >= 20.0
    columns["motor_current_a"][late] = 0.42
    columns["friction_force_n"][late] = 0.2
    assert first_trip(t_s, columns) is None


@pytest.mark.slow
def test_a_current_that_fails_to_the_low_end_of_its_range_is_a_sensor_and_no_jam() -> None:
    """A converter at its negative end, beside a ring that keeps its speed, is no current that has turned its sign."""
    t_s, columns = started()
    columns["ring_speed_rpm"] = np.where(
        t_s < SURGE_S, 0.0, 400.0 + np.random.default_rng(4).normal(0.0, 0.5, len(t_s))
    )
    columns["motor_current_a"][t_s >= 20.0] = -20.0
    settings = load_replay_settings(RIG + "[channels.motor_current_a]\nrange = [-20.0, 20.0]\n")
    found = [item for item in replay_columns(t_s, columns, settings).findings if item.t_rig_s >= 20.0]
    assert [(item.kind, item.channels) for item in found] == [(FindingKind.SENSOR_FAULT, ("motor_current_a",))]


@pytest.mark.slow
def test_a_ring_that_is_held_may_drag_half_as_much_again_and_is_a_jam_all_the_same() -> None:
    """A slow tachometer, 1 pulse/s; held, the spring of the friction cell lets friction rise by half for a while."""
    t_s, columns = started()
    late = t_s >= 20.0
    columns["ring_speed_rpm"] = np.where(t_s < SURGE_S, 0.0, 30.0)
    columns["normal_load_n"] = np.where(t_s < SURGE_S, 0.0, 60.0) + np.random.default_rng(6).normal(0.0, 0.3, len(t_s))
    columns["motor_current_a"][late] = 0.5 + 2.4 * (1.0 - np.exp(-(t_s[late] - 20.0) / 0.1))
    columns["friction_force_n"][late] += 2.0 * (1.0 - np.exp(-(t_s[late] - 20.1) / 0.1)) * (t_s[late] > 20.1)
    trip = first_trip(t_s, columns)
    assert trip is not None
    assert (trip.kind, 20.1 < trip.t_rig_s <= 20.6) == (FindingKind.JAM, True)
    assert trip.says.endswith("far more than friction explains.")
