"""Slices out of a table: rows of values with a stamp each, at any rate, cut as a rig box's samples are.

Reads rows of SI values, gives slices. No row is looked at before the one in front of it has been judged.
"""

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import Quality, Reason
from scuffwatch.signals.calibrate import lowest_valid
from scuffwatch.signals.range_end import RangeEnd
from scuffwatch.signals.slices import samples_per_slice

_HOLE_PERIODS = 1.5
_EVEN_SHARE, _LATE_TIMES, _SLOWEST_S = 0.1, 2.5, 60.0
"""Of an interval, how far the next may be off; so many intervals are too late; and of no channel is one longer."""
_STUCK_TIMES = 10.0
_STUCK_CHANGES = 100
_END_SHARE = 0.001
"""Of a range; a step of a converter of ten bits."""
_GOOD, _NONE = Quality.GOOD, Reason.NONE
"""By names of their own: looked up in their classes for every column of every slice they would show in its cost."""


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """How one column is judged.

    Attributes:
        range_low, range_high: valid values in the column's unit; below `range_low`, and from `range_high` on, a value
            is BAD.
        max_age_s: age beyond which a held value is BAD; of a column that comes more slowly, but evenly, 2.5 of its own
            intervals once that has been seen.
        stuck_after_s: identical values for so long are BAD, once the column has shown that it moves: 100 changes, and
            no longer rest than a tenth of this one. 0 switches it off.
        learns_ends: whether the range, where it is not known, is learned from a value that stays at its end.
    """

    range_low: float
    range_high: float
    max_age_s: float
    stuck_after_s: float
    learns_ends: bool = False


class _Column:
    """One column: the values of the unfinished slice, the held value, and how long it has not moved."""

    __slots__ = (
        "_changes",
        "_end",
        "_held",
        "_highest",
        "_interval_s",
        "_last",
        "_longest_s",
        "_lowest",
        "_max_age_s",
        "_rest_since_s",
        "_seen_s",
        "_stuck_after_s",
        "_values",
    )

    def __init__(self, rule: ColumnRule) -> None:
        # What is not finite is outside of any range, so that one comparison tells a good mean.
        self._lowest = max(lowest_valid(rule.range_low, rule.range_high), -sys.float_info.max)
        # At the very end of its range a converter has no more to say; a table does not tell its counts, and its range
        # may be rounded. But at a lowest value of 0 a ring stands, and nothing hangs.
        span = rule.range_high - rule.range_low
        end = _END_SHARE * span if math.isfinite(span) else 0.0
        if rule.range_low < 0.0:
            self._lowest = max(self._lowest, math.nextafter(rule.range_low + end, math.inf))
        self._highest = min(math.nextafter(rule.range_high - end, -math.inf), sys.float_info.max)
        self._max_age_s = rule.max_age_s
        self._stuck_after_s = rule.stuck_after_s if rule.stuck_after_s > 0.0 else math.inf
        self._values: list[float] = []
        self._held: ChannelSlice | None = None
        self._seen_s = math.nan
        self._last = math.nan
        self._rest_since_s = 0.0
        self._longest_s = 0.0
        self._changes = 0
        self._interval_s = math.nan
        self._end = RangeEnd() if rule.learns_ends else None

    def take(self, value: float, t_s: float) -> None:
        if value != value or (self._end is not None and self._end.holds_back(value)):
            return
        self._values.append(value)
        if t_s - self._seen_s > self._max_age_s:
            self._follow_interval(t_s - self._seen_s)
        self._seen_s = t_s
        if value != self._last:
            rest_s = t_s - self._rest_since_s
            if rest_s > self._longest_s and self._changes:
                self._longest_s = rest_s
            self._changes += 1
            self._last = value
            self._rest_since_s = t_s

    def _follow_interval(self, interval_s: float) -> None:
        """Take a value that came later than it may: one that comes so each time has a rate of its own.

        Two loggers whose files were merged leave the slower one's columns blank between.
        """
        is_even = abs(interval_s - self._interval_s) <= _EVEN_SHARE * interval_s
        self._interval_s = interval_s
        if is_even and interval_s <= _SLOWEST_S:
            self._max_age_s = _LATE_TIMES * interval_s

    def forget_rest(self, t_s: float) -> None:
        """A hole: it is not known whether the column moved in it."""
        self._rest_since_s = t_s

    def reduce(self, t_s: float, since_s: float, lossy: bool) -> ChannelSlice:
        values = self._values
        if not values:
            return self._without_new(t_s, since_s)
        if len(values) == 1:
            mean = low = high = values[0]
        else:
            mean, low, high = _mean(values), min(values), max(values)
        values.clear()
        rest_s = t_s - self._rest_since_s
        stuck = rest_s >= self._stuck_after_s and self._is_long_rest(rest_s)
        quality, reason = _GOOD, _NONE
        if self._end is not None:
            self._lowest, self._highest = (
                math.nextafter(self._end.low, math.inf),
                math.nextafter(self._end.high, -math.inf),
            )
        if stuck or lossy or not self._lowest <= mean <= self._highest:
            reason = self._reason(mean, stuck)
            quality = Quality.UNCERTAIN if reason is Reason.GAP else Quality.BAD
        held = self._held = ChannelSlice(mean, low, high, quality, reason, t_s - self._seen_s, True)
        return held

    def _reason(self, mean: float, stuck: bool) -> Reason:
        """Give the worst of what is wrong with a slice that is not good."""
        if not math.isfinite(mean):
            return Reason.NOT_FINITE
        if mean > self._highest:
            return Reason.OVER_RANGE
        if mean < self._lowest:
            return Reason.UNDER_RANGE
        return Reason.STUCK if stuck else Reason.GAP

    def _is_long_rest(self, rest_s: float) -> bool:
        """Say whether so long a rest is none of this column's own."""
        return self._changes >= _STUCK_CHANGES and rest_s >= _STUCK_TIMES * self._longest_s

    def _without_new(self, t_s: float, since_s: float) -> ChannelSlice:
        held = self._held
        if held is None:
            return ChannelSlice(math.nan, math.nan, math.nan, Quality.BAD, Reason.NEVER_RECEIVED, t_s - since_s, False)
        age_s = t_s - self._seen_s
        if age_s > self._max_age_s:
            return ChannelSlice(math.nan, math.nan, math.nan, Quality.BAD, Reason.TOO_OLD, age_s, False)
        return ChannelSlice(held.mean, held.low, held.high, held.quality, held.reason, age_s, False)


