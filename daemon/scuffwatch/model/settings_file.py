"""Settings files: TOML text checked against classes, and one sentence for everything that is wrong with it.

Reads TOML text, gives a frozen settings object or a `ConfigError` that lists every problem at once. The rig file and
the uplink's file are read here; what stands in them belongs to their own rooms.
"""

import difflib
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic.fields import FieldInfo

from scuffwatch.model.errors import ConfigError

NAMED_SECTIONS = "channels"
"""The section that holds one section a name."""


class Section(BaseModel):
    """What every section shares: frozen, no unknown key, no infinite or missing number."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


Settings = TypeVar("Settings", bound=Section)


def read_text(path: Path) -> str:
    """Give the text of a settings file.

    Raises:
        ConfigError: it cannot be read.
    """
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text in UTF-8"
        raise ConfigError((f"{path.name or path}: cannot be read: {why}. Nothing has been started.",)) from error


def check(
    kind: type[Settings], text: str, name: str, why_missing: Callable[[list[str]], str] = lambda _: ""
) -> Settings:
    """Check the text of a settings file.

    Args:
        kind: class of all settings in it.
        text: TOML.
        name: file name used in sentences.
        why_missing: gives what is added to the sentence on a key that is missing.
    Returns:
        Checked settings.
    Raises:
        ConfigError: with every problem in it, one sentence each.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError((f"{name}: not TOML: {error}. Nothing has been started.",)) from error
    try:
        return kind.model_validate(raw)
    except ValidationError as error:
        raise ConfigError(tuple(_sentence(kind, name, item, why_missing) for item in error.errors())) from error


def kind_of(field: FieldInfo) -> type[BaseModel]:
    """Give the class of a section; of the named sections, the class of one."""
    candidates = [field.annotation, *get_args(field.annotation)]
    return next(one for one in candidates if isinstance(one, type) and issubclass(one, BaseModel))


def _sentence(
    kind: type[BaseModel], name: str, item: Mapping[str, Any], why_missing: Callable[[list[str]], str]
) -> str:
    path = [str(part) for part in item["loc"]]
    where = _where(path)
    if item["type"] == "extra_forbidden":
        return f"{name} {where}: unknown key.{_did_you_mean(kind, path)} Nothing has been started."
    if item["type"] == "missing":
        return f"{name} {where}: missing{why_missing(path)}. Nothing has been started."
    given = item["input"]
    shown = f" {given!r}" if isinstance(given, str | int | float | bool) else ""
    if item["type"] in ("model_type", "dict_type"):
        return f"{name} {where}:{shown} is no section. Nothing has been started."
    message = str(item["msg"]).removeprefix("Value error, ")
    return f"{name} {where}:{shown} is not accepted: {message}. Nothing has been started."


def _where(path: list[str]) -> str:
    if len(path) == 1:
        return f"[{path[0]}]"
    depth = 2 if path[0] == NAMED_SECTIONS else 1
    section, rest = path[:depth], path[depth:]
    return f"[{'.'.join(section)}] {' '.join(rest)}".rstrip()


def _did_you_mean(kind: type[BaseModel], path: list[str]) -> str:
    known = list(kind.model_fields if len(path) == 1 else kind_of(kind.model_fields[path[0]]).model_fields)
    close = difflib.get_close_matches(path[-1], known, n=1, cutoff=0.6)
    if close:
        return f" Did you mean {close[0]}?"
    return f" Known here: {', '.join(known)}."
