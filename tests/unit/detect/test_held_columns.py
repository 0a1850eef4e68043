"""Columns that are not read with every row: held by a logger, or typed in by a hand that is late. Made up here.

How late a hand is, and that loggers hold slow readings, is common practice, no source.
"""

from collections.abc import Sequence

import numpy as np
import pytest
from slice_makers import good

from scuffwatch.detect.held_column import HeldColumn
from scuffwatch.detect.load_lag import LoadLag
from scuffwatch.detect.seldom_load import SeldomLoad
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

RATE_HZ, STEP_S, COEFFICIENT = 100.0, 40.0, 0.1
Columns = dict[str, np.ndarray]


def held(values: np.ndarray, each_rows: int) -> np.ndarray:
    """Give a column of which each value is repeated."""
    return np.repeat(values[::each_rows], each_rows)[: len(values)]


@pytest.mark.parametrize(("each_rows", "held_s"), [(1, 0.0), (3, 0.0), (20, 0.2), (100, 1.0)])
def test_a_column_that_repeats_its_values_evenly_is_held(each_rows: int, held_s: float) -> None:
    """Now and then one value happens to be as the last, and stays for twice as long."""
    random = np.random.default_rng(1)
    values = held(np.round(random.normal(50.0, 0.1, 3_000), 1), each_rows)
    column = HeldColumn()
    for value in values:
        column.take(float(value), 0.01)
    assert column.held_s == pytest.approx(held_s)


def test_what_flips_between_two_steps_of_a_converter_is_not_held() -> None:
    random = np.random.default_rng(2)
    column, seen = HeldColumn(), 0
    for value in np.round(random.normal(50.0, 0.3, 20_000)):
        column.take(float(value), 0.01)
        seen += column.held_s > 0.0
    assert seen <= 200


def test_ten_rows_a_second_are_no_held_ones() -> None:
    random, column = np.random.default_rng(3), HeldColumn()
    for value in random.normal(50.0, 0.1, 100):
        column.take(float(value), 0.1)
    assert column.held_s == 0.0


@pytest.mark.parametrize(("late_s", "together"), [(0.0, 1), (0.15, 1), (-0.15, 1), (0.6, 0), (4.0, 0), (-0.5, 0)])
def test_a_weight_that_shows_in_both_within_a_quarter_of_a_second_came_together(late_s: float, together: int) -> None:
    lag = LoadLag()
    for k in range(2_000):
        t_s = 0.01 * k
        lag.take(5.0 if t_s < 10.0 else 10.0, abs(t_s - 10.0 - late_s) < 0.005, 0.01)
    assert (lag.together, lag.apart) == (together, 1 - together)


def test_a_weight_that_shows_on_one_of_them_alone_came_apart() -> None:
    lag = LoadLag()
    for k in range(2_000):
        lag.take(5.0, k == 1_000, 0.01)
    assert (lag.together, lag.apart) == (0, 1)


