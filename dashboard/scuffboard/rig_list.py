"""The list of all rigs that `scuffwatch uplink --wall FILE` writes, read as foreign text.

Reads the bytes of the file, gives rigs, or one sentence why they are none. Much of it came from a broker: every text is
cut and made one printable line, and what is not understood makes a rig BAD instead of being guessed.
"""

import json
import math
from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Any

from scuffwatch.model.finding import FindingKind

LIST_MAX_BYTES = 4 * 1024 * 1024
"""500 rigs with every text at its longest are 3 MB."""
RIGS_MAX = 500
NAME_MAX = 64
TEXT_MAX = 200
VERSION = 1
WORD_STALE_S = 15.0
"""Three heartbeats, as the uplink has it: a rig silent for so long is not known any more."""
CORES = ("speaking", "silent", "absent")
PERMITS = ("permitted", "tripped", "watch_only")
PRIORITIES = ("T", "W", "N")
REASONS = ("stopped", "will")
KINDS = frozenset(kind.value for kind in FindingKind)
_TRUTHS = ("acknowledged", "recorded", "link_up", "simulated")

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class RigAlarm:
    """The alarm that stands on top at a rig; `waits` until somebody has acknowledged it."""

    priority: str
    says: str
    waits: bool


@dataclass(frozen=True, slots=True)
class Rig:
    """What is known of one rig. None is *not known*.

    Attributes:
        key: its topic; what makes it one rig.
        name: as it calls itself, cut.
        online, why: whether its uplink speaks, and if not, whether it was `stopped` or fell silent (`will`).
        core: speaking, silent or absent.
        permit: permitted, tripped or watch_only.
        first_out, first_out_kind: the first cause of a trip, in words and by kind; an unknown kind is empty.
        age_s: of its last word when the list was written, s.
        live: whether whoever wrote the list took it for current then.
        bad: what was not understood (`age`, `state`, `permit`, `alarm`); then nothing else of it counts.
    """

    key: str
    name: str
    online: bool
    why: str
    core: str
    permit: str | None
    first_out: str
    first_out_kind: str
    acknowledged: bool | None
    recorded: bool | None
    link_up: bool | None
    simulated: bool | None
    run: str
    alarm: RigAlarm | None
    alarms: int
    age_s: float
    live: bool
    bad: str

    def as_json(self) -> Json:
        """Give the object a page draws."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class RigList:
    """The list as it was written.

    Attributes:
        stamp: moves with every writing.
        t_wall_utc_s: when it was written, by its writer's clock, s UTC; a label only.
        broker_problem: why nothing is heard of any rig; empty where the broker is heard.
        refused: messages the writer would not take.
        unread: entries of the list that are no rig, or one too many.
        rigs: in the order of the file.
    """

    stamp: float
    t_wall_utc_s: float | None
    broker_problem: str
    refused: int
    unread: int
    rigs: tuple[Rig, ...]


def read_list(raw: bytes) -> RigList | str:
    """Give the list, or what is wrong with it, as the end of the sentence "The list of rigs FILE ..."."""
    if len(raw) > LIST_MAX_BYTES:
        return f"is larger than {LIST_MAX_BYTES // 1024**2} MiB, which no list of {RIGS_MAX} rigs is."
    try:
        told = json.loads(raw)
    except (ValueError, RecursionError):  # what any bytes can do to the reader; UnicodeDecodeError is a ValueError
        return "holds something else. Is it the file that scuffwatch uplink --wall writes?"
    if not isinstance(told, dict) or not isinstance(told.get("rigs"), list) or number(told.get("t_mono_s")) is None:
        return "holds something else. Is it the file that scuffwatch uplink --wall writes?"
    if told.get("v") != VERSION:
        return f"is of another version than {VERSION}. Use uplink and pages of one release."
    entries = told["rigs"]
    found = [rig for rig in map(read_rig, entries[:RIGS_MAX]) if rig is not None]
    rigs = tuple({rig.key: rig for rig in found}.values())
    return RigList(
        stamp=number(told["t_mono_s"]) or 0.0,
        t_wall_utc_s=number(told.get("t_wall_utc_s")),
        broker_problem=text(told.get("broker_problem"), TEXT_MAX),
        refused=count(told.get("refused")),
        unread=len(entries) - len(rigs),
        rigs=rigs,
    )


def read_rig(entry: object) -> Rig | None:
    """Give one rig, or None where nothing in it says which rig it is."""
    if not isinstance(entry, dict) or not isinstance(entry.get("topic"), str):
        return None
    key = text(entry["topic"], TEXT_MAX)
    name = text(entry.get("rig"), NAME_MAX) or key
    if not name:
        return None
    age_s = number(entry.get("age_s"))
    return Rig(
        key=key,
        name=name,
        online=entry.get("online") is True,
        why=one_of(REASONS, entry.get("why")),
        core=one_of(CORES, entry.get("core")),
        permit=one_of(PERMITS, entry.get("permit")) or None,
        first_out=text(entry.get("first_out"), TEXT_MAX),
        first_out_kind=one_of(KINDS, entry.get("first_out_kind")),
        run=text(entry.get("run"), NAME_MAX),
        alarm=read_alarm(entry.get("alarm")),
        alarms=count(entry.get("alarms")),
        age_s=0.0 if age_s is None else age_s,
        live=entry.get("live") is True,
        bad=what_is_bad(entry, age_s),
        **{key: entry[key] if isinstance(entry.get(key), bool) else None for key in _TRUTHS},
    )


def read_alarm(told: object) -> RigAlarm | None:
    """Give the alarm on top, or None where there is none; `what_is_bad` tells a spoiled one from none."""
    if not isinstance(told, dict) or told.get("priority") not in PRIORITIES:
        return None
    return RigAlarm(told["priority"], text(told.get("says"), TEXT_MAX), "unacknowledged" in text(told.get("state"), 64))


def what_is_bad(entry: Json, age_s: float | None) -> str:
    """Give what of a rig was not understood; empty where all was."""
    if age_s is None or age_s < 0.0:
        return "age"
    if not isinstance(entry.get("online"), bool):
        return "state"
    if not entry["online"]:
        return ""
    if entry.get("core") not in CORES:
        return "state"
    if entry.get("permit") is not None and entry["permit"] not in PERMITS:
        return "permit"
    if entry.get("alarm") is not None and read_alarm(entry["alarm"]) is None:
        return "alarm"
    return ""


def text(told: object, most: int) -> str:
    """Give one printable line of at most `most` characters; empty where it is no text."""
    if not isinstance(told, str):
        return ""
    line = told[: 4 * most]
    if not line.isprintable():  # controls, direction marks, half surrogates, line ends
        line = "".join(sign if sign.isprintable() else " " for sign in line)
    return " ".join(line.split())[:most]


def one_of(known: Collection[str], told: object) -> str:
    """Give a word of a closed set; empty where it is none."""
    return told if isinstance(told, str) and told in known else ""


def number(told: object) -> float | None:
    """Give a finite number, or None."""
    if isinstance(told, bool) or not isinstance(told, int | float):
        return None
    try:
        return float(told) if math.isfinite(told) else None
    except OverflowError:  # an integer of more digits than a float can hold
        return None


def count(told: object) -> int:
    """Give a count that a page can show; 0 where it is none."""
    value = number(told)
    return 0 if value is None else max(0, min(int(value), 10**6))
