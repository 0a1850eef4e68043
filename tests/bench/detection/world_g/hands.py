"""Draws what the technician does: starts the motor, hangs weight after weight, pauses, or starts and stops."""

from dataclasses import dataclass, field

from world_b.values import Kind, Klass, Nuisance

from .chance import BEFORE_S, Dice, between, chance, spread
from .plan import Hands, Hang
from .rig import Rig


@dataclass(slots=True)
class _Day:
    """A day as it is written down; t_s is the clock."""

    t_s: float = 0.0
    hangs: list[Hang] = field(default_factory=list)
    switches: list[tuple[float, bool]] = field(default_factory=list)
    nights: list[float] = field(default_factory=list)
    stages: list[tuple[float, float]] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)

    def note(self, kind: Kind, begin_s: float) -> None:
        self.nuisances.append(Nuisance(kind, max(begin_s, 0.0), max(self.t_s - max(begin_s, 0.0), 0.0)))

    def hands(self) -> Hands:
        ordered = sorted(self.nuisances, key=lambda each: each.t_s)
        parts = (tuple(x) for x in (self.hangs, self.switches, self.nights, self.stages))
        hangs, switches, nights, stages = parts
        return Hands(self.t_s, hangs, switches, nights, stages, tuple(ordered))  # type: ignore[arg-type]


def draw_hands(dice: Dice, rig: Rig, klass: Klass) -> Hands:
    """Draw the technician's day."""
    return _starts_and_stops(dice, rig) if klass is Klass.STARTS_AND_STOPS else _staircase(dice, rig, klass)


def _loads_n(dice: Dice, rig: Rig, count: int) -> list[float]:
    """Draw loads that rise by weights of unequal size."""
    weights = dice.uniform(0.4, 1.6, count)
    weights[0] *= between(dice, 1.0, 2.0)
    top_n = rig.most_load_n * between(dice, 0.7, 1.0)
    return [round(float(x), 1) for x in top_n * weights.cumsum() / weights.sum()]


def _usual(dice: Dice, rig: Rig, t_s: float, load_n: float) -> Hang:
    lever = rig.lever
    return Hang(t_s, load_n, lever.takes_s * between(dice, 0.7, 1.5), lever.kick_share * between(dice, 0.3, 1.4))


def _begin(dice: Dice, rig: Rig, day: _Day, load_n: float, may_be_mid_run: bool) -> None:
    if may_be_mid_run and chance(dice, 0.15):
        day.switches.append((-BEFORE_S, True))
        day.hangs.append(Hang(-BEFORE_S, load_n, 0.5, 0.0))
        day.nuisances.append(Nuisance(Kind.MID_RUN, 0.0))
        return
    day.t_s = between(dice, 4.0, 20.0)
    if chance(dice, 0.25):
        day.hangs.append(Hang(-BEFORE_S, load_n, 0.5, 0.0))
        day.switches.append((day.t_s, True))
        day.nuisances.append(Nuisance(Kind.LOADED_START, day.t_s, 5.0))
        day.t_s += 1.0
        return
    day.switches.append((day.t_s, True))
    day.t_s += rig.motor.ramp_s + between(dice, 8.0, 25.0)
    day.hangs.append(_usual(dice, rig, day.t_s, load_n))


def _staircase(dice: Dice, rig: Rig, klass: Klass) -> Hands:
    day = _Day()
    endures, hot = klass is Klass.ENDURANCE, klass is Klass.OVERHEAT
    count = int(dice.integers(1, 4)) if endures or hot else int(dice.integers(4, 11))
    total_s = between(dice, 3000.0, 4100.0) if endures else between(dice, 430.0, 690.0)
    loads = _loads_n(dice, rig, count)
    dwell_s = [25.0] * (count - 1) + [total_s] if endures or hot else [total_s / count] * count
    _begin(dice, rig, day, loads[0], True)
    for i, load_n in enumerate(loads):
        if i:
            _step(dice, rig, day, loads[i - 1], load_n)
        begin_s = day.t_s
        day.t_s += max(dwell_s[i] * between(dice, 0.75, 1.25), 18.0)
        day.stages.append((begin_s, day.t_s))
        if not hot and chance(dice, 0.04 if not endures else 0.3):
            _pause(dice, day, rig, load_n)
    if chance(dice, 0.4) and not hot:
        day.switches.append((day.t_s, False))
        day.t_s += between(dice, 6.0, 20.0)
    return day.hands()


