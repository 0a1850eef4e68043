"""Alert rules: which root causes a picture shows, and when each message is due on each channel.

Reads pictures and settings, gives values; no clock, no I/O. One root cause makes one message: what follows a trip, or
begins within seconds of it, is told in the trip's message.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from scuffwatch.guard.alarm_cycle import STANDING, UNACKNOWLEDGED
from scuffwatch.guard.alarm_table import ALERT_CHANNELS
from scuffwatch.uplink.pictures import Picture
from scuffwatch.uplink.settings import Alerts, Channel

TOGETHER_S = 10.0
"""A warning that begins this close to a trip belongs to it."""
CORRECTED_S = 2.0
_STANDING = {state.value for state in STANDING}
_WAITING = {state.value for state in UNACKNOWLEDGED}
TRIP, WARNING, NOTICE = "T", "W", "N"


@dataclass(frozen=True, slots=True)
class Cause:
    """One root cause that stands now.

    Attributes:
        id: the same as long as it stands, another one the next time.
        priority: `T`, `W` or `N`.
        key: of its alarm.
        says: the sentence.
        acknowledged: whether somebody has answered.
        t_wall_utc_s: when it began, s UTC; NaN where that is not known.
    """

    id: str
    priority: str
    key: str
    says: str
    acknowledged: bool
    t_wall_utc_s: float


def causes_of(picture: Picture) -> tuple[Cause, ...]:
    """Give the root causes that stand, the trip first."""
    trip = _trip(picture)
    found = [] if trip is None else [trip]
    for alarm in picture["alarms"]:
        if alarm["state"] not in _STANDING or alarm["key"] == ALERT_CHANNELS or alarm.get("group"):
            continue
        if trip is not None and (alarm["key"] == trip.key or _together(alarm, picture)):
            continue
        found.append(
            Cause(
                id=f"alarm/{picture['core_started_utc_s']}/{alarm['key']}/{alarm['t_rig_s']}",
                priority=alarm["priority"],
                key=alarm["key"],
                says=alarm["says"],
                acknowledged=alarm["state"] not in _WAITING,
                t_wall_utc_s=_number(alarm["since_utc_s"]),
            )
        )
    return tuple(found)


def _trip(picture: Picture) -> Cause | None:
    """Give the trip, where its first-out asks a person to act; a stop request or the start-up does not."""
    permit = picture["permit"]
    first_out = permit["first_out"]
    if permit["state"] != "tripped" or first_out is None or not first_out.get("alarm"):
        return None
    return Cause(
        id=f"trip/{picture['core_started_utc_s']}/{first_out['t_rig_s']}",
        priority=TRIP,
        key=first_out["alarm"],
        says=first_out["says"],
        acknowledged=permit["acknowledged"],
        t_wall_utc_s=_number(permit["since_utc_s"]),
    )


def _together(alarm: Picture, picture: Picture) -> bool:
    began_s, tripped_s = _number(alarm["t_rig_s"]), _number(picture["permit"]["first_out"]["t_rig_s"])
    return alarm["priority"] != TRIP and abs(began_s - tripped_s) <= TOGETHER_S


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def known_as(cause: str, open_alerts: Iterable[str]) -> str:
    """Give the id under which a cause has been told already, else its own.

    A standing alarm that comes again is the same; so is a trip whose first-out was put right.
    """
    family, _, moment = cause.rpartition("/")
    for known in open_alerts:
        known_family, _, known_moment = known.rpartition("/")
        if known_family != family:
            continue
        if not cause.startswith("trip/") or abs(_seconds(moment) - _seconds(known_moment)) <= CORRECTED_S:
            return known
    return cause


def _seconds(text: str) -> float:
    return 0.0 if text == "None" else float(text)


def due_utc_s(channel: Channel, alerts: Alerts, priority: str, began_utc_s: float, turn: int) -> float | None:
    """Give when the message of one turn is due on a channel, s UTC.

    Args:
        channel, alerts: settings.
        priority: of the cause.
        began_utc_s: when the cause was seen, s UTC.
        turn: 0 for the first message, then the repeats.
    Returns:
        s UTC; None where this channel does not carry it.
    """
    if priority not in channel.priorities or turn > channel.repeats or (turn and not channel.repeat_s):
        return None
    return after_quiet(alerts, priority, began_utc_s + channel.after_s + turn * channel.repeat_s)


def after_quiet(alerts: Alerts, priority: str, t_utc_s: float) -> float:
    """Give the time itself, or the end of the quiet hours it falls into, s UTC. A trip knows no quiet hours."""
    if priority == TRIP or priority not in alerts.quiet_priorities:
        return t_utc_s
    local = datetime.fromtimestamp(t_utc_s).astimezone()
    for day in (-1, 0):
        begin = _at(local + timedelta(days=day), alerts.quiet_from)
        end = _at(local + timedelta(days=day), alerts.quiet_to)
        if end <= begin:
            end = _at(local + timedelta(days=day + 1), alerts.quiet_to)
        if begin <= local < end:
            return end.timestamp()
    return t_utc_s


def _at(day: datetime, clock: str) -> datetime:
    hour, minute = map(int, clock.split(":"))
    naive = datetime(day.year, day.month, day.day, hour, minute)
    return naive.astimezone()
