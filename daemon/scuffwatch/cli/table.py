"""A table of values (CSV as in RFC 4180, a row a line) as numbers: what is none is missing, what is shifted is refused.

Reads a text file, gives stamps and values by column. Nothing is guessed: of a line with more cells than the first one
has columns nobody knows which number belongs where.
"""

import csv
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from scuffwatch.cli.records import show_progress

if TYPE_CHECKING:
    from scuffwatch.service.replay_settings import ReplaySettings

_TIME = "time_s"
_MISSING = float("nan")
_OTHER_SIGNS = {";": "semicolons", "\t": "tabs"}
_PROGRESS_EVERY_ROWS = 5000
_LONGEST_LINE = 100_000
"""A longer one is no row of a table."""
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")


class TableRows:
    """The rows of a table: stamps and values, what is no number as missing.

    Args:
        path: of the table; for its name and size.
        file: open at its first line.
        settings: which columns are channels.

    Attributes:
        names: channel columns, in order.
        ignored: other columns.
        unreadable: cells that are neither blank nor a number; they count as missing.
        too_long: lines with more cells than the first one; they are left out.
        total: lines that are not blank, the first one and those left out not counted.

    Raises:
        ConfigError: the first line is not that of such a table.
    """

    def __init__(self, path: Path, file: TextIO, settings: "ReplaySettings") -> None:
        self._name, self._size = path.name, max(1, path.stat().st_size)
        self._file = file
        header = _header(path, file)
        _check_header(path, header, settings)
        self._columns, self._time_at = len(header), header.index(_TIME)
        known = [(at, name) for at, name in enumerate(header) if settings.knows(name)]
        self._at = [at for at, _ in known]
        self.names = [name for _, name in known]
        self.ignored = [name for name in header if name != _TIME and name not in self.names]
        self.unreadable = self.too_long = self.total = 0
        self._has_decimal_comma = False

    def __iter__(self) -> Iterator[tuple[float, list[float]]]:
        done, columns = 0, self._columns
        for number, line in enumerate(self._file):
            try:
                cells = _cells_of(line)
            except csv.Error:
                self.unreadable += 1
                continue
            if not cells:
                continue
            done += len(line)
            if number % _PROGRESS_EVERY_ROWS == 0:
                show_progress(min(0.999, done / self._size))
            if len(cells) > columns and any(cell.strip() for cell in cells[columns:]):
                self.too_long += 1
                continue
            self.total += 1
            yield self._value(cells, self._time_at), [self._value(cells, at) for at in self._at]
        show_progress(1.0)

    def why_nothing(self, rows_refused: int) -> str:
        """Give the sentence for a table of which no two rows had a stamp and a value."""
        why = f"{rows_refused} rows without a stamp that goes on, {self.unreadable} cells that are no numbers"
        if self.too_long:
            why += f", {self.too_long} rows with more cells than the first line has columns"
        if self._has_decimal_comma or self.too_long:
            why += "; numbers here have a decimal point"
        return f"{self._name} has no two rows with stamp and value: {why}. Nothing can be said of it. Check the table."

    def _value(self, cells: list[str], at: int) -> float:
        if at >= len(cells):
            return _MISSING
        cell = cells[at].strip().strip('"')
        if not cell:
            return _MISSING
        try:
            return float(cell)
        except ValueError:
            self.unreadable += 1
            self._has_decimal_comma = self._has_decimal_comma or bool(_DECIMAL_COMMA.fullmatch(cell))
            return _MISSING


def _cells_of(line: str) -> list[str]:
    """Part a line into cells, for itself: a stray quote must not swallow the lines after it.

    Raises:
        csv.Error: it cannot be parted.
    """
    if len(line) > _LONGEST_LINE:
        raise csv.Error(f"{len(line)} characters in one line")
    line = line.replace("\0", "")
    if '"' not in line:
        return line.rstrip("\r\n").split(",") if line.strip() else []
    return next(csv.reader([line]), [])


def _header(path: Path, file: TextIO) -> list[str]:
    from scuffwatch.model.errors import ConfigError

    try:
        return [cell.strip().strip('"') for cell in _cells_of(next(file, ""))]
    except csv.Error as error:
        says = f"{path.name} has no header line: its first line cannot be read ({error}). Nothing has been replayed."
        raise ConfigError((f"{says} Check that it is a table.",)) from error


def _check_header(path: Path, header: list[str], settings: "ReplaySettings") -> None:
    from scuffwatch.model.channel import KNOWN_CHANNELS
    from scuffwatch.model.errors import ConfigError

    known = [name for name in header if settings.knows(name)]
    twice = sorted({name for name in (*known, _TIME) if header.count(name) > 1})
    if not header:
        why = "has no header line"
    elif len(header) == 1 and (sign := next((sign for sign in _OTHER_SIGNS if sign in header[0]), "")):
        why = f"parts its cells by {_OTHER_SIGNS[sign]}; a table here has commas between cells and points in numbers"
    elif _TIME not in header:
        why = f"has no column {_TIME}"
    elif not known:
        why = f"has no channel column; known are {', '.join(KNOWN_CHANNELS)}, and those the rig file names"
    elif twice:
        why = f"has a column twice: {', '.join(twice)}"
    else:
        return
    raise ConfigError((f"{path.name} {why}. Nothing has been replayed. Correct the first line.",))
