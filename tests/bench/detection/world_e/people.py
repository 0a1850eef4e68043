"""Everything else that happens in a workshop: at the lever, in the contact, in the room, in the logger.

Reads dice, a rig and a plan of loads and switches, gives nuisances that fit in where they do not hide the event.
"""

from world_b.values import CHANNELS_OF, FRICTION_FORCE, PIN_TEMPERATURE, Kind, Klass, Nuisance

from .chance import Dice, between, scaled
from .plan import Plan
from .rig import Rig

_HAPPENS: dict[Kind, tuple[float, float, float]] = {
    Kind.BUMP: (2.5, 0.1, 0.5),
    Kind.DEBRIS: (4.0, 0.06, 0.7),
    Kind.FILM_TRANSITION: (1.5, 40.0, 300.0),
    Kind.STICK_SLIP: (0.8, 5.0, 60.0),
    Kind.SQUEAL: (0.8, 1.0, 40.0),
    Kind.OIL_TOP_UP: (1.0, 5.0, 15.0),
    Kind.BRIEF_DIP: (1.5, 0.05, 0.3),
    Kind.DOOR_SLAM: (5.0, 0.2, 0.6),
    Kind.NEIGHBOUR: (1.5, 20.0, 200.0),
    Kind.VOICES: (5.0, 3.0, 30.0),
    Kind.SPIKES: (4.0, 0.0, 0.0),
    Kind.SHORT_DROPOUTS: (3.0, 0.05, 1.0),
    Kind.HOLES: (2.0, 0.1, 4.0),
    Kind.DUPLICATE_STAMPS: (1.0, 0.1, 1.5),
    Kind.BACKWARD_STAMPS: (0.8, 0.0, 0.0),
}
"""Mean number in an hour, shortest and longest, s; plausible, invented."""
IN_CONTACT = (
    Kind.BUMP,
    Kind.DEBRIS,
    Kind.FILM_TRANSITION,
    Kind.STICK_SLIP,
    Kind.SQUEAL,
    Kind.OIL_TOP_UP,
    Kind.BRIEF_DIP,
)
IN_ROOM = (Kind.DOOR_SLAM, Kind.NEIGHBOUR, Kind.VOICES)
BOUTS = {Klass.STICK_SLIP: Kind.STICK_SLIP, Klass.SQUEAL: Kind.SQUEAL}


def nuisances(dice: Dice, rig: Rig, plan: Plan, klass: Klass) -> list[Nuisance]:
    """Give nuisances by their mean number an hour; the classes of stick-slip and squeal have several bouts."""
    found: list[Nuisance] = []
    if rig.hum and FRICTION_FORCE in CHANNELS_OF[rig.sensing.channel_set]:
        found.append(Nuisance(Kind.MAINS_HUM, 0.0))
    if rig.coarse and PIN_TEMPERATURE in CHANNELS_OF[rig.sensing.channel_set]:
        found.append(Nuisance(Kind.COARSE_TEMPERATURE, 0.0))
    if (bout := BOUTS.get(klass)) is not None:
        for _ in range(int(dice.integers(2, 6))):
            found += _placed(dice, plan, found, bout, scaled(dice, 5.0, 90.0))
    for kind, (per_hour, low_s, high_s) in _HAPPENS.items():
        for _ in range(int(dice.poisson(per_hour * plan.duration_s / 3600.0))):
            found += _placed(dice, plan, found, kind, scaled(dice, low_s, high_s) if low_s else 0.0)
    return found


def _placed(dice: Dice, plan: Plan, before: list[Nuisance], kind: Kind, lasts_s: float) -> list[Nuisance]:
    """Give the nuisance at the first of a dozen drawn moments where it fits, or none."""
    for _ in range(12):
        t_s = between(dice, 2.0, max(plan.duration_s - lasts_s - 2.0, 2.1))
        if _fits(plan, before, kind, t_s, t_s + lasts_s):
            return [Nuisance(kind, t_s, lasts_s)]
    return []


def _fits(plan: Plan, before: list[Nuisance], kind: Kind, begin_s: float, end_s: float) -> bool:
    if kind in IN_ROOM:
        return True
    event = plan.event
    if event is not None and end_s > event.first_s - (12.0 if kind in IN_CONTACT else 6.0):
        return False
    if kind not in IN_CONTACT:
        return not abs(begin_s - plan.night_s) < 60.0
    slow = kind is Kind.FILM_TRANSITION
    if any(begin_s - 3.0 < load.settled_s and load.t_s < end_s + 3.0 for load in plan.loads) and not slow:
        return False
    if any(begin_s - 12.0 < t_s < end_s + 3.0 for t_s, _ in plan.switches) and not slow:
        return False
    on = [state for t_s, state in plan.switches if t_s <= begin_s]
    if not on or not on[-1] or not any(load.t_s < begin_s for load in plan.loads):
        return False
    return slow or not any(
        other.kind in IN_CONTACT and other.kind is not Kind.FILM_TRANSITION
        and other.t_s < end_s + 3.0 and begin_s < other.t_s + other.duration_s + 3.0
        for other in before
    )  # fmt: skip
