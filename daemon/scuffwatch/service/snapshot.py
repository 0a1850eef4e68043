"""The live picture of the core, one JSON line ten times a second.

Reads the core and the recorder's status, gives bytes for `live.sock`. Says what is not known: a value without a good
number is null, and nothing is kept alive after the link has gone.
"""

import math
import time

from scuffwatch.control.snapshot import SNAPSHOT_VERSION, encode
from scuffwatch.guard.alarm_table import alarm_key_of
from scuffwatch.guard.values import PermitState
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Quality, unit_of
from scuffwatch.model.event import JsonValue
from scuffwatch.model.finding import Finding
from scuffwatch.service.causes import NODE_CAUSE_WORDS
from scuffwatch.service.core import Core, Now
from scuffwatch.service.jsons import finding_json, header_json, near_json, number
from scuffwatch.service.params import axis_of
from scuffwatch.store.recorder import RecorderStatus
from scuffwatch.wire.protocol import Inputs


def build(core: Core, store: RecorderStatus, now: Now) -> bytes:
    """Give the snapshot line, line end included."""
    picture: dict[str, JsonValue] = {
        "v": SNAPSHOT_VERSION,
        "seq": core.next_snapshot(),
        "rig": core.settings.rig.name,
        "simulated": core.settings.rig.simulated,
        "t_wall_utc_s": round(now.t_wall_utc_s, 3),
        "t_rig_s": number(core.t_rig_s),
        "utc_offset_s": _utc_offset_s(now.t_wall_utc_s),
        "core_started_utc_s": number(core.started_utc_s, 3),
        "permit": _permit(core, store, now),
        "link": _link(core, now),
        "interlocks": _interlocks(core),
        "alarms": core.alarms.shown(core.label_utc_s),
        "run": _run(core, now),
        "channels": {name: _channel(core, name) for name in core.shown_channels()},
        "nearness": [near_json(near, core.link.up) for near in core.chain.bank.nearness],
        "loop": core.loop_figures(),
        "store": _store(core, store),
    }
    return encode(picture, now.t_mono_s)


def _utc_offset_s(t_wall_utc_s: float) -> int:
    return time.localtime(t_wall_utc_s).tm_gmtoff


def _permit(core: Core, store: RecorderStatus, now: Now) -> dict[str, JsonValue]:
    guard = core.guard
    status = core.link.status
    tripped = guard.permit is PermitState.TRIPPED
    return {
        "state": guard.permit.value,
        "since_utc_s": number(core.label_utc_s(guard.since_t_rig_s), 3),
        "acknowledged": guard.acknowledged,
        "first_out": _finding(core, guard.first_out) if tripped else None,
        "followers": [_finding(core, finding) for finding in guard.followers] if tripped else [],
        "needs": [{"key": need.key, "says": need.says, "met": need.met} for need in core.decision.needs],
        "recorded": store.recorded_event_sequence >= core.permit_event_sequence,
        "lease_left_ms": status.lease_left_ms if status and core.link.up else 0,
    }


def _finding(core: Core, finding: Finding) -> JsonValue:
    label = number(core.label_utc_s(finding.t_rig_s), 3)
    return {**finding_json(finding), "t_wall_utc_s": label, "alarm": alarm_key_of(finding)}


def _link(core: Core, now: Now) -> dict[str, JsonValue]:
    link, status = core.link, core.link.status
    return {
        "up": link.up,
        "identity": link.hello.identity if link.hello else "",
        "age_s": number(link.age_s(now.t_mono_s), 3),
        "frames_lost": core.chain.frames_lost,
        "frame_errors": core.chain.frame_errors,
        "node_permit": status.permit.name.lower() if status and link.up else None,
        "node_cause": NODE_CAUSE_WORDS[status.cause] if status and link.up else None,
        "limits_confirmed": link.limits_confirmed and link.up,
    }


def _interlocks(core: Core) -> list[JsonValue]:
    status = core.link.status if core.link.up else None
    rows: list[tuple[str, str, Inputs]] = [(lock.key, lock.name, lock.bit) for lock in core.inputs.interlocks]
    rows.append(("contactor", "Contactor", Inputs.CONTACTOR_CLOSED))
    required = {lock.key for lock in core.inputs.interlocks if lock.required}
    return [
        {
            "key": key,
            "name": name,
            "state": _input_state(status.inputs if status else None, bit),
            "required": key in required,
        }
        for key, name, bit in rows
    ]


def _input_state(inputs: Inputs | None, bit: Inputs) -> str:
    if inputs is None:
        return "unknown"
    return "closed" if inputs & bit else "open"


def _run(core: Core, now: Now) -> JsonValue:
    run = core.runs.current
    if run is None:
        return None
    now_stage, t_rig_s = core.chain.bank.stage, core.t_rig_s
    number_now, began_s = now_stage.number, now_stage.t_start_s
    if run.first_out is not None:  # the run stands where it tripped, whatever is done with the weights
        number_now, began_s, t_rig_s = run.stage, run.stage_t_start_s, run.first_out.t_rig_s
    left_s = core.runs.resume_left_s(now.t_mono_s)
    return {
        **header_json(run.header),
        "opened_utc_s": number(run.opened_utc_s, 3),
        "stage": number_now,
        "stage_elapsed_s": number(t_rig_s - began_s, 2),
        "t_stage_start_rig_s": number(began_s),
        "interrupted": run.interrupted,
        "resume_left_s": number(left_s, 1),
    }


def _channel(core: Core, name: str) -> dict[str, JsonValue]:
    axis = axis_of(core.settings, name, core.oil_limits)
    piece = core.last_slice if core.link.up else None
    seen = piece.channels.get(name) if piece else None
    value, quality, reason, age_s = _standing(seen)
    return {
        "value": value,
        "unit": unit_of(name),
        "quality": quality,
        "reason": reason,
        "age_s": age_s,
        "warn": axis.warn,
        "trip": axis.trip,
        "low": axis.low,
        "high": axis.high,
        "digits": axis.decimals,
        "label": axis.label,
        "derived": axis.derived,
    }


def _standing(seen: ChannelSlice | None) -> tuple[float | None, str, str, float | None]:
    if seen is None:
        return None, "bad", "never received", None
    good = seen.quality is not Quality.BAD and math.isfinite(seen.mean)
    return number(seen.mean, 5) if good else None, seen.quality.name.lower(), seen.reason.value, number(seen.age_s, 3)


def _store(core: Core, store: RecorderStatus) -> dict[str, JsonValue]:
    return {
        "recording": store.writing,
        "queue_s": number(store.queue_s, 2),
        "dropped": store.dropped_items,
        "error": store.last_error,
        "free_bytes": store.free_bytes,
        "last_recorded_event": store.recorded_event_sequence,
        "last_event": core.event_sequence,
    }
