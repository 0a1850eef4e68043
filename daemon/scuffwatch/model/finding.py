"""Findings: what a detector says, at one time, with its evidence and one sentence.

Reads nothing. Detectors make findings, the guard decides on them, everybody else shows them.
"""

from dataclasses import dataclass
from enum import Enum, IntEnum


class Level(IntEnum):
    """What a finding asks for."""

    NOTICE = 0
    WARN = 1
    TRIP = 2


class FindingKind(Enum):
    """Closed set of things a detector can say."""

    SCUFFING_ONSET = "scuffing_onset"
    STALL = "stall"
    JAM = "jam"
    OVERHEAT = "overheat"
    OVERLOAD = "overload"
    FRICTION_LIMIT = "friction_limit"
    SENSOR_FAULT = "sensor_fault"
    STICK_SLIP = "stick_slip"
    STAGE = "stage"
    LINK_LOST = "link_lost"
    MOTOR_SUPPLY_LOST = "motor_supply_lost"
    SPEED_SENSOR_LOST = "speed_sensor_lost"
    UNEXPECTED_START = "unexpected_start"
    INTERLOCK = "interlock"
    STOP_REQUEST = "stop_request"
    RIG_BOX = "rig_box"
    INTERNAL_FAULT = "internal_fault"
    START_UP = "start_up"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One value against one limit.

    Attributes:
        name: quantity with its unit suffix.
        value, limit: in `unit`; `limit` is NaN where none applies.
        unit: printed unit, empty for a ratio.
    """

    name: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found, when, on which channels, and why.

    Attributes:
        kind, level: what, and what it asks for.
        t_rig_s: node time of the slice that completed the evidence, s.
        channels: names of the channels it rests on.
        evidence: values against limits, the strongest first.
        says: one sentence: what, value against limit.
    """

    kind: FindingKind
    level: Level
    t_rig_s: float
    channels: tuple[str, ...]
    evidence: tuple[Evidence, ...]
    says: str
