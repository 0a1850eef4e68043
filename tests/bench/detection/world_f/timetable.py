"""Draws when hands hang weights and switch the motor.

Reads dice and a rig, gives a `Timetable`: the bare staircase, long run or series of starts, before anything goes wrong.
"""

from dataclasses import dataclass

from world_b.values import Kind, Klass

from .chance import Dice, even, happens, pick, spread
from .plan import Hanging, Mishap, Switch, Way
from .rig import Rig

_MIDDLING_S = {Klass.STAIRCASE: 560.0, Klass.OVERHEAT: 730.0, Klass.STARTS_AND_STOPS: 640.0, Klass.ENDURANCE: 3560.0}
_USUAL_S = 510.0


@dataclass(frozen=True, slots=True)
class Timetable:
    """What hands do; in order of time.

    Attributes:
        nights: see `Plan`.
    """

    duration_s: float
    loads: tuple[Hanging, ...]
    switches: tuple[Switch, ...]
    mishaps: tuple[Mishap, ...]
    running: bool
    nights: tuple[tuple[float, float], ...] = ()


def draw_timetable(dice: Dice, rig: Rig, klass: Klass) -> Timetable:
    """Give the hands' work of one recording."""
    duration_s = _MIDDLING_S.get(klass, _USUAL_S) * even(dice, 0.8, 1.2)
    if klass is Klass.STARTS_AND_STOPS:
        return _starts(dice, rig, duration_s)
    running = happens(dice, 0.2)
    hung_early = not running and happens(dice, 0.45)
    begin_s = 0.0 if running else even(dice, 4.0, 20.0)
    first_s = -1.0 if running or hung_early else begin_s + even(dice, 12.0, 45.0)
    loads = _staircase(dice, rig, klass, first_s, duration_s)
    mishaps = _said(loads, running, hung_early, begin_s)
    return Timetable(duration_s, loads, (Switch(-1.0 if running else begin_s, True),), mishaps, running)


def _said(loads: tuple[Hanging, ...], running: bool, hung_early: bool, begin_s: float) -> tuple[Mishap, ...]:
    """Give the nuisances that lie in the staircase itself."""
    ways = {Way.HARD: Kind.HARD_SET_DOWN, Way.TWICE: Kind.SET_DOWN_TWICE}
    said = [Mishap(ways[load.way], load.t_s, 6.0) for load in loads if load.way in ways and load.t_s > 0.0]
    if running:
        said.append(Mishap(Kind.MID_RUN, 0.0))
    if hung_early:
        said.append(Mishap(Kind.LOADED_START, begin_s, 5.0))
    return tuple(said)


def _staircase(dice: Dice, rig: Rig, klass: Klass, first_s: float, duration_s: float) -> tuple[Hanging, ...]:
    """Give loads that rise by equal or unequal weights, now and then fall by one."""
    count = int(dice.integers(1, 3)) if klass is Klass.ENDURANCE else int(dice.integers(2, 8))
    top_n = rig.most_load_n * (even(dice, 0.8, 1.0) if klass is Klass.OVERHEAT else even(dice, 0.45, 1.0))
    weights = [1.0] * count if happens(dice, 0.5) else [spread(dice, 0.5, 2.0) for _ in range(count)]
    bottom_n = max(rig.lever.arm_n, 0.06 * top_n)
    heights_n = [bottom_n + (top_n - bottom_n) * sum(weights[: place + 1]) / sum(weights) for place in range(count)]
    if klass is Klass.ENDURANCE:
        dwells_s = [even(dice, 100.0, 400.0)] * count
    else:
        dwells_s = [(0.92 * duration_s - max(first_s, 0.0)) / count * even(dice, 0.75, 1.1)] * count
    if count >= 4 and happens(dice, 0.12):
        heights_n[-2], heights_n[-1] = heights_n[-1], heights_n[-2]
    loads, t_s = [], first_s
    for height_n, dwell_s in zip(heights_n, dwells_s, strict=True):
        way = pick(dice, {Way.GENTLE: 0.84, Way.HARD: 0.08, Way.TWICE: 0.08})
        loads.append(Hanging(t_s, height_n, way if t_s > 0.0 else Way.GENTLE))
        t_s = max(t_s, 0.0) + dwell_s * even(dice, 0.93, 1.07)
    return tuple(loads)


def _starts(dice: Dice, rig: Rig, duration_s: float) -> Timetable:
    """Give a series of runs and stops: loaded, by inches, before rest, over night."""
    switches: list[Switch] = []
    mishaps: list[Mishap] = []
    nights: list[tuple[float, float]] = []
    load_n = rig.most_load_n * even(dice, 0.25, 0.6)
    loads = [Hanging(even(dice, 20.0, 50.0), load_n)]
    t_s = even(dice, 4.0, 12.0)
    while t_s < duration_s - 60.0:
        t_s = _begin_run(dice, t_s, switches, mishaps)
        if t_s > loads[0].t_s:
            mishaps.append(Mishap(Kind.LOADED_START, switches[-1].t_s, 5.0))
        t_s = max(t_s + even(dice, 25.0, 110.0), loads[0].t_s + 15.0)
        if t_s > duration_s - 15.0:
            break
        switches.append(Switch(t_s, False))
        rest_s = even(dice, 6.0, 30.0)
        mishaps.append(Mishap(Kind.PAUSE, t_s, rest_s))
        if not nights and happens(dice, 0.07):
            nights.append((t_s + 0.8 * rest_s, even(dice, 9.0, 60.0) * 3600.0))
            mishaps.append(Mishap(Kind.DAY_BETWEEN, t_s + 0.8 * rest_s))
        if len(loads) < 4 and happens(dice, 0.4):
            load_n = min(load_n * even(dice, 1.1, 1.5), rig.most_load_n)
            loads.append(Hanging(t_s + 0.4 * rest_s, load_n))
        t_s += rest_s
    return Timetable(duration_s, tuple(loads), tuple(switches), tuple(mishaps), False, tuple(nights))


def _begin_run(dice: Dice, t_s: float, switches: list[Switch], mishaps: list[Mishap]) -> float:
    """Switch on, in one of three ways; give the moment from which it stays on."""
    how = pick(dice, {"at once": 0.6, "by inches": 0.2, "again": 0.2})
    begin_s = t_s
    if how == "by inches":
        for _ in range(int(dice.integers(2, 5))):
            switches += [Switch(t_s, True), Switch(t_s + even(dice, 0.15, 0.6), False)]
            t_s += even(dice, 1.5, 4.0)
        mishaps.append(Mishap(Kind.INCHING, begin_s, t_s - begin_s))
    elif how == "again":
        switches += [Switch(t_s, True), Switch(t_s + even(dice, 6.0, 15.0), False)]
        t_s = switches[-1].t_s + even(dice, 0.1, 0.5)
        mishaps.append(Mishap(Kind.RESTART_BEFORE_REST, switches[-1].t_s, t_s - switches[-1].t_s))
    switches.append(Switch(t_s, True))
    return t_s
