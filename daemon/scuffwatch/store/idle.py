"""Idle: what is kept while no run is open: 60 s of samples in memory and the 1 s envelope in the journal.

Reads blocks and marks, gives the ring and rows of `idle_cells`.
"""

import json
from collections import deque

import numpy as np

from scuffwatch.model.block import Block
from scuffwatch.store import pyramid
from scuffwatch.store.items import Sample
from scuffwatch.store.rows import Row

RING_S = 60.0
_RING_ITEMS = 60_000


class Ring:
    """The last 60 s at full rate, whatever the rig is doing."""

    def __init__(self) -> None:
        self._items: deque[Sample] = deque(maxlen=_RING_ITEMS)

    def put(self, item: Sample) -> None:
        """Put an item in and let go what is older than 60 s."""
        self._items.append(item)
        while item.t_rig_s - self._items[0].t_rig_s > RING_S:
            self._items.popleft()

    def items(self) -> list[Sample]:
        """Give what is there, oldest first."""
        return list(self._items)


class IdleEnvelope:
    """Cells of 1 s that wait for the journal. The second that is still running stays back."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, tuple[str, ...]], list[pyramid.Cells]] = {}
        self.newest_t_rig_s = 0.0

    def put(self, block: Block) -> None:
        """Take a block in."""
        times = block.t_rig_s + np.arange(block.n) / block.layout.rate_hz
        key = (block.layout.group, block.layout.channels)
        self._cells.setdefault(key, []).append(pyramid.reduce(block.counts, times))
        self.newest_t_rig_s = max(self.newest_t_rig_s, block.t_rig_s)

    def rows(self, utc_minus_rig_s: float) -> list[Row]:
        """Give rows (group, UTC second, names, data) of whole seconds; they stay until `written`."""
        found: dict[tuple[int, int], Row] = {}
        for key, parts in self._cells.items():
            cells = pyramid.combine(parts)
            self._cells[key] = [cells]
            for k0, _, data in pyramid.rows(cells[:-1], 1):
                second = round(k0 + utc_minus_rig_s)
                found[key[0], second] = (key[0], second, json.dumps(key[1]), data)
        return list(found.values())

    def written(self) -> None:
        """Forget what the last `rows` gave."""
        self._cells = {key: [parts[0][-1:]] for key, parts in self._cells.items()}
