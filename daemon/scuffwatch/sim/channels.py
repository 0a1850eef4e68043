"""Channels of the simulated rig: groups, rates, true scalings from counts to SI, and the ceilings of its rig box.

Reads a rate, gives layouts as the hello announces them. The service's settings for the demonstration are made from
`SCALES`, so what the core shows is what the rig is.
"""

from collections.abc import Sequence
from typing import NamedTuple

from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    GroupLayout,
    IntegerType,
)
from scuffwatch.sim.physics import READING_NAMES
from scuffwatch.wire.protocol import CountLimit

BLOCK_S = 0.020
"""Longest time in one data block."""
WIDE_PER_NARROW = 256
"""An int32 channel counts this much finer, as a 24-bit bridge beside a 16-bit one."""


class Scale(NamedTuple):
    """True scaling of one channel: value = offset + per_count * counts, int16.

    Attributes:
        offset, per_count: in the channel's unit.
        low, high: range in which a value is valid.
    """

    offset: float
    per_count: float
    low: float
    high: float


SCALES: dict[str, Scale] = {
    NORMAL_LOAD: Scale(-4.2, 0.05, -50.0, 1500.0),
    FRICTION_FORCE: Scale(-0.35, 0.0125, -50.0, 400.0),
    MOTOR_CURRENT: Scale(-0.012, 0.0005, -1.0, 15.0),
    SOUND_LEVEL: Scale(0.0, 0.005, 20.0, 130.0),
    RING_SPEED: Scale(0.0, 0.05, -1.0, 1500.0),
    PIN_TEMPERATURE: Scale(0.0, 0.01, -20.0, 300.0),
    BATH_TEMPERATURE: Scale(0.0, 0.01, -20.0, 300.0),
}
CEILINGS: dict[str, tuple[float, float, float]] = {
    NORMAL_LOAD: (-1000.0, 1400.0, 0.1),
    FRICTION_FORCE: (-390.0, 380.0, 0.1),
    MOTOR_CURRENT: (-10.0, 12.0, 0.2),
    PIN_TEMPERATURE: (-40.0, 220.0, 0.5),
    BATH_TEMPERATURE: (-40.0, 200.0, 0.5),
}
"""Compiled into the rig box: low, high in the channel's unit, longest time outside, s. No host can widen them."""
_FAST = (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, RING_SPEED)
_SLOW = (PIN_TEMPERATURE, BATH_TEMPERATURE)
_SIX = (NORMAL_LOAD, FRICTION_FORCE, MOTOR_CURRENT, SOUND_LEVEL, PIN_TEMPERATURE, RING_SPEED)


def demo_layouts(rate_hz: float = 200.0) -> tuple[GroupLayout, ...]:
    """Give the demonstration rig's groups: five channels at `rate_hz`, two temperatures at 10 Hz."""
    return (
        GroupLayout(0, rate_hz, IntegerType.INT16, _FAST),
        GroupLayout(1, 10.0, IntegerType.INT16, _SLOW),
    )


def six_channel_layouts(
    rate_hz: float = 1000.0, integer_type: IntegerType = IntegerType.INT16
) -> tuple[GroupLayout, ...]:
    """Give one group of six channels, as the benchmark measures; int32 for tests of the wide type."""
    return (GroupLayout(0, rate_hz, integer_type, _SIX),)


def per_count(name: str, integer_type: IntegerType) -> float:
    """Give the step of one count of a channel in its unit."""
    scale = SCALES[name]
    return scale.per_count if integer_type is IntegerType.INT16 else scale.per_count / WIDE_PER_NARROW


def counts_of(name: str, value: float, integer_type: IntegerType) -> int:
    """Give the counts of a value, held at the rails of the converter."""
    counts = round((value - SCALES[name].offset) / per_count(name, integer_type))
    return min(max(counts, integer_type.low_counts), integer_type.high_counts)


def ceilings(layouts: Sequence[GroupLayout]) -> tuple[CountLimit, ...]:
    """Give the rig box's own ceilings for these groups, in counts and consecutive samples."""
    found = []
    for layout in layouts:
        for channel, name in enumerate(layout.channels):
            if name in CEILINGS:
                low, high, longest_s = CEILINGS[name]
                low_counts = counts_of(name, low, layout.integer_type)
                high_counts = counts_of(name, high, layout.integer_type)
                samples = max(1, round(longest_s * layout.rate_hz))
                found.append(CountLimit(layout.group, channel, low_counts, high_counts, samples))
    return tuple(found)


class Digitiser:
    """Turns one row of readings into counts, group by group; the group's rate divides the first one's.

    Args:
        layouts: groups in order; each channel is one of `READING_NAMES`.
    """

    def __init__(self, layouts: Sequence[GroupLayout]) -> None:
        rate_hz = layouts[0].rate_hz
        self._groups = []
        for layout in layouts:
            every = round(rate_hz / layout.rate_hz)
            if every < 1 or abs(every * layout.rate_hz - rate_hz) > 1e-9 * rate_hz:
                raise ValueError(f"group {layout.group}: {layout.rate_hz} Hz does not divide {rate_hz} Hz")
            places = [
                (READING_NAMES.index(name), SCALES[name].offset, 1.0 / per_count(name, layout.integer_type))
                for name in layout.channels
            ]
            rails = (layout.integer_type.low_counts, layout.integer_type.high_counts)
            self._groups.append((layout.group, every, rails, places))

    def rows(self, index: int, readings: Sequence[float]) -> list[tuple[int, list[int]]]:
        """Give group number and counts of every group that is due at this sample of the first group."""
        due = []
        for group, every, (low, high), places in self._groups:
            if index % every == 0:
                row = [round((readings[place] - offset) * gain) for place, offset, gain in places]
                if min(row) < low or max(row) > high:
                    row = [min(max(counts, low), high) for counts in row]
                due.append((group, row))
        return due
