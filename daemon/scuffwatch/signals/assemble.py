"""Assembly: data frames to blocks, with every lost sample said explicitly.

Reads `Data` frames, gives `Block` and `GapMark`. Produced samples = samples in blocks + samples in gap marks, as far
as the node's own index tells; a restart of the node is a gap of unknown length.
"""

from collections.abc import Sequence

from scuffwatch.model.block import Block
from scuffwatch.model.channel import GroupLayout
from scuffwatch.model.event import GapMark
from scuffwatch.signals.clock import NodeTime, SampleTimes, TicksClock
from scuffwatch.wire.protocol import INDEX_MODULUS, Data

_HALF_INDEX = INDEX_MODULUS // 2
LOST = "lost on the wire"
RESTARTED = "node restarted"


class _Group:
    """Where one group stands: the block that would follow without a loss."""

    __slots__ = ("epoch", "layout", "next_index", "times")

    def __init__(self, layout: GroupLayout) -> None:
        self.layout = layout
        self.epoch: int | None = None
        self.next_index = 0
        self.times = SampleTimes(layout.rate_hz)

    @property
    def next_t_rig_s(self) -> float:
        """Give the time of the sample that would follow, s."""
        return self.times.us_of(self.next_index) / 1e6


class Assembler:
    """Put data frames in their place in time.

    The ticks of a data frame are the node time of its first sample. A block that does not lie behind the last one is
    refused: repeated, older or overlapping. An epoch ends where the samples of group 0 end. The first block of all may
    begin anywhere: what was sampled before nobody asked for.

    Args:
        layouts: groups as the hello announced them.
        clock: clock of this node where others read it too; else one of its own.

    What survives a call: per group epoch, next index and its time; the counters.

    Attributes:
        refused_blocks: blocks refused as repeated or older.
        misfits: frames of an unknown group, or of another channel count or integer type than announced.
        lost_samples: samples of each channel in gap marks, over all groups.
        clock: see above.
    """

    def __init__(self, layouts: Sequence[GroupLayout], clock: TicksClock | None = None) -> None:
        self.clock = clock or TicksClock()
        self.refused_blocks = 0
        self.misfits = 0
        self.lost_samples = 0
        self._groups = {layout.group: _Group(layout) for layout in layouts}

    def accept(self, data: Data) -> tuple[Block | GapMark, ...]:
        """Take one data frame.

        Args:
            data: frame as decoded; its counts become read-only.
        Returns:
            Nothing, the block, or a gap mark and the block.
        """
        group = self._groups.get(data.group)
        if group is None or not _fits(data, group.layout):
            self.misfits += 1
            return ()
        time = self.clock.accept(data.boot, data.ticks_us)
        if group.epoch is None:
            return (self._block(group, data, time, data.first_index, 0),)
        if group.epoch != time.epoch:
            mark = GapMark(data.group, time.epoch, -1, 0, group.next_t_rig_s, RESTARTED)
            return mark, self._block(group, data, time, data.first_index, 0)
        lost = (data.first_index - group.next_index + _HALF_INDEX) % INDEX_MODULUS - _HALF_INDEX
        if lost < 0:
            self.refused_blocks += 1
            return ()
        first_index = group.next_index + lost
        if lost == 0:
            return (self._block(group, data, time, first_index, 0),)
        self.lost_samples += lost
        mark = GapMark(data.group, time.epoch, group.next_index, lost, group.next_t_rig_s, LOST)
        return mark, self._block(group, data, time, first_index, lost)

    def _block(self, group: _Group, data: Data, time: NodeTime, first_index: int, lost: int) -> Block:
        counts = data.counts.view()
        counts.flags.writeable = False
        block = Block(group.layout, time.epoch, data.sequence, first_index, time.t_rig_s, counts, lost)
        if group.epoch != time.epoch:
            group.times = SampleTimes(group.layout.rate_hz)
            group.epoch = time.epoch
        group.times.anchor(first_index, time.t_rig_s)
        group.next_index = first_index + block.n
        if group.layout.group == 0:
            self.clock.reach(group.times.us_of(group.next_index))
        return block


def _fits(data: Data, layout: GroupLayout) -> bool:
    counts = data.counts
    return counts.shape[0] == len(layout.channels) and counts.dtype.itemsize == layout.integer_type.size_bytes
