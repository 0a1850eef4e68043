"""Calibration: counts to SI by a polynomial and a tare, and back for the rig box's own limits.

Reads counts, gives values in the channel's unit. No state.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import polynomial

from scuffwatch.model.block import FloatArray, IntArray
from scuffwatch.model.channel import IntegerType

_ZERO_NOISE_SHARE = 0.005


@dataclass(frozen=True, slots=True)
class Calibration:
    """How the counts of one channel become its unit.

    Attributes:
        coefficients: polynomial in counts, lowest power first, at least one.
        tare: subtracted from the polynomial, in the channel's unit.
        range_low, range_high: valid values in the channel's unit.
        calibration_id: name or date of the calibration; empty where none was made.
    """

    coefficients: tuple[float, ...]
    tare: float
    range_low: float
    range_high: float
    calibration_id: str

    def __post_init__(self) -> None:
        if not self.coefficients:
            raise ValueError(f"calibration {self.calibration_id!r} has no coefficients")


def lowest_valid(low: float, high: float) -> float:
    """Give the lowest value that is believed of a range: below one that begins at zero, its noise at rest is no fault.

    Half a percent of the span is let through there, far less than a converter's rail lies beyond the range; common
    practice, no source.
    """
    return -_ZERO_NOISE_SHARE * high if low == 0.0 and math.isfinite(high) else low


def si(counts_row: IntArray | FloatArray, calibration: Calibration) -> FloatArray:
    """Give the values of a row of counts.

    Args:
        counts_row: counts, any shape.
        calibration: of the channel.
    Returns:
        Same shape, float64, in the channel's unit; not checked against range or rails.
    """
    x = counts_row.astype(np.float64)
    value = np.full_like(x, calibration.coefficients[-1])
    for coefficient in reversed(calibration.coefficients[:-1]):
        value = value * x + coefficient
    result: FloatArray = value - calibration.tare
    return result


def si_of(counts: float, calibration: Calibration) -> float:
    """Give the value of one count; the same bits as `si` gives."""
    value = calibration.coefficients[-1]
    for coefficient in reversed(calibration.coefficients[:-1]):
        value = value * counts + coefficient
    return value - calibration.tare


def counts_limits(
    calibration: Calibration, low_si: float, high_si: float, integer_type: IntegerType
) -> tuple[int, int]:
    """Give the lowest and highest count whose value lies within two limits; the rig box trips outside of them.

    Args:
        calibration: of the channel; its polynomial must rise or fall throughout between the rails.
        low_si, high_si: limits in the channel's unit, low <= high; infinite where there is none.
        integer_type: its rails bound the answer. A limit beyond a rail gives the rail.
    Returns:
        (low_counts, high_counts), low <= high, exact to the count.
    Raises:
        ValueError: limits out of order or not numbers, polynomial not monotone, or no count within the limits.
    """
    if not low_si <= high_si:
        raise ValueError(f"limits {low_si:g}..{high_si:g} are out of order")
    low, high = integer_type.low_counts, integer_type.high_counts
    sign = _direction(calibration, high + 1)

    def rising(counts: int) -> float:
        return sign * si_of(counts, calibration)

    bottom, top = sorted((sign * low_si, sign * high_si))
    low_counts = _first(low, high, lambda counts: rising(counts) >= bottom)
    high_counts = _first(low, high, lambda counts: rising(counts) > top) - 1
    if low_counts > high_counts:
        raise ValueError(f"no count gives a value within {low_si:g}..{high_si:g}")
    return low_counts, high_counts


def _first(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """Give the first whole number of low..high from which on `holds`; high + 1 where it never does."""
    high += 1
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return low


def _direction(calibration: Calibration, span_counts: int) -> int:
    """Give 1 where the polynomial rises and -1 where it falls over -span..span, by the extremes of its slope."""
    if not all(map(math.isfinite, calibration.coefficients)):
        raise ValueError(f"calibration {calibration.calibration_id!r} has a coefficient that is no number")
    scaled = [c * float(span_counts) ** k for k, c in enumerate(calibration.coefficients)]
    slope = [k * c for k, c in enumerate(scaled)][1:]
    while slope and slope[-1] == 0.0:
        slope.pop()
    at = [-1.0, 1.0]
    if len(slope) > 2:
        turning = polynomial.polyroots(polynomial.polyder(np.array(slope)))
        at += [float(u.real) for u in turning if abs(u.imag) < 1e-9 and -1.0 < u.real < 1.0]
    slopes = [float(polynomial.polyval(u, np.array(slope or [0.0]))) for u in at]
    if min(slopes) >= 0.0 and max(slopes) > 0.0:
        return 1
    if max(slopes) <= 0.0 and min(slopes) < 0.0:
        return -1
    raise ValueError(f"calibration {calibration.calibration_id!r} neither rises nor falls throughout")
