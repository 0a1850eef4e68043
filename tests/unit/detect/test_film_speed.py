"""A ring whose speed somebody changes: what its film drags then is no scuffing, and no stall. Made up here.

By the Stribeck curve friction rises as the ring slows down, up to a boundary film's 0.09 to 0.14 (Zhang, Ueda, Campen,
Spikes 2021, Tribology Letters); a full film drags more the faster it is sheared.
"""

import numpy as np
import pytest
from slice_makers import good

from scuffwatch.detect.film_speed import FilmSpeed
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

RATE_HZ, END_S, AT_S = 100.0, 100.0, 60.0
SET_RPM, LOAD_N = 300.0, 100.0


def ramp(t_s: np.ndarray, at_s: float, lasts_s: float) -> np.ndarray:
    return np.clip((t_s - at_s) / lasts_s, 0.0, 1.0)


def trips(speed: np.ndarray, coefficient: np.ndarray, *, on: np.ndarray | None = None) -> list[Finding]:
    """Give the trips of a rig by its speed, as a share of the first one, and its friction coefficient."""
    random, n = np.random.default_rng(7), len(speed)
    t_s = np.arange(n) / RATE_HZ
    turns = speed > 0.0
    force_n = LOAD_N * coefficient * turns
    current_a = (0.5 + 0.05 * force_n) * (turns if on is None else on)
    columns = {
        "normal_load_n": random.normal(LOAD_N, 0.3, n),
        "friction_force_n": random.normal(force_n, 0.02 * force_n + 0.02),
        "motor_current_a": random.normal(current_a, 0.015 * current_a + 0.001),
        "ring_speed_rpm": SET_RPM * speed * random.normal(1.0, 0.002, n),
        "sound_level_db": random.normal(60.0, 0.3, n),
    }
    found = replay_columns(t_s, columns, load_replay_settings()).findings
    return [finding for finding in found if finding.level is Level.TRIP]


def times() -> np.ndarray:
    return np.arange(round(END_S * RATE_HZ)) / RATE_HZ


@pytest.mark.parametrize(("to_rpm", "moves"), [(260.0, False), (200.0, True), (450.0, True)])
def test_a_speed_is_on_its_way_until_it_has_rested(to_rpm: float, moves: bool) -> None:
    film, seen = FilmSpeed(), []
    for k in range(2_000):
        rpm = SET_RPM + (to_rpm - SET_RPM) * min(1.0, max(0.0, 0.01 * k - 10.0) / 2.0)
        film.take(good(rpm + 0.5 * (k % 2)), 0.01)
        seen.append(film.moves)
        assert film.rises is (film.moves and to_rpm > SET_RPM)
    assert any(seen) is moves
    assert not any(seen[:1_000])
    assert not any(seen[1_500:])
    assert (film.take_change(), film.take_change()) == (moves, False)


@pytest.mark.slow
@pytest.mark.parametrize("lasts_s", [0.5, 3.0])
def test_a_speed_that_is_lowered_into_the_boundary_film_trips_nothing(lasts_s: float) -> None:
    down = ramp(times(), AT_S, lasts_s)
    assert trips(1.0 - 0.67 * down, 0.04 + 0.07 * down) == []


@pytest.mark.slow
def test_nor_does_one_that_is_raised_in_a_full_film() -> None:
    up = ramp(times(), AT_S, 2.0)
    assert trips(1.0 + up, 0.03 + 0.025 * up) == []


@pytest.mark.slow
@pytest.mark.parametrize("lasts_s", [1.5, 3.0])
def test_nor_does_a_drives_ramp_to_rest(lasts_s: float) -> None:
    down = ramp(times(), AT_S, lasts_s)
    speed = 1.0 - down
    assert trips(speed, 0.03 + 0.09 * np.clip(1.6 * down - 0.2, 0.0, 1.0), on=speed > 0.0) == []


@pytest.mark.slow
def test_nor_do_steps_up_to_speed_and_a_ramp_to_rest() -> None:
    """The speed a motor is held against is the last one it was brought to."""
    t_s = times()
    speed = 0.33 * (1.0 + ramp(t_s, 15.0, 1.0) + ramp(t_s, 30.0, 1.0)) * (1.0 - ramp(t_s, AT_S, 1.5))
    assert trips(speed, 0.05 + 0.07 * np.exp(-speed / 0.2), on=speed > 0.0) == []


@pytest.mark.slow
def test_a_contact_that_scuffs_and_slows_its_ring_down_trips_all_the_same() -> None:
    scuffs = ramp(times(), AT_S, 0.5)
    trip = trips(1.0 - 0.25 * scuffs, 0.06 + 0.3 * scuffs)[0]
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert trip.t_rig_s - AT_S < 0.5


@pytest.mark.slow
def test_one_that_seizes_its_ring_trips_before_it_stands() -> None:
    t_s = times()
    seizes = ramp(t_s, AT_S, 2.0)
    trip = trips(np.clip(1.0 - seizes, 0.0, 1.0), 0.06 + 0.5 * seizes, on=np.ones(len(t_s)))[0]
    assert trip.t_rig_s - AT_S < 1.2