def _mean(values: Sequence[float]) -> float:
    try:
        return math.fsum(values) / len(values)
    except (ValueError, OverflowError):  # infinite both ways, or a sum beyond all numbers
        return math.nan


class TableSlicer:
    """Cut rows into slices: those of 10 ms, or one row where rows are slower.

    A row belongs to the slice of its place, and places are counted from stamp to stamp in whole periods; so a wrong
    period does not add up, and a missing row leaves its place empty. A slice is given with its last row, or, where that
    one is missing, when a later row comes. A hole is what lies between two stamps beyond one and a half periods.

    Args:
        rules: one a column, in the order of the values.
        period_s: between two rows, > 0.

    What survives a call: the rows of the unfinished slice, held values.

    Attributes:
        gaps_s: start and end of each hole longer than the shortest maximum age, s.
    """

    def __init__(self, rules: dict[str, ColumnRule], period_s: float) -> None:
        self._columns = [_Column(rule) for rule in rules.values()]
        self._named_columns = tuple(zip(rules, self._columns, strict=True))
        self._period_s = period_s
        self._m = samples_per_slice(1.0 / period_s)
        self._duration_s = self._m * period_s
        self._shortest_age_s = min((rule.max_age_s for rule in rules.values()), default=math.inf)
        self._first_s = math.nan
        self._last_s = math.nan
        self._place = -1
        self._rows = 0
        self._index = 0
        self._gap_s = 0.0
        self.gaps_s: list[tuple[float, float]] = []

    def accept(self, t_s: float, values: Sequence[float]) -> tuple[Slice, ...]:
        """Take the next row.

        Args:
            t_s: its time, s; later than the last one's.
            values: one a column; NaN is missing.
        Returns:
            The slices that are complete now, none, one or two.
        """
        last_s = self._last_s
        made: list[Slice] = []
        step, hole_s = 1, 0.0
        if last_s == last_s:
            since_s, period_s = t_s - last_s, self._period_s
            if since_s >= period_s:
                step = round(since_s / period_s)
            if since_s > _HOLE_PERIODS * period_s:
                hole_s = since_s - period_s
        else:
            self._first_s = t_s
        self._place += step
        if self._rows and self._place // self._m != self._index:
            made.append(self._cut(last_s))
        if hole_s:
            self._note_hole(last_s, t_s, hole_s)
        self._index = self._place // self._m
        self._rows += 1
        for column, value in zip(self._columns, values, strict=True):
            column.take(value, t_s)
        self._last_s = t_s
        if (self._place + 1) % self._m == 0:
            made.append(self._cut(t_s))
        return tuple(made)

    def _note_hole(self, last_s: float, t_s: float, hole_s: float) -> None:
        self._gap_s += hole_s
        if hole_s <= self._shortest_age_s:
            return
        self.gaps_s.append((last_s, t_s))
        for column in self._columns:
            column.forget_rest(t_s)

    def _cut(self, t_s: float) -> Slice:
        lossy = self._rows < self._m
        first_s = self._first_s
        channels = {name: column.reduce(t_s, first_s, lossy) for name, column in self._named_columns}
        gap_s, self._gap_s, self._rows = self._gap_s, 0.0, 0
        return Slice(0, self._index, t_s, self._duration_s, gap_s, 0, channels)
