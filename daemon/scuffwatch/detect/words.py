"""Words and decimals for channels: the one table from which detectors make their sentences.

Reads names and numbers, gives text. Reaches the screens, the record and the messages through `Finding.says`.
"""

import math
from dataclasses import dataclass

from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
    UNIT_OF_SUFFIX,
    unit_of,
)
from scuffwatch.model.finding import Level
from scuffwatch.signals.friction import FRICTION_COEFFICIENT

MINUS = "\u2212"
NO_NUMBER = "\u2013 \u2013"
GROUP_SPACE = "\u00a0"


@dataclass(frozen=True, slots=True)
class Wording:
    """How a channel is named in a sentence and how many decimals it gets."""

    words: str
    digits: int


WORDING = {
    FRICTION_COEFFICIENT: Wording("friction coefficient", 3),
    FRICTION_FORCE: Wording("friction force", 1),
    NORMAL_LOAD: Wording("normal load", 1),
    MOTOR_CURRENT: Wording("motor current", 2),
    SOUND_LEVEL: Wording("sound level", 1),
    PIN_TEMPERATURE: Wording("pin temperature", 1),
    BATH_TEMPERATURE: Wording("bath temperature", 1),
    RING_SPEED: Wording("ring speed", 0),
}
_OTHER_DIGITS = 2
_SMALL_TOO = {FRICTION_FORCE, NORMAL_LOAD, MOTOR_CURRENT}
_LEAST_SHOWN = 0.001
"""Of a small rig a tenth of a newton is a load; less than this is nothing on any."""


def words_of(channel: str) -> str:
    """Give a channel in words; of one that is not in the table, its name without the unit."""
    known = WORDING.get(channel)
    if known is not None:
        return known.words
    stem, _, last = channel.rpartition("_")
    return (stem if stem and last in UNIT_OF_SUFFIX else channel).replace("_", " ")


def digits_of(channel: str) -> int:
    """Give the fixed number of decimals of a channel."""
    known = WORDING.get(channel)
    return known.digits if known is not None else _OTHER_DIGITS


def number(value: float, digits: int) -> str:
    """Give a number as text: fixed decimals, real minus, thousands apart; two dashes where there is none."""
    if not math.isfinite(value):
        return NO_NUMBER
    text = f"{abs(value):,.{digits}f}".replace(",", GROUP_SPACE)
    return MINUS + text if value < 0 and any(c not in "0.," for c in text) else text


def quantity(channel: str, value: float) -> str:
    """Give a value of a channel with its unit, for instance `84.3 °C`; a ratio has none."""
    unit = unit_of(channel)
    return f"{bare(channel, value)} {unit}" if unit else bare(channel, value)


def bare(channel: str, value: float) -> str:
    """Give a value of a channel without its unit, for instance the limit beside a quantity."""
    return number(value, _enough_digits(channel, value))


def _enough_digits(channel: str, value: float) -> int:
    """Give the channel's decimals, or as many as show two digits of a small load, force or current."""
    digits = digits_of(channel)
    if channel not in _SMALL_TOO or not _LEAST_SHOWN <= abs(value) < 1.0:
        return digits
    return max(digits, 1 - math.floor(math.log10(abs(value))))


def limit_says(cause: str, channel: str, value: float, limit: float, level: Level) -> str:
    """Give the sentence of one value against one limit, worded by level.

    For instance `Friction limit: friction coefficient 0.265, limit 0.250.`, and as a warning
    `Friction limit: friction coefficient 0.215, warning at 0.200.`
    """
    word = "limit" if level is Level.TRIP else "warning at"
    return f"{cause}: {words_of(channel)} {quantity(channel, value)}, {word} {bare(channel, limit)}."
