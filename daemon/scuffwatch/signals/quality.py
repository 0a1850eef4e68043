"""Quality: one channel's counts of one slice reduced, calibrated and judged.

Reads counts, gives a `ChannelSlice`. A number that cannot be believed keeps its number, gets a mark and a reason.
"""

import math
from dataclasses import dataclass

from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import GroupLayout, Quality, Reason
from scuffwatch.signals.calibrate import Calibration, lowest_valid, si_of


@dataclass(frozen=True, slots=True)
class ChannelRule:
    """How one channel is calibrated and judged.

    Attributes:
        calibration: counts to SI, and the valid range.
        max_age_s: age beyond which a held value is BAD.
        stuck_after_s: identical counts for so long are BAD; 0 switches it off.
    """

    calibration: Calibration
    max_age_s: float
    stuck_after_s: float


class ChannelJudge:
    """Reduce and judge one channel, slice by slice.

    Order of reasons, the worst first: NOT_FINITE, SATURATED (any sample on a rail of the integer type), OVER_RANGE and
    UNDER_RANGE (the mean outside the valid range), STUCK; all of them BAD. GAP (some samples of the slice were lost)
    is UNCERTAIN. The mean is made from an exact sum, so it does not depend on order, machine or numpy version.

    Args:
        rule: of the channel.
        layout: of its group.

    What survives a call: the last count and how many samples in a row had it. Samples that were not received do not
    count for it.
    """

    __slots__ = ("_high", "_last", "_linear", "_low", "_rail_high", "_rail_low", "_rule", "_run", "_stuck_n")

    def __init__(self, rule: ChannelRule, layout: GroupLayout) -> None:
        calibration = rule.calibration
        coefficients = calibration.coefficients
        self._rule = rule
        self._linear = (coefficients[1], coefficients[0], calibration.tare) if len(coefficients) == 2 else None
        self._low = lowest_valid(calibration.range_low, calibration.range_high)
        self._high = calibration.range_high
        self._rail_low = layout.integer_type.low_counts
        self._rail_high = layout.integer_type.high_counts
        self._stuck_n = max(2, math.ceil(rule.stuck_after_s * layout.rate_hz - 1e-9)) if rule.stuck_after_s > 0 else 0
        self._last: int | None = None
        self._run = 0

    def reduce(self, counts: list[int], age_s: float, lossy: bool) -> ChannelSlice:
        """Give the slice of this channel.

        Args:
            counts: samples of the slice that came, in order, at least one.
            age_s: age of the newest at the end of the slice.
            lossy: whether others of the slice were lost.
        Returns:
            Mean, low and high in the channel's unit with their quality.
        """
        lowest, highest = min(counts), max(counts)
        if self._linear is not None:
            gain, offset, tare = self._linear
            mean = gain * (sum(counts) / len(counts)) + offset - tare
            low = gain * lowest + offset - tare
            high = gain * highest + offset - tare
            if gain < 0.0:
                low, high = high, low
        else:
            mean, low, high = self._curved(counts)
        stuck = self._stuck_n > 0 and self._follow(counts, lowest == highest)
        quality = Quality.BAD
        if not math.isfinite(mean):
            reason = Reason.NOT_FINITE
        elif lowest <= self._rail_low or highest >= self._rail_high:
            reason = Reason.SATURATED
        elif mean > self._high:
            reason = Reason.OVER_RANGE
        elif mean < self._low:
            reason = Reason.UNDER_RANGE
        elif stuck:
            reason = Reason.STUCK
        elif lossy:
            quality, reason = Quality.UNCERTAIN, Reason.GAP
        else:
            quality, reason = Quality.GOOD, Reason.NONE
        return ChannelSlice(mean, low, high, quality, reason, age_s, True)

    def restart(self) -> None:
        """Forget the last count: the node has started anew."""
        self._last, self._run = None, 0

    def _curved(self, counts: list[int]) -> tuple[float, float, float]:
        values = [si_of(count, self._rule.calibration) for count in counts]
        if not all(map(math.isfinite, values)):
            return math.nan, math.nan, math.nan
        return math.fsum(values) / len(values), min(values), max(values)

    def _follow(self, counts: list[int], flat: bool) -> bool:
        """Count the samples in a row that were equal, and say whether they are too many."""
        last = counts[-1]
        if flat:
            self._run = self._run + len(counts) if last == self._last else len(counts)
        else:
            self._run = next(k for k, count in enumerate(reversed(counts)) if count != last)
        self._last = last
        return self._run >= self._stuck_n
