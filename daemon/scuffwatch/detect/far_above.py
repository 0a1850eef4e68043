"""A friction coefficient that no boundary film has, on a rig that has shown one: however slowly it came there.

Reads friction force and measured load, says whether it is so. What is usual follows a rise that takes minutes, as oil
that runs out does, and what scuffs before its first level is learned becomes usual itself; this does not.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.mechanics import Mechanics
from scuffwatch.detect.smooth import Usual

_SLOW_S, _KNOWN_S = 2.0, 1.0
_LEAST_COEFFICIENT = 0.03
"""A full film has less; what it was before says nothing of how much is too much."""
_HEAVY_SHARE = 0.7
"""Of the heaviest load so far; under less a cell's zero may be most of the friction."""


@dataclass(frozen=True, slots=True)
class FarAboveParams:
    """When a coefficient is no film's.

    Attributes:
        coefficient: no less than this; boundary films have 0.09 to 0.14 (Zhang, Ueda, Campen, Spikes 2021, Tribology
            Letters), poor ones 0.2 (common practice, no source).
        times: nor less than so many times the least this rig has shown at rest.
        for_s: for so long, s.

    Of 3,155 simulated recordings of eleven worlds (some 600 h) 4 healthy ones have as much, 3 of them beside a friction
    that first was nothing; and half of their 1,150 scuffings within 10 s.
    """

    coefficient: float = 0.25
    times: float = 2.0
    for_s: float = 2.0


class FarAbove:
    """Follow the friction coefficient against the least it has been.

    Args:
        params: see `FarAboveParams`.

    What survives a call: the least mean so far, and for how long it has been far above.

    Attributes:
        coefficient, limit, least: mean of 2 s, what it is held against, and the least such mean so far.
    """

    def __init__(self, params: FarAboveParams) -> None:
        self._params = params
        self._slow = Usual(_SLOW_S)
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing has been shown."""
        self.least = math.inf
        self.coefficient = self.limit = math.nan
        self.forget()

    def forget(self) -> None:
        """Begin anew after a stop, a hole or a weight; what has been shown stays."""
        self._slow.forget()
        self._lasted_s = 0.0

    def update(
        self, mechanics: Mechanics, heaviest_n: float, lost: float, rests: bool, is_level: bool, dt_s: float
    ) -> None:
        """Take the next slice of a ring that turns.

        Args:
            mechanics: of friction and load.
            heaviest_n: heaviest load so far, N; NaN before the first.
            lost: by how much a load cell that drifts has gone down since its level began, natural logarithm.
            rests: whether the load rests.
            is_level: whether it has been taken for a level.
            dt_s: length of the slice, s.
        """
        friction, p, slow = mechanics.friction, self._params, self._slow
        shows = rests and mechanics.has_load and (friction.is_above_noise or friction.mean_is_above_noise)
        if not shows or friction.drag != friction.drag or mechanics.load_n < _HEAVY_SHARE * heaviest_n:
            self.forget()
            return
        slow.learn(friction.drag / mechanics.load_n * math.exp(-lost), dt_s)
        if slow.learned_s < _KNOWN_S:
            return
        coefficient = self.coefficient = slow.value
        times_least = p.times * self.least
        self.limit = times_least if p.coefficient < times_least < math.inf else p.coefficient
        is_far = is_level and coefficient >= self.limit and self.least < math.inf
        self._lasted_s = self._lasted_s + dt_s if is_far else 0.0
        if coefficient < self.least:
            self.least = coefficient if coefficient > _LEAST_COEFFICIENT else _LEAST_COEFFICIENT

    @property
    def found(self) -> bool:
        """Say whether it is so."""
        return self._lasted_s >= self._params.for_s