def test_a_load_that_shows_changes_of_its_own_is_never_late() -> None:
    random, seldom = np.random.default_rng(4), SeldomLoad()
    late = []
    for k in range(10_000):
        weights = 50.0 * (1 + k // 3_000)
        seldom.take(good(float(random.normal(weights, 0.2))), 0.1 * weights, 0.01)
        late.append(seldom.may_be_late_s)
    assert max(late) == 0.0


# --- through the detectors ------------------------------------------------------------------------------------


def rig(late_s: Sequence[float], *, scuffs_s: float = np.inf, scuffed: float = 0.4, seed: int = 5) -> Columns:
    """Give a rig whose weights of 40, 80, 120 N and so on are typed in so much after they were hung."""
    random, n = np.random.default_rng(seed), round(RATE_HZ * STEP_S * (len(late_s) + 1))
    t_s = np.arange(n) / RATE_HZ
    load_n, typed_n = np.full(n, 40.0), np.full(n, 40.0)
    for k, late in enumerate(late_s):
        load_n += 40.0 * np.clip((t_s - STEP_S * (k + 1)) / 0.4, 0.0, 1.0)
        typed_n += 40.0 * (t_s >= STEP_S * (k + 1) + late)
    share = np.clip((t_s - scuffs_s) / 0.5, 0.0, 1.0)
    force_n = load_n * (COEFFICIENT + (scuffed - COEFFICIENT) * share)
    return {
        "time_s": t_s,
        "normal_load_n": typed_n,
        "friction_force_n": random.normal(force_n, 0.02 * force_n),
        "motor_current_a": random.normal(1.0 + 0.05 * force_n, 0.02),
        "ring_speed_rpm": random.normal(300.0, 0.5, n),
        "sound_level_db": random.normal(60.0 + 3.0 * np.log2(force_n / 4.0), 0.3),
        "pin_temperature_degc": np.round(random.normal(45.0, 0.05, n) + 0.1 * load_n, 1),
    }


def found(columns: Columns) -> list[Finding]:
    given = {name: values for name, values in columns.items() if name != "time_s"}
    result = replay_columns(columns["time_s"], given, load_replay_settings())
    return [finding for finding in result.findings if finding.level is not Level.NOTICE]


@pytest.mark.slow
@pytest.mark.parametrize(
    "late_s", [[0.4, 2.0, 5.0], [5.0, 0.2, 1.0], [-1.0, 3.0, -0.4], [3.0, 3.0, 3.0], [2.0, -6.0, -15.0]]
)
def test_a_weight_that_is_typed_in_late_is_no_scuffing_and_nothing_to_warn_of(late_s: list[float]) -> None:
    assert [finding.says for finding in found(rig(late_s))] == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("late_s", "most_s"),
    [
        ([0.0, 0.0], 0.6),  # two weights have shown that the column keeps up
        ([0.0], 6.5),  # one has not
        ([2.0, 0.0, 0.0], 6.5),  # a hand that was late once
        ([], 6.5),
    ],
)
def test_what_scuffs_beside_a_load_that_may_be_late_is_found_once_it_cannot_be(
    late_s: list[float], most_s: float
) -> None:
    scuffs_s = STEP_S * len(late_s) + 25.0
    trip = found(rig(late_s, scuffs_s=scuffs_s))[0]
    assert (trip.kind, trip.level) == (FindingKind.SCUFFING_ONSET, Level.TRIP)
    assert 0.0 < trip.t_rig_s - scuffs_s < most_s


@pytest.mark.slow
@pytest.mark.parametrize("each_rows", [15, 30, 60, 100])
def test_weights_on_a_load_whose_logger_holds_it_are_no_scuffing(each_rows: int) -> None:
    columns = rig([0.0, 0.0, 0.0])
    noisy_n = columns["normal_load_n"] + np.random.default_rng(6).normal(0.0, 0.3, len(columns["time_s"]))
    columns["normal_load_n"] = np.round(held(noisy_n, each_rows), 1)
    assert [finding.says for finding in found(columns)] == []


@pytest.mark.slow
def test_a_current_that_its_logger_holds_makes_no_jam_of_a_stop() -> None:
    """It shows the running motor's for three quarters of a second, while the ring has nearly come to rest."""
    columns = rig([])
    on = np.clip(1.0 - (columns["time_s"] - 25.0) / 0.5, 0.0, 1.0)
    columns["ring_speed_rpm"] *= on
    columns["friction_force_n"] *= on > 0.0
    columns["motor_current_a"] = held(columns["motor_current_a"] * (columns["time_s"] < 25.0), 75)
    assert [finding.says for finding in found(columns)] == []


def read_slowly(*, spike_s: float = np.inf, scuffs_s: float = np.inf) -> list[Finding]:
    """Replay a minute of friction from a converter of ten readings a second, with one wrong reading or a scuffing."""
    columns = rig([0.0], scuffs_s=scuffs_s)
    n, each = len(columns["friction_force_n"]), 10
    t_s = np.arange(n) / RATE_HZ
    friction_n = held(columns["friction_force_n"], each)
    wrong = (t_s >= spike_s) & (t_s < spike_s + each / RATE_HZ)
    columns["friction_force_n"] = np.where(wrong, 3.0 * friction_n, friction_n)
    columns["normal_load_n"] = np.random.default_rng(7).normal(columns["normal_load_n"], 0.2)
    return found(columns)


@pytest.mark.slow
@pytest.mark.parametrize("spike_s", [25.0, 31.4])
def test_one_wrong_reading_of_a_slow_converter_is_no_scuffing(spike_s: float) -> None:
    assert not [one for one in read_slowly(spike_s=spike_s) if one.level is Level.TRIP]


@pytest.mark.slow
def test_scuffing_is_found_on_a_slow_converter_two_readings_later() -> None:
    trips = [one for one in read_slowly(scuffs_s=30.0) if one.level is Level.TRIP]
    assert trips[0].kind is FindingKind.SCUFFING_ONSET
    assert trips[0].t_rig_s == pytest.approx(30.5, abs=0.5)
