"""A friction force that has fallen to nothing under a load that hangs there on a turning ring: a wire, not a contact.

Reads the force and the load it belongs to, gives the force as far as it says anything.
"""

import math

from scuffwatch.detect.smooth import Rate

_MEMORY_S = 2.0
_NOTHING_SHARE = 0.05
"""Of what the load usually drags: nobody's film takes more away, and what is left is the cell's zero."""
_GONE_S = 0.1
"""The troughs of stick-slip are shorter."""
_TOLD_S, _FORGETS = 0.5, 0.1
_MOST_S = 60.0
"""What stays so long is what the contact drags, whatever it dragged before."""


class GoneFriction:
    """Follow whether the friction force is there.

    What survives a call: what is usual for the share of the load, and for how long the force has been gone.

    Attributes:
        leaves: whether it was found to be gone in the last slice, though there before.
        is_told: whether it has been gone for half a second, together; time in which it is there counts a tenth.
    """

    def __init__(self) -> None:
        self._rate = Rate(_MEMORY_S)
        self._usual = math.nan
        self._gone_s = self._told_s = 0.0
        self.leaves = self.is_told = False

    def take(self, drag_n: float, load_n: float, turns: bool, rests: bool, dt_s: float) -> float:
        """Take a slice's force and give it, or NaN where it is gone.

        Args:
            drag_n: magnitude of the force, N; NaN where there is none.
            load_n: load it belongs to, N.
            turns: whether that load hangs on a turning ring.
            rests: whether it is at rest; it need not stay so.
            dt_s: length of the slice, s.
        """
        self.leaves = False
        if drag_n != drag_n or load_n != load_n or not turns or not (rests or self._gone_s):
            self._gone_s = 0.0
            return drag_n
        share = drag_n / load_n if load_n > 0.0 else math.nan
        if share < _NOTHING_SHARE * self._usual and self._gone_s < _MOST_S:
            was_there = self._gone_s < _GONE_S
            self._gone_s += dt_s
            if self._gone_s < _GONE_S:
                return drag_n
            self.leaves = was_there
            self._told_s += dt_s
            if self._told_s >= _TOLD_S:
                self._told_s, self.is_told = _TOLD_S, True
            return math.nan
        if self._gone_s >= _MOST_S:
            self._usual = share
        self._gone_s = 0.0
        if self._told_s:
            self._told_s -= _FORGETS * dt_s
            if self._told_s <= 0.0:
                self._told_s, self.is_told = 0.0, False
        if share == share:
            self._usual = share if self._usual != self._usual else self._usual
            self._usual += (share - self._usual) * self._rate.share(dt_s)
        return drag_n
