"""Puts healthy things into a plan that the closed set of `Kind` has no name for.

Reads a `Draft`, adds marks. They are small or slow, and none of them is told in the truth.
"""

from world_b.values import DriveKind

from world_n.draft import Draft
from world_n.draws import Rng, chance, log_between
from world_n.names import Oddity
from world_n.scene import Rig

WHOLE = (
    Oddity.AMPLIFIER_WARM_UP,
    Oddity.EVENING_SAG,
    Oddity.FAN_HEATER,
    Oddity.COMPRESSOR,
    Oddity.OIL_LEVEL,
    Oddity.BELT_WARMS,
    Oddity.TRACK_POLISHED,
)
PLACED_S = {
    Oddity.LEANING: (2.0, 15.0),
    Oddity.LIGHT: (30.0, 200.0),
    Oddity.PHONE: (4.0, 20.0),
    Oddity.LEAD_NUDGED: (5.0, 10.0),
    Oddity.WINDOW_OPENED: (60.0, 150.0),
    Oddity.LORRY: (3.0, 10.0),
}


def _fits(oddity: Oddity, rig: Rig) -> bool:
    if oddity is Oddity.BELT_WARMS:
        return rig.drive.belt
    return oddity is not Oddity.EVENING_SAG or rig.drive.kind is DriveKind.BRUSHED_BARE


def put_oddities(rng: Rng, draft: Draft, rig: Rig) -> None:
    """Put none to a handful of them into the plan. Changes `draft`."""
    for oddity in WHOLE:
        if chance(rng, 0.12) and _fits(oddity, rig):
            draft.mark(rng, oddity, 0.0, draft.duration_s)
    for oddity, lengths_s in PLACED_S.items():
        if chance(rng, 0.1):
            length_s = log_between(rng, *lengths_s)
            t_s = draft.room_s(rng, length_s + 4.0)
            if t_s is not None:
                draft.mark(rng, oddity, t_s + 2.0, length_s)
    for step in draft.steps:
        if step.listed and step.t_s > 0.0 and chance(rng, 0.08):
            draft.mark(rng, Oddity.HANGER_SWING, step.t_s, 60.0)
