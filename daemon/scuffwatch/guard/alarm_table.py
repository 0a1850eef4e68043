"""The rationalisation table: every alarm with cause, consequence, action, time to respond and priority.

Reads findings; gives the alarm each belongs to. What asks nobody to act (a stop request, the start-up, a stage, a
notice) has no alarm: it is a message (after ISA-18.2).

A trip has no on-delay. Its off-delay and the off-delay of warnings keep a condition that comes and goes from filling
the journal. Delays and times to respond are proposals of this project, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from scuffwatch.guard.causes import CONTACTOR
from scuffwatch.model.alarm import AlarmDefinition, Priority
from scuffwatch.model.finding import Finding, FindingKind, Level

ALARMS_MAX = 15
SHORT_NAME_MAX = 14
PERMIT_FAILED_TO_OPEN = "permit_failed_to_open"
RECORD = "record"
ALERT_CHANNELS = "alert_channels"
NEVER_FOLLOWS = frozenset({PERMIT_FAILED_TO_OPEN})
"""Alarms that stand on top by themselves, whatever came first."""

_TRIP_OFF_DELAY_S = 2.0
_WARNING_OFF_DELAY_S = 10.0


def _trip(
    key: str, short_name: str, respond_within_s: float, cause: str, consequence: str, action: str
) -> AlarmDefinition:
    return AlarmDefinition(
        key, short_name, Priority.TRIP, True, cause, consequence, action, respond_within_s, 0.0, _TRIP_OFF_DELAY_S
    )


def _warning(
    key: str, short_name: str, respond_within_s: float, cause: str, consequence: str, action: str
) -> AlarmDefinition:
    return AlarmDefinition(
        key,
        short_name,
        Priority.WARNING,
        False,
        cause,
        consequence,
        action,
        respond_within_s,
        0.0,
        _WARNING_OFF_DELAY_S,
    )


ALARMS = (
    _trip(
        PERMIT_FAILED_TO_OPEN,
        "Failed to open",
        10.0,
        "The contactor reads closed although the permit has been withdrawn.",
        "The motor may go on running; this program cannot stop it.",
        "Press the emergency stop, switch off at the mains switch, have contactor and permit relay repaired.",
    ),
    _trip(
        "scuffing",
        "Scuffing onset",
        120.0,
        "Friction has risen sharply and does not come back, with a second kind of evidence.",
        "Permit withdrawn. Going on would weld ring and pin and stall the motor.",
        "Let the ring stop. Lift the weights. Find the cause, then reset at the rig.",
    ),
    _trip(
        "over_limit",
        "Over limit",
        120.0,
        "Friction coefficient, friction force or motor current has passed its trip limit.",
        "Permit withdrawn. Going on would overload contact, lever or motor.",
        "Let the ring stop. Lift the weights. Look at the contact, then reset at the rig.",
    ),
    _trip(
        "stall",
        "Stall",
        60.0,
        "The motor is held still under current.",
        "Permit withdrawn. A motor held under current burns out.",
        "Lift the weights. Turn the ring by hand with the mains off; look for seizure, let the motor cool.",
    ),
    _trip(
        "jam",
        "Jam",
        60.0,
        "The ring was stopped from outside the contact.",
        "Permit withdrawn. The drive would be damaged if forced.",
        "Switch off at the mains switch. Take out what blocks the drive. Turn the ring by hand before reset.",
    ),
    _trip(
        "overheat",
        "Too hot",
        60.0,
        "Pin or bath has passed its temperature limit, or would pass it before it could be stopped.",
        "Permit withdrawn, bath heater off. Hot oil can smoke and catch fire.",
        "Do not touch. Leave the extraction on. Wait until it has cooled, find the cause, then reset at the rig.",
    ),
    _trip(
        "sensor_fault",
        "Sensor fault",
        300.0,
        "A channel the trips depend on gives no valid value.",
        "Permit withdrawn: the rig cannot be watched without it.",
        "Look at the sensor and cable the sentence names. Check its reading at rest, then reset at the rig.",
    ),
    _trip(
        "rig_box",
        "Rig box",
        120.0,
        "The rig box has fallen silent, or has latched by itself.",
        "Permit lapsed or withdrawn. The screen may not show what the rig does.",
        "Look at the rig. Check supply and cable of the rig box and the cause the sentence names.",
    ),
    _trip(
        "interlock",
        "Interlock open",
        120.0,
        "Guard, emergency stop, extraction or the motor's supply is open.",
        "Permit withdrawn until it is closed and reset.",
        "Look at the rig and into the danger zone. Close or release what is open, then reset at the rig.",
    ),
    _trip(
        "unexpected_start",
        "Start at reset",
        60.0,
        "The ring turned at once after reset, without a person starting it.",
        "Permit withdrawn. The starter does not hold itself off: the next reset would start the motor again.",
        "Keep clear of the ring. Switch off at the mains switch and have the starter repaired.",
    ),
    _trip(
        "internal_fault",
        "Program fault",
        300.0,
        "This program has broken a rule of its own.",
        "Permit withdrawn or lapsed; the record says where.",
        "Leave the rig stopped. Restart the program; if it happens again, send the trip record to its maintainer.",
    ),
    _warning(
        "near_limit",
        "Near a limit",
        60.0,
        "Friction rises or bursts, or a value has passed its warning limit.",
        "A trip may follow; scuffing can take less than a second.",
        "Stay near. Do not add weight. Unload if it goes on rising.",
    ),
    _warning(
        "channel_lost",
        "Channel lost",
        600.0,
        "A channel that only warns gives no valid value, or the rig box or motor supply reports trouble.",
        "The rig still trips, but sees less; the run may not be comparable.",
        "Read which one the sentence names. Mend it at the next stop, before the next run.",
    ),
    _warning(
        RECORD,
        "Not recorded",
        300.0,
        "The recorder has stopped, the disk is nearly full, or it does not write.",
        "What happens now may be lost; no new run opens.",
        "Make room or change the disk. End the run by plan if its record matters.",
    ),
    AlarmDefinition(
        ALERT_CHANNELS,
        "Alerts silent",
        Priority.NOTICE,
        False,
        "Mail, chat, phone or broker cannot be reached, or has not confirmed its last test.",
        "Nobody away from the rig is called.",
        "Tell those on call. Test the alert channel again when the network is back.",
        28_800.0,
        60.0,
        60.0,
    ),
)

_KEYS_OF_KIND = {
    FindingKind.SCUFFING_ONSET: ("near_limit", "scuffing"),
    FindingKind.FRICTION_LIMIT: ("near_limit", "over_limit"),
    FindingKind.STICK_SLIP: ("near_limit", "over_limit"),
    FindingKind.OVERLOAD: ("near_limit", "over_limit"),
    FindingKind.STALL: ("near_limit", "stall"),
    FindingKind.JAM: ("near_limit", "jam"),
    FindingKind.OVERHEAT: ("near_limit", "overheat"),
    FindingKind.SENSOR_FAULT: ("channel_lost", "sensor_fault"),
    FindingKind.SPEED_SENSOR_LOST: ("channel_lost", "sensor_fault"),
    FindingKind.MOTOR_SUPPLY_LOST: ("channel_lost", "interlock"),
    FindingKind.LINK_LOST: ("channel_lost", "rig_box"),
    FindingKind.RIG_BOX: ("channel_lost", "rig_box"),
    FindingKind.INTERLOCK: ("near_limit", "interlock"),
    FindingKind.UNEXPECTED_START: ("near_limit", "unexpected_start"),
    FindingKind.INTERNAL_FAULT: (RECORD, "internal_fault"),
}
MESSAGES_ONLY = frozenset({FindingKind.STAGE, FindingKind.STOP_REQUEST, FindingKind.START_UP})
"""Kinds nobody has to answer: they are shown and recorded, never annunciated."""

KEY_OF = {
    (kind, level): key
    for kind, keys in _KEYS_OF_KIND.items()
    for level, key in zip((Level.WARN, Level.TRIP), keys, strict=True)
}


@dataclass(frozen=True, slots=True)
class Condition:
    """Why an alarm's condition is true.

    Attributes:
        says: one sentence.
        t_rig_s: node time of the evidence, s; NaN where the node has no part in it.
    """

    says: str
    t_rig_s: float


def alarm_key_of(finding: Finding) -> str:
    """Give the key of the alarm a finding belongs to; empty where it is a message only."""
    if finding.kind is FindingKind.RIG_BOX and CONTACTOR in finding.channels:
        return PERMIT_FAILED_TO_OPEN
    return KEY_OF.get((finding.kind, finding.level), "")


def conditions_of(findings: Iterable[Finding]) -> dict[str, Condition]:
    """Give the alarms whose condition is true for these findings, each with its earliest sentence.

    Args:
        findings: new and standing ones, in any order.
    """
    conditions: dict[str, Condition] = {}
    for finding in findings:
        key = alarm_key_of(finding)
        if key and (key not in conditions or finding.t_rig_s < conditions[key].t_rig_s):
            conditions[key] = Condition(finding.says, finding.t_rig_s)
    return conditions
