"""CSV text: numbers and texts as a spreadsheet takes them, with decimal comma where asked.

Reads values, gives cells. A text a spreadsheet would take for a formula gets an apostrophe in front; a number stays a
number.
"""

import math
from dataclasses import dataclass

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a table is written: `.` with `,` between cells, or decimal comma with `;` between cells."""

    decimal_comma: bool = False

    @property
    def delimiter(self) -> str:
        """Give what stands between two cells."""
        return ";" if self.decimal_comma else ","

    @property
    def decimal(self) -> str:
        """Give the decimal sign."""
        return "," if self.decimal_comma else "."

    def cell(self, value: str | float | int | bool | None) -> str:
        """Give one value as a cell; NaN and None are empty."""
        if value is None:
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, int):
            return str(value)
        if isinstance(value, float):
            return "" if math.isnan(value) else f"{value:.10g}".replace(".", self.decimal)
        return self._text(value)

    def _text(self, text: str) -> str:
        if text.startswith(_FORMULA):
            text = "'" + text
        if any(sign in text for sign in ('"', "\n", "\r", self.delimiter)):
            return '"' + text.replace('"', '""') + '"'
        return text

    def line(self, values: tuple[str | float | int | bool | None, ...]) -> str:
        """Give one row with its line end."""
        return self.delimiter.join(self.cell(value) for value in values) + "\r\n"
