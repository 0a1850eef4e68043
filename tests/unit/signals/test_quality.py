"""Quality of one channel in one slice: what is BAD, why, and what is not."""

import math

import pytest

from scuffwatch.model.channel import GroupLayout, IntegerType, Quality, Reason
from scuffwatch.signals.calibrate import Calibration
from scuffwatch.signals.quality import ChannelJudge, ChannelRule

NARROW = GroupLayout(0, 1000.0, IntegerType.INT16, ("x_n",))
WIDE = GroupLayout(0, 80.0, IntegerType.INT32, ("x_n",))


def judge(
    coefficients: tuple[float, ...] = (0.0, 0.1),
    *,
    low: float = -1e4,
    high: float = 1e4,
    stuck_after_s: float = 0.0,
    layout: GroupLayout = NARROW,
) -> ChannelJudge:
    return ChannelJudge(ChannelRule(Calibration(coefficients, 0.0, low, high, "test"), 1.0, stuck_after_s), layout)


def test_a_good_slice_has_mean_low_and_high() -> None:
    made = judge().reduce([10, 20, 60], 0.001, False)
    assert (made.mean, made.low, made.high) == (pytest.approx(3.0), 1.0, 6.0)
    assert (made.quality, made.reason, made.age_s, made.fresh) == (Quality.GOOD, Reason.NONE, 0.001, True)


def test_a_falling_calibration_swaps_low_and_high() -> None:
    made = judge((0.0, -0.1)).reduce([10, 60], 0.0, False)
    assert (made.low, made.high) == (-6.0, -1.0)


@pytest.mark.parametrize("coefficients", [(0.5, 0.01), (0.0, 0.001, 1e-7), (3.0, 0.2, 0.0), (7.0,)])
def test_the_mean_lies_between_low_and_high(coefficients: tuple[float, ...]) -> None:
    made = judge(coefficients).reduce([-900, 3, 5, 11, 4000], 0.0, False)
    assert made.low <= made.mean <= made.high


def test_a_curved_calibration_is_applied_before_the_mean() -> None:
    made = judge((0.0, 0.0, 1.0), high=1e9).reduce([1, 3], 0.0, False)
    assert made.mean == 5.0


@pytest.mark.parametrize(("layout", "rail"), [(NARROW, 32767), (NARROW, -32768), (WIDE, 2**31 - 1), (WIDE, -(2**31))])
def test_one_sample_on_a_rail_makes_the_slice_saturated_and_keeps_the_number(layout: GroupLayout, rail: int) -> None:
    made = judge((0.0, 1e-6), layout=layout).reduce([0, 0, rail, 0], 0.0, False)
    assert (made.quality, made.reason) == (Quality.BAD, Reason.SATURATED)
    assert math.isfinite(made.mean)


def test_a_mean_outside_the_range_is_bad_and_says_on_which_side() -> None:
    ranged = judge(low=-1.0, high=5.0)
    assert ranged.reduce([60, 60], 0.0, False).reason is Reason.OVER_RANGE
    assert ranged.reduce([-30, 0], 0.0, False).reason is Reason.UNDER_RANGE
    assert ranged.reduce([-30, 60], 0.0, False).quality is Quality.GOOD


def test_the_noise_of_a_quantity_at_rest_is_no_fault_where_its_range_begins_at_zero() -> None:
    """Half a percent of the range, far above a tachometer's or meter's noise and far below a converter's rail."""
    ranged = judge(low=0.0, high=1000.0)  # 0.1 of the unit a count
    assert ranged.reduce([-40, -50], 0.0, False).quality is Quality.GOOD
    assert ranged.reduce([-51, -51], 0.0, False).reason is Reason.UNDER_RANGE
    assert judge(low=10.0, high=1000.0).reduce([99, 99], 0.0, False).reason is Reason.UNDER_RANGE


@pytest.mark.parametrize("coefficients", [(math.nan, 1.0), (0.0, math.inf), (0.0, 1.0, math.nan)])
def test_a_value_that_is_no_number_is_bad(coefficients: tuple[float, ...]) -> None:
    assert judge(coefficients).reduce([1, 2], 0.0, False).reason is Reason.NOT_FINITE


def test_identical_counts_are_stuck_after_their_time_and_not_before() -> None:
    stuck = judge(stuck_after_s=0.05)
    reasons = [stuck.reduce([7] * 10, 0.0, False).reason for _ in range(6)]
    assert reasons == [Reason.NONE] * 4 + [Reason.STUCK] * 2


def test_one_other_count_ends_and_restarts_the_run() -> None:
    stuck = judge(stuck_after_s=0.02)
    stuck.reduce([7] * 10, 0.0, False)
    assert stuck.reduce([7] * 9 + [8], 0.0, False).reason is Reason.NONE
    assert stuck.reduce([8] * 10, 0.0, False).reason is Reason.NONE
    assert stuck.reduce([8] * 9 + [7], 0.0, False).reason is Reason.NONE


def test_a_run_that_filled_a_slice_and_ended_in_it_is_stuck_no_more() -> None:
    stuck = judge(stuck_after_s=0.015)
    stuck.reduce([7] * 10, 0.0, False)
    assert stuck.reduce([7] * 9 + [8], 0.0, False).quality is Quality.GOOD


def test_stuck_is_off_at_zero_and_forgotten_at_a_restart() -> None:
    off, stuck = judge(), judge(stuck_after_s=0.02)
    for _ in range(500):
        assert off.reduce([7] * 10, 0.0, False).quality is Quality.GOOD
    stuck.reduce([7] * 10, 0.0, False)
    stuck.restart()
    assert stuck.reduce([7] * 10, 0.0, False).quality is Quality.GOOD


def test_a_slice_with_lost_samples_is_uncertain_and_bad_is_worse() -> None:
    assert judge().reduce([1], 0.0, True).reason is Reason.GAP
    assert judge().reduce([1], 0.0, True).quality is Quality.UNCERTAIN
    assert judge().reduce([32767], 0.0, True).reason is Reason.SATURATED
