"""Closed sets of this world's own: oddities, ways up, causes of heat, where the load column comes from.

Reads nothing.
"""

from enum import Enum


class Oddity(Enum):
    """Healthy things beyond `Kind`; not told to anybody."""

    CLEANED = "ring cleaned with solvent while the motor stood"
    HANGER_SWING = "hanger swings after a weight"
    LEANING = "somebody leans on the bench"
    AMPLIFIER_WARM_UP = "amplifier of the friction cell warms up"
    EVENING_SAG = "mains voltage sags slowly"
    BATH_SWAPPED = "bath swapped for a colder one while the motor stood"
    FAN_HEATER = "fan heater cycles in the room"
    LIGHT = "fluorescent light switched on"
    PHONE = "telephone beside the amplifier"
    COMPRESSOR = "compressor runs now and then"
    OIL_LEVEL = "oil level falls slowly"
    RETARED = "friction cell tared anew while the motor stood"
    BELT_WARMS = "belt warms up and slips less"
    LEAD_NUDGED = "thermocouple lead nudged"
    WINDOW_OPENED = "window opened"
    LORRY = "lorry shakes the floor"
    TRACK_POLISHED = "waviness of the track is polished away"


class Shape(Enum):
    """Ways up of scuffing friction."""

    STEP = "step"
    LOGISTIC = "logistic"
    RAMP = "ramp"
    JERKS = "staircase of jerks"
    OVERSHOOT = "overshoot, then a plateau"
    TEARING = "tearing"


class Cause(Enum):
    """What makes a rig too hot."""

    HEATER = "heater left on"
    FRICTION = "friction heats the pin"
    AMBIENT = "heat from outside"


class LoadReading(Enum):
    """Where the load column comes from."""

    TYPED = "typed in by the technician"
    CELL = "cell under the pin"
    LEVER = "cell times a lever ratio"
