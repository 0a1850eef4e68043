"""A thermocouple that opens: its value climbs to wherever its converter ends, faster than anything warms up.

Reads slices, gives slices in which such a value is BAD.
"""

import math
from collections import deque
from dataclasses import replace

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality, Reason

_STEEP_K_S, _OVER_S = 100.0, 0.1
"""Over so long, up or down. A pin that scuffs warms by 1 to 30 K/s, as in every simulated world."""
_CHANGES_LEAST = 3
"""By then the shortest time between two has shown how often the column is read."""
_SLOWEST_S = 0.15
"""Between two values of slower rows a thermocouple may have followed."""
_BAD = Quality.BAD


class _Climb:
    """One temperature: its values of the last moments, how often they change, and what it was before it climbed.

    Attributes:
        is_away: whether it lies where it has climbed to.
    """

    __slots__ = ("_before_degc", "_changes", "_degc", "_same_s", "_shortest_s", "is_away")

    def __init__(self) -> None:
        self._degc: deque[float] = deque()
        self._before_degc = math.nan
        self._changes, self._same_s, self._shortest_s = 0, 0.0, math.inf
        self.is_away = False

    def take(self, degc: float, dt_s: float) -> None:
        """Take the value of a slice, new or held."""
        values = self._degc
        self._same_s += dt_s
        if values and degc != values[-1]:
            if self._changes and self._same_s < self._shortest_s:
                self._shortest_s = self._same_s
            self._changes, self._same_s = self._changes + 1, 0.0
        values.append(degc)
        if self._changes < _CHANGES_LEAST:
            if len(values) > 1:
                values.popleft()
            return
        # Of a column that is read more rarely than that a step tells no rate over less than its own time.
        over_s = self._shortest_s if self._shortest_s > _OVER_S else _OVER_S
        rows = max(1, round(over_s / dt_s))
        while len(values) > rows + 1:
            values.popleft()
        steep_k, risen_k = _STEEP_K_S * over_s, degc - values[0]
        if self.is_away:
            self.is_away = degc > self._before_degc + steep_k and risen_k >= -steep_k
        elif risen_k > steep_k:
            self.is_away, self._before_degc = True, values[0]


class Opening:
    """Watch the temperatures.

    What survives a call: the last values of each, and what it was before it climbed.
    """

    def __init__(self) -> None:
        self._epoch: int | None = None
        self._forget()

    def _forget(self) -> None:
        self._climbs = {name: _Climb() for name in (PIN_TEMPERATURE, BATH_TEMPERATURE)}

    def believed(self, s: Slice) -> Slice:
        """Give the slice with a temperature that has climbed as none can BAD, until it has come back; else itself."""
        if s.gap_before_s > _OVER_S or s.epoch != self._epoch or s.duration_s > _SLOWEST_S:
            self._epoch = s.epoch
            self._forget()
        for name, climb in self._climbs.items():
            channel = s.channels.get(name)
            if channel is None or channel.quality is _BAD:
                continue
            climb.take(channel.mean, s.duration_s)
            if climb.is_away:
                bad = replace(channel, quality=_BAD, reason=Reason.TOO_FAST)
                s = replace(s, channels={**s.channels, name: bad})
        return s
