"""A thermocouple that opens: its value climbs to wherever its converter ends, faster than anything warms up.

Reads slices, gives slices in which such a value is BAD. What has climbed beyond its range stays BAD by that; what has
not is believed again soon: a sensor that shows too much is safer than none.
"""

import math
from collections import deque
from dataclasses import replace

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality, Reason

_STEEP_K_S, _OVER_S = 100.0, 0.1
"""Over so long, up or down. In 406 simulated scuffings of fifteen worlds no pin warmed by more than 33 K a second."""
_CHANGES_LEAST = 3
"""By then the shortest time between two has shown how often the column is read."""
_SLOWEST_S = 0.15
"""Between two values of slower rows a thermocouple may have followed."""
_AWAY_S = 5.0
"""So long after it has climbed a value is believed again: by then it is beyond its range, or has been named."""
_BEFORE_S = 60.0
"""What comes back to where it was within the last minute or two was away below it."""
_BAD = Quality.BAD


class _Climb:
    """One temperature: its values of the last moments, how often they change, and its highest of the last minutes.

    Attributes:
        is_away: whether it lies where it has climbed to, of late.
    """

    __slots__ = (
        "_away_s",
        "_before_degc",
        "_changes",
        "_degc",
        "_high_before_degc",
        "_high_degc",
        "_high_s",
        "_same_s",
        "_shortest_s",
        "is_away",
    )

    def __init__(self) -> None:
        self._degc: deque[float] = deque()
        self._before_degc = self._high_degc = self._high_before_degc = -math.inf
        self._away_s = self._high_s = 0.0
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
        # Of a column that is read more rarely than that a step tells no rate over less than its own time.
        over_s = self._shortest_s if _OVER_S < self._shortest_s < math.inf else _OVER_S
        rows = max(1, round(over_s / dt_s))
        while len(values) > rows + 1:
            values.popleft()
        self._judge(degc, degc - values[0], _STEEP_K_S * over_s, dt_s)
        if not self.is_away:
            self._follow_highest(values[0], dt_s)

    def _judge(self, degc: float, risen_k: float, steep_k: float, dt_s: float) -> None:
        climbs = risen_k > steep_k and self._changes >= _CHANGES_LEAST
        if self.is_away:
            self._away_s = 0.0 if climbs else self._away_s + dt_s
            is_back = degc <= self._before_degc + steep_k or risen_k < -steep_k
            self.is_away = not is_back and self._away_s < _AWAY_S
        elif climbs and degc > max(self._high_degc, self._high_before_degc) + steep_k:
            self.is_away, self._away_s, self._before_degc = True, 0.0, self._degc[0]

    def _follow_highest(self, degc: float, dt_s: float) -> None:
        self._high_s += dt_s
        if self._high_s > _BEFORE_S:
            self._high_s, self._high_before_degc, self._high_degc = 0.0, self._high_degc, degc
        elif degc > self._high_degc:
            self._high_degc = degc


class Opening:
    """Watch the temperatures.

    What survives a call: the last values of each, and its highest of the last minutes.
    """

    def __init__(self) -> None:
        self._epoch: int | None = None
        self._forget()

    def _forget(self) -> None:
        self._climbs = {name: _Climb() for name in (PIN_TEMPERATURE, BATH_TEMPERATURE)}

    def believed(self, s: Slice) -> Slice:
        """Give the slice with a temperature BAD that has just climbed as none can; else the slice itself."""
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
