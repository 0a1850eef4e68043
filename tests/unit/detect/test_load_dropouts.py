"""A load cell that drops out for seconds, again and again: what hung there hangs there still. Made up here."""

import random
from collections.abc import Callable

import numpy as np
import pytest
from slice_makers import bad, make

from scuffwatch.detect.mechanics import Mechanics, MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

pytestmark = pytest.mark.slow

LOAD_N, MU = 200.0, 0.12
Course = Callable[[float], float]


def cell(draw: random.Random, is_out: bool, load_n: float) -> ChannelSlice | float:
    return bad(Reason.TOO_OLD) if is_out else draw.gauss(load_n, 0.8)


def trips_s(
    until_s: float, out: Callable[[float], bool], times: Course, load_n: Course = lambda t_s: LOAD_N
) -> list[float]:
    """Give when it trips; friction is so many times a healthy one under the load by its time."""
    draw, watch, found = random.Random(5), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(100.0 * until_s)):
        t_s = 0.01 * k
        row = {
            "normal_load_n": cell(draw, out(t_s), load_n(t_s)),
            "friction_force_n": draw.gauss(MU * load_n(t_s) * times(t_s), 0.4),
        }
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s for finding in found if finding.level is Level.TRIP]


def out_of_four_seconds(lasts_s: float) -> Callable[[float], bool]:
    return lambda t_s: t_s > 30.0 and t_s % 4.0 < lasts_s


def test_scuffing_trips_though_the_load_is_there_for_a_second_of_four() -> None:
    """To two and a half times within 6 s, from 61 s on, where the cell has just gone."""
    (trip_s,) = trips_s(70.0, out_of_four_seconds(2.8), lambda t_s: 1.0 + min(1.5, max(0.0, (t_s - 61.0) / 4.0)))
    assert 61.0 < trip_s < 67.0


def test_without_scuffing_it_is_quiet() -> None:
    assert trips_s(90.0, out_of_four_seconds(2.8), lambda t_s: 1.0) == []


def test_a_weight_that_comes_once_the_load_is_gone_for_good_is_a_weight() -> None:
    assert (
        trips_s(60.0, lambda t_s: t_s > 30.0, lambda t_s: 1.0, lambda t_s: LOAD_N * (1.9 if t_s > 36.0 else 1.0)) == []
    )


@pytest.mark.parametrize(("moves", "gone_s", "load_n"), [(False, 2.0, LOAD_N), (False, 4.0, None), (True, 0.5, None)])
def test_a_load_lost_at_rest_hangs_there_for_three_seconds(moves: bool, gone_s: float, load_n: float | None) -> None:
    mechanics = Mechanics(MechanicsParams())
    for k in range(200 + round(100.0 * gone_s)):
        load = bad(Reason.TOO_OLD) if k >= 200 else LOAD_N
        row = {"normal_load_n": load, "friction_force_n": MU * LOAD_N}
        mechanics.read(make(k, row), True, LOAD_N, False, load_moves=moves)
    assert mechanics.has_load is (load_n is not None)
    if load_n is not None:
        assert mechanics.load_n == pytest.approx(load_n)


@pytest.mark.parametrize("shows_n", [np.nan, 0.0])
@pytest.mark.parametrize("since_s", [1.0, 3.0, 8.0])
def test_scuffing_soon_after_the_load_cell_has_gone_is_found(since_s: float, shows_n: float) -> None:
    """To 3.2 times within a second, louder by 6 dB, the pin warming by 2 K/s; all channels but the load are there."""
    draw = np.random.default_rng(6)
    t_s = np.arange(0.0, 75.0, 0.01)
    share = np.clip(t_s - 50.0 - since_s, 0.0, 1.0)
    force_n = 10.0 * (1.0 + 2.2 * share)
    channels = {
        "normal_load_n": np.where(t_s < 50.0, draw.normal(100.0, 0.3, t_s.size), draw.normal(shows_n, 0.05, t_s.size)),
        "friction_force_n": draw.normal(force_n, 0.02 * force_n),
        "motor_current_a": draw.normal(0.5 + 0.05 * force_n, 0.015),
        "ring_speed_rpm": draw.normal(300.0, 0.6, t_s.size),
        "sound_level_db": np.round(draw.normal(60.0 + 6.0 * share, 0.4), 1),
        "pin_temperature_degc": np.round(draw.normal(45.0 + 2.0 * np.clip(t_s - 50.0 - since_s, 0.0, None), 0.05), 1),
    }
    found = replay_columns(t_s, channels, load_replay_settings()).findings
    trips = [one for one in found if one.level is Level.TRIP]
    assert [one.kind for one in trips] == [FindingKind.SCUFFING_ONSET]
    assert 0.0 < trips[0].t_rig_s - 50.0 - since_s < 8.0
