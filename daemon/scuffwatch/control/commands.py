"""The closed set of commands, as values, and the table that says what each field may hold.

Reads nothing. `messages` turns them into lines and back; the command line builds its parsers from `COMMAND_KINDS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from math import nan
from types import MappingProxyType

from scuffwatch.control.rules import Choice, Key, Number, Numbers, Rule, Text
from scuffwatch.model.run import RunKind

NOTE_MAX_CHARS = 2000
NAME_MAX_CHARS = 80
STAGES_MAX = 100


class Observation(Enum):
    """What a person at the rig sees, hears or smells."""

    SMOKE = "smoke"
    SQUEAL = "squeal"
    SMELL = "smell"
    LABOURING = "labouring"
    FLING_OFF = "fling_off"


@dataclass(frozen=True, slots=True)
class OpenRun:
    """Open a run. Fields as in `model.run.RunHeader`; NaN where a number is not stated."""

    kind: RunKind
    lubricant: str = ""
    treat_rate_percent: float = nan
    bath_volume_ml: float = nan
    ring: str = ""
    pin: str = ""
    loads_n: tuple[float, ...] = ()
    dwell_s: float = nan
    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class CloseRun:
    """Close the open run; `outcome_says` is the person's own sentence on how it ended."""

    outcome_says: str = ""
    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class Mark:
    """Say that the weight is on."""

    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class Note:
    """Keep a text with the run, as typed; `rules.in_one_line` makes it fit for a log."""

    text: str
    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class Observe:
    """Keep a one-touch observation, stamped by the core."""

    what: Observation
    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class Acknowledge:
    """Acknowledge one alarm, or all that wait where `alarm_key` is empty. Never a reset."""

    alarm_key: str = ""
    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class StopRequest:
    """Ask the core to withdraw the permit. Anyone who reaches the socket may; no other field is needed."""

    actor: str = field(default="", kw_only=True)


@dataclass(frozen=True, slots=True)
class Tare:
    """Take the present value of a channel as its zero."""

    channel: str
    actor: str = field(default="", kw_only=True)


Command = OpenRun | CloseRun | Mark | Note | Observe | Acknowledge | StopRequest | Tare


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a command.

    Attributes:
        name: with its unit, the same in dataclass, line and option.
        rule: what it may hold.
        help: one line for the command line.
        required: whether a command without it is refused.
    """

    name: str
    rule: Rule
    help: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class CommandKind:
    """One row of the table of commands.

    Attributes:
        name: word on the wire.
        title: in words, as sentences begin.
        make: the dataclass.
        help: one line.
        fields: all but `actor`, which every command has.
    """

    name: str
    title: str
    make: Callable[..., Command]
    help: str
    fields: tuple[Field, ...] = ()


ACTOR = Field("actor", Text(NAME_MAX_CHARS), "who asks, as the bench knows the person")

_OPEN_RUN = (
    Field("kind", Choice(RunKind), "test (may be compared) or setup (never is)", required=True),
    Field("lubricant", Text(NAME_MAX_CHARS), "batch as the bench calls it"),
    Field("treat_rate_percent", Number(0.0, 100.0, "%"), "additive by volume, %"),
    Field("bath_volume_ml", Number(0.0, 10_000.0, "mL"), "oil in the bath, mL"),
    Field("ring", Text(NAME_MAX_CHARS), "ring number, track and dressing count"),
    Field("pin", Text(NAME_MAX_CHARS), "pin number and face"),
    Field("loads_n", Numbers(Number(0.0, 100_000.0, "N"), STAGES_MAX), "normal load of each stage, N"),
    Field("dwell_s", Number(0.0, 86_400.0, "s"), "planned dwell of each stage, s"),
)

_TABLE = (
    CommandKind("open_run", "Open run", OpenRun, "open a test or a setup run", _OPEN_RUN),
    CommandKind(
        "close_run",
        "Close run",
        CloseRun,
        "close the open run",
        (Field("outcome_says", Text(NOTE_MAX_CHARS, lines=True), "how it ended, in a sentence"),),
    ),
    CommandKind("mark", "Mark", Mark, "say that the weight is on"),
    CommandKind(
        "note",
        "Note",
        Note,
        "keep a text with the run",
        (Field("text", Text(NOTE_MAX_CHARS, least=1, lines=True), "the text", required=True),),
    ),
    CommandKind(
        "observe",
        "Observe",
        Observe,
        "keep what is seen, heard or smelt",
        (Field("what", Choice(Observation), "which of the observations", required=True),),
    ),
    CommandKind(
        "acknowledge",
        "Acknowledge",
        Acknowledge,
        "acknowledge one alarm or all that wait; never a reset",
        (Field("alarm_key", Key(may_be_empty=True), "which alarm; empty for all that wait"),),
    ),
    CommandKind("stop_request", "Stop request", StopRequest, "ask the core to withdraw the motor permit (software)"),
    CommandKind(
        "tare",
        "Tare",
        Tare,
        "take the present value of a channel as its zero",
        (Field("channel", Key(), "channel name, for instance friction_force_n", required=True),),
    ),
)

COMMAND_KINDS: Mapping[str, CommandKind] = MappingProxyType({kind.name: kind for kind in _TABLE})
"""Every command by its word on the wire, in the order a help text lists them."""


def kind_of(command: Command) -> CommandKind:
    """Give the row of the table a command belongs to."""
    return next(kind for kind in _TABLE if kind.make is type(command))
