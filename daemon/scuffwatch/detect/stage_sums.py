"""Sums over a stage in constant memory: means, energy mean, highest values, and the mean of its last tenth.

Reads slices, gives numbers for a `StageRecord`.
"""

import math
from collections.abc import Sequence

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import BATH_TEMPERATURE, NORMAL_LOAD, PIN_TEMPERATURE, SOUND_LEVEL, Quality, Reason
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

_BUCKETS = 128
_TENTH = 0.1
_BAD = Quality.BAD
_SOUNDER_ON = Reason.SOUNDER_ON
"""By names of their own: to look one up in its class several times a slice takes longer than the comparison."""

_LOUDEST_DB = 400.0
"""No sound is: a table without ranges may say anything, and the power of it must be a number."""


class Mean:
    """A running mean; NaN where nothing was added."""

    __slots__ = ("n", "total")

    def __init__(self) -> None:
        self.n = 0
        self.total = 0.0

    def join(self, total: float, n: int) -> None:
        """Take the sum of the next n values."""
        self.total += total
        self.n += n

    @property
    def value(self) -> float:
        """Give the mean so far."""
        return self.total / self.n if self.n else math.nan


class Tail:
    """Mean of the last tenth of everything that was added, whatever its length will be.

    A ring of sums: at most 128 buckets of equal width; where they are full, neighbours are joined and the width
    doubles. So the tenth is exact to one bucket: 1 to 2 % of the whole once there are more than 64 values.

    What survives a call: the buckets, the last one unfinished.
    """

    __slots__ = ("_buckets", "_n", "_total", "_width")

    def __init__(self) -> None:
        self._buckets: list[tuple[float, int]] = []
        self._width = 1
        self._total = 0.0
        self._n = 0

    def add(self, value: float) -> None:
        """Take the next value."""
        self.join(value, 1)

    def join(self, total: float, n: int) -> None:
        """Take the sum of the next n values."""
        total += self._total
        n += self._n
        if n < self._width:
            self._total, self._n = total, n
            return
        self._total, self._n = 0.0, 0
        self._buckets.append((total, n))
        if len(self._buckets) >= _BUCKETS:
            pairs = zip(self._buckets[::2], self._buckets[1::2], strict=True)
            self._buckets = [(a + b, m + n) for (a, m), (b, n) in pairs]
            self._width *= 2

    @property
    def value(self) -> float:
        """Give the mean of the last tenth, of one bucket at least; NaN where nothing was added."""
        wanted = _TENTH * (sum(n for _, n in self._buckets) + self._n)
        total, n = self._total, self._n
        for bucket_total, bucket_n in reversed(self._buckets):
            if n >= wanted:
                break
            total += bucket_total
            n += bucket_n
        return total / n if n else math.nan


class StageSums:
    """Everything a stage record holds of its channels.

    Load, friction and sound are taken while the ring turns; the highest temperatures always. BAD values and the sound
    of the rig's own sounder are left out.

    What survives a call: the sums.
    """

    __slots__ = ("bath_degc", "friction", "friction_end", "load_n", "pin_degc", "sound_power", "turning_s")

    def __init__(self) -> None:
        self.load_n = Mean()
        self.friction = Mean()
        self.friction_end = Tail()
        self.sound_power = Mean()
        self.pin_degc = math.nan
        self.bath_degc = math.nan
        self.turning_s = 0.0

    def add_tick(self, slices: Sequence[tuple[Slice, bool]], begins: bool = False) -> None:
        """Take a tenth of a second at once: sums in local names are cheaper than in attributes, slice by slice.

        Args:
            slices: in order, each with whether the ring turns in it, or may.
            begins: whether a change of load begins with them: its last tenth then goes by single values.
        """
        load_n = friction = sound_power = turning_s = 0.0
        loads = frictions = sounds = 0
        pin_degc = bath_degc = math.nan
        for s, turning in slices:
            get = s.channels.get
            if (pin := get(PIN_TEMPERATURE)) and pin.quality is not _BAD and not pin.mean <= pin_degc:
                pin_degc = pin.mean
            if (bath := get(BATH_TEMPERATURE)) and bath.quality is not _BAD and not bath.mean <= bath_degc:
                bath_degc = bath.mean
            if not turning:
                continue
            turning_s += s.duration_s
            if (load := get(NORMAL_LOAD)) and load.quality is not _BAD:
                load_n += load.mean
                loads += 1
            if (coefficient := get(FRICTION_COEFFICIENT)) and coefficient.quality is not _BAD:
                friction += coefficient.mean
                frictions += 1
                if begins:
                    self.friction_end.add(coefficient.mean)
            if (sound := get(SOUND_LEVEL)) and sound.quality is not _BAD and sound.reason is not _SOUNDER_ON:
                sound_power += 10.0 ** (min(sound.mean, _LOUDEST_DB) / 10.0)
                sounds += 1
        if frictions and not begins:
            self.friction_end.join(friction, frictions)
        self.load_n.join(load_n, loads)
        self.friction.join(friction, frictions)
        self.sound_power.join(sound_power, sounds)
        self.turning_s += turning_s
        self.pin_degc = _highest(self.pin_degc, pin_degc)
        self.bath_degc = _highest(self.bath_degc, bath_degc)

    def absorb(self, later: "StageSums") -> None:
        """Take over sums that turned out to belong to this stage."""
        self.load_n.join(later.load_n.total, later.load_n.n)
        self.friction.join(later.friction.total, later.friction.n)
        self.sound_power.join(later.sound_power.total, later.sound_power.n)
        if later.friction.n:
            self.friction_end.join(later.friction.total, later.friction.n)
        self.turning_s += later.turning_s
        self.pin_degc = _highest(self.pin_degc, later.pin_degc)
        self.bath_degc = _highest(self.bath_degc, later.bath_degc)

    @property
    def sound_level_db(self) -> float:
        """Give the energy mean of the sound level, dB; NaN where there was none."""
        power = self.sound_power.value
        return 10.0 * math.log10(power) if power > 0.0 else math.nan


def _highest(a: float, b: float) -> float:
    return b if math.isnan(a) or b > a else a
