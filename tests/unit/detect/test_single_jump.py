"""A load cell's single spikes hide no scuffing, and hold no weight up for longer than a value. Made up here."""

import random

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.single_jump import SingleJump
from scuffwatch.model.finding import Level


def taken(values: list[float], dt_s: float = 0.01) -> list[float]:
    """Give what is believed of values that follow a minute of 100 N with 0.3 N of noise."""
    jump, draw = SingleJump(), random.Random(1)
    for _ in range(600):
        jump.take(draw.gauss(100.0, 0.3), True, dt_s)
    return [jump.take(value, True, dt_s) for value in values]


def test_a_spike_of_one_value_is_left_out() -> None:
    before, *after = taken([100.0, 260.0, 100.2, 100.1])
    assert after == [before, 100.2, 100.1]


def test_a_weight_comes_one_value_later() -> None:
    assert taken([100.0, 180.0, 230.0, 200.0, 205.0]) == [100.0, 100.0, 230.0, 200.0, 205.0]


@pytest.mark.parametrize("dt_s", [0.05, 0.1])
def test_of_slow_rows_nothing_is_held_back(dt_s: float) -> None:
    assert taken([100.0, 180.0, 100.0], dt_s) == [100.0, 180.0, 100.0]


def test_noise_about_zero_does_not_jump() -> None:
    jump, draw = SingleJump(), random.Random(2)
    values = [draw.gauss(0.0, 1.0) for _ in range(2_000)]
    assert [jump.take(value, True, 0.01) for value in values] == values


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_spikes_on_one_load_in_a_hundred_hide_no_scuffing(seed: int) -> None:
    """Four times the friction within 1.5 s, a minute after the spikes began; up to ten times the load either way."""
    draw, watch, trips_s = random.Random(seed), ScuffWatch(ScuffParams()), list[float]()
    for k in range(10_000):
        force_n = 13.0 * (1.0 + 3.0 * min(1.0, max(0.0, 0.01 * k - 90.0) / 1.5))
        spikes = k > 3_000 and draw.random() < 0.01
        load_n = draw.gauss(100.0, 400.0 if spikes else 0.3)
        row = {"normal_load_n": load_n, "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        found = watch.update(make(k, row), running=True)
        trips_s += [finding.t_rig_s for finding in found if finding.level is Level.TRIP]
    assert len(trips_s) == 1
    assert 90.0 < trips_s[0] < 91.5
