"""Slices: blocks of every group cut into the 10 ms on which everything is decided.

Reads blocks, gives slices. The cut follows the sample index of group 0 and node time, never block borders.
"""

import math
from collections import deque
from collections.abc import Mapping, Sequence

from scuffwatch.model.block import Block, ChannelSlice, Slice
from scuffwatch.model.channel import GroupLayout, Quality, Reason
from scuffwatch.signals.clock import SampleTimes
from scuffwatch.signals.quality import ChannelJudge, ChannelRule

__all__ = ["SLICE_S", "ChannelRule", "Slicer"]

SLICE_S = 0.01
_WAITING_S = 2.0
"""How much of a group other than 0 is kept while group 0 is silent."""


def samples_per_slice(rate_hz: float) -> int:
    """Give how many samples of group 0 make a slice: those of 10 ms, at least one."""
    return max(1, round(rate_hz * SLICE_S))


class _SideGroup:
    """A group that does not drive: its samples wait for the slice that ends after them; the last value is held."""

    def __init__(self, layout: GroupLayout, rules: Mapping[str, ChannelRule]) -> None:
        self._judges = [ChannelJudge(rules[name], layout) for name in layout.channels]
        self._max_age_s = [rules[name].max_age_s for name in layout.channels]
        self._names = layout.channels
        self._rate_hz = layout.rate_hz
        self._waiting: deque[tuple[int, list[int]]] = deque(maxlen=max(4, math.ceil(_WAITING_S * layout.rate_hz)))
        self.restart()

    def restart(self) -> None:
        """Forget everything: the node has started anew."""
        self._times = SampleTimes(self._rate_hz)
        self._waiting.clear()
        self._held: list[ChannelSlice] | None = None
        self._newest_us = 0
        self._lossy = False
        for judge in self._judges:
            judge.restart()

    def take(self, block: Block) -> None:
        self._times.anchor(block.first_index, block.t_rig_s)
        self._lossy = self._lossy or block.lost_before > 0
        for k, row in enumerate(block.counts.T.tolist()):
            self._waiting.append((self._times.us_of(block.first_index + k), row))

    def fill(self, channels: dict[str, ChannelSlice], end_us: int, oldest_us: int, since_us: int) -> None:
        """Add this group's channels to a slice.

        Args:
            channels: of the slice, added to.
            end_us: end of the slice; samples before it that have come belong to it.
            oldest_us: samples before it are passed over where newer ones are there.
            since_us: start of the epoch.
        """
        waiting = self._waiting
        if waiting and waiting[0][0] < end_us:
            self._reduce(channels, end_us, oldest_us)
        elif self._held is not None:
            age_s = (end_us - self._newest_us) / 1e6
            for name, held, max_age_s in zip(self._names, self._held, self._max_age_s, strict=True):
                channels[name] = _held(held, age_s) if age_s <= max_age_s else _without(Reason.TOO_OLD, age_s)
        else:
            for name in self._names:
                channels[name] = _without(Reason.NEVER_RECEIVED, (end_us - since_us) / 1e6)

    def _reduce(self, channels: dict[str, ChannelSlice], end_us: int, oldest_us: int) -> None:
        rows: list[list[int]] = []
        while self._waiting and self._waiting[0][0] < end_us:
            if self._newest_us < oldest_us:
                rows.clear()
            self._newest_us, row = self._waiting.popleft()
            rows.append(row)
        age_s = (end_us - self._newest_us) / 1e6
        held = []
        for judge, counts in zip(self._judges, zip(*rows, strict=True), strict=True):
            held.append(judge.reduce(list(counts), age_s, self._lossy))
        self._held = held
        self._lossy = False
        for name, one, max_age_s in zip(self._names, held, self._max_age_s, strict=True):
            channels[name] = one if age_s <= max_age_s else _without(Reason.TOO_OLD, age_s)


def _held(last: ChannelSlice, age_s: float) -> ChannelSlice:
    return ChannelSlice(last.mean, last.low, last.high, last.quality, last.reason, age_s, False)


def _without(reason: Reason, age_s: float) -> ChannelSlice:
    return ChannelSlice(math.nan, math.nan, math.nan, Quality.BAD, reason, age_s, False)


