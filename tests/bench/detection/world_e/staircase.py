"""The ordinary course of a test: motor on, weights one after another, a pause, starts and stops.

Reads dice and the habits of a rig, gives loads, switches and the nuisances that come with them.
"""

from dataclasses import dataclass, field

from world_b.values import NAN, Kind, Nuisance

from .chance import Dice, between, happens, one_of, scaled
from .plan import LASTS_S, Load
from .rig import Rig

LEAST_N = 5.0
"""The smallest weight on a hanger, as felt by the pin."""
_CLUMSY = ((Kind.SET_DOWN_TWICE, 0.06), (Kind.HARD_SET_DOWN, 0.06), (Kind.TAKEN_OFF_AGAIN, 0.03))
"""Shares of load changes; plausible, invented."""


@dataclass(slots=True)
class Course:
    """What is planned so far; `end_s` grows as things are added."""

    loads: list[Load] = field(default_factory=list)
    switches: list[tuple[float, bool]] = field(default_factory=list)
    nuisances: list[Nuisance] = field(default_factory=list)
    end_s: float = 0.0
    night_s: float = NAN

    def load(self, t_s: float, load_n: float, manner: Kind | None = None) -> None:
        """Add a load, and the nuisance if its manner is one."""
        self.loads.append(Load(t_s, load_n, manner))
        if manner is not None:
            self.nuisances.append(Nuisance(manner, max(t_s, 0.0), LASTS_S[manner]))

    def pause(self, dice: Dice, off_s: float, night: bool) -> None:
        """Switch the motor off and on again from `end_s` on."""
        self.switches += [(self.end_s, False), (self.end_s + off_s, True)]
        self.nuisances.append(Nuisance(Kind.DAY_BETWEEN if night else Kind.PAUSE, self.end_s, off_s))
        self.nuisances.append(Nuisance(Kind.LOADED_START, self.end_s + off_s, 3.0))
        if night:
            self.night_s = self.end_s + off_s * between(dice, 0.3, 0.6)
        self.end_s += off_s


def begin(dice: Dice, rig: Rig, first_n: float) -> Course:
    """Give the beginning: in mid run, or a start with or without the first load on."""
    course = Course()
    if rig.mid_run:
        course.nuisances.append(Nuisance(Kind.MID_RUN, 0.0))
        course.load(-60.0, first_n)
        course.switches.append((-60.0, True))
        course.end_s = between(dice, 5.0, 40.0)
        return course
    on_s = between(dice, 2.0, 15.0)
    course.switches.append((on_s, True))
    if rig.loaded_start:
        course.load(-60.0, first_n)
        course.nuisances.append(Nuisance(Kind.LOADED_START, on_s, 3.0))
        course.end_s = on_s + rig.dwell_s * 0.7
    else:
        course.load(on_s + rig.motor.ramp_s + between(dice, 5.0, 25.0), first_n)
        course.end_s = course.loads[-1].t_s + rig.dwell_s
    return course


def ladder(dice: Dice, rig: Rig, count: int, share: float = 1.0) -> list[float]:
    """Give rising loads, N: equal weights as a rule, a growing row now and then; the last is `share` of the most."""
    top_n = rig.most_load_n * share
    count = max(1, min(count, int(top_n / LEAST_N)))
    ratio = 0.0 if happens(dice, 0.75) else between(dice, 1.15, 1.6)
    steps = [ratio ** (k + 1 - count) if ratio else (k + 1) / count for k in range(count)]
    return [float(f"{max(top_n * step, LEAST_N * (k + 1)):.3g}") for k, step in enumerate(steps)]


