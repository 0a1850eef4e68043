"""Writes the plan of a recording, class by class.

Reads draws and a rig, gives a plan. Nothing here knows of rows or of a rate.
"""

from collections.abc import Callable

from world_b.values import SCUFFINGS, Kind, Klass

from .dice import Dice
from .hands import OPERATORS, Hands, ladder_n
from .plan import Plan, Span
from .rig import Rig
from .surroundings import slip, squeak, surround
from .troubles import jam, lead_s, overheat, scuffing, sensor_fault

_TAIL_S = (15.0, 45.0)


def write_plan(dice: Dice, rig: Rig, klass: Klass, seed: int) -> Plan:
    """Give the plan of a recording of this class."""
    plan = Plan(length_s=0.0)
    hands = Hands(dice, rig, plan, dice.one_of(OPERATORS))
    _STORIES[klass](dice, rig, plan, hands, seed)
    _badly_kept(dice, plan)
    clear_s = min(plan.quiet_from_s - 1.5, plan.length_s)
    surround(dice, rig, plan, 0.0, clear_s)
    hands.lean(0.0, clear_s - 5.0)
    plan.nuisances.sort(key=lambda nuisance: nuisance.t_s)
    return plan


def _badly_kept(dice: Dice, plan: Plan) -> None:
    for name, share, low, high in (
        ("spikes_per_hour", 0.3, 2.0, 60.0),
        ("missing_per_hour", 0.2, 2.0, 60.0),
        ("holes_per_hour", 0.2, 1.0, 40.0),
        ("repeats_per_hour", 0.12, 3.0, 100.0),
        ("backward_per_hour", 0.1, 2.0, 40.0),
    ):
        setattr(plan, name, dice.even_log(low, high) if dice.chance(share) else 0.0)
    plan.start_stamp_s = dice.one_of((0.0, 0.0, dice.flat(0.0, 10.0), dice.even_log(100.0, 1e6)))


def _open(dice: Dice, rig: Rig, plan: Plan, hands: Hands, loads_n: list[float]) -> float:
    """Begin: at rest and bare, at rest with the load on, or in mid run; give when the next load may come, s."""
    how = dice.weighed({"bare": 0.65, "loaded": 0.2, "running": 0.15})
    if how == "bare":
        hands.switch_on(dice.flat(1.0, 8.0))
        return plan.on[0].begin_s + dice.flat(5.0, 25.0)
    hands.load_n = plan.start_load_n = loads_n.pop(0) if len(loads_n) > 1 else loads_n[0]
    plan.loads_n.append(hands.load_n)
    if how == "loaded":
        hands.switch_on(dice.flat(1.0, 8.0))
        plan.note(Kind.LOADED_START, plan.on[0].begin_s)
        return plan.on[0].begin_s + dice.flat(15.0, 60.0)
    plan.running, plan.warm = True, dice.flat(0.1, 1.0)
    hands.switch_on(-1.0)
    plan.note(Kind.MID_RUN, 0.0)
    return dice.flat(15.0, 60.0)


