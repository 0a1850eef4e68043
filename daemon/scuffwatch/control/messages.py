"""The closed set of commands and the reply, as values and as lines of JSON.

Reads one line, gives a command or a refusal; gives one line for a command or a reply. No I/O. A command line:

    {"v":1,"command":"note","actor":"anna","text":"grey smoke at the pin"}

and its reply:

    {"v":1,"ok":true,"says":"Note kept.","data":{}}

Reading is strict: a field nobody knows is refused and never skipped. One exception: an object whose `command` is
`stop_request` is a stop request whatever else stands in it, because refusing a stop is never the safe answer.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from math import isnan
from typing import NoReturn

from scuffwatch.control.commands import (
    ACTOR,
    COMMAND_KINDS,
    NAME_MAX_CHARS,
    NOTE_MAX_CHARS,
    Acknowledge,
    CloseRun,
    Command,
    CommandKind,
    Mark,
    Note,
    Observation,
    Observe,
    OpenRun,
    StopRequest,
    Tare,
    kind_of,
)
from scuffwatch.control.rules import in_one_line, shown
from scuffwatch.model.errors import CommandRefused
from scuffwatch.model.event import JsonValue

__all__ = [
    "VERSION", "LINE_MAX_BYTES", "NOTE_MAX_CHARS", "NAME_MAX_CHARS", "COMMAND_KINDS", "CommandKind", "Command",
    "OpenRun", "CloseRun", "Mark", "Note", "Observe", "Observation", "Acknowledge", "StopRequest", "Tare",
    "Reply", "Refusal", "build", "kind_of", "to_line", "from_line", "reply_to_line", "reply_from_line", "in_one_line",
]  # fmt: skip

VERSION = 1
LINE_MAX_BYTES = 64 * 1024
"""Longest line either way, line end included."""


@dataclass(frozen=True, slots=True)
class Reply:
    """Answer to one command.

    Attributes:
        ok: whether it was done.
        says: one sentence for the person who asked.
        data: further fields, finite JSON values only.
    """

    ok: bool
    says: str
    data: dict[str, JsonValue] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a line or a set of fields is no command.

    Attributes:
        what: the command, in words, or `Command` where it is not known.
        why: one clause that names the field and the limit.
        malformed: the line is no JSON object of our version; what follows on that connection cannot be trusted.
    """

    what: str
    why: str
    malformed: bool = False

    @property
    def says(self) -> str:
        """Give the sentence a person reads."""
        return f"{self.what} refused: {self.why}."


def build(name: str, fields: Mapping[str, object], actor: object = "") -> Command | Refusal:
    """Make a command from its word and its fields as JSON gives them: pages and command line use this.

    Args:
        name: word on the wire, for instance `open_run`.
        fields: values by field name; a missing one takes its default.
        actor: who asks.
    Returns:
        The command, or why it is refused; never an exception.
    """
    kind = COMMAND_KINDS.get(name)
    if kind is None:
        return Refusal("Command", f'command "{shown(name)}" is unknown{_near(name, COMMAND_KINDS)}')
    rules = {each.name: each.rule for each in (*kind.fields, ACTOR)}
    if kind.make is StopRequest:
        return StopRequest(actor=_actor_or_nobody(actor))
    for given in fields:
        if given not in rules or given == ACTOR.name:
            return Refusal(kind.title, f'field "{shown(given)}" is unknown{_near(given, rules)}')
    for needed in kind.fields:
        if needed.required and needed.name not in fields:
            return Refusal(kind.title, f"{needed.name} is missing")
    values: dict[str, object] = {}
    for key, raw in (*fields.items(), ("actor", actor)):
        try:
            values[key] = rules[key].read(raw)
        except ValueError as error:
            return Refusal(kind.title, f"{key} {error}")
    return kind.make(**values)


def to_line(command: Command, actor: str = "") -> bytes:
    """Give the line of a command, line end included.

    Args:
        command: what to ask.
        actor: who asks; where empty, the command's own actor stands.
    Raises:
        CommandRefused: a field breaks its limit; nothing has been sent.
    """
    kind = kind_of(command)
    fields = {each.name: _plain(getattr(command, each.name)) for each in kind.fields}
    stated = {name: value for name, value in fields.items() if value is not None}
    made = build(kind.name, stated, actor or command.actor)
    if isinstance(made, Refusal):
        raise CommandRefused(made.what, made.why, "Change it and send it again.")
    return _line({"v": VERSION, "command": kind.name, "actor": made.actor, **stated})


