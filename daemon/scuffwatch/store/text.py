"""Text: what goes into a record as JSON or text, made fit for it.

Reads values, gives JSON. NaN has no place in JSON and becomes null; half characters become `?`.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from enum import Enum
from typing import Any

from scuffwatch.model.run import RunHeader, RunKind


def clean(text: str) -> str:
    """Give text that can be stored as UTF-8."""
    return text.encode("utf-8", "replace").decode()


def to_json(value: Any) -> str:
    """Give compact JSON of plain values, enums and NaN included."""
    return clean(json.dumps(_plain(value), ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return _plain(value.value)
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return value if value is None or isinstance(value, str | int) else str(value)


def real(value: float | None) -> float | None:
    """Give a number as SQLite keeps it: NaN is NULL."""
    return None if value is None or math.isnan(value) else float(value)


def number(value: float | None) -> float:
    """Give a number as this program keeps it: NULL is NaN."""
    return math.nan if value is None else float(value)


def header_to_json(header: RunHeader) -> str:
    """Give a run header as JSON."""
    return to_json(asdict(header))


def header_from_json(text: str) -> RunHeader:
    """Give the run header back.

    Raises:
        ValueError, KeyError, TypeError: not a header.
    """
    found = json.loads(text)
    return RunHeader(
        name=found["name"],
        kind=RunKind(found["kind"]),
        lubricant=found["lubricant"],
        treat_rate_percent=number(found["treat_rate_percent"]),
        bath_volume_ml=number(found["bath_volume_ml"]),
        ring=found["ring"],
        pin=found["pin"],
        loads_n=tuple(found["loads_n"]),
        dwell_s=number(found["dwell_s"]),
        simulated=found["simulated"],
    )
