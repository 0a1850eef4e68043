"""What goes away by itself is no scuffing: particles that drag and squeal, deep stick-slip, a cell's zero error.

Sizes and times are made up here, after what the simulated worlds showed.
"""

import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, Level

BEGINS_S, LOAD_N, MU = 20.0, 200.0, 0.1
Course = Callable[[float], float]


def trips(times: Course, lasts_s: float, seed: int, louder_db: Course = lambda _: 0.0) -> list[float]:
    """Give the times of the trips after the beginning, s; friction is so many times usual, and sound so much louder."""
    draw, watch, found = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(100 * (BEGINS_S + lasts_s))):
        after_s = 0.01 * k - BEGINS_S
        begun = after_s >= 0.0
        force_n = LOAD_N * MU * (times(after_s) if begun else 1.0)
        row = {
            "normal_load_n": draw.gauss(LOAD_N, 1.0),
            "friction_force_n": draw.gauss(force_n, 0.02 * force_n),
            "sound_level_db": draw.gauss(70.0 + (louder_db(after_s) if begun else 0.0), 0.3),
        }
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s - BEGINS_S for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
def test_a_particle_that_squeals_and_is_ground_down_is_no_scuffing() -> None:
    """Friction goes to 1.65 times within a slice and down again within 2 s, 8 dB louder all the time."""

    def ground_down(after_s: float) -> float:
        return 1.0 + 0.65 * max(0.0, 1.0 - after_s / 2.0)

    for seed in range(5):
        assert trips(ground_down, 6.0, seed, lambda after_s: 8.0 if after_s < 2.0 else 0.0) == []


@pytest.mark.slow
@pytest.mark.parametrize("times", [1.5, 1.6])
def test_scuffing_that_stays_where_it_went_and_is_heard_trips_within_the_second(times: float) -> None:
    for seed in range(5):
        (trip_s,) = trips(lambda _: times, 3.0, seed, lambda _: 8.0)
        assert 0.0 < trip_s < 1.2


@pytest.mark.slow
@pytest.mark.parametrize(("times", "lasts_s"), [(1.7, 0.35), (1.8, 0.25)])
def test_a_particle_that_drags_much_for_a_third_of_a_second_is_no_scuffing(times: float, lasts_s: float) -> None:
    for seed in range(5):
        assert trips(lambda after_s: times if after_s < lasts_s else 1.0, 3.0, seed) == []


@pytest.mark.slow
def test_scuffing_to_as_much_that_stays_trips_by_its_drag_alone() -> None:
    for seed in range(5):
        (trip_s,) = trips(lambda _: 1.8, 3.0, seed)
        assert 0.0 < trip_s < 0.6


@pytest.mark.slow
def test_deep_stick_slip_is_no_scuffing_though_its_tops_are_high_and_loud() -> None:
    """A saw from 0.2 to 1.85 times usual once in 0.9 s: as a force it swings as far to either side."""

    def saw(after_s: float) -> float:
        return 0.2 + 1.65 * (after_s / 0.9 % 1.0)

    for seed in range(5):
        assert trips(saw, 20.0, seed, lambda _: 3.5) == []


@pytest.mark.slow
def test_scuffing_out_of_deep_stick_slip_trips() -> None:
    def scuffs(after_s: float) -> float:
        return 0.2 + 1.65 * (after_s / 0.9 % 1.0) + 2.5 * min(1.0, max(0.0, after_s - 10.0))

    for seed in range(5):
        (trip_s,) = trips(scuffs, 14.0, seed, lambda _: 3.5)
        assert 10.0 < trip_s < 11.0


@pytest.mark.slow
def test_a_zero_error_under_a_light_hanger_is_no_scuffing_though_a_neighbour_is_loud() -> None:
    """At 6.5 N a thin film drags less than the cell can tell; its zero then moves by 0.12 N, a coefficient of 0.02."""
    draw, watch = random.Random(4), ScuffWatch(ScuffParams(MechanicsParams(friction_zero_n=0.053)))
    found = list[Finding]()
    for k in range(8_000):
        load_n, mu = (60.0, 0.12) if k < 2_000 else (6.5, 0.002)
        moved_n = 0.0 if k < 5_000 else 0.16
        row = {
            "normal_load_n": draw.gauss(load_n, 0.05),
            "friction_force_n": round(draw.gauss(mu * load_n + moved_n, 0.012) / 0.0283) * 0.0283,
            "motor_current_a": draw.gauss(1.95, 0.03),
            "sound_level_db": draw.gauss(60.0 if k < 4_990 else 72.0, 0.3),
        }
        found += watch.update(make(k, row), running=True)
    assert [finding.says for finding in found if finding.level is Level.TRIP] == []
