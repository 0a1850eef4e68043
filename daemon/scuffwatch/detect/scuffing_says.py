"""What the scuffing detector says: kinds of evidence, and its findings in words.

Reads values and limits, gives findings.
"""

import math
from collections.abc import Mapping
from enum import Enum

from scuffwatch.detect.words import number
from scuffwatch.model.channel import FRICTION_FORCE, MOTOR_CURRENT, PIN_TEMPERATURE, SOUND_LEVEL
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level


class Kind(Enum):
    """Kinds of evidence that may stand beside the mechanical one."""

    ACOUSTIC = "acoustic"
    VARIABILITY = "variability"
    THERMAL = "thermal"


_ROWS = {
    Kind.ACOUSTIC: ("sound_change_db", "sound changed by", 1, "dB", SOUND_LEVEL),
    Kind.VARIABILITY: ("unrest_ratio", "unrest ×", 1, "", ""),
    Kind.THERMAL: ("pin_heating_k_s", "pin heating", 2, "K/s", PIN_TEMPERATURE),
}


def make_finding(
    t_rig_s: float,
    level: Level,
    is_friction: bool,
    rise: float,
    limit: float,
    others: Mapping[Kind, float],
    other_limits: Mapping[Kind, float],
    bursts: float,
    bursts_limit: float,
) -> Finding:
    """Give a warning or trip.

    Args:
        t_rig_s: node time, s.
        level: of the finding.
        is_friction: whether friction speaks, else the motor's torque current.
        rise, limit: of the drag above usual, natural logarithm.
        others, other_limits: further kinds, each with the value it was seen at and its limit.
        bursts, bursts_limit: short rises of the last seconds; NaN where they are not what it rests on.
    """
    channel = FRICTION_FORCE if is_friction else MOTOR_CURRENT
    words = "friction" if is_friction else "motor torque current"
    ratio, ratio_limit = math.exp(rise), math.exp(limit)
    evidence = [Evidence("friction_rise_ratio" if is_friction else "torque_rise_ratio", ratio, ratio_limit, "")]
    cause = "Scuffing" if level is Level.TRIP else "Scuffing may begin"
    word = "limit" if level is Level.TRIP else "warning at"
    parts = [f"{words} {number(ratio, 2)} × usual, {word} {number(ratio_limit, 2)}"]
    if bursts == bursts:
        evidence.insert(0, Evidence("burst_count", bursts, bursts_limit, ""))
        parts = [f"{number(bursts, 1)} short bursts of {words} in the last seconds, {word} {number(bursts_limit, 1)}"]
    channels = [channel]
    for kind, value in sorted(others.items(), key=lambda item: -item[1] / other_limits[item[0]]):
        name, text, digits, unit, source = _ROWS[kind]
        evidence.append(Evidence(name, value, other_limits[kind], unit))
        with_unit = f"{number(value, digits)} {unit}".rstrip()
        parts.append(f"{text} {with_unit}, limit {number(other_limits[kind], digits)}")
        channels += [source] if source else []
    says = f"{cause}: {'; '.join(parts)}."
    return Finding(FindingKind.SCUFFING_ONSET, level, t_rig_s, tuple(channels), tuple(evidence), says)


def make_stick_slip(t_rig_s: float, restless: float, limit: float) -> Finding:
    """Give the notice that friction swings about an unchanged mean."""
    evidence = (Evidence("unrest_ratio", restless, limit, ""),)
    says = (
        f"Stick-slip: friction swings {number(restless, 1)} × usual about an unchanged mean, limit {number(limit, 1)}."
    )
    return Finding(FindingKind.STICK_SLIP, Level.NOTICE, t_rig_s, (FRICTION_FORCE,), evidence, says)
