"""What was seen in a run: each finding with its evidence against its limits, over time, and what did not speak.

Reads the events of a record, gives plain dictionaries. Knows no detector: whatever evidence a finding brings is shown,
under the kind of evidence its name belongs to.
"""

import math
import re
from collections.abc import Iterable, Sequence
from typing import Any

from scuffboard import run_course, run_plot
from scuffboard import run_words as words
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE, SOUND_LEVEL
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.finding import FindingKind

Json = dict[str, Any]

SHOWN_MOST = 40
RIVALS_BACK_S = 10.0
BAR_LIMITS = 2.0
"""A bar reaches as far as twice the limit; beyond that it is cut off and the words tell."""
MARKS = {"trip": "T", "warn": "W", "notice": "N"}
OTHER = "further"
KINDS: dict[str, tuple[str, tuple[str, ...], tuple[str, ...]]] = {
    # kind: words, evidence that belongs to it, channels that can give it
    "mechanical": (
        "Mechanical",
        (
            "friction_rise_ratio",
            "torque_rise_ratio",
            "friction_beyond_range_s",
            "burst_count",
            "once_per_turn_ratio",
            "friction_coefficient",
            FRICTION_FORCE,
        ),
        (FRICTION_FORCE, MOTOR_CURRENT),
    ),
    "acoustic": ("Acoustic", ("sound_change_db", SOUND_LEVEL), (SOUND_LEVEL,)),
    "variability": ("Variability", ("unrest_ratio",), (FRICTION_FORCE, MOTOR_CURRENT)),
    "thermal": ("Thermal", ("pin_heating_k_s", PIN_TEMPERATURE, "bath_temperature_degc"), (PIN_TEMPERATURE,)),
    OTHER: ("Further", (), ()),
}
LABELS = {
    "friction_rise_ratio": "Friction against usual",
    "torque_rise_ratio": "Motor torque current against usual",
    "friction_beyond_range_s": "Friction beyond its range",
    "burst_count": "Short friction bursts",
    "once_per_turn_ratio": "Swing once a turn against usual",
    "sound_change_db": "Change of sound level",
    "unrest_ratio": "Unrest of friction against usual",
    "pin_heating_k_s": "Heating of the pin",
}
FROM_USUAL = frozenset({"friction_rise_ratio", "torque_rise_ratio", "once_per_turn_ratio", "unrest_ratio"})
"""Ratios to usual: 1 is as usual."""
RIVALS = {
    FindingKind.STALL: "stall",
    FindingKind.JAM: "jam",
    FindingKind.OVERHEAT: "overheating",
    FindingKind.SENSOR_FAULT: "sensor fault",
    FindingKind.MOTOR_SUPPLY_LOST: "loss of the motor's supply",
    FindingKind.STICK_SLIP: "stick-slip",
}
AT_THE_CONTACT = frozenset(
    kind.value for kind in (FindingKind.SCUFFING_ONSET, FindingKind.FRICTION_LIMIT, FindingKind.OVERLOAD)
)
_UNIT = re.compile(r"_(?:ratio|count|degc|rpm|hz|db|(?:m|k|db)_s|n|a|s|mm|mm3|mpa)$")


def label_of(name: str) -> str:
    """Give the name of a piece of evidence in words; a name nobody knows is taken apart."""
    if name in LABELS:
        return LABELS[name]
    if name in run_plot.LABELS:
        return run_plot.LABELS[name]
    return _UNIT.sub("", name).replace("_", " ").strip().capitalize()


def kind_of(name: str) -> str:
    """Give the kind of evidence a name belongs to, a key of `KINDS`."""
    return next((kind for kind, (_, names, _) in KINDS.items() if name in names), OTHER)


def found(events: Iterable[Event]) -> list[Json]:
    """Give every finding with evidence, in order of node time: of detectors, and of trips that no detector made."""
    made: dict[tuple[str, float], Json] = {}
    for event in events:
        raw = event.data if event.kind is EventKind.FINDING else event.data.get("finding")
        if event.kind not in (EventKind.FINDING, EventKind.TRIPPED) or not isinstance(raw, dict):
            continue
        t_s = raw.get("t_rig_s")
        if isinstance(t_s, int | float) and raw.get("level") in MARKS:
            made.setdefault((str(raw.get("kind")), float(t_s)), {**raw, "t_wall_utc_s": event.t_wall_utc_s})
    return sorted(made.values(), key=lambda raw: float(raw["t_rig_s"]))


