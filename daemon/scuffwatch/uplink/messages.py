"""Messages: topics and payloads on the broker, one place for both. The payloads' schema is `schema/mqtt.json`.

Reads snapshots and events, gives topics and JSON.

    BASE/RIG/state    retained, QoS 1   permit, run, alarms, core; offline by the uplink itself or by the broker's will
    BASE/RIG/values   retained, QoS 0   the channels' values; they expire when nobody renews them
    BASE/RIG/event    QoS 1             everything of the journal but alarms, each with an id of its own
    BASE/RIG/alarm    QoS 1             alarm transitions likewise; `recorded` is false where the disk is dead

Whatever is not known is null: a snapshot that has grown old is never shown as if it were now.
"""

import json
from pathlib import Path
from typing import Any

from scuffwatch.guard.alarm_table import ALARMS
from scuffwatch.model.event import Event, EventKind
from scuffwatch.store.names import rig_slug
from scuffwatch.uplink.pictures import Picture, Seen

VERSION = 1
PAYLOAD_MAX_BYTES = 64 * 1024
SCHEMA = Path(__file__).with_name("schema") / "mqtt.json"
STALE_S = 2.0
_TEXTS = {alarm.key: alarm for alarm in ALARMS}

Json = dict[str, Any]


class Topics:
    """The topics of one rig."""

    def __init__(self, base: str, rig: str) -> None:
        root = f"{base}/{rig_slug(rig)}"
        self.state, self.values = f"{root}/state", f"{root}/values"
        self.event, self.alarm = f"{root}/event", f"{root}/alarm"


def client_id(rig: str) -> str:
    """Give the one client id of a rig; a second uplink of the same rig would push the first off the broker."""
    return f"scuffwatch-{rig_slug(rig)}-uplink"


def line(payload: Json) -> bytes:
    """Give a payload as sent."""
    return json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def offline(rig: str, why: str) -> Json:
    """Give the state of an uplink that is gone: `stopped` by itself, or `will` by the broker."""
    return {"v": VERSION, "rig": rig, "online": False, "why": why}


def state(rig: str, seen: Seen, beat: int, t_wall_utc_s: float, silent_s: float) -> Json:
    """Give the state of a rig.

    Args:
        rig: its name.
        seen: what is known of the core.
        beat: grows with every state sent.
        t_wall_utc_s: now, s UTC.
        silent_s: age from which the core counts as silent, s.
    """
    picture = seen.picture if seen.age_s < silent_s else None
    core = "speaking" if picture is not None else "silent" if seen.picture is not None else "absent"
    told: Json = {
        "v": VERSION, "rig": rig, "online": True, "why": "", "beat": beat, "t_wall_utc_s": round(t_wall_utc_s, 3),
        "core": core, "core_age_s": round(seen.age_s, 2), "permit": None, "since_utc_s": None, "acknowledged": None,
        "first_out": None, "first_out_kind": None, "recorded": None, "link_up": None, "simulated": None, "run": None,
        "alarms": [],
    }  # fmt: skip
    return told if picture is None else told | _known(picture)


def _known(picture: Picture) -> Json:
    permit, run = picture["permit"], picture["run"]
    first_out = permit["first_out"]
    return {
        "permit": permit["state"],
        "since_utc_s": permit["since_utc_s"],
        "acknowledged": permit["acknowledged"],
        "first_out": None if first_out is None else first_out["says"],
        "first_out_kind": None if first_out is None else first_out["kind"],
        "recorded": permit["recorded"],
        "link_up": picture["link"]["up"],
        "simulated": picture["simulated"],
        "run": None if run is None else {key: run[key] for key in ("name", "kind", "lubricant", "stage")},
        "alarms": [{key: alarm[key] for key in ("key", "priority", "state", "says")} for alarm in picture["alarms"]],
    }


def values(rig: str, picture: Picture, t_wall_utc_s: float) -> Json:
    """Give the values of the channels."""
    run = picture["run"]
    kept = ("value", "unit", "quality", "reason", "age_s")
    channels = {name: {key: channel[key] for key in kept} for name, channel in picture["channels"].items()}
    return {
        "v": VERSION,
        "rig": rig,
        "t_wall_utc_s": round(t_wall_utc_s, 3),
        "run": None if run is None else run["name"],
        "channels": channels,
    }


def event(rig: str, happened: Event) -> tuple[bool, Json]:
    """Give whether an event is an alarm transition, and its payload."""
    told: Json = {
        "v": VERSION,
        "id": f"{rig_slug(rig)}-{happened.sequence}",
        "rig": rig,
        "number": happened.sequence,
        "recorded": True,
        "kind": happened.kind.value,
        "t_wall_utc_s": happened.t_wall_utc_s,
        "t_rig_s": happened.t_rig_s if happened.t_rig_s == happened.t_rig_s else None,
        "run": happened.run,
        "actor": happened.actor,
        "says": happened.says,
        "data": happened.data,
        "data_left_out": False,
    }
    if len(line(told)) > PAYLOAD_MAX_BYTES:
        told |= {"data": {}, "data_left_out": True, "says": happened.says[:4096]}
    if happened.kind is not EventKind.ALARM:
        return False, told
    return True, told | _alarm_words(str(happened.data.get("key", "")), str(happened.data.get("after", "")))


def unrecorded_alarm(rig: str, alarm: Json, picture: Picture) -> Json:
    """Give an alarm that the live picture shows while nothing can be recorded."""
    started, since = picture["core_started_utc_s"], alarm["t_rig_s"]
    return {
        "v": VERSION,
        "id": f"{rig_slug(rig)}-live-{started}-{alarm['key']}-{since}-{alarm['state']}",
        "rig": rig,
        "number": None,
        "recorded": False,
        "kind": EventKind.ALARM.value,
        "t_wall_utc_s": alarm["since_utc_s"] or picture["t_wall_utc_s"],
        "t_rig_s": since,
        "run": picture["run"]["name"] if picture["run"] else "",
        "actor": "",
        "says": alarm["says"],
        "data": {},
        "data_left_out": False,
    } | _alarm_words(alarm["key"], alarm["state"])


def _alarm_words(key: str, state_: str) -> Json:
    known = _TEXTS.get(key)
    return {
        "alarm": key,
        "state": state_,
        "priority": known.priority.value if known else None,
        "short_name": known.short_name if known else None,
        "action": known.action if known else None,
    }
