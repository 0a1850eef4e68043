"""Calibration: the polynomial, its scalar twin, and the inverse for the rig box's limits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.model.channel import IntegerType
from scuffwatch.signals.calibrate import Calibration, counts_limits, si, si_of

COUNTS16 = st.integers(-32768, 32767)


def linear(gain: float, offset: float = 0.0, tare: float = 0.0) -> Calibration:
    return Calibration((offset, gain), tare, -1e9, 1e9, "test")


def test_counts_of_a_load_cell_become_newtons() -> None:
    # Dead weights on a 10:1 lever, g = 9.80665: 1 kg 98.0665 N, 5 kg 490.333 N; 0.02 N a count, invented.
    cell = linear(0.02, 1.5, 1.5)
    np.testing.assert_allclose(si(np.array([4903, 24517], np.int16), cell), [98.0665, 490.333], atol=0.01)


def test_powers_and_tare_are_taken_in_order() -> None:
    calibration = Calibration((1.0, 2.0, 3.0), 0.5, -1e9, 1e9, "test")
    assert si(np.array([[2, -1]], np.int16), calibration).tolist() == [[16.5, 1.5]]


@given(
    counts=st.lists(st.integers(-(2**31), 2**31 - 1), min_size=1, max_size=30),
    coefficients=st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=6),
    tare=st.floats(-1e3, 1e3),
)
def test_scalar_and_array_give_the_same_bits(counts: list[int], coefficients: list[float], tare: float) -> None:
    calibration = Calibration(tuple(coefficients), tare, -1e9, 1e9, "test")
    row = si(np.array(counts, np.int32), calibration)
    assert row.dtype == np.float64
    assert row.tolist() == [si_of(float(count), calibration) for count in counts]


@given(
    gain=st.floats(1e-6, 1e3) | st.floats(-1e3, -1e-6),
    offset=st.floats(-100, 100),
    ends=st.tuples(COUNTS16, COUNTS16).map(sorted),
)
def test_limits_are_the_outermost_counts_within_them(gain: float, offset: float, ends: list[int]) -> None:
    calibration = linear(gain, offset)
    values = sorted(si_of(count, calibration) for count in ends)
    low, high = counts_limits(calibration, values[0], values[1], IntegerType.INT16)
    for count in {low, high, *ends}:
        assert values[0] <= si_of(count, calibration) <= values[1]
    for beyond in (low - 1, high + 1):
        assert beyond < -32768 or beyond > 32767 or not values[0] <= si_of(beyond, calibration) <= values[1]


def test_a_curved_rising_calibration_is_inverted_to_the_count() -> None:
    calibration = Calibration((0.0, 0.01, 2e-8, 1e-12), 0.0, -1e9, 1e9, "test")
    low, high = counts_limits(calibration, -math.inf, 200.0, IntegerType.INT16)
    assert low == -32768
    assert si_of(high, calibration) <= 200.0 < si_of(high + 1, calibration)


def test_a_limit_beyond_the_rail_gives_the_rail() -> None:
    assert counts_limits(linear(0.01), -1e6, 1e6, IntegerType.INT32) == (-100_000_000, 100_000_000)
    assert counts_limits(linear(0.01), -1e6, 1e6, IntegerType.INT16) == (-32768, 32767)


@pytest.mark.parametrize(
    "coefficients",
    [(1.0,), (1.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0, 1e-9), (math.nan, 1.0), (0.0, 1.0, -1e-4), (0.0, 0.0, 0.0)],
)
def test_a_calibration_that_turns_round_between_the_rails_has_no_limits(coefficients: tuple[float, ...]) -> None:
    calibration = Calibration(coefficients, 0.0, -1e9, 1e9, "test")
    with pytest.raises(ValueError, match="calibration 'test'"):
        counts_limits(calibration, -1.0, 1.0, IntegerType.INT16)


@pytest.mark.parametrize(("low", "high"), [(2.0, 1.0), (math.nan, 1.0), (0.0, math.nan)])
def test_limits_out_of_order_are_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="out of order"):
        counts_limits(linear(1.0), low, high, IntegerType.INT16)


def test_limits_between_two_counts_are_refused() -> None:
    with pytest.raises(ValueError, match="no count"):
        counts_limits(linear(1.0), 0.2, 0.8, IntegerType.INT16)


def test_no_coefficients_are_refused() -> None:
    with pytest.raises(ValueError, match="no coefficients"):
        Calibration((), 0.0, 0.0, 1.0, "test")
