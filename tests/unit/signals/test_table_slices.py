"""Slices out of a table: what a column of many rows a slice comes to."""

import math

from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Quality, Reason
from scuffwatch.signals.table_slices import ColumnRule, TableSlicer

RULE = ColumnRule(-math.inf, math.inf, 0.5, 0.0)


def one_slice(values: list[float], rule: ColumnRule = RULE) -> ChannelSlice:
    """Give the channel of one slice of ten rows."""
    slicer = TableSlicer({"friction_force_n": rule}, 0.001)
    made = [s for k in range(10) for s in slicer.accept(0.001 * k, [values[k % len(values)]])]
    assert len(made) == 1
    return made[0].channels["friction_force_n"]


def test_mean_low_and_high_are_those_of_the_rows() -> None:
    made = one_slice([1.0, 2.0, 4.5, 2.5, 5.0])
    assert (made.mean, made.low, made.high) == (3.0, 1.0, 5.0)
    assert (made.quality, made.reason) == (Quality.GOOD, Reason.NONE)


def test_missing_values_are_left_out() -> None:
    assert one_slice([1.0, math.nan, 3.0, math.nan, 2.0]).mean == 2.0


def test_what_has_no_finite_mean_is_not_finite_whatever_the_range() -> None:
    for values in ([math.inf], [-math.inf, 1.0], [math.inf, -math.inf], [1.7e308]):
        made = one_slice(values)
        assert (made.quality, made.reason) == (Quality.BAD, Reason.NOT_FINITE), values


def test_a_mean_at_the_end_of_its_range_is_a_converter_at_its_end_and_at_nothing_it_is_good() -> None:
    """A ring at rest reads 0, the end of its range; at any other end nobody can tell how much more there is."""
    rule = ColumnRule(-2.0, 5.0, 0.5, 0.0)
    assert [one_slice([value], rule).quality for value in (-1.992, 4.992)] == [Quality.GOOD, Quality.GOOD]
    assert [one_slice([value], rule).reason for value in (4.994, 5.0)] == [Reason.OVER_RANGE, Reason.OVER_RANGE]
    assert [one_slice([value], rule).reason for value in (-1.994, -2.0)] == [Reason.UNDER_RANGE, Reason.UNDER_RANGE]
    assert one_slice([0.0], ColumnRule(0.0, 5.0, 0.5, 0.0)).quality is Quality.GOOD