class Slicer:
    """Cut blocks into slices.

    Slice k of an epoch holds the samples [k*m, (k+1)*m) of group 0, m = those of 10 ms, at least one. It is given as
    soon as its last sample has come; where that one was lost, when a later sample comes; where all were lost, never,
    and the next slice says how long the hole was. A sample of another group belongs to the first slice that ends after
    it and is completed after it came; without one the last value is held, its age grows, and beyond its maximum age it
    has no number any more. After a hole, samples from before it are passed over where newer ones have come.

    The same samples give the same slices, bit for bit, however group 0 is split into blocks, as long as the other
    groups' blocks keep their place in time. `frame_sequence` alone names frames: that of the last sample of group 0
    in the slice, so that a lease is never counted from a later frame than it was decided on.

    Args:
        layouts: groups; group 0 must be among them and have channels.
        rules: one for every channel name in the layouts; others are ignored.

    What survives a call: the samples of the unfinished slice, samples of other groups that are not yet due (at most
    2 s), the last values, quality state.

    Raises:
        ValueError: no group 0, a channel without a rule, or a channel name in two groups.
    """

    def __init__(self, layouts: Sequence[GroupLayout], rules: Mapping[str, ChannelRule]) -> None:
        _check(layouts, rules)
        driver = next(layout for layout in layouts if layout.group == 0)
        self._names = driver.channels
        self._m = samples_per_slice(driver.rate_hz)
        self._rate_hz = driver.rate_hz
        self._duration_s = self._m / driver.rate_hz
        self._judges = [ChannelJudge(rules[name], driver) for name in driver.channels]
        self._named_judges = tuple(zip(driver.channels, self._judges, strict=True))
        self._sides = {layout.group: _SideGroup(layout, rules) for layout in layouts if layout.group != 0}
        self._epoch = 0
        self._last_end_us = -1
        self._since_us: int | None = None
        self._last_index: int | None = None
        self._forget()

    def accept(self, block: Block) -> tuple[Slice, ...]:
        """Take the next block of any group.

        Args:
            block: as the assembler gives it.
        Returns:
            Slices that are complete now, in order.
        """
        made: list[Slice] = []
        if block.epoch != self._epoch:
            self._flush(made)
            self._epoch = block.epoch
            self._forget()
        if self._since_us is None:
            self._since_us = round(block.t_rig_s * 1e6)
        if block.layout.group == 0:
            self._drive(block, made)
        else:
            self._sides[block.layout.group].take(block)
        return tuple(made)

    def _forget(self) -> None:
        self._times = SampleTimes(self._rate_hz)
        self._since_us = None
        self._index = 0
        self._rows: list[list[int]] = [[] for _ in self._names]
        self._newest = 0
        self._sequence = 0
        self._last_index = None
        for judge in self._judges:
            judge.restart()
        for side in self._sides.values():
            side.restart()

    def _drive(self, block: Block, made: list[Slice]) -> None:
        rows: list[list[int]] = block.counts.tolist()
        first, n, m = block.first_index, len(rows[0]), self._m
        at = 0
        while at < n:
            index = (first + at) // m
            if index != self._index:
                self._flush(made)
                self._index = index
            if at == 0:
                self._times.anchor(first, block.t_rig_s)
            end = min(n, (index + 1) * m - first)
            for pending, row in zip(self._rows, rows, strict=True):
                pending += row[at:end]
            self._newest = first + end - 1
            self._sequence = block.frame_sequence
            at = end
            if first + end == (index + 1) * m:
                made.append(self._cut())

    def _flush(self, made: list[Slice]) -> None:
        if self._rows[0]:
            made.append(self._cut())

    def _cut(self) -> Slice:
        """Give the slice of the samples that came, and empty them."""
        m, index, rows = self._m, self._index, self._rows
        end_us = max(self._times.us_of((index + 1) * m), self._last_end_us + 1)
        age_s = ((index + 1) * m - self._newest) / self._rate_hz
        lossy = len(rows[0]) < m
        channels: dict[str, ChannelSlice] = {}
        for (name, judge), row in zip(self._named_judges, rows, strict=True):
            channels[name] = judge.reduce(row, age_s, lossy)
            row.clear()
        missed = 0 if self._last_index is None else index - self._last_index - 1
        if self._sides:
            oldest_us = end_us - round(2e6 * self._duration_s) if missed else 0
            for side in self._sides.values():
                side.fill(channels, end_us, oldest_us, self._since_us or 0)
        self._last_index, self._last_end_us = index, end_us
        gap_before_s = missed * self._duration_s
        return Slice(self._epoch, index, end_us / 1e6, self._duration_s, gap_before_s, self._sequence, channels)


def _check(layouts: Sequence[GroupLayout], rules: Mapping[str, ChannelRule]) -> None:
    names = [name for layout in layouts for name in layout.channels]
    if not any(layout.group == 0 and layout.channels for layout in layouts):
        raise ValueError("there is no group 0: nothing drives the slices")
    if missing := [name for name in names if name not in rules]:
        raise ValueError(f"channels without a rule: {', '.join(missing)}")
    if len(set(names)) < len(names):
        raise ValueError(f"a channel name stands in two places: {', '.join(sorted(names))}")
