"""What a field of a command may hold, and text that is safe to keep and to log.

Reads values as JSON gives them, gives values as the commands hold them. One rule a field; the command line builds its
options from the same rules. Used by `messages` alone.
"""

import math
import re
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from scuffwatch.model.event import JsonValue

SHOWN_CHARS = 40
"""Longest piece of a foreign text that a sentence repeats."""

_LINE_MARKS = "\t\n\r"
_UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""C0, DEL, C1, the two separators that break lines, the marks that reorder text (Unicode 15, Bidi_Control embeddings,
overrides and isolates; Boucher and Anderson 2021 show what they hide), and halves of surrogate pairs."""
_KEY = re.compile("[a-z][a-z0-9_]*")


def in_one_line(text: str) -> str:
    """Give a text as one line for a log: what could break or reorder a line is written as an escape.

    Args:
        text: any string, also one from a stranger.
    Returns:
        The same text with backslash, CR, LF, TAB and unsafe characters escaped as Python writes them; never a line
        end. Two different texts never give the same line.
    """
    return _UNSAFE.sub(_escape, text.replace("\\", "\\\\"))


def _escape(match: re.Match[str]) -> str:
    return ascii(match.group())[1:-1]


def shown(text: str) -> str:
    """Give a foreign text short enough and safe enough to be repeated in a sentence."""
    clipped = text if len(text) <= SHOWN_CHARS else text[:SHOWN_CHARS] + "…"
    return in_one_line(clipped)


class Rule(Protocol):
    """What one field may hold."""

    def read(self, raw: object) -> object:
        """Give the value a command holds.

        Args:
            raw: value as JSON gives it.
        Raises:
            ValueError: not allowed; the message is a clause with value and limit, to stand after the field's name.
        """

    def from_argument(self, text: str) -> JsonValue:
        """Give a command line argument as the JSON value it stands for; `read` then judges it."""


@dataclass(frozen=True, slots=True)
class Text:
    """A text within a number of characters.

    Attributes:
        most: characters (code points) at most.
        least: at least.
        lines: whether TAB, CR and LF are allowed.
    """

    most: int
    least: int = 0
    lines: bool = False

    def read(self, raw: object) -> str:
        """Give the text as it is. See `Rule.read`."""
        text = _string(raw)
        if len(text) > self.most:
            raise ValueError(f"has {len(text)} characters, limit {self.most}")
        if len(text.strip()) < self.least:
            raise ValueError(f"has {len(text.strip())} characters, at least {self.least} needed")
        for found in _UNSAFE.finditer(text):
            if not (self.lines and found.group() in _LINE_MARKS):
                raise ValueError(f"holds control character U+{ord(found.group()):04X}, limit 0 such characters")
        return text

    def from_argument(self, text: str) -> JsonValue:
        """See `Rule.from_argument`."""
        return text


@dataclass(frozen=True, slots=True)
class Key:
    """A name of ours: small letters, digits and underscores.

    Attributes:
        most: characters at most.
        may_be_empty: whether it may be left empty.
    """

    most: int = 64
    may_be_empty: bool = False

    def read(self, raw: object) -> str:
        """Give the name. See `Rule.read`."""
        text = _string(raw)
        if len(text) > self.most:
            raise ValueError(f"has {len(text)} characters, limit {self.most}")
        if not (_KEY.fullmatch(text) or (self.may_be_empty and text == "")):
            raise ValueError(f'"{shown(text)}" is no name of small letters, digits and underscores')
        return text

    def from_argument(self, text: str) -> JsonValue:
        """See `Rule.from_argument`."""
        return text


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a closed set.

    Attributes:
        members: the enum; its values are the words on the wire.
    """

    members: type[Enum]

    @property
    def words(self) -> tuple[str, ...]:
        """Give the allowed words, in order."""
        return tuple(str(member.value) for member in self.members)

    def read(self, raw: object) -> Enum:
        """Give the member. See `Rule.read`."""
        text = _string(raw)
        if text not in self.words:
            raise ValueError(f'"{shown(text)}" is none of {", ".join(self.words)}')
        return self.members(text)

    def from_argument(self, text: str) -> JsonValue:
        """See `Rule.from_argument`."""
        return text


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number within limits; null stands for *not stated* and is held as NaN.

    Attributes:
        low, high: both allowed.
        unit: printed unit.
    """

    low: float
    high: float
    unit: str

    def read(self, raw: object) -> float:
        """Give the number, or NaN where none is stated. See `Rule.read`."""
        return math.nan if raw is None else self.stated(raw)

    def stated(self, raw: object) -> float:
        """Give the number of a value that is not null. See `Rule.read`."""
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            raise ValueError(f"is {_kind_of(raw)}, a number is needed")
        if not self.low <= raw <= self.high:
            raise ValueError(f"is {_figure(raw)}, limits {self.low:g} to {self.high:g} {self.unit}")
        return float(raw)

    def from_argument(self, text: str) -> JsonValue:
        """See `Rule.from_argument`."""
        try:
            return float(text)
        except ValueError:
            return text


@dataclass(frozen=True, slots=True)
class Numbers:
    """A list of finite numbers, each within the same limits.

    Attributes:
        each: limits of one entry.
        most: entries at most.
    """

    each: Number
    most: int

    def read(self, raw: object) -> tuple[float, ...]:
        """Give the numbers in order. See `Rule.read`."""
        if not isinstance(raw, list):
            raise ValueError(f"is {_kind_of(raw)}, a list of numbers is needed")
        if len(raw) > self.most:
            raise ValueError(f"has {len(raw)} entries, limit {self.most}")
        return tuple(self._entry(number, entry) for number, entry in enumerate(raw, 1))

    def _entry(self, number: int, raw: object) -> float:
        try:
            return self.each.stated(raw)
        except ValueError as error:
            raise ValueError(f"entry {number} {error}") from None

    def from_argument(self, text: str) -> JsonValue:
        """Give comma-separated numbers as a list. See `Rule.from_argument`."""
        return [self.each.from_argument(part.strip()) for part in text.split(",") if part.strip()]


def _string(raw: object) -> str:
    if not isinstance(raw, str):
        raise ValueError(f"is {_kind_of(raw)}, a text is needed")
    return raw


def _figure(value: int | float) -> str:
    """Print a number in few digits; an integer too long for a float is told by its length."""
    try:
        return f"{float(value):g}"
    except OverflowError:
        return f"a number of {value.bit_length() if isinstance(value, int) else 0} bits"


def _kind_of(raw: object) -> str:
    if raw is None:
        return "null"
    if isinstance(raw, bool):
        return "true or false"
    names = {str: "a text", list: "a list", dict: "an object", int: "a number", float: "a number"}
    return names.get(type(raw), "of no JSON type")
