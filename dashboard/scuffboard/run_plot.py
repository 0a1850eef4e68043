"""The plots of a run: which channels can be drawn, their envelopes, their limits.

Reads an open run, gives plain dictionaries. Friction is derived where force and load were recorded; where nothing was
measured stands null, so that a line breaks there.
"""

import math
import re
import tomllib
from typing import Any

import numpy as np

from scuffwatch.model.channel import FRICTION_FORCE, NORMAL_LOAD, unit_of
from scuffwatch.model.event import GapMark
from scuffwatch.store.reader import Envelope, RunReader

Json = dict[str, Any]

DERIVED_FRICTION = "friction_coefficient"
LOAD_LEAST_N = 20.0
"""Below this load friction is not defined, where the run's settings do not say: common practice, no source."""
LABELS = {
    DERIVED_FRICTION: "Friction coefficient",
    NORMAL_LOAD: "Normal load",
    FRICTION_FORCE: "Friction force",
    "motor_current_a": "Motor current",
    "sound_level_db": "Sound level",
    "pin_temperature_degc": "Pin temperature",
    "bath_temperature_degc": "Bath temperature",
    "ring_speed_rpm": "Ring speed",
}
_LIMIT = re.compile(r"(?P<base>[a-z0-9_]+)_(?P<rank>warn|max)(?P<unit>_[a-z0-9]+)?")


def label_of(name: str) -> str:
    """Give the name of a quantity in words."""
    return LABELS.get(name, name.replace("_", " "))


def channel_names(reader: RunReader) -> tuple[str, ...]:
    """Give the channels a run can be plotted by, friction first."""
    names = {channel.name for channel in reader.channels}
    if {NORMAL_LOAD, FRICTION_FORCE} <= names:
        names.add(DERIVED_FRICTION)
    order = list(LABELS)
    return tuple(sorted(names, key=lambda n: (order.index(n) if n in order else len(order), n)))


def channel_views(reader: RunReader) -> list[Json]:
    """Give label, unit, decimals, range and limits of every channel that can be plotted."""
    ranges = {channel.name: (channel.range_low, channel.range_high) for channel in reader.channels}
    limits = limits_of(reader.settings_toml)
    return [
        {
            "name": name,
            "label": label_of(name) + (", derived" if name == DERIVED_FRICTION else ""),
            "unit": unit_of(name),
            "digits": 3 if name == DERIVED_FRICTION else 2 if name == "motor_current_a" else 1,
            "low": number_or_none(ranges.get(name, (0.0, math.nan))[0]),
            "high": number_or_none(ranges.get(name, (0.0, math.nan))[1]),
            "warn": limits.get((name, "warn")),
            "trip": limits.get((name, "max")),
        }
        for name in channel_names(reader)
    ]


def settings_of(settings_toml: str) -> Json:
    """Give the settings a run was opened with, or nothing where they cannot be read."""
    try:
        return tomllib.loads(settings_toml)
    except tomllib.TOMLDecodeError:
        return {}


def limits_of(settings_toml: str) -> dict[tuple[str, str], float]:
    """Give the limits of a run by channel and rank, `warn` or `max`, out of keys such as `pin_temperature_max_degc`."""
    found = {}
    for key, value in settings_of(settings_toml).get("limits", {}).items():
        matched = _LIMIT.fullmatch(key)
        if matched and isinstance(value, int | float):
            found[(matched["base"] + (matched["unit"] or ""), matched["rank"])] = float(value)
    return found


def number_or_none(value: float | None) -> float | None:
    """Give a finite number, or None."""
    return None if value is None or not math.isfinite(value) else float(value)


def envelope(reader: RunReader, name: str, t0_s: float, t1_s: float, points: int) -> Envelope:
    """Give low, mean and high of a channel, friction included.

    The band of friction goes from the lowest force over the highest load to the highest over the lowest: what it
    leaves out cannot have been.
    """
    if name != DERIVED_FRICTION:
        return reader.envelope(name, t0_s, t1_s, points)
    both = reader.envelopes((FRICTION_FORCE, NORMAL_LOAD), t0_s, t1_s, points)
    force, load = both[FRICTION_FORCE], both[NORMAL_LOAD]
    if not len(load.t_s):
        return Envelope(force.t_s[:0], force.low[:0], force.mean[:0], force.high[:0], force.level)
    beside = np.clip(np.searchsorted(load.t_s, force.t_s, side="right") - 1, 0, len(load.t_s) - 1)
    low, mean, high = (column[beside] for column in (load.low, load.mean, load.high))
    least_n = float(settings_of(reader.settings_toml).get("limits", {}).get("load_min_n", LOAD_LEAST_N))
    low, mean, high = (np.where(low >= least_n, column, np.nan) for column in (low, mean, high))
    return Envelope(force.t_s, force.low / high, force.mean / mean, force.high / low, force.level)


def envelope_json(made: Envelope) -> Json:
    """Give an envelope as JSON."""

    def column(values: Any) -> list[float | None]:
        return [number_or_none(float(value)) for value in values]

    return {
        "t_s": [float(t_s) for t_s in made.t_s],
        "low": column(made.low),
        "mean": column(made.mean),
        "high": column(made.high),
        "level": made.level,
    }


def gap_view(gap: GapMark, reader: RunReader) -> Json:
    """Give one gap: which channels it concerns, from when, and until when where that is known."""
    members = [channel for channel in reader.channels if channel.group == gap.group]
    known = gap.n > 0 and bool(members)
    return {
        "channels": [channel.name for channel in members],
        "t0_s": number_or_none(gap.t_rig_s),
        "t1_s": gap.t_rig_s + gap.n / members[0].rate_hz if known else None,
        "why": gap.why,
    }
