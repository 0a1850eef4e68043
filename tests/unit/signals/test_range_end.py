"""The end of a range, learned from values that stay at it. Made up here."""

import math
import random

import pytest

from scuffwatch.signals.range_end import RangeEnd


def learned(step: float = 0.1) -> RangeEnd:
    """Give a column that has moved about 5 by a tenth or two, in the steps of its converter."""
    draw, end = random.Random(4), RangeEnd()
    for _ in range(1_000):
        assert not end.holds_back(round(draw.gauss(5.0, 0.15) / step) * step)
    return end


@pytest.mark.parametrize(("value", "low", "high"), [(50.0, -math.inf, 50.0), (-50.0, -50.0, math.inf)])
def test_the_same_far_value_time_and_again_is_the_end(value: float, low: float, high: float) -> None:
    end = learned()
    held_back = [end.holds_back(value) for _ in range(20)]
    assert 3 <= held_back.index(False) <= 9
    assert not any(held_back[held_back.index(False) :])
    assert (end.low, end.high) == (low, high)


def test_a_far_value_that_moves_is_believed_from_the_second_on() -> None:
    end = learned()
    assert [end.holds_back(value) for value in (20.0, 21.0, 35.0, 34.0, 36.0, 36.1)] == [
        True,
        False,
        True,
        *[False] * 3,
    ]
    assert end.high == math.inf


def test_one_beyond_an_end_shows_that_it_was_none() -> None:
    end = learned()
    for _ in range(20):
        end.holds_back(50.0)
    end.holds_back(51.0)
    assert end.high == math.inf


def test_a_column_too_coarse_to_tell_is_left_alone() -> None:
    end = learned(step=4.0)
    assert not any(end.holds_back(50.0) for _ in range(50))
    assert end.high == math.inf
