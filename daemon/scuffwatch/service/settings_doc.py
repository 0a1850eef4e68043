"""The annotated rig file and the reference table, made from the settings classes.

Reads `settings` and example values, gives TOML and Markdown text. Used for config/, the demonstration and the tests.
"""

import re
from collections.abc import Mapping
from typing import Any, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scuffwatch.model.channel import unit_of
from scuffwatch.model.settings_file import kind_of
from scuffwatch.service import settings

UNIT_WORDS = {
    "baud_hz": "bit/s",
    "lease_ms": "ms",
    "coefficients": "channel's unit / counts^k",
    "tare": "channel's unit",
    "range": "channel's unit",
    "axis": "channel's unit",
    "running_fraction": "ratio",
    "decimals": "count",
    "friction_coefficient_max": "ratio",
    "friction_coefficient_warn": "ratio",
    "full_rate_max_rows_per_s": "rows/s",
}


def unit_of_key(key: str) -> str:
    """Give the unit of a settings key, `text` or `yes/no` for keys that hold no number."""
    return UNIT_WORDS.get(key) or unit_of(key)


def bounds_of(field: FieldInfo) -> str:
    """Give the bounds of a field as printed, for instance `> 0, ≤ 1000`; empty where none apply."""
    signs = (("gt", ">"), ("ge", "≥"), ("lt", "<"), ("le", "≤"))
    found = [(sign, getattr(bound, name, None)) for bound in field.metadata for name, sign in signs]
    return ", ".join(f"{sign} {value:g}" for sign, value in found if value is not None)


def annotated_toml(values: Mapping[str, Any], heading: str, root: type[BaseModel] = settings.RigSettings) -> str:
    """Give a settings file in which every key carries its help, unit, bounds and default.

    Args:
        values: section -> key -> value, as `root` takes it.
        heading: comment lines for the top, without the `#`.
        root: the settings class; a section of sections (`[channels.NAME]`) is a dictionary in it.
    Returns:
        TOML text that the parser of `root` accepts.
    """
    lines = [f"# {line}".rstrip() for line in heading.splitlines()]
    for section, field in root.model_fields.items():
        kind, many = kind_of(field), get_origin(field.annotation) is dict
        if many:
            for name, one in values.get(section, {}).items():
                unit = unit_of(name) or "ratio" if kind is settings.Channel else ""
                lines += _section(f"{section}.{name}", kind, one, unit)
        elif section in values:
            lines += _section(section, kind, values[section], "")
    return "\n".join(lines) + "\n"


def reference_table(root: type[BaseModel] = settings.RigSettings) -> str:
    """Give the Markdown table of all keys: section, key, unit, bounds, default, help."""
    rows = ["| section | key | unit | bounds | default | help |", "|---|---|---|---|---|---|"]
    for section, field in root.model_fields.items():
        kind, many = kind_of(field), get_origin(field.annotation) is dict
        shown = f"{section}.NAME" if many else section
        for key, item in kind.model_fields.items():
            default = "required" if item.is_required() else "none" if item.default is None else _toml(item.default)
            rows.append(
                f"| {shown} | {key} | {unit_of_key(key)} | {bounds_of(item)} | {default} | {item.description} |"
            )
    return "\n".join(rows) + "\n"


def _section(name: str, kind: type[BaseModel], values: Mapping[str, Any], unit: str) -> list[str]:
    lines = ["", f"[{_table(name)}]"]
    doc = (kind.__doc__ or "").splitlines()[0]
    lines.append(f"# {doc}" + (f" Unit: {unit}." if unit else ""))
    for key, field in kind.model_fields.items():
        lines.append(_help_line(key, field))
        if key in values:
            lines.append(f"{key} = {_toml(values[key])}")
        else:
            lines.append(f"# {key} = {'' if field.default is None else _toml(field.default)}".rstrip())
    return lines


def _table(name: str) -> str:
    """Give a table's name as TOML takes it: a part that is no bare key is quoted (TOML 1.0, Keys)."""
    section, dot, one = name.partition(".")
    return f"{section}{dot}{one if re.fullmatch('[A-Za-z0-9_-]*', one) else _toml(one)}"


def _help_line(key: str, field: FieldInfo) -> str:
    unit, bounds = unit_of_key(key), bounds_of(field)
    detail = ", ".join(part for part in (unit, bounds) if part)
    default = "required" if field.is_required() else "default below"
    return f"# {field.description} ({'; '.join(part for part in (detail, default) if part)})"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'
