"""Alert text: what a person reads on the phone at 3 a.m.: what happened, values against limits, what to do first.

Reads a cause and a picture, gives title and body. Plain text, no markup.
"""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from scuffwatch.detect.words import number, words_of
from scuffwatch.guard.alarm_table import ALARMS
from scuffwatch.uplink.alert_rules import Cause
from scuffwatch.uplink.pictures import Picture

WORD = {"T": "TRIP", "W": "Warning", "N": "Notice"}
COURTESY = "This message is a courtesy, not protection. The screen may be wrong; look at the rig."
_DEFINED = {alarm.key: alarm for alarm in ALARMS}


@dataclass(frozen=True, slots=True)
class Text:
    """Title and body of a message."""

    title: str
    body: str


def moment(t_utc_s: float) -> str:
    """Give a time with its offset, local."""
    return datetime.fromtimestamp(t_utc_s).astimezone().strftime("%Y-%m-%d %H:%M:%S %z")


def of_cause(cause: Cause, picture: Picture, recorded: bool) -> Text:
    """Give the message of a root cause.

    Args:
        cause: what stands.
        picture: what the rig shows now.
        recorded: whether the trip is committed to the record.
    """
    rig = picture["rig"] + (" (simulated)" if picture["simulated"] else "")
    lines = [_run_line(picture), "", cause.says]
    if math.isfinite(cause.t_wall_utc_s):
        lines.append(f"Since {moment(cause.t_wall_utc_s)}.")
    if cause.priority == "T":
        lines.append("Permit withdrawn; nothing but the reset at the rig can give it back.")
    lines += ["", "Values against limits:", *_evidence(picture, cause), *_channels(picture)]
    followers = [finding["says"] for finding in picture["permit"]["followers"]] if cause.priority == "T" else []
    lines += ["", "Then followed:", *(f"  {says}" for says in followers)] if followers else []
    lines += ["", *_what_to_do(cause), "", _recorded_line(picture, recorded), COURTESY]
    return Text(f"{rig}: {WORD[cause.priority]}: {cause.says}", "\n".join(lines))


def _run_line(picture: Picture) -> str:
    run = picture["run"]
    if run is None:
        return "No run is open."
    oil = [run["lubricant"]] if run["lubricant"] else []
    if run["treat_rate_percent"] is not None:
        oil.append(f"{run['treat_rate_percent']:g} % by volume")
    planned = f" of {len(run['loads_n'])}" if run["loads_n"] else ""
    return f"Run {run['name']} ({', '.join([run['kind'], *oil])}), stage {run['stage']}{planned}."


def _evidence(picture: Picture, cause: Cause) -> list[str]:
    first_out = picture["permit"]["first_out"]
    if cause.priority != "T" or first_out is None:
        return []
    return [f"  {_one(entry)} at the trip" for entry in first_out["evidence"]]


def _one(entry: dict[str, Any]) -> str:
    unit = f" {entry['unit']}" if entry["unit"] else ""
    value = "not known" if entry["value"] is None else f"{entry['value']:.4g}{unit}"
    limit = "" if entry["limit"] is None else f", limit {entry['limit']:.4g}{unit}"
    return f"{words_of(entry['name'])} {value}{limit}"


def _channels(picture: Picture) -> list[str]:
    lines = []
    for name, channel in picture["channels"].items():
        value, unit = channel["value"], f" {channel['unit']}" if channel["unit"] else ""
        shown = f"bad ({channel['reason']})" if value is None else f"{number(value, channel['digits'])}{unit}"
        limit = "" if channel["trip"] is None else f", trip limit {number(channel['trip'], channel['digits'])}{unit}"
        lines.append(f"  {words_of(name)} {shown}{limit}, now")
    return lines


def _what_to_do(cause: Cause) -> list[str]:
    known = _DEFINED.get(cause.key)
    if known is None:
        return ["What to do first: look at the rig."]
    within = (
        f"{known.respond_within_s / 60:.0f} min" if known.respond_within_s >= 60 else f"{known.respond_within_s:.0f} s"
    )
    return [f"What to do first: {known.action}", f"If nobody does: {known.consequence}", f"Respond within {within}."]


def _recorded_line(picture: Picture, recorded: bool) -> str:
    error = picture["store"]["error"]
    if recorded and not error:
        return "Recorded: yes."
    return f"NOT RECORDED{f': {error}' if error else ' yet'}"


def core_silent(rig: str, silence_s: float, picture: Picture) -> Text:
    """Give the message of a core that has stopped to speak."""
    state = picture["permit"]["state"]
    lines = [
        _run_line(picture),
        "",
        f"The core has said nothing for {silence_s:.0f} s. It may be dead, frozen, or the computer overloaded.",
        f"The permit was {state} when it last spoke. It is a lease: without the core it lapses within 0.25 s.",
        "",
        "Last values:",
        *_channels(picture),
        "",
        "What to do first: look at the rig; see that the motor stands. Then look at the computer.",
        COURTESY,
    ]
    return Text(f"{rig}: the core is silent", "\n".join(lines))


def core_absent(rig: str, absence_s: float) -> Text:
    """Give the message of a core that has not come up."""
    lines = [
        f"No core has spoken for {absence_s:.0f} s since the uplink started, and the last one did not stop by order.",
        "The rig is not watched. Its motor has no permit.",
        "",
        "What to do first: look at the computer at the rig when convenient; nothing can start without it.",
        COURTESY,
    ]
    return Text(f"{rig}: the core has not come up", "\n".join(lines))


@dataclass(frozen=True, slots=True)
class PowerCut:
    """What is known after a run was ended by power loss.

    Attributes:
        run: its name.
        ended_utc_s: label of its last sample, s UTC.
        rebooted: whether the computer itself was restarted.
        last, now: pin and bath temperature by channel name, then and now, °C; NaN where not known.
    """

    run: str
    ended_utc_s: float
    rebooted: bool
    last: dict[str, float]
    now: dict[str, float]


def after_power_cut(rig: str, cut: PowerCut, hot_degc: float) -> Text:
    """Give the one message after a power cut: what ended, when, how hot, and whether anyone need come."""
    why = "The computer was without power, or was restarted" if cut.rebooted else "The core ended without a word"
    lines = [f"{why}. Run {cut.run} was ended by it, last sample {moment(cut.ended_utc_s)}.", ""]
    for name in sorted(cut.last | cut.now):
        then, now = (number(side.get(name, math.nan), 1) for side in (cut.last, cut.now))
        lines.append(f"  {words_of(name)} {then} °C then, {now} °C now")
    hot = [name for name, value in cut.now.items() if value > hot_degc]
    unknown = [
        name for name, value in cut.last.items() if value > hot_degc and not math.isfinite(cut.now.get(name, math.nan))
    ]
    lines += ["", "The motor cannot start: the permit is off until somebody resets it at the rig."]
    if hot:
        lines.append(
            f"Somebody should come: {', '.join(map(words_of, hot))} above {hot_degc:g} °C. See to the extraction."
        )
    elif unknown:
        lines.append(f"Somebody should come: {', '.join(map(words_of, unknown))} was hot and cannot be read now.")
    else:
        lines.append(
            "Nobody need come for this tonight. The run cannot be resumed; it is recorded up to its last second."
        )
    return Text(f"{rig}: back after a power cut", "\n".join([*lines, COURTESY]))


def trial(rig: str, channel: str) -> Text:
    """Give the message of `scuffwatch alert --test`."""
    return Text(f"{rig}: test of alert channel {channel}", f"This is a test. Nothing has happened.\n{COURTESY}")
