"""Values as JSON: the one place where findings, stages and headers become dictionaries and text.

Reads model values, gives JSON values. A number that is not known becomes null, never 0.
"""

import math
from dataclasses import asdict

from scuffwatch.detect.nearness import Near
from scuffwatch.model.event import JsonValue
from scuffwatch.model.finding import Finding
from scuffwatch.model.run import RunHeader, RunResult, StageRecord


def number(value: float, decimals: int = 6) -> float | None:
    """Give a rounded number, or None where it is not finite."""
    return round(value, decimals) if math.isfinite(value) else None


def finding_json(finding: Finding) -> dict[str, JsonValue]:
    """Give a finding as events, snapshots and replay print it."""
    return {
        "kind": finding.kind.value,
        "level": finding.level.name.lower(),
        "t_rig_s": number(finding.t_rig_s),
        "channels": list(finding.channels),
        "evidence": [
            {"name": e.name, "value": number(e.value), "limit": number(e.limit), "unit": e.unit}
            for e in finding.evidence
        ],
        "says": finding.says,
    }


def near_json(near: Near, link_up: bool) -> dict[str, JsonValue]:
    """Give how near one kind of evidence is to its limit; nothing is known of it any more once the link has gone."""
    return {
        "name": near.name,
        "value": number(near.value, 3) if link_up else None,
        "limit": number(near.limit, 3),
        "unit": near.unit,
        "share": number(near.share, 3) if link_up else None,
        "state": near.known.value if link_up else "stale",
    }


def stage_json(stage: StageRecord) -> dict[str, JsonValue]:
    """Give one stage; what was not measured is null."""
    raw = asdict(stage)
    return {key: number(value, 4) if isinstance(value, float) else value for key, value in raw.items()}


def header_json(header: RunHeader) -> dict[str, JsonValue]:
    """Give a run header."""
    return {
        "name": header.name,
        "kind": header.kind.value,
        "lubricant": header.lubricant,
        "treat_rate_percent": number(header.treat_rate_percent),
        "bath_volume_ml": number(header.bath_volume_ml),
        "ring": header.ring,
        "pin": header.pin,
        "loads_n": [number(load) for load in header.loads_n],
        "dwell_s": number(header.dwell_s),
        "simulated": header.simulated,
    }


def result_json(result: RunResult) -> dict[str, JsonValue]:
    """Give how a run ended."""
    return {
        "outcome": result.outcome.value,
        "first_out": result.first_out,
        "t_end_s": number(result.t_end_s),
        "interrupted": result.interrupted,
        "stages": [stage_json(stage) for stage in result.stages],
    }
