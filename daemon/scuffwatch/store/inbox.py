"""Inbox: the bounded queue between the loop and the writer.

The loop puts items in, the writer takes them out; neither waits for the other. Each counter has one writer, so no lock
is needed. What does not fit is counted and, where it was samples, becomes a gap mark in front of the next thing that
fits.
"""

from collections import deque
from dataclasses import dataclass, replace

from scuffwatch.model.block import Block
from scuffwatch.model.event import Event, GapMark
from scuffwatch.store.items import Item, RunItem, Sample

QUEUE_FULL = "writer queue full"
NOT_UNDERSTOOD = "not understood by the recorder"
_ITEM_OVERHEAD_BYTES = 512
_RESUME_RATIO = 0.8


@dataclass(frozen=True, slots=True)
class InboxRules:
    """How much may wait.

    Attributes:
        span_s: samples of one group, s.
        size_bytes: samples of all groups with what carries them.
        events: events; more than the reserve on the disk holds.
        others: stages, trips and the like.
    """

    span_s: float = 60.0
    size_bytes: int = 64 << 20
    events: int = 10_000
    others: int = 10_000


class Inbox:
    """What waits for the writer, and what had to be let go."""

    def __init__(self, rules: InboxRules) -> None:
        self._rules = rules
        self.events: deque[Event] = deque()
        self.data: deque[Sample | RunItem] = deque()
        self.dropped_items = 0
        self.dropped_events = 0
        self._put_s: dict[int, float] = {}
        self._taken_s: dict[int, float] = {}
        self._put_bytes = 0
        self._taken_bytes = 0
        self._full = False
        self._lost: dict[int, list[GapMark]] = {}

    def offer(self, item: Item, held_s: float, held_bytes: int) -> None:
        """Put an item in, or count it. `held_*` is what the writer has taken and not yet committed."""
        if isinstance(item, Event):
            self._offer_event(item)
        elif isinstance(item, Block):
            self._offer_block(item, held_s, held_bytes)
        elif isinstance(item, GapMark):
            self._offer_mark(item)
        else:
            self._release_lost()
            self.data.append(item)

    def _offer_event(self, event: Event) -> None:
        if len(self.events) >= self._rules.events:
            self.dropped_events += 1
            self.dropped_items += 1
        else:
            self.events.append(event)

    def _offer_block(self, block: Block, held_s: float, held_bytes: int) -> None:
        ratio = _RESUME_RATIO if self._full else 1.0
        span_s = self.span_s + held_s
        size_bytes = self.size_bytes + held_bytes
        self._full = span_s >= ratio * self._rules.span_s or size_bytes >= ratio * self._rules.size_bytes
        if self._full:
            self.dropped_items += 1
            gap = GapMark(block.layout.group, block.epoch, block.first_index, block.n, block.t_rig_s, QUEUE_FULL)
            self._lose(gap)
            return
        self._release_lost()
        self.data.append(block)
        group = block.layout.group
        self._put_s[group] = self._put_s.get(group, 0.0) + block.n * block.period_s
        self._put_bytes += block.counts.nbytes + _ITEM_OVERHEAD_BYTES

    def _offer_mark(self, gap: GapMark) -> None:
        if self._full or len(self.data) >= self._rules.others + len(self._put_s) * 100 * self._rules.span_s:
            self._lose(gap)
        else:
            self.data.append(gap)

    def _lose(self, gap: GapMark) -> None:
        """Remember a gap; while nothing fits, gaps that follow on each other are one."""
        marks = self._lost.setdefault(gap.group, [])
        last = marks[-1] if marks else None
        if (
            last is not None
            and last.epoch == gap.epoch
            and gap.first_index >= 0
            and last.first_index >= 0
            and gap.first_index >= last.first_index + last.n
        ):
            marks[-1] = replace(last, n=gap.first_index + gap.n - last.first_index)
        elif last is None or last.epoch != gap.epoch:
            marks.append(gap)

    def release(self) -> None:
        """Put the gap marks that wait for room behind the rest, whatever the room: the end has come."""
        self._release_lost()

    def _release_lost(self) -> None:
        if self._lost:
            self.data.extend(gap for marks in self._lost.values() for gap in marks)
            self._lost = {}

    def give_up(self, item: Sample | RunItem) -> None:
        """Count an item that was taken off and cannot be kept; samples in it become a gap mark."""
        self.taken(item)
        self.dropped_items += 1
        if isinstance(item, Block):
            gap = GapMark(item.layout.group, item.epoch, item.first_index, item.n, item.t_rig_s, NOT_UNDERSTOOD)
            self.data.appendleft(gap)

    def taken(self, item: Sample | RunItem) -> None:
        """Count an item the writer has taken off."""
        if isinstance(item, Block):
            group = item.layout.group
            self._taken_s[group] = self._taken_s.get(group, 0.0) + item.n * item.period_s
            self._taken_bytes += item.counts.nbytes + _ITEM_OVERHEAD_BYTES

    @property
    def span_s(self) -> float:
        """Give how many seconds of samples wait, the largest of all groups."""
        waiting = [self._put_s[group] - self._taken_s.get(group, 0.0) for group in list(self._put_s)]
        return max(0.0, *waiting) if waiting else 0.0

    @property
    def full(self) -> bool:
        """Say whether samples are let go now."""
        return self._full

    @property
    def size_bytes(self) -> int:
        """Give what the waiting samples occupy, bytes."""
        return self._put_bytes - self._taken_bytes

    @property
    def items(self) -> int:
        """Give the number of items that wait."""
        return len(self.data) + len(self.events)
