"""A node for property tests: the same samples, sent in whatever blocks, with losses, repeats, restarts and wraps."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from scuffwatch.model.block import Block, IntArray
from scuffwatch.model.channel import GroupLayout
from scuffwatch.signals.assemble import Assembler
from scuffwatch.wire.protocol import Data


@dataclass(frozen=True)
class Life:
    """One life of a node, from start to restart.

    Attributes:
        fast, side: counts of group 0 and of the other group, (channels, n).
        lost: samples of group 0 that never arrive, as (first, n) from the start of this life.
        first_index, first_ticks_us: where index and ticks stand at its start.
    """

    fast: IntArray
    side: IntArray
    lost: tuple[tuple[int, int], ...] = ()
    first_index: int = 0
    first_ticks_us: int = 0


@dataclass(frozen=True)
class Recording:
    """What a node sampled over its lives, independent of how it is sent."""

    fast_layout: GroupLayout
    side_layout: GroupLayout
    lives: Sequence[Life] = field(default_factory=tuple)

    def frames(self, lengths: Sequence[int], repeat: Sequence[bool]) -> Iterator[Data]:
        """Send everything in blocks of these lengths, in turn; a frame may be sent twice. Side samples go alone."""
        turn = 0
        for boot, life in enumerate(self.lives):
            waiting = list(range(life.side.shape[1]))
            at, total = 0, life.fast.shape[1]
            while at < total:
                n = min(lengths[turn % len(lengths)], total - at, *self._before_loss(life, at))
                ends_s = (at + n) / self.fast_layout.rate_hz
                while waiting and waiting[0] / self.side_layout.rate_hz <= ends_s:
                    yield self._frame(life, boot, self.side_layout, life.side, waiting.pop(0), 1)
                if not any(first <= at < first + lost for first, lost in life.lost):
                    frame = self._frame(life, boot, self.fast_layout, life.fast, at, n)
                    yield frame
                    if repeat[turn % len(repeat)]:
                        yield frame
                turn += 1
                at += n

    def blocks(self, lengths: Sequence[int], repeat: Sequence[bool]) -> Iterator[Block]:
        """Give the blocks that an assembler makes of the frames."""
        assembler = Assembler((self.fast_layout, self.side_layout))
        for frame in self.frames(lengths, repeat):
            yield from (item for item in assembler.accept(frame) if isinstance(item, Block))

    @staticmethod
    def _before_loss(life: Life, at: int) -> list[int]:
        borders = [border for first, lost in life.lost for border in (first, first + lost)]
        return [border - at for border in borders if border > at]

    @staticmethod
    def _frame(life: Life, boot: int, layout: GroupLayout, counts: IntArray, at: int, n: int) -> Data:
        index = at if layout.group else life.first_index + at
        ticks_us = life.first_ticks_us + round(at * 1e6 / layout.rate_hz)
        part = np.ascontiguousarray(counts[:, at : at + n])
        return Data(layout.group, index % 2**32, part, boot, 0, ticks_us % 2**32)
