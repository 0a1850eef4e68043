"""Stamps of a table: a clock that is set back is told from rows that come out of order. Made up here; no source."""

import math

import pytest

from scuffwatch.signals.stamp_clock import StampClock

ROW_S = 0.01


def steps(clock: StampClock, first_s: float, rows: int) -> list[float]:
    """Give the times of so many rows, those refused as NaN."""
    return [clock.time_s(first_s + ROW_S * k) for k in range(rows)]


def test_a_clock_that_is_set_back_by_an_hour_goes_on_after_a_second() -> None:
    clock = StampClock()
    steps(clock, 7200.0, 500)
    last_s = 7200.0 + ROW_S * 499
    after = steps(clock, last_s + ROW_S - 3600.0, 500)
    judged = [t_s for t_s in after if t_s == t_s]
    assert len(judged) == pytest.approx(400, abs=2)
    assert clock.refused == 500 - len(judged)
    assert judged[0] == pytest.approx(last_s + 1.0, abs=2 * ROW_S), "what was refused is a hole of its own length"
    ((since_s, by_s),) = clock.set_back
    assert (since_s, by_s) == (judged[0], pytest.approx(3600.0, abs=2 * ROW_S))
    assert clock.stamp_s(judged[-1]) == pytest.approx(last_s + 5.0 - 3600.0, abs=2 * ROW_S)
    assert clock.stamp_s(7201.0) == 7201.0


def test_a_clock_that_is_set_back_twice_goes_on_twice() -> None:
    clock = StampClock()
    times = [t_s for first_s in (100.0, 40.0, 10.0) for t_s in steps(clock, first_s, 1000)]
    judged = [t_s for t_s in times if t_s == t_s]
    assert judged == sorted(judged)
    assert len(clock.set_back) == 2
    assert clock.stamp_s(judged[-1]) == pytest.approx(19.99)


@pytest.mark.parametrize("back_s", [0.02, 0.5, 1.5])
def test_rows_that_come_twice_are_refused_and_the_clock_is_left_alone(back_s: float) -> None:
    clock = StampClock()
    steps(clock, 0.0, 1000)
    after = steps(clock, 9.99 - back_s, 1000)
    assert not clock.set_back
    assert sum(t_s != t_s for t_s in after) == round(back_s / ROW_S) + 1


def test_a_second_logger_that_lags_is_no_clock_that_was_set_back() -> None:
    clock = StampClock()
    for k in range(3000):
        assert clock.time_s(ROW_S * k) == ROW_S * k
        assert math.isnan(clock.time_s(ROW_S * k - 20.0))
    assert not clock.set_back


def test_rows_that_run_backward_are_refused() -> None:
    clock = StampClock()
    steps(clock, 100.0, 100)
    assert all(math.isnan(clock.time_s(90.0 - ROW_S * k)) for k in range(500))
    assert not clock.set_back


def test_rows_without_a_stamp_are_refused() -> None:
    clock = StampClock()
    assert all(math.isnan(clock.time_s(stamp_s)) for stamp_s in (math.nan, math.inf, -math.inf))
    assert clock.time_s(1.0) == 1.0
    assert clock.refused == 3


@pytest.mark.parametrize("stamps", [[0.0, -4.0, -3.0], [0.0, -4.0, -3.0, -2.5], [-1e9, 0.0, -9.0, -8.5, -8.0]])
def test_a_table_that_has_only_begun_may_have_its_clock_set_back(stamps: list[float]) -> None:
    clock = StampClock()
    times = [t_s for t_s in map(clock.time_s, stamps) if t_s == t_s]
    assert times == sorted(times)
    assert all(map(math.isfinite, times))
