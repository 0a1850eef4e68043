"""Electrical interference: a temperature that jumps within a hundredth of a second, and whatever shares its wires.

Reads slices, says which of them are not to be believed. No thermocouple follows so fast; a break does, and stays.
"""

import math

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality

_JUMP_K = 15.0
_LONGEST_S = 0.05
_CHANNELS = (PIN_TEMPERATURE, BATH_TEMPERATURE)


class Interference:
    """Watch the temperatures for jumps.

    What survives a call: the last believed value of each temperature, and for how long they have been away from it.
    """

    def __init__(self) -> None:
        self._last_degc = dict.fromkeys(_CHANNELS, math.nan)
        self._away_s = 0.0

    def update(self, s: Slice) -> bool:
        """Take the next slice; say whether it is not to be believed. What lasts longer than 0.05 s is believed."""
        channels, jumped = s.channels, False
        for name, last_degc in self._last_degc.items():
            channel = channels.get(name)
            if channel is None or not channel.fresh or channel.quality is Quality.BAD:
                continue
            if abs(channel.mean - last_degc) > _JUMP_K:
                jumped = True
            else:
                self._last_degc[name] = channel.mean
        if not jumped:
            self._away_s = 0.0
            return False
        self._away_s += s.duration_s
        if self._away_s <= _LONGEST_S:
            return True
        self._last_degc = dict.fromkeys(_CHANNELS, math.nan)
        return False
