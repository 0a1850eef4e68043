"""Dips of a torque current at an unchanged load: for a while what it says is none of the contact's.

Reads the current's mechanical variable slice by slice, says whether it is to be passed over.
"""

import math

_DIP, _DIP_MOST_S, _AFTER_S, _DIPS_MOST_S = 0.7, 5.0, 1.5, 15.0
"""A torque current that has fallen to half was switched, or dipped, and surges then: it says nothing for so long. What
lasts longer is another level, and so is what dips time and again for longer than the last: it is noisy there."""


class CurrentDips:
    """Follow a torque current that falls away.

    What survives a call: how long this dip has lasted, and all of them since the last quiet time, and since when.

    Attributes:
        is_silent: whether what it says is to be passed over.
    """

    def __init__(self) -> None:
        self._dip_s, self._dips_s, self._since_s = 0.0, 0.0, math.inf
        self.is_silent = False

    def update(self, y: float, base: float, dt_s: float) -> None:
        """Take the slice's variable and what is usual for it, natural logarithms; NaN is no dip."""
        if y < base - _DIP:
            self._dip_s += dt_s
            self._since_s = 0.0
        else:
            self._since_s += dt_s
        if self._since_s >= _AFTER_S:
            self._dip_s = self._dips_s = 0.0
        else:
            self._dips_s += dt_s
        lasts = self._dip_s <= _DIP_MOST_S and self._dips_s <= _DIPS_MOST_S
        self.is_silent = lasts and self._since_s < _AFTER_S
