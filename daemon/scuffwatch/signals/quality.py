"""Quality: one channel's counts of one slice reduced, calibrated and judged.

Reads counts, gives a `ChannelSlice`. A number that cannot be believed keeps its number, gets a mark and a reason.
"""

import math
import sys
from dataclasses import dataclass

from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import GroupLayout, Quality, Reason
from scuffwatch.signals.calibrate import Calibration, lowest_valid, si_of

_GOOD, _NONE = Quality.GOOD, Reason.NONE
"""By names of their own: looked up in their classes for every channel of every slice they would show in its cost."""


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
        # What is not finite is outside of any range, so that one comparison tells a good mean.
        self._low = max(lowest_valid(calibration.range_low, calibration.range_high), -sys.float_info.max)
        self._high = min(calibration.range_high, sys.float_info.max)
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
        ordered = sorted(counts)  # of so few whole numbers it is done before `min` and `max` are
        lowest, highest = ordered[0], ordered[-1]
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
        saturated = lowest <= self._rail_low or highest >= self._rail_high
        if self._low <= mean <= self._high and not (saturated or stuck or lossy):
            return ChannelSlice(mean, low, high, _GOOD, _NONE, age_s, True)
        reason = self._reason(mean, saturated, stuck)
        quality = Quality.UNCERTAIN if reason is Reason.GAP else Quality.BAD
        return ChannelSlice(mean, low, high, quality, reason, age_s, True)

    def _reason(self, mean: float, saturated: bool, stuck: bool) -> Reason:
        """Give the worst of what is wrong with a slice that is not good."""
        if not math.isfinite(mean):
            return Reason.NOT_FINITE
        if saturated:
            return Reason.SATURATED
        if mean > self._high:
            return Reason.OVER_RANGE
        if mean < self._low:
            return Reason.UNDER_RANGE
        return Reason.STUCK if stuck else Reason.GAP

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
            run = self._run + len(counts) if last == self._last else len(counts)
        else:
            run = 1
            while counts[-1 - run] == last:
                run += 1
        self._run, self._last = run, last
        return run >= self._stuck_n