def from_line(line: bytes) -> Command | Refusal:
    """Read one line as a command.

    Args:
        line: bytes of one line, with or without its line end.
    Returns:
        The command, or a refusal that names field and limit; never an exception, whatever the bytes.
    """
    entries = _entries(line)
    if isinstance(entries, Refusal):
        return entries
    name, actor = entries.pop("command", None), entries.pop("actor", "")
    version = entries.pop("v", None)
    if name == "stop_request":
        return StopRequest(actor=_actor_or_nobody(actor))
    if version is None or isinstance(version, bool) or version != VERSION:
        stands = "is missing" if version is None else f"is {shown(str(version))}"
        return Refusal("Command", f"v {stands}, this core speaks version {VERSION} only", malformed=True)
    if not isinstance(name, str):
        return Refusal("Command", "command is missing or no text")
    return build(name, entries, actor)


def reply_to_line(reply: Reply) -> bytes:
    """Give the line of a reply, line end included; never an exception.

    Data that JSON cannot hold, or that would pass `LINE_MAX_BYTES`, are left out and the sentence says so.
    """
    try:
        line = _line({"v": VERSION, "ok": reply.ok, "says": reply.says, "data": reply.data})
    except (TypeError, ValueError, RecursionError):
        line = b""
    if 0 < len(line) <= LINE_MAX_BYTES:
        return line
    says = reply.says[:NOTE_MAX_CHARS].encode("utf-8", "backslashreplace").decode()
    return _line({"v": VERSION, "ok": reply.ok, "says": f"{says} (Details could not be sent.)", "data": {}})


def reply_from_line(line: bytes) -> Reply | Refusal:
    """Read one line as a reply; never an exception."""
    entries = _entries(line)
    if isinstance(entries, Refusal):
        return replace(entries, what="Reply")
    ok, says, data = entries.get("ok"), entries.get("says"), entries.get("data", {})
    if entries.get("v") != VERSION:
        return Refusal("Reply", f"v is not {VERSION}, the version this program speaks", malformed=True)
    if not (isinstance(ok, bool) and isinstance(says, str) and isinstance(data, dict)):
        return Refusal("Reply", "ok, says or data is missing or of the wrong type", malformed=True)
    return Reply(ok, says, data)


def _entries(line: bytes) -> dict[str, JsonValue] | Refusal:
    if len(line) > LINE_MAX_BYTES:
        return Refusal("Command", f"the line has {len(line)} bytes, limit {LINE_MAX_BYTES}", malformed=True)
    try:
        value = json.loads(line.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_no_twice)
    except UnicodeDecodeError:
        return Refusal("Command", "the line is not UTF-8", malformed=True)
    except json.JSONDecodeError:
        return Refusal("Command", "the line is not JSON", malformed=True)
    except _NotAllowed as error:
        return Refusal("Command", str(error), malformed=True)
    except RecursionError:
        return Refusal("Command", "the line is nested too deep", malformed=True)
    except ValueError:
        return Refusal("Command", "the line holds a number with too many digits", malformed=True)
    if not isinstance(value, dict):
        return Refusal("Command", "the line is no JSON object", malformed=True)
    return value


class _NotAllowed(ValueError):
    """JSON that Python reads and we do not."""


def _no_constant(word: str) -> NoReturn:
    raise _NotAllowed(f"the line holds {word}, limit finite numbers")


def _no_twice(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    entries = dict(pairs)
    if len(entries) < len(pairs):
        raise _NotAllowed("a field stands in it twice, limit once")
    return entries


def _actor_or_nobody(actor: object) -> str:
    try:
        return str(ACTOR.rule.read(actor))
    except ValueError:
        return ""


def _near(name: str, known: Iterable[str]) -> str:
    import difflib  # only a mistyped word pays for it

    close = difflib.get_close_matches(name[:NAME_MAX_CHARS], known, n=1, cutoff=0.75)
    return f", did you mean {close[0]}" if close else ""


def _plain(value: object) -> JsonValue:
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, float) and isnan(value):
        return None
    return value  # type: ignore[return-value]


def _line(entries: dict[str, JsonValue]) -> bytes:
    return json.dumps(entries, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode() + b"\n"
