"""Electrical interference: a temperature that jumps within a hundredth of a second, and whatever shares its wires.

Reads slices, says which of them are not to be believed. No thermocouple follows so fast; a break does, and stays.
"""

import math

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality

JUMP_K = 15.0
"""No thermocouple follows so fast as from one value to the next."""
_LONGEST_S, _LONG_SLICES, _VERY_SLOW_S = 0.05, 2.5, 0.2
"""Slices that are longer than the last hold values between which a thermocouple may well have followed."""
_HOLE_S = 0.5
_BAD = Quality.BAD
_CHANNELS = (PIN_TEMPERATURE, BATH_TEMPERATURE)


class Interference:
    """Watch the temperatures for jumps.

    What survives a call: the last believed value of each temperature, which are away from it, and for how long.
    """

    def __init__(self) -> None:
        self._last_degc = dict.fromkeys(_CHANNELS, math.nan)
        self._away: set[str] = set()
        self._away_s = 0.0
        self._epoch: int | None = None

    def update(self, s: Slice) -> bool:
        """Take the next slice; say whether it is not to be believed.

        What lasts longer than 0.05 s, or two slices where they are long, is believed. After a hole nothing is known.
        """
        if s.gap_before_s > _HOLE_S or s.epoch != self._epoch:
            self._epoch = s.epoch
            self._forget()
        get, last, jumped = s.channels.get, self._last_degc, False
        for name in _CHANNELS:
            channel = get(name)
            if channel is None or channel.quality is _BAD:
                self._away.discard(name)
                continue
            if not channel.fresh:
                continue
            degc = channel.mean
            if -JUMP_K <= degc - last[name] <= JUMP_K or last[name] != last[name]:
                last[name] = degc
                self._away.discard(name)
            else:
                self._away.add(name)
                jumped = True
        if not self._away:
            self._away_s = 0.0
            return False
        self._away_s += s.duration_s
        longest_s = max(_LONGEST_S, _LONG_SLICES * s.duration_s) if s.duration_s < _VERY_SLOW_S else _LONGEST_S
        if self._away_s > longest_s and jumped:
            self._forget()
            return False
        return jumped

    def _forget(self) -> None:
        self._last_degc = dict.fromkeys(_CHANNELS, math.nan)
        self._away.clear()
        self._away_s = 0.0
