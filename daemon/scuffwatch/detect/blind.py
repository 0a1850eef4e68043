"""What cannot be seen: kinds of finding for which no channel speaks now.

Reads which channels are there and how fast they come, gives kinds.
"""

from collections.abc import Set

from scuffwatch.model.channel import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SOUND_LEVEL,
)
from scuffwatch.model.finding import FindingKind

SLOW_S = 0.5
"""A motor current that comes more rarely shows no stall; source: 64 % hits at 46 % false calls at 1 Hz, own trial."""


def blind_to(
    good: Set[str], duration_s: float, has_heat_limit: bool, *, knows_held_current: bool = False
) -> tuple[FindingKind, ...]:
    """Give the kinds that cannot be found.

    Args:
        good: channels that give values to be believed.
        duration_s: length of a slice, s.
        has_heat_limit: whether a temperature has a limit.
        knows_held_current: whether the last start or the rig file has shown what the motor draws when it is held.
    """
    found = []
    if not good & {FRICTION_FORCE, MOTOR_CURRENT}:
        found.append(FindingKind.SCUFFING_ONSET)
    elif FRICTION_FORCE not in good and NORMAL_LOAD not in good:
        found.append(FindingKind.SCUFFING_ONSET)  # a current alone cannot tell scuffing from a weight
    elif not good & {NORMAL_LOAD, MOTOR_CURRENT} and not {SOUND_LEVEL, PIN_TEMPERATURE} <= good:
        found.append(FindingKind.SCUFFING_ONSET)  # nor can a friction force alone
    # A current alone may be a weight's: it tells a held ring only by what the motor draws then.
    is_alone = not (good & {RING_SPEED, FRICTION_FORCE, NORMAL_LOAD} or knows_held_current)
    if not good & {RING_SPEED, MOTOR_CURRENT} or (RING_SPEED not in good and duration_s > SLOW_S) or is_alone:
        found += [FindingKind.STALL, FindingKind.JAM]
    elif MOTOR_CURRENT not in good:
        found.append(FindingKind.JAM)  # a ring that is held from outside looks like one that was switched off
    if not (good & {PIN_TEMPERATURE, BATH_TEMPERATURE} and has_heat_limit):
        found.append(FindingKind.OVERHEAT)
    return tuple(found)
