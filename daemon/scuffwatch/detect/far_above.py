"""A friction coefficient that no boundary film has, on a rig that has shown one: however slowly it came there.

Reads friction force and measured load, says whether it is so. What is usual follows a rise that takes minutes, as oil
that runs out does, and what scuffs before its first level is learned becomes usual itself; this does not.
"""

import math
from dataclasses import dataclass
from typing import Self

from scuffwatch.detect.mechanics import Mechanics
from scuffwatch.detect.smooth import Usual

_SLOW_S, _KNOWN_S = 2.0, 1.0
_LEAST_COEFFICIENT = 0.03
"""A full film has less; what it was before says nothing of how much is too much."""
_BORNE_SHARE, _TELLS, _HERE_SHARE = 0.1, 0.5, 0.1
"""Of the growth of friction at one load, where that is more than the second; a current that shows less of it denies it.
What it draws without load may be unknown, and is most of it then. The last is how far one load may be off."""
_NEAR_SHARE, _FAR_SHARE, _FAR_TIMES = 0.5, 0.2, 1.4
"""Of the load now; under less than the first what a cell's zero is off by made the coefficient another one, so it takes
so many times more to be too much; under less than the second nothing is known by it."""
_HEAVY_SHARE = 0.7
"""Of the heaviest load so far; under less a cell's zero may be much of the friction, and as many times more is too much
as under another load; below a fifth it may be most of it."""


@dataclass(frozen=True, slots=True)
class FarAboveParams:
    """When a coefficient is no film's.

    Attributes:
        coefficient: no less than this; boundary films have 0.09 to 0.14 (Zhang, Ueda, Campen, Spikes 2021, Tribology
            Letters), poor ones 0.2 (common practice, no source).
        times: nor less than so many times the least this run has shown while its load rests; 1.4 times as many where
            that was under less than half the load.
        for_s: for so long, s.

    By a sketch of this rule, in steps of 0.5 s, over 3,155 simulated recordings of eleven worlds (some 600 h): 4
    healthy ones have as much, 2 of them after a friction of nothing, and 21 beside a sensor that has failed; half of
    their 1,150 scuffings have it within 10 s.
    """

    coefficient: float = 0.25
    times: float = 2.0
    for_s: float = 2.0

    @classmethod
    def beside(cls, limit: float) -> Self:
        """Give them beside a stated limit of the coefficient, NaN for none: who allows more expects more."""
        params = cls()
        return cls(coefficient=limit) if limit > params.coefficient else params


class FarAbove:
    """Follow the friction coefficient against the least it has been.

    Args:
        params: see `FarAboveParams`.

    What survives a call: the least mean at each load so far, the least at this load with the motor's torque current
        then, and for how long it has been far above.

    Attributes:
        coefficient, limit, least: mean of 2 s, what it is held against, and the least such mean so far under at least
            half the load, or a fifth where that makes it less.
    """

    def __init__(self, params: FarAboveParams) -> None:
        self._params = params
        self._slow, self._torque = Usual(_SLOW_S), Usual(_SLOW_S)
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing has been shown."""
        self.least = self._enough = self._least_here = math.inf
        self._leasts: list[tuple[float, float]] = []
        self._here_n, self._torque_here_a_n = 0.0, math.nan
        self.coefficient = self.limit = math.nan
        self.forget()

    def forget(self) -> None:
        """Begin anew after a stop, a hole or a weight; what has been shown stays."""
        self._slow.forget()
        self._torque.forget()
        self._lasted_s = 0.0

    def update(
        self,
        mechanics: Mechanics,
        heaviest_n: float,
        lost: float,
        dt_s: float,
        *,
        rests: bool,
        is_level: bool,
        is_deaf: bool,
    ) -> None:
        """Take the next slice of a ring that turns.

        Args:
            mechanics: of friction and load.
            heaviest_n: heaviest load so far, N; NaN before the first.
            lost: by how much a load cell that drifts has gone down since its level began, natural logarithm.
            dt_s: length of the slice, s.
            rests: whether the load rests.
            is_level: whether it has been taken for a level.
            is_deaf: whether the motor's current is known not to feel the contact.
        """
        friction, p, slow = mechanics.friction, self._params, self._slow
        # What was taken off just now is not lost, and known as such only once the level has begun.
        shows = rests and mechanics.has_load and (is_level or not lost)
        shows = shows and (friction.is_above_noise or friction.mean_is_above_noise)
        if not shows or friction.drag != friction.drag or mechanics.load_n < _FAR_SHARE * heaviest_n:
            self.forget()
            return
        slow.learn(friction.drag / mechanics.load_n * math.exp(-lost), dt_s)
        torque, current = self._torque, mechanics.current
        torque.learn(current.drag / mechanics.load_n if current.is_above_noise else math.nan, dt_s)
        if slow.learned_s < _KNOWN_S:
            return
        coefficient = self.coefficient = slow.value
        self._follow_here(coefficient, torque.value, mechanics.load_n)
        enough = p.times * self._enough
        if mechanics.load_n < _HEAVY_SHARE * heaviest_n:
            enough *= _FAR_TIMES
        self.limit = enough if p.coefficient < enough < math.inf else p.coefficient
        is_far = is_level and coefficient >= self.limit and self.least < math.inf
        is_far = is_far and (is_deaf or not self._denies(torque.value))
        self._lasted_s = self._lasted_s + dt_s if is_far else 0.0

    def _follow_here(self, coefficient: float, torque_a_n: float, load_n: float) -> None:
        """Keep the least at this load; at another the motor's share of what turns it without load is another."""
        is_here = abs(load_n - self._here_n) <= _HERE_SHARE * self._here_n
        if not is_here or coefficient < self._least_here:
            self._here_n = self._here_n if is_here else load_n
            self._least_here, self._torque_here_a_n = coefficient, torque_a_n
            least = coefficient if coefficient > _LEAST_COEFFICIENT else _LEAST_COEFFICIENT
            self._leasts = [one for one in self._leasts if abs(one[0] - self._here_n) > _HERE_SHARE * self._here_n]
            self._leasts.append((self._here_n, least))
            self._enough, self.least = min(self._told_by(*one) for one in self._leasts)

    def _told_by(self, load_n: float, least: float) -> tuple[float, float]:
        """Give what the least at a load counts for at the one now, infinite for nothing, and that least itself."""
        if load_n >= _NEAR_SHARE * self._here_n:
            return least, least
        return _FAR_TIMES * least if load_n >= _FAR_SHARE * self._here_n else math.inf, least

    def _denies(self, torque_a_n: float) -> bool:
        """Say whether the motor's torque current has hardly grown while friction did at this load: the cell drifts."""
        grown, least = self.coefficient / self._least_here - 1.0, self._torque_here_a_n
        return grown >= _TELLS and torque_a_n - least < _BORNE_SHARE * grown * least

    @property
    def found(self) -> bool:
        """Say whether it is so."""
        return self._lasted_s >= self._params.for_s
