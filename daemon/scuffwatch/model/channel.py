"""Channels: what is measured, in which unit, and how good a value is.

Reads nothing. Gives the names every other room uses for a measured quantity. First link of the chain.
"""

from dataclasses import dataclass
from enum import Enum, IntEnum


class Quality(IntEnum):
    """How far a value may be believed. The larger the worse, so `max` gives the quality of a set."""

    GOOD = 0
    UNCERTAIN = 1
    BAD = 2


class Reason(Enum):
    """Why a value is not GOOD. `NONE` belongs to GOOD alone."""

    NONE = "none"
    NEVER_RECEIVED = "never received"
    MISSING = "missing"
    TOO_OLD = "too old"
    OVER_RANGE = "over range"
    UNDER_RANGE = "under range"
    SATURATED = "saturated"
    STUCK = "stuck"
    TOO_FAST = "rose too fast"
    NOT_FINITE = "not finite"
    GAP = "gap"
    SOUNDER_ON = "rig sounder on"
    UNCALIBRATED = "uncalibrated"


class OnLoss(Enum):
    """What the guard does when a channel turns BAD."""

    TRIP = "trip"
    DEGRADE = "degrade"


class IntegerType(Enum):
    """Type of the counts of one group on the wire and in the record."""

    INT16 = "int16"
    INT32 = "int32"

    @property
    def size_bytes(self) -> int:
        """Give the width of one count in bytes."""
        return 2 if self is IntegerType.INT16 else 4

    @property
    def low_counts(self) -> int:
        """Give the lowest count, the lower rail."""
        return -(1 << (8 * self.size_bytes - 1))

    @property
    def high_counts(self) -> int:
        """Give the highest count, the upper rail."""
        return (1 << (8 * self.size_bytes - 1)) - 1


NORMAL_LOAD = "normal_load_n"
FRICTION_FORCE = "friction_force_n"
MOTOR_CURRENT = "motor_current_a"
SOUND_LEVEL = "sound_level_db"
PIN_TEMPERATURE = "pin_temperature_degc"
BATH_TEMPERATURE = "bath_temperature_degc"
RING_SPEED = "ring_speed_rpm"

KNOWN_CHANNELS = (
    NORMAL_LOAD,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    SOUND_LEVEL,
    PIN_TEMPERATURE,
    BATH_TEMPERATURE,
    RING_SPEED,
)

UNIT_OF_SUFFIX = {
    "n": "N",
    "a": "A",
    "db": "dB",
    "degc": "°C",
    "rpm": "r/min",
    "hz": "Hz",
    "s": "s",
    "mm": "mm",
    "mm3": "mm³",
    "mpa": "MPa",
    "v": "V",
    "w": "W",
    "counts": "counts",
}


def unit_of(name: str) -> str:
    """Give the unit a channel or quantity name ends in, or an empty string for a ratio.

    Args:
        name: for instance `motor_current_a`.
    Returns:
        The printed unit, for instance `A`; empty where the last part of the name is no unit.
    """
    return UNIT_OF_SUFFIX.get(name.rsplit("_", 1)[-1], "")


@dataclass(frozen=True, slots=True)
class GroupLayout:
    """Channels of one rate and one integer type, as the rig box announces them in its hello.

    Attributes:
        group: number of the group on the wire, 0 to 7; the fastest group has number 0.
        rate_hz: samples a second of each channel, > 0.
        integer_type: type of the counts.
        channels: names in wire order.
    """

    group: int
    rate_hz: float
    integer_type: IntegerType
    channels: tuple[str, ...]
