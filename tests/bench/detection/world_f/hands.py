"""What hands do beside the staircase: lift, take off, pause, inch, restart, go home.

Reads dice and a plan, gives the plan with it done; unchanged where there is no room for it.
"""

from dataclasses import replace

from world_b.values import Kind

from .chance import Dice, even, happens
from .plan import Hanging, Mishap, Plan, Switch

_ROOM_S = 14.0


def lift(dice: Dice, plan: Plan) -> Plan:
    """Lift the lever while weights are changed, at some or all changes."""
    often = even(dice, 0.3, 1.0)
    loads: list[Hanging] = []
    mishaps = list(plan.mishaps)
    for before, load in zip((None, *plan.loads), plan.loads, strict=False):
        up_s = load.t_s - even(dice, 2.0, 9.0)
        if before is not None and before.t_s + _ROOM_S < up_s and up_s > 1.0 and happens(dice, often):
            loads.append(Hanging(up_s, 0.0))
            mishaps.append(Mishap(Kind.LIFTED, up_s, load.t_s - up_s))
        loads.append(load)
    return replace(plan, loads=tuple(loads), mishaps=tuple(mishaps))


def take_off(dice: Dice, plan: Plan) -> Plan:
    """Set a weight down, take it off again, and set it down once more."""
    places = [
        place
        for place in range(1, len(plan.loads))
        if plan.loads[place].t_s > 1.0 and _next_s(plan, place) - plan.loads[place].t_s > 45.0
    ]
    if not places:
        return plan
    place = places[int(dice.integers(len(places)))]
    load = plan.loads[place]
    off_s = load.t_s + even(dice, 4.0, 12.0)
    again_s = off_s + even(dice, 6.0, 20.0)
    more = (Hanging(off_s, plan.loads[place - 1].load_n), Hanging(again_s, load.load_n))
    loads = tuple(sorted((*plan.loads, *more), key=lambda each: each.t_s))
    mishap = Mishap(Kind.TAKEN_OFF_AGAIN, load.t_s, again_s - load.t_s)
    return replace(plan, loads=loads, mishaps=(*plan.mishaps, mishap))


def pause(dice: Dice, plan: Plan) -> Plan:
    """Switch the motor off for a while, as a rule with the weights hanging."""
    off_s = _quiet_s(dice, plan, 40.0)
    if off_s is None:
        return plan
    rest_s = even(dice, 6.0, 30.0)
    return _stopped(plan, off_s, rest_s, (Mishap(Kind.PAUSE, off_s, rest_s),))


def sleep(dice: Dice, plan: Plan) -> Plan:
    """Go home and come back the next day."""
    off_s = _quiet_s(dice, plan, 40.0)
    if off_s is None:
        return plan
    rest_s = even(dice, 12.0, 30.0)
    night_s = off_s + 0.8 * rest_s
    made = (Mishap(Kind.PAUSE, off_s, rest_s), Mishap(Kind.DAY_BETWEEN, night_s))
    plan = _stopped(plan, off_s, rest_s, made)
    return replace(plan, nights=(*plan.nights, (night_s, even(dice, 9.0, 60.0) * 3600.0)))


def restart(dice: Dice, plan: Plan) -> Plan:
    """Switch off and on again before the ring is at rest."""
    off_s = _quiet_s(dice, plan, 20.0)
    if off_s is None:
        return plan
    rest_s = even(dice, 0.1, 0.5)
    return _stopped(plan, off_s, rest_s, (Mishap(Kind.RESTART_BEFORE_REST, off_s, rest_s),), loaded=False)


def inch(dice: Dice, plan: Plan) -> Plan:
    """Turn the ring by inches before the first run."""
    first_s = plan.switches[0].t_s
    if plan.running or first_s < 6.0:
        return plan
    t_s, switches = first_s - even(dice, 4.0, 5.5), list[Switch]()
    mishap = Mishap(Kind.INCHING, t_s, first_s - t_s)
    while t_s < first_s - 1.0:
        switches += [Switch(t_s, True), Switch(t_s + even(dice, 0.15, 0.5), False)]
        t_s += even(dice, 1.2, 2.5)
    return replace(plan, switches=(*switches, *plan.switches), mishaps=(*plan.mishaps, mishap))


def _next_s(plan: Plan, place: int) -> float:
    following = [load.t_s for load in plan.loads[place + 1 : place + 2]]
    return min([plan.touched_until_s(), *following])


def _quiet_s(dice: Dice, plan: Plan, room_s: float) -> float | None:
    """Give a moment with nobody at the lever for `room_s`, after the ring has run for some time."""
    busy = [load.t_s for load in plan.loads] + [switch.t_s for switch in plan.switches]
    end_s = plan.touched_until_s() - 30.0
    for _ in range(8):
        t_s = even(dice, 60.0, max(end_s - room_s, 61.0))
        if t_s + room_s < end_s and all(not t_s - _ROOM_S < other_s < t_s + room_s for other_s in busy):
            return t_s
    return None


def _stopped(plan: Plan, off_s: float, rest_s: float, made: tuple[Mishap, ...], loaded: bool = True) -> Plan:
    switches = tuple(
        sorted((*plan.switches, Switch(off_s, False), Switch(off_s + rest_s, True)), key=lambda each: each.t_s)
    )
    hung = any(load.t_s < off_s and load.load_n > 0.0 for load in plan.loads)
    again = (Mishap(Kind.LOADED_START, off_s + rest_s, 5.0),) if loaded and hung else ()
    return replace(plan, switches=switches, mishaps=(*plan.mishaps, *made, *again))