def _step(dice: Dice, rig: Rig, day: _Day, was_n: float, load_n: float) -> None:
    """Hang the next weight, now and then clumsily."""
    begin_s, way = day.t_s, float(dice.random())

    def hang(to_n: float, low_s: float, high_s: float) -> None:
        day.hangs.append(_usual(dice, rig, day.t_s, to_n))
        day.t_s += day.hangs[-1].takes_s + between(dice, low_s, high_s)

    if way < 0.05:
        for to_n in (load_n, was_n):
            hang(to_n, 0.3, 2.5)
        day.hangs.append(_usual(dice, rig, day.t_s, load_n))
        day.note(Kind.SET_DOWN_TWICE, begin_s)
    elif way < 0.09:
        day.hangs.append(Hang(day.t_s, load_n, between(dice, 0.04, 0.12), between(dice, 0.5, 1.1)))
        day.t_s += 3.0
        day.note(Kind.HARD_SET_DOWN, begin_s)
    elif way < 0.12:
        for to_n in (load_n, was_n):
            hang(to_n, 5.0, 18.0)
        day.hangs.append(_usual(dice, rig, day.t_s, load_n))
        day.note(Kind.TAKEN_OFF_AGAIN, begin_s)
    elif way < 0.16:
        hang(0.0, 2.0, 8.0)
        day.hangs.append(_usual(dice, rig, day.t_s, load_n))
        day.note(Kind.LIFTED, begin_s)
    else:
        day.hangs.append(_usual(dice, rig, day.t_s, load_n))


def _pause(dice: Dice, day: _Day, rig: Rig, load_n: float) -> None:
    """Stop the motor for a while under load, for a moment, or for a night with the lever lifted."""
    begin_s, way = day.t_s, float(dice.random())
    day.switches.append((day.t_s, False))
    if way < 0.2:
        day.t_s += _moment_s(dice, rig)
        day.switches.append((day.t_s, True))
        day.note(Kind.RESTART_BEFORE_REST, begin_s)
    elif way < 0.4:
        day.hangs.append(_usual(dice, rig, day.t_s + 6.0, 0.0))
        day.t_s += 15.0
        _night(dice, day, begin_s)
        day.hangs.append(_usual(dice, rig, day.t_s + 12.0, load_n))
        day.t_s += 12.0
    else:
        day.t_s += between(dice, 8.0, 50.0)
        day.switches.append((day.t_s, True))
        day.note(Kind.PAUSE, begin_s)
    begin_s = day.t_s
    day.t_s += between(dice, 25.0, 45.0)
    day.stages.append((begin_s, day.t_s))


def _night(dice: Dice, day: _Day, begin_s: float) -> None:
    day.nights.append(day.t_s)
    day.t_s += between(dice, 5.0, 15.0)
    day.note(Kind.DAY_BETWEEN, begin_s)
    day.switches.append((day.t_s, True))


def _moment_s(dice: Dice, rig: Rig) -> float:
    """Draw a pause shorter than the ring needs to run out, s."""
    motor = rig.motor
    runs_out_s = (motor.motor_inertia_kgm2 + motor.ring_inertia_kgm2) * motor.ideal_rad_s / rig.usual_torque_nm
    return runs_out_s * between(dice, 0.2, 0.5)


def _starts_and_stops(dice: Dice, rig: Rig) -> Hands:
    day = _Day()
    loads = _loads_n(dice, rig, int(dice.integers(2, 5)))
    at = 0
    _begin(dice, rig, day, loads[0], False)
    for _ in range(int(dice.integers(7, 14))):
        begin_s = day.t_s
        day.t_s += spread(dice, 15.0, 70.0)
        day.stages.append((begin_s, day.t_s))
        if at + 1 < len(loads) and chance(dice, 0.35):
            at += 1
            day.hangs.append(_usual(dice, rig, day.t_s, loads[at]))
            day.t_s += between(dice, 12.0, 30.0)
        begin_s, way = day.t_s, float(dice.random())
        day.switches.append((day.t_s, False))
        if way < 0.12:
            day.t_s += _moment_s(dice, rig)
            day.switches.append((day.t_s, True))
            day.note(Kind.RESTART_BEFORE_REST, begin_s)
            continue
        day.t_s += spread(dice, 5.0, 40.0)
        day.note(Kind.PAUSE, begin_s)
        if way < 0.2:
            _night(dice, day, begin_s)
            continue
        if way < 0.34:
            _inch(dice, day)
        day.switches.append((day.t_s, True))
        day.note(Kind.LOADED_START, day.t_s)
    return day.hands()


def _inch(dice: Dice, day: _Day) -> None:
    begin_s = day.t_s
    for _ in range(int(dice.integers(2, 6))):
        day.switches.append((day.t_s, True))
        day.t_s += between(dice, 0.15, 0.8)
        day.switches.append((day.t_s, False))
        day.t_s += between(dice, 0.8, 2.5)
    day.note(Kind.INCHING, begin_s)
