"""What an operator does: weights on and off, the lever, the motor's switch, a lean on the bench.

Reads a rig and the plan so far, adds placements, blows and spans of the motor.
"""

from dataclasses import dataclass

import numpy as np
from world_b.values import Kind

from .dice import Dice
from .lever import Blow, Placement
from .plan import Plan, Span
from .rig import Rig


@dataclass(frozen=True, slots=True)
class Operator:
    """Habits of one person.

    Attributes:
        ramp_s: both ends of the time in which a weight is let go.
        drops, twice, back, doubles: shares of changes in which a weight is dropped, set down twice, taken off again,
            put on together with the next.
        lifts, stops: shares of rigs where the lever is lifted, or the motor stopped, for each change.
        leans_per_hour: on the bench.
    """

    ramp_s: tuple[float, float]
    drops: float
    twice: float
    back: float
    doubles: float
    lifts: float
    stops: float
    leans_per_hour: float


CAREFUL = Operator((0.4, 2.5), 0.01, 0.02, 0.01, 0.02, 0.15, 0.15, 0.5)
HURRIED = Operator((0.1, 0.8), 0.12, 0.08, 0.04, 0.15, 0.1, 0.05, 3.0)
CLUMSY = Operator((0.05, 1.5), 0.25, 0.2, 0.1, 0.05, 0.25, 0.1, 8.0)
OPERATORS = (CAREFUL, CAREFUL, HURRIED, CLUMSY)


def ladder_n(dice: Dice, rig: Rig, count: int) -> list[float]:
    """Give loads that rise to the top load: evenly, by a factor, or with the last ones doubled up."""
    first = dice.flat(0.08, 0.35) if count > 3 else dice.flat(0.3, 0.7)
    rise = np.linspace(0.0, 1.0, count)
    shares = first ** (1.0 - rise) if dice.chance(0.4) else first + (1.0 - first) * rise
    digits = 1 if rig.top_load_n < 100.0 else 0
    return [float(np.round(rig.top_load_n * share, digits)) for share in shares]


class Hands:
    """Writes one person's doings into a plan; the load that is on survives a call."""

    def __init__(self, dice: Dice, rig: Rig, plan: Plan, operator: Operator) -> None:
        """Take the plan to write into; load and motor are as it begins."""
        self.dice, self.rig, self.plan, self.operator = dice, rig, plan, operator
        self.load_n = plan.start_load_n
        self.lifting = dice.chance(operator.lifts)
        self.stopping = not self.lifting and dice.chance(operator.stops)

    def switch_on(self, t_s: float) -> None:
        """Begin a span of the motor that lasts to the end for now."""
        self.plan.on.append(Span(t_s, float("inf")))

    def switch_off(self, t_s: float) -> None:
        """End the last span."""
        self.plan.on[-1] = Span(self.plan.on[-1].begin_s, t_s)

    def put(self, t_s: float, to_n: float, ramp_s: float, thud_share: float = 0.0) -> None:
        """Change the load without any habit."""
        self.plan.placements.append(Placement(t_s, self.load_n, to_n, ramp_s, thud_share))
        self.load_n = to_n

    def change(self, t_s: float, to_n: float, plain: bool = False) -> float:
        """Change the load in this person's way and give when it is done, s; plain leaves out mishaps."""
        dice, who, plan = self.dice, self.operator, self.plan
        if self.lifting and self.load_n > 0.0:
            plan.note(Kind.LIFTED, t_s)
            self.put(t_s, 0.0, dice.flat(0.3, 1.2))
            t_s += dice.flat(2.0, 8.0)
        if self.stopping and plan.on:
            plan.note(Kind.PAUSE, t_s)
            self.switch_off(t_s)
            t_s += dice.flat(8.0, 20.0)
        t_s = self._set_down(t_s, to_n, who, plain)
        plan.loads_n.append(to_n)
        if self.stopping and plan.on:
            t_s += dice.flat(2.0, 6.0)
            self.switch_on(t_s)
            plan.note(Kind.LOADED_START, t_s)
        return t_s

    def _set_down(self, t_s: float, to_n: float, who: Operator, plain: bool) -> float:
        dice, plan, before_n = self.dice, self.plan, self.load_n
        ramp_s = dice.flat(*who.ramp_s)
        if plain:
            self.put(t_s, to_n, ramp_s)
            return t_s + ramp_s
        if dice.chance(who.drops):
            plan.note(Kind.HARD_SET_DOWN, t_s)
            self.put(t_s, to_n, dice.flat(0.03, 0.08), dice.flat(0.3, 1.0))
            return t_s + 0.1
        if dice.chance(who.twice):
            plan.note(Kind.SET_DOWN_TWICE, t_s)
            self.put(t_s, before_n + (to_n - before_n) * dice.flat(0.4, 0.9), ramp_s)
            self.put(t_s + ramp_s + dice.flat(0.2, 0.6), before_n, dice.flat(0.1, 0.5))
            t_s += ramp_s + dice.flat(1.5, 3.5)
        elif dice.chance(who.back):
            plan.note(Kind.TAKEN_OFF_AGAIN, t_s)
            self.put(t_s, to_n, ramp_s)
            t_s += ramp_s + dice.flat(2.0, 10.0)
            self.put(t_s, before_n, dice.flat(0.3, 1.0))
            t_s += dice.flat(3.0, 12.0)
        self.put(t_s, to_n, ramp_s)
        return t_s + ramp_s

    def climb(self, t_s: float, loads_n: list[float], dwell_s: tuple[float, float], until_s: float) -> float:
        """Set loads one after the other with dwells between; give when the last dwell is over, s."""
        for place, load_n in enumerate(loads_n):
            if t_s >= until_s:
                return t_s
            if place < len(loads_n) - 1 and self.dice.chance(self.operator.doubles):
                continue
            t_s = self.change(t_s, load_n) + self.dice.flat(*dwell_s)
        return t_s

    def pause(self, t_s: float, away_s: float) -> None:
        """Stop the motor for a while, load on or off."""
        dice, plan, load_n = self.dice, self.plan, self.load_n
        plan.note(Kind.PAUSE, t_s, away_s)
        lift = dice.chance(0.4) and away_s > 12.0
        if lift:
            self.put(t_s - 2.0, 0.0, 0.6)
        self.switch_off(t_s)
        self.switch_on(t_s + away_s)
        if lift:
            self.put(t_s + away_s + dice.flat(3.0, 6.0), load_n, dice.flat(*self.operator.ramp_s))
        else:
            plan.note(Kind.LOADED_START, t_s + away_s)

    def lean(self, begin_s: float, end_s: float) -> None:
        """Lean on the bench now and then."""
        for t_s in self.dice.times_s(begin_s, end_s, self.operator.leans_per_hour):
            self.plan.blows.append(Blow(t_s, self.dice.even_log(0.03, 0.5) * self.dice.one_of((-1.0, 1.0))))
            self.plan.note(Kind.BUMP, t_s)
