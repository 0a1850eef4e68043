"""Trip record: what the loop knew at a trip, and which samples belong to it.

Reads a capture, gives a row of table `trips`, and back. The samples stand in the run file like all others.
"""

import json
import zlib
from dataclasses import asdict, dataclass
from typing import Any

from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.store.items import TripCapture
from scuffwatch.store.rows import Row
from scuffwatch.store.text import clean, number, real, to_json

BEFORE_S = 60.0
AFTER_S = 30.0


@dataclass(frozen=True, slots=True)
class TripRecord:
    """One trip with its evidence.

    Attributes:
        first_out, followers: the causes.
        t_rig_s, t_mono_s, t_wall_utc_s: the three clocks, s.
        epoch, slice_index, frame_sequence: the slice it was decided on.
        t0_s, t1_s: node time of the samples that belong to it, s.
        complete: whether samples reach as far as `t1_s`.
        statuses, decisions: as `StatusSeen` and `DecisionSeen`, field by field.
        lateness_ms: lateness of the loop, slice by slice, ms.
        settings_toml: the settings in force.
    """

    first_out: Finding
    followers: tuple[Finding, ...]
    t_rig_s: float
    t_mono_s: float
    t_wall_utc_s: float
    epoch: int
    slice_index: int
    frame_sequence: int
    t0_s: float
    t1_s: float
    complete: bool
    statuses: tuple[dict[str, Any], ...]
    decisions: tuple[dict[str, Any], ...]
    lateness_ms: tuple[float, ...]
    settings_toml: str


def trip_row(capture: TripCapture, id_: int) -> Row:
    """Give the row of a trip record: its times, its sentence, and all of it as compressed JSON."""
    record = zlib.compress(to_json(asdict(capture)).encode(), 1)
    return (id_, real(capture.t_rig_s), capture.t_wall_utc_s, clean(capture.first_out.says), record)


def trip_of(record: bytes, last_t_rig_s: float) -> TripRecord:
    """Give the trip of a row; `last_t_rig_s` is node time of the last sample in the file, s."""
    found = json.loads(zlib.decompress(record))
    t_rig_s = number(found["t_rig_s"])
    return TripRecord(
        first_out=_finding(found["first_out"]),
        followers=tuple(_finding(entry) for entry in found["followers"]),
        t_rig_s=t_rig_s,
        t_mono_s=found["t_mono_s"],
        t_wall_utc_s=found["t_wall_utc_s"],
        epoch=found["epoch"],
        slice_index=found["slice_index"],
        frame_sequence=found["frame_sequence"],
        t0_s=t_rig_s - BEFORE_S,
        t1_s=t_rig_s + AFTER_S,
        complete=last_t_rig_s >= t_rig_s + AFTER_S - 0.1,
        statuses=tuple(found["statuses"]),
        decisions=tuple(found["decisions"]),
        lateness_ms=tuple(number(entry) for entry in found["lateness_ms"]),
        settings_toml=found["settings_toml"],
    )


def _finding(found: dict[str, Any]) -> Finding:
    return Finding(
        kind=FindingKind(found["kind"]),
        level=Level(found["level"]),
        t_rig_s=number(found["t_rig_s"]),
        channels=tuple(found["channels"]),
        evidence=tuple(
            Evidence(entry["name"], number(entry["value"]), number(entry["limit"]), entry["unit"])
            for entry in found["evidence"]
        ),
        says=found["says"],
    )
