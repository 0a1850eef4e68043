"""Draws the healthy nuisances that are not of the technician's hands on the lever."""

from collections.abc import Mapping

from world_b.values import DriveKind, Kind, Klass, Nuisance

from .chance import Dice, between, chance, spread
from .plan import Hands
from .rig import Rig

HEARD_ONLY = (Kind.DOOR_SLAM, Kind.VOICES, Kind.NEIGHBOUR)
"""May come at any time, also while a contact fails."""

_SURGING = (DriveKind.BRUSHED_BARE, DriveKind.INDUCTION_DIRECT)

_SHARE: Mapping[Kind, float] = {
    Kind.VOICES: 0.45,
    Kind.DOOR_SLAM: 0.5,
    Kind.NEIGHBOUR: 0.3,
    Kind.DEBRIS: 0.35,
    Kind.BUMP: 0.3,
    Kind.FILM_TRANSITION: 0.25,
    Kind.OIL_TOP_UP: 0.15,
    Kind.BRIEF_DIP: 0.2,
    Kind.STICK_SLIP: 0.12,
    Kind.SQUEAL: 0.12,
    Kind.SHORT_DROPOUTS: 0.35,
    Kind.HOLES: 0.25,
    Kind.DUPLICATE_STAMPS: 0.15,
    Kind.BACKWARD_STAMPS: 0.15,
}
"""Of recordings of ten minutes in which a kind comes at all."""

_LASTS_S: Mapping[Kind, tuple[float, float]] = {
    Kind.VOICES: (2.0, 60.0),
    Kind.DOOR_SLAM: (0.1, 0.5),
    Kind.NEIGHBOUR: (8.0, 60.0),
    Kind.DEBRIS: (0.1, 1.5),
    Kind.BUMP: (0.05, 0.4),
    Kind.FILM_TRANSITION: (15.0, 60.0),
    Kind.OIL_TOP_UP: (10.0, 40.0),
    Kind.BRIEF_DIP: (0.03, 0.25),
    Kind.STICK_SLIP: (3.0, 30.0),
    Kind.SQUEAL: (1.0, 15.0),
    Kind.SHORT_DROPOUTS: (0.02, 0.4),
    Kind.HOLES: (0.03, 2.0),
    Kind.DUPLICATE_STAMPS: (0.05, 0.5),
    Kind.BACKWARD_STAMPS: (0.05, 1.2),
}
"""Shortest and longest; for stamps that run backward, by how much."""

_LEAVES_S = 4.0
"""Between the last of them and a first sign."""


def draw_things(dice: Dice, rig: Rig, klass: Klass, hands: Hands, duration_s: float, first_s: float) -> list[Nuisance]:
    """Draw them in no order.

    Args:
        dice: of the plan.
        rig: some nuisances are its own and last the whole recording.
        klass: of the recording.
        hands: quiet stages in which what concerns the contact happens.
        duration_s: of the recording.
        first_s: of the first sign, infinite without one.
    """
    things: list[Nuisance] = []
    for kind, share in _SHARE.items():
        own = (klass, kind) in ((Klass.STICK_SLIP, Kind.STICK_SLIP), (Klass.SQUEAL, Kind.SQUEAL))
        comes = own or chance(dice, min(0.85, share * max(0.7, duration_s / 2400.0)))
        count = (int(dice.integers(2, 6)) if own else int(dice.integers(1, 4))) if comes else 0
        for _ in range(count):
            things += _one(dice, kind, hands, duration_s, first_s)
    if chance(dice, 0.45):
        things.append(Nuisance(Kind.SPIKES, 0.0))
    if rig.sensing.hum_n > 0.0:
        things.append(Nuisance(Kind.MAINS_HUM, 0.0))
    if rig.sensing.degc_step >= 0.5:
        things.append(Nuisance(Kind.COARSE_TEMPERATURE, 0.0))
    begins = [t_s for t_s, on in hands.switches if on and t_s >= 0.0]
    if begins and rig.motor.kind in _SURGING and rig.motor.start_a > 1.05 * rig.sensing.current.high:
        things.append(Nuisance(Kind.CURRENT_RAIL, begins[0]))
    return things


def _one(dice: Dice, kind: Kind, hands: Hands, duration_s: float, first_s: float) -> list[Nuisance]:
    lasts_s = spread(dice, *_LASTS_S[kind])
    if kind in HEARD_ONLY:
        begin_s = between(dice, 1.0, max(duration_s - 2.0, 2.0))
        if kind is Kind.NEIGHBOUR and chance(dice, 0.5):
            return _compressor(dice, begin_s, lasts_s, duration_s)
        return [Nuisance(kind, begin_s, min(lasts_s, duration_s - begin_s))]
    stages = [
        (begin_s + 5.0, min(end_s, first_s - _LEAVES_S) - lasts_s - 1.0)
        for begin_s, end_s in hands.stages
        if min(end_s, first_s - _LEAVES_S) - lasts_s - 1.0 > begin_s + 5.0
    ]
    if not stages:
        return []
    return [Nuisance(kind, between(dice, *stages[int(dice.integers(len(stages)))]), lasts_s)]


def _compressor(dice: Dice, begin_s: float, lasts_s: float, duration_s: float) -> list[Nuisance]:
    every_s, runs = lasts_s * between(dice, 2.0, 4.0), []
    while begin_s + lasts_s < duration_s:
        runs.append(Nuisance(Kind.NEIGHBOUR, begin_s, lasts_s))
        begin_s += every_s * between(dice, 0.95, 1.05)
    return runs