def _staircase(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    loads_n = ladder_n(dice, rig, dice.whole(10, 16))
    dwell_s = dice.flat(20.0, 110.0)
    t_s = _open(dice, rig, plan, hands, loads_n)
    plan.length_s = hands.climb(t_s, loads_n, (0.9 * dwell_s, 1.1 * dwell_s), 1e9) + 2.0


def _endurance(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    plan.length_s = dice.flat(1440.0, 5400.0)
    loads_n = ladder_n(dice, rig, dice.whole(1, 4))
    t_s = hands.climb(_open(dice, rig, plan, hands, loads_n), loads_n, (30.0, 150.0), 1e9)
    while t_s < plan.length_s - 300.0:
        t_s += dice.even_log(200.0, 4000.0)
        if t_s > plan.length_s - 200.0:
            break
        away_s = dice.even_log(8.0, 90.0)
        night = dice.chance(0.1)
        hands.pause(t_s, away_s)
        if night:
            plan.nights.append((t_s + 0.5 * away_s, dice.even_log(3600.0, 80_000.0)))
            plan.note(Kind.DAY_BETWEEN, t_s + 0.5 * away_s)
        t_s += away_s + 10.0


def _approach(dice: Dice, rig: Rig, plan: Plan, hands: Hands, to_top: bool = False) -> float:
    """Climb to the load at which something happens, any but the first; give when its last change is over, s."""
    loads_n = ladder_n(dice, rig, dice.whole(3, 4 if to_top else 6))
    loads_n = loads_n if to_top else loads_n[: dice.whole(2, len(loads_n))]
    dwell_s = dice.flat(30.0, 150.0)
    t_s = _open(dice, rig, plan, hands, loads_n)
    t_s = hands.climb(t_s, loads_n[:-1], (0.8 * dwell_s, 1.2 * dwell_s), 1e9)
    return hands.change(max(t_s, dice.flat(200.0, 280.0)), loads_n[-1])


def _scuffing(klass: Klass) -> Callable[[Dice, Rig, Plan, Hands, int], None]:
    def story(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
        set_s, before_s = _approach(dice, rig, plan, hands), lead_s(dice, klass)
        started_s = plan.on[-1].begin_s + 2.0 + 2.0 * rig.drive.accelerate_s + rig.drive.ramp_s
        soon = dice.chance(0.2)
        first_s = max(set_s, started_s) + (dice.flat(2.0, 8.0) if soon else dice.even_log(15.0, 150.0))
        t_s = first_s + before_s
        plan.trouble = scuffing(dice, klass, t_s, before_s)
        off_s = t_s + plan.trouble.hand_off_s
        plan.length_s = t_s + (plan.trouble.hand_off_s if off_s < 1e9 else 15.0) + dice.flat(*_TAIL_S)
        if off_s < 1e9:
            hands.switch_off(off_s)
        if klass is Klass.SCUFFING_WITH_FAULT:
            fault_s = max(t_s - dice.even_log(4.0, 220.0), 0.3 * t_s)
            plan.fault = sensor_fault(dice, rig, fault_s, seed, spared=True)

    return story


def _jam(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    set_s = _approach(dice, rig, plan, hands)
    started_s = plan.on[-1].begin_s + 3.0 * (1.0 + rig.drive.accelerate_s) + rig.drive.ramp_s
    t_s = max(set_s, started_s) + dice.even_log(5.0, 200.0)
    plan.trouble = jam(dice, t_s)
    plan.length_s = t_s + dice.flat(20.0, 60.0)
    hands.switch_off(t_s + plan.trouble.hand_off_s)


def _overheat(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    t_s = _approach(dice, rig, plan, hands, to_top=True) + dice.flat(20.0, 240.0)
    plan.warm = dice.flat(0.6, 1.0)
    plan.trouble = overheat(dice, rig, t_s)
    plan.length_s = t_s + 1.3 * plan.trouble.heat_within_s + dice.flat(40.0, 120.0)


def _spells(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int, squeals: bool) -> None:
    loads_n = ladder_n(dice, rig, dice.whole(2, 6))
    begin_s = _open(dice, rig, plan, hands, loads_n)
    t_s = hands.climb(begin_s, loads_n, (45.0, 170.0), 1e9)
    plan.length_s = max(t_s, begin_s + 240.0) + dice.flat(10.0, 120.0)
    share, t_s = dice.flat(0.2, 0.9), begin_s + dice.flat(0.0, 20.0)
    while t_s < plan.length_s - 5.0:
        length_s = min(dice.even_log(2.0, 120.0), plan.length_s - t_s)
        if squeals:
            squeak(dice, plan, t_s, length_s, dice.flat(4.0, 36.0))
        else:
            slip(dice, plan, t_s, length_s)
        t_s += length_s * (1.0 + (1.0 - share) / share * dice.even_log(0.5, 2.0))


def _stick_slip(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    _spells(dice, rig, plan, hands, seed, squeals=False)


def _squeal(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    _spells(dice, rig, plan, hands, seed, squeals=True)


def _sensor_fault(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    t_s = _approach(dice, rig, plan, hands)
    plan.length_s = t_s + dice.flat(90.0, 400.0)
    plan.fault = sensor_fault(dice, rig, dice.flat(0.4, 0.8) * plan.length_s, seed, spared=False)


def _supply_lost(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    t_s = _approach(dice, rig, plan, hands) + 2.0 + rig.drive.ramp_s + dice.even_log(10.0, 200.0)
    back_s = t_s + dice.even_log(0.2, 3.0) if dice.chance(0.25) else float("inf")
    plan.lost = Span(t_s, back_s)
    plan.length_s = t_s + dice.flat(20.0, 90.0)


def _starts(dice: Dice, rig: Rig, plan: Plan, hands: Hands, seed: int) -> None:
    hands.stopping = False
    loads_n = ladder_n(dice, rig, dice.whole(2, 4))
    t_s = hands.climb(_open(dice, rig, plan, hands, loads_n), loads_n, (10.0, 40.0), 1e9)
    for _ in range(dice.whole(8, 25)):
        how = dice.weighed({"pause": 0.65, "early": 0.2, "inch": 0.12, "night": 0.03})
        if how == "early":
            plan.note(Kind.RESTART_BEFORE_REST, t_s)
            hands.switch_off(t_s)
            hands.switch_on(t_s + dice.flat(0.1, 0.6))
        elif how == "inch":
            plan.note(Kind.INCHING, t_s, 12.0)
            for _ in range(dice.whole(2, 5)):
                hands.switch_off(t_s)
                t_s += dice.flat(1.0, 4.0)
                hands.switch_on(t_s)
                t_s += dice.flat(0.2, 1.0)
        else:
            away_s = dice.even_log(4.0, 25.0)
            hands.pause(t_s, away_s)
            if how == "night":
                plan.nights.append((t_s + 0.7 * away_s, dice.even_log(3600.0, 80_000.0)))
                plan.note(Kind.DAY_BETWEEN, t_s + 0.7 * away_s)
            t_s += away_s
        t_s += dice.even_log(10.0, 60.0)
    plan.length_s = t_s


_STORIES: dict[Klass, Callable[[Dice, Rig, Plan, Hands, int], None]] = {
    Klass.STAIRCASE: _staircase,
    Klass.ENDURANCE: _endurance,
    **{klass: _scuffing(klass) for klass in (*SCUFFINGS, Klass.SEIZURE)},
    Klass.JAM: _jam,
    Klass.OVERHEAT: _overheat,
    Klass.STICK_SLIP: _stick_slip,
    Klass.SQUEAL: _squeal,
    Klass.SENSOR_FAULT: _sensor_fault,
    Klass.SUPPLY_LOST: _supply_lost,
    Klass.STARTS_AND_STOPS: _starts,
}
