"""A column whose logger holds its values: the rows repeat each until the next one comes, after much the same time.

Reads the values of one column, gives how long each is held. What flips between two steps of a converter does so after
any number of rows, one among them.
"""

import math
from collections import deque

_RUNS_LEAST, _RUNS = 5, 8
_HELD_LEAST_S, _ROWS_LEAST = 0.04, 1.5
_EVEN_SHARE = 0.2
"""Of the shortest; a value that happens to be the same again is held twice as long, or three times."""
_EVEN_TIMES = 1.5
"""A value that stays for longer than so many times has come again."""


class HeldColumn:
    """Follow one column.

    What survives a call: its value, for how long it has stayed, and for how long the last ones did.

    Attributes:
        same_s: how long the value has stayed.
        held_s: for how long a value is held; 0 where the column is read with every row, for all that is known.
        changes: whether it has changed in the last slice.
    """

    __slots__ = ("_runs_s", "changes", "held_s", "same_s", "value")

    def __init__(self) -> None:
        self._runs_s: deque[float] = deque(maxlen=_RUNS)
        self.value = math.nan
        self.same_s = self.held_s = 0.0
        self.changes = False

    def take(self, value: float, dt_s: float) -> None:
        """Take the value of a slice."""
        self.same_s += dt_s
        self.changes = value != self.value
        if not self.changes:
            return
        if self.value == self.value:
            self._runs_s.append(self.same_s)
            self.held_s = self._held_s(dt_s)
        self.value, self.same_s = value, 0.0

    def _held_s(self, dt_s: float) -> float:
        runs_s = self._runs_s
        if len(runs_s) < _RUNS_LEAST:
            return 0.0
        shortest_s = min(runs_s)
        if shortest_s < _HELD_LEAST_S or shortest_s < _ROWS_LEAST * dt_s:
            return 0.0
        for run_s in runs_s:
            times = run_s / shortest_s
            if abs(times - round(times)) > _EVEN_SHARE:
                return 0.0
        return shortest_s

    def is_new(self, fresh: bool) -> bool:
        """Say whether a row has brought a value, as far as that can be told: of a column that is held one that changes.

        Args:
            fresh: whether the row has a value.
        """
        return self.changes if self.same_s < _EVEN_TIMES * self.held_s else fresh