def item_view(raw: Json) -> Json:
    """Give one piece of evidence: value, limit and how many times the limit; a bar of at most `BAR_LIMITS` limits."""
    value, limit = number(raw.get("value")), number(raw.get("limit"))
    unit, name = str(raw.get("unit") or ""), str(raw.get("name") or "")
    with_unit = unit if unit or not name.endswith("_ratio") else "×"
    from_usual = name in FROM_USUAL
    share = share_of(value, limit, from_usual)
    return {
        "name": name,
        "label": label_of(name),
        "kind": kind_of(name),
        "value": f"{short(value)}\u00a0{with_unit}".strip(),
        "limit": f"{short(limit)}\u00a0{with_unit}".strip() if math.isfinite(limit) else words.NOTHING,
        "share": round(share, 3) if math.isfinite(share) else None,
        "bar": round(100.0 * min(share, BAR_LIMITS), 1) if math.isfinite(share) else 0.0,
        "times": f"{share:.2f}\u00a0× {'the rise' if from_usual else 'limit'}" if math.isfinite(share) else "no limit",
    }


def share_of(value: float, limit: float, from_usual: bool) -> float:
    """Give how many times its limit a value is; of a ratio to usual its logarithm, so that usual is 0. NaN for none."""
    if not math.isfinite(value) or not math.isfinite(limit) or not limit:
        return math.nan
    if not from_usual:
        return abs(value / limit)
    return max(0.0, math.log(value) / math.log(limit)) if value > 0.0 and limit > 1.0 else math.nan


def number(value: object) -> float:
    """Give a JSON number, NaN where there is none."""
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else math.nan


def short(value: float) -> str:
    """Give a number with three digits that count, and a true minus."""
    if not math.isfinite(value):
        return words.NOTHING
    digits = max(0, 2 - math.floor(math.log10(abs(value)))) if value else 0
    return words.fixed(value, min(digits, 4))


def silent_words(raw: Json, items: Sequence[Json], channels: frozenset[str]) -> list[str]:
    """Give, for scuffing, which kinds are not among the evidence: they did not speak, or have no channel to."""
    if raw.get("kind") != FindingKind.SCUFFING_ONSET.value:
        return []
    spoke = {item["kind"] for item in items}
    made = []
    for kind, (label, _, sources) in KINDS.items():
        if kind not in spoke and sources:
            made.append(f"{label}: {'did not speak' if channels & set(sources) else 'no channel, blind to it'}")
    return made


def rival_words(raw: Json, all_found: Sequence[Json]) -> str:
    """Give, for what is seen at the contact, which other causes had not been found in the seconds before."""
    if raw.get("kind") not in AT_THE_CONTACT or raw.get("level") == "notice":
        return ""
    t_s = float(raw["t_rig_s"])
    near = {str(f.get("kind")) for f in all_found if t_s - RIVALS_BACK_S <= float(f["t_rig_s"]) <= t_s}
    absent = [label for kind, label in RIVALS.items() if kind.value not in near]
    return f"Not found in the {RIVALS_BACK_S:.0f}\u00a0s before: {', '.join(absent)}." if absent else ""


def view(events: Iterable[Event], channels: Iterable[str], t0_s: float, zone_s: float) -> list[Json]:
    """Give every finding as the page lists it, in order of time."""
    fitted, rows = frozenset(channels), found(events)
    made = []
    for raw in rows:
        items = [item_view(item) for item in raw.get("evidence") or () if isinstance(item, dict)]
        made.append(
            {
                "t_s": float(raw["t_rig_s"]),
                "into": words.m_ss(float(raw["t_rig_s"]) - t0_s),
                "at": f"{words.local(float(raw['t_wall_utc_s']), zone_s):%H:%M:%S}",
                "mark": MARKS[str(raw["level"])],
                "says": str(raw.get("says") or ""),
                "items": items,
                "silent": silent_words(raw, items, fitted),
                "rivals": rival_words(raw, rows),
                "course": run_course.points_of(raw.get("course")),
            }
        )
    return made


def plot_rows(seen: Sequence[Json]) -> list[Json]:
    """Give one plot row for each kind of evidence: at every finding the largest share of its limit, and its course."""
    made = []
    courses = run_course.merged([row["course"] for row in seen])
    for kind, (label, _, _) in KINDS.items():
        points = []
        for row in seen:
            shares = [item["share"] for item in row["items"] if item["kind"] == kind and item["share"] is not None]
            if shares:
                points.append([row["t_s"], max(shares), row["mark"]])
        lines = [{"label": label_of(n), "points": line} for n, line in courses.items() if kind_of(n) == kind]
        if points or lines:
            top = max(BAR_LIMITS, *(share for _, share, _ in points), *run_course.heights(lines))
            made.append(
                {
                    "name": f"evidence {kind}", "label": f"{label} evidence, × limit", "points": points,
                    "lines": lines, "unit": "", "digits": 2, "low": 0.0, "high": math.ceil(top), "warn": None,
                    "trip": 1.0,
                }
            )  # fmt: skip
    return made
