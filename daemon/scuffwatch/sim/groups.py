"""Samples of one group inside the simulated rig box: gathered into blocks, watched against limits.

Reads rows of counts, gives blocks, and whether one of the rig box's own limits is passed.
"""

from collections.abc import Sequence

import numpy as np

from scuffwatch.model.block import IntArray
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.sim.channels import BLOCK_S


class Guarded:
    """One limit being watched: how many samples in a row have been outside."""

    __slots__ = ("channel", "high", "low", "run", "samples")

    def __init__(self, channel: int, low: int, high: int, samples: int) -> None:
        self.channel, self.low, self.high, self.samples = channel, low, high, samples
        self.run = 0


class Group:
    """Samples of one group on their way into a block, and the limits on them.

    Args:
        layout: the group; a block is at most `BLOCK_S` long and at least one sample.

    What survives a call: rows not yet sent, the sample index, how long each limit has been passed.
    """

    __slots__ = ("_dtype", "_n", "_rows", "_t_us", "first_index", "layout", "limits", "over")

    def __init__(self, layout: GroupLayout) -> None:
        self.layout = layout
        self._n = max(1, int(layout.rate_hz * BLOCK_S + 1e-9))
        self._dtype = np.dtype("<i2" if layout.integer_type is IntegerType.INT16 else "<i4")
        self._rows: list[Sequence[int]] = []
        self._t_us = 0
        self.first_index = 0
        self.limits: list[Guarded] = []
        self.over = False

    @property
    def full(self) -> bool:
        """Say whether a block is complete."""
        return len(self._rows) >= self._n

    def add(self, row: Sequence[int], t_us: int) -> None:
        """Take one sample of each channel; `over` says afterwards whether a limit is passed."""
        if not self._rows:
            self._t_us = t_us
        self._rows.append(row)
        over = False
        for limit in self.limits:
            if limit.low <= row[limit.channel] <= limit.high:
                limit.run = 0
            else:
                limit.run += 1
                over = over or limit.run >= limit.samples
        self.over = over

    def take(self) -> tuple[IntArray, int]:
        """Give the samples gathered, (channels, n), and the time of the first one, µs; the next block begins."""
        counts: IntArray = np.array(self._rows, self._dtype).T
        self.first_index += len(self._rows)
        self._rows = []
        return counts, self._t_us
