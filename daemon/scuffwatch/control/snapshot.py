"""The live snapshot: one JSON object a line on `live.sock`; its version, its schema and a check for tests.

The service builds the object, `encode` makes the line, pages and command line read it by `client`. Numbers that do not
exist are null, never NaN and never 0.
"""

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any

from scuffwatch.model.alarm import AlarmState, Priority
from scuffwatch.model.channel import Quality, Reason
from scuffwatch.model.event import JsonValue
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.model.run import RunKind

SNAPSHOT_VERSION = 1
SNAPSHOT_MAX_BYTES = 256 * 1024
"""A longer line is not sent; the widest rig of eight groups stays under a tenth of it."""
PERMIT_STATES = ("permitted", "tripped", "watch_only")
NODE_PERMITS = ("latched", "ready", "permitted")
INTERLOCK_KEYS = ("guard", "emergency_stop", "extraction", "bath", "contactor")
NEARNESS_STATES = ("known", "learning", "not sliding", "stale")
INTERLOCK_STATES = ("closed", "open", "unknown")

Schema = dict[str, Any]


def encode(snapshot: Mapping[str, JsonValue], t_mono_s: float) -> bytes:
    """Give the line of a snapshot, without line end.

    Args:
        snapshot: as `schema()` says; finite numbers only.
        t_mono_s: host monotonic clock when it was made, s. It goes into the line, so that a reader that slept can
            tell an old snapshot from a new one: all processes of one host share that clock.
    Raises:
        ValueError: a number in it is not finite.
    """
    stamped = {**snapshot, "t_mono_s": t_mono_s}
    return json.dumps(stamped, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def schema() -> Schema:
    """Give the schema of the snapshot (JSON Schema, draft 2020-12), made anew at every call."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Live snapshot of one rig",
        **_object(
            {
                "v": {"type": "integer", "enum": [SNAPSHOT_VERSION]},
                "seq": _COUNT,
                "rig": _TEXT,
                "simulated": _TRUTH,
                "t_wall_utc_s": _NUMBER,
                "t_rig_s": _MAYBE,
                "utc_offset_s": _NUMBER,
                "core_started_utc_s": _NUMBER,
                "permit": _permit(),
                "link": _link(),
                "interlocks": _list(_interlock()),
                "alarms": _list(_alarm()),
                "run": {"anyOf": [{"type": "null"}, _run()]},
                "channels": {"type": "object", "additionalProperties": _channel()},
                "nearness": _list(_near()),
                "loop": _object({"late_ms_p999": _MAYBE, "slices": _COUNT}),
                "store": _store(),
            },
            {"t_mono_s": _NUMBER, "bursts": {}},
        ),
    }


def check(snapshot: object) -> list[str]:
    """Give every difference between a snapshot and its schema, one sentence each; empty where there is none.

    For tests. Reads no more of JSON Schema than `schema` uses, and also names numbers that are not finite.
    """
    return list(_differences(snapshot, schema(), "snapshot"))


_NUMBER: Schema = {"type": "number"}
_MAYBE: Schema = {"type": ["number", "null"]}
_AGE: Schema = {"type": ["number", "null"], "minimum": 0}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_TEXT: Schema = {"type": "string"}
_TRUTH: Schema = {"type": "boolean"}


def _object(required: Schema, optional: Schema | None = None) -> Schema:
    properties = {**required, **(optional or {})}
    return {"type": "object", "properties": properties, "required": list(required), "additionalProperties": False}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _words(*words: str) -> Schema:
    return {"type": "string", "enum": list(words)}


def _finding() -> Schema:
    evidence = _object({"name": _TEXT, "value": _MAYBE, "limit": _MAYBE, "unit": _TEXT})
    return _object(
        {
            "kind": _words(*(kind.value for kind in FindingKind)),
            "level": _words(*(level.name.lower() for level in Level)),
            "t_rig_s": _MAYBE,
            "t_wall_utc_s": _MAYBE,
            "channels": _list(_TEXT),
            "says": _TEXT,
            "evidence": _list(evidence),
        },
        {"alarm": _TEXT},
    )


def _permit() -> Schema:
    return _object(
        {
            "state": _words(*PERMIT_STATES),
            "since_utc_s": _MAYBE,
            "acknowledged": _TRUTH,
            "first_out": {"anyOf": [{"type": "null"}, _finding()]},
            "followers": _list(_finding()),
            "needs": _list(_object({"key": _TEXT, "says": _TEXT, "met": _TRUTH})),
            "recorded": _TRUTH,
            "lease_left_ms": _AGE,
        }
    )


def _link() -> Schema:
    return _object(
        {
            "up": _TRUTH,
            "identity": _TEXT,
            "age_s": _AGE,
            "frames_lost": _COUNT,
            "frame_errors": _COUNT,
            "node_permit": {"type": ["string", "null"], "enum": [*NODE_PERMITS, None]},
            "node_cause": {"type": ["string", "null"]},
        },
        {"limits_confirmed": _TRUTH},
    )


def _interlock() -> Schema:
    return _object(
        {"key": _words(*INTERLOCK_KEYS), "name": _TEXT, "state": _words(*INTERLOCK_STATES)}, {"required": _TRUTH}
    )


def _alarm() -> Schema:
    return _object(
        {
            "key": _TEXT,
            "short_name": _TEXT,
            "priority": _words(*(priority.value for priority in Priority)),
            "state": _words(*(state.value for state in AlarmState)),
            "says": _TEXT,
            "consequence": _TEXT,
            "action": _TEXT,
            "respond_within_s": _AGE,
            "since_utc_s": _MAYBE,
            "t_rig_s": _MAYBE,
        },
        {"cause": _TEXT, "group": _TEXT},
    )


def _run() -> Schema:
    return _object(
        {
            "name": _TEXT,
            "kind": _words(*(kind.value for kind in RunKind)),
            "lubricant": _TEXT,
            "treat_rate_percent": _MAYBE,
            "bath_volume_ml": _MAYBE,
            "ring": _TEXT,
            "pin": _TEXT,
            "loads_n": _list(_NUMBER),
            "dwell_s": _MAYBE,
            "opened_utc_s": _NUMBER,
            "stage": _COUNT,
            "stage_elapsed_s": _AGE,
            "t_stage_start_rig_s": _MAYBE,
            "interrupted": _TRUTH,
            "resume_left_s": _AGE,
        },
        {"simulated": _TRUTH},
    )


def _channel() -> Schema:
    return _object(
        {
            "value": _MAYBE,
            "unit": _TEXT,
            "quality": _words(*(quality.name.lower() for quality in Quality)),
            "reason": _words(*(reason.value for reason in Reason)),
            "age_s": _AGE,
            "warn": _MAYBE,
            "trip": _MAYBE,
            "low": _NUMBER,
            "high": _NUMBER,
            "digits": _COUNT,
            "label": _TEXT,
            "derived": _TRUTH,
        }
    )


def _near() -> Schema:
    """One kind of scuffing evidence beside its limit; a kind without a channel is not in the list."""
    return _object(
        {
            "name": _TEXT,
            "value": _MAYBE,
            "limit": _MAYBE,
            "unit": _TEXT,
            "share": _AGE,
            "state": _words(*NEARNESS_STATES),
        }
    )


def _store() -> Schema:
    return _object(
        {
            "recording": _TRUTH,
            "queue_s": _AGE,
            "dropped": _COUNT,
            "error": _TEXT,
            "free_bytes": {"type": ["integer", "null"], "minimum": 0},
            "last_recorded_event": _COUNT,
            "last_event": _COUNT,
        }
    )


def _differences(value: object, rule: Schema, where: str) -> Iterator[str]:
    if "anyOf" in rule:
        tried = [list(_differences(value, each, where)) for each in rule["anyOf"]]
        if all(tried):
            yield from tried[-1]
        return
    allowed = rule.get("type", [])
    names = [allowed] if isinstance(allowed, str) else allowed
    if names and not any(_is(value, name) for name in names):
        yield f"{where} is {value!r}, not {' or '.join(names)}"
        return
    if "enum" in rule and value not in rule["enum"]:
        yield f"{where} is {value!r}, none of {rule['enum']}"
    if isinstance(value, float) and not math.isfinite(value):
        yield f"{where} is {value!r}, not finite"
    if isinstance(value, int | float) and value < rule.get("minimum", value):
        yield f"{where} is {value!r}, under {rule['minimum']}"
    if isinstance(value, list):
        for index, each in enumerate(value):
            yield from _differences(each, rule.get("items", {}), f"{where}[{index}]")
    if isinstance(value, dict):
        yield from _of_object(value, rule, where)


def _of_object(value: dict[str, object], rule: Schema, where: str) -> Iterator[str]:
    properties, further = rule.get("properties", {}), rule.get("additionalProperties", {})
    yield from (f"{where}.{name} is missing" for name in rule.get("required", []) if name not in value)
    for name, each in value.items():
        inner = properties.get(name, further)
        if inner is False:
            yield f"{where}.{name} is unknown"
        else:
            yield from _differences(each, inner, f"{where}.{name}")


def _is(value: object, name: str) -> bool:
    if name in ("number", "integer"):
        if isinstance(value, float):
            return name == "number" or value.is_integer()
        return isinstance(value, int) and not isinstance(value, bool)
    kinds: dict[str, type] = {"string": str, "boolean": bool, "array": list, "object": dict, "null": type(None)}
    return isinstance(value, kinds[name])
