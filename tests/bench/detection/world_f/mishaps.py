"""Sprinkles a plan with the healthy nuisances of a shop.

Reads dice, a rig and a plan, gives the plan with all its nuisances. What hands do ends at the first sign; what the
building, the mains and the logger do goes on.
"""

from dataclasses import replace

from world_b.values import MOTOR_CURRENT, Kind, Klass

from .chance import Dice, even, happens, spread
from .drives import start_a
from .hands import inch, lift, pause, restart, sleep, take_off
from .plan import Mishap, Plan
from .rig import Rig

_USUAL_S = 540.0
_PER_RUN = {
    Kind.BUMP: 0.4,
    Kind.FILM_TRANSITION: 0.3,
    Kind.DEBRIS: 0.6,
    Kind.STICK_SLIP: 0.14,
    Kind.SQUEAL: 0.16,
    Kind.OIL_TOP_UP: 0.2,
    Kind.DOOR_SLAM: 0.9,
    Kind.NEIGHBOUR: 0.3,
    Kind.VOICES: 0.8,
    Kind.BRIEF_DIP: 0.25,
    Kind.SPIKES: 0.7,
    Kind.SHORT_DROPOUTS: 0.5,
    Kind.HOLES: 0.35,
    Kind.DUPLICATE_STAMPS: 0.18,
    Kind.BACKWARD_STAMPS: 0.14,
}
_LASTS_S = {
    Kind.BUMP: (0.5, 3.0),
    Kind.FILM_TRANSITION: (40.0, 300.0),
    Kind.DEBRIS: (0.2, 2.5),
    Kind.STICK_SLIP: (8.0, 60.0),
    Kind.SQUEAL: (3.0, 50.0),
    Kind.OIL_TOP_UP: (4.0, 15.0),
    Kind.DOOR_SLAM: (0.1, 0.4),
    Kind.NEIGHBOUR: (40.0, 200.0),
    Kind.VOICES: (5.0, 60.0),
    Kind.BRIEF_DIP: (0.03, 0.35),
    Kind.SPIKES: (1.0, 200.0),
    Kind.SHORT_DROPOUTS: (0.02, 0.3),
    Kind.HOLES: (0.05, 3.0),
    Kind.DUPLICATE_STAMPS: (0.05, 1.0),
    Kind.BACKWARD_STAMPS: (0.2, 20.0),
}
"""For stamps that run backward: by how much."""
_CALM = (Kind.BUMP, Kind.FILM_TRANSITION, Kind.DEBRIS, Kind.STICK_SLIP, Kind.SQUEAL, Kind.OIL_TOP_UP, Kind.BRIEF_DIP)
"""Of the contact, hands or mains: not in the last seconds before a first sign, nor after it."""
_LOGGER = (Kind.HOLES, Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS)
_BOUTS = {Klass.STICK_SLIP: Kind.STICK_SLIP, Klass.SQUEAL: Kind.SQUEAL}


def sprinkle(dice: Dice, rig: Rig, plan: Plan, klass: Klass) -> Plan:
    """Give the plan with its nuisances."""
    if klass is not Klass.STARTS_AND_STOPS:
        for act, chance in ((lift, 0.2), (take_off, 0.17), (pause, 0.17), (inch, 0.06), (restart, 0.05)):
            if happens(dice, chance):
                plan = act(dice, plan)
        if klass in (Klass.STAIRCASE, Klass.ENDURANCE, Klass.STICK_SLIP, Klass.SQUEAL) and happens(dice, 0.2):
            plan = sleep(dice, plan)
    drawn = [mishap for kind in _PER_RUN for mishap in _some(dice, plan, kind, _count(dice, plan, kind, klass))]
    drawn += [Mishap(kind, 0.0) for kind in _of_rig(rig)]
    return replace(plan, mishaps=tuple(sorted((*plan.mishaps, *drawn), key=lambda each: each.t_s)))


def _count(dice: Dice, plan: Plan, kind: Kind, klass: Klass) -> int:
    usual = int(dice.poisson(_PER_RUN[kind] * min(plan.duration_s / _USUAL_S, 4.0)))
    bouts = int(dice.integers(1, 6))
    return bouts if kind is _BOUTS.get(klass) else min(usual, 6)


def _of_rig(rig: Rig) -> list[Kind]:
    """Give what lasts the whole recording."""
    sensing = rig.sensing
    said = {
        Kind.MAINS_HUM: sensing.hum > 0.0,
        Kind.COARSE_TEMPERATURE: sensing.coarse_degc > 0.0,
        Kind.CURRENT_RAIL: start_a(rig.motor) > sensing.gauges[MOTOR_CURRENT].high,
    }
    return [kind for kind, there in said.items() if there]


def _some(dice: Dice, plan: Plan, kind: Kind, count: int) -> list[Mishap]:
    """Give nuisances of one kind where they can be, none upon another of its kind."""
    first_s = max(plan.loads[0].t_s, max(switch.t_s for switch in plan.switches[:1]), 0.0) + 8.0
    some: list[Mishap] = []
    for _ in range(count):
        lasts_s = spread(dice, *_LASTS_S[kind])
        t_s = even(dice, first_s, 0.97 * plan.duration_s)
        size = even(dice, 0.0, 1.0)
        if kind in (*_CALM, *_LOGGER):
            t_s = even(dice, first_s, max(_calm_until_s(plan) - lasts_s, first_s + 1.0))
        if _is_free(plan, some, kind, t_s, lasts_s):
            some.append(Mishap(kind, t_s, lasts_s, size))
    return some


def _calm_until_s(plan: Plan) -> float:
    return plan.touched_until_s() - 6.0


def _is_free(plan: Plan, some: list[Mishap], kind: Kind, t_s: float, lasts_s: float) -> bool:
    if kind in (*_CALM, *_LOGGER) and t_s + lasts_s > _calm_until_s(plan):
        return False
    if kind in _LOGGER and any(abs(t_s - night_s) < 10.0 for night_s, _ in plan.nights):
        return False
    return all(t_s + lasts_s + 3.0 < each.t_s or t_s > each.t_s + each.duration_s + 3.0 for each in some)