def staircase(dice: Dice, rig: Rig, length_s: float, top_share: float = 1.0) -> Course:
    """Give a staircase of about the given length, with pauses as they happen; `end_s` is where the last dwell ends."""
    count = int(min(max(round(length_s / rig.dwell_s), 2 if rig.dwell_s > 300.0 else 3), 18))
    loads_n = ladder(dice, rig, count, top_share)
    course = begin(dice, rig, loads_n[0])
    for load_n in loads_n[1:]:
        if course.end_s > 1.3 * length_s:
            break
        course.load(course.end_s, load_n, manner_of(dice, rig))
        dwell_s = rig.dwell_s * between(dice, 0.9, 1.15)
        if happens(dice, 0.05) and dwell_s >= 60.0:
            course.end_s += 0.5 * dwell_s
            night = happens(dice, 0.35)
            course.pause(dice, between(dice, 20.0, 40.0) if night else scaled(dice, 8.0, 60.0), night)
            dwell_s *= 0.5
        course.end_s += dwell_s
    return course


def manner_of(dice: Dice, rig: Rig) -> Kind | None:
    """Draw how a weight is set down."""
    for kind, share in _CLUMSY:
        if happens(dice, share):
            return kind
    return Kind.LIFTED if rig.lifts else None


def hold(dice: Dice, rig: Rig, length_s: float) -> Course:
    """Give an endurance run: a few loads to begin with, then one load for the rest."""
    loads_n = ladder(dice, rig, int(dice.integers(1, 5)), between(dice, 0.5, 1.0))
    course = begin(dice, rig, loads_n[0])
    for load_n in loads_n[1:]:
        course.load(course.end_s, load_n, manner_of(dice, rig))
        course.end_s += min(rig.dwell_s, 180.0)
    if happens(dice, 0.25):
        course.end_s = between(dice, 0.4, 0.7) * length_s
        night = happens(dice, 0.5)
        course.pause(dice, between(dice, 20.0, 60.0), night)
    course.end_s = length_s
    return course


def starts(dice: Dice, rig: Rig, length_s: float) -> Course:
    """Give starts and stops: loaded, before the ring is at rest, by inches, and with weights changed in between."""
    loads_n = ladder(dice, rig, int(dice.integers(1, 5)), between(dice, 0.4, 1.0))
    course = begin(dice, rig, loads_n[0])
    course.end_s = course.switches[-1][0] + (course.loads[0].t_s > 0.0) * 40.0 + between(dice, 20.0, 40.0)
    nights = 1 if happens(dice, 0.3) else 0
    while course.end_s < length_s:
        what = one_of(dice, (Kind.PAUSE, Kind.RESTART_BEFORE_REST, Kind.INCHING, Kind.DAY_BETWEEN), (6, 2, 1.5, nights))
        if what is Kind.RESTART_BEFORE_REST:
            course.switches += [(course.end_s, False), (course.end_s + scaled(dice, 0.1, 0.6), True)]
            course.nuisances.append(Nuisance(what, course.end_s, 3.0))
        elif what is Kind.INCHING:
            course.switches.append((course.end_s, False))
            course.end_s += between(dice, 6.0, 15.0)
            course.nuisances.append(Nuisance(what, course.end_s, 8.0))
            for _ in range(int(dice.integers(2, 6))):
                course.switches += [(course.end_s, True), (course.end_s + between(dice, 0.2, 0.8), False)]
                course.end_s += between(dice, 1.5, 4.0)
            course.switches.append((course.end_s + 2.0, True))
            course.nuisances.append(Nuisance(Kind.LOADED_START, course.end_s + 2.0, 3.0))
        else:
            nights -= what is Kind.DAY_BETWEEN
            course.pause(dice, scaled(dice, 4.0, 40.0) + 15.0 * (what is Kind.DAY_BETWEEN), what is Kind.DAY_BETWEEN)
        course.end_s += rig.motor.ramp_s + scaled(dice, 8.0, 60.0)
        if len(loads_n) > len(course.loads) and happens(dice, 0.4):
            course.load(course.end_s, loads_n[len(course.loads)], manner_of(dice, rig))
            course.end_s += between(dice, 12.0, 40.0)
    return course
