"""Electrical interference: a temperature that jumps within a hundredth of a second, and whatever shares its wires.

Reads slices, says which of them are not to be believed. No thermocouple follows so fast; a break does, and stays.
"""

import math

from scuffwatch.detect.limits import VERY_SLOW_S, is_shorter
from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality

JUMP_K = 15.0
"""No thermocouple follows so fast as from one value to the next."""
_LONGEST_S, _LONG_SLICES = 0.05, 3.5
"""A value may be away for so long, or for so many slices where they are long. Between two values of a very slow table a
thermocouple may well have followed."""
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

        What lasts longer than 0.05 s, or three slices where they are long, is believed. After a hole nothing is known.
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
        is_slow = not is_shorter(s.duration_s, VERY_SLOW_S)
        longest_s = _LONGEST_S if is_slow else max(_LONGEST_S, _LONG_SLICES * s.duration_s)
        if self._away_s > longest_s and jumped:
            self._forget()
            return False
        return jumped

    def _forget(self) -> None:
        self._last_degc = dict.fromkeys(_CHANNELS, math.nan)
        self._away.clear()
        self._away_s = 0.0
