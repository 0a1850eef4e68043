"""Weights that nobody measured: where no load is fitted, a weight set down looks like a rise of the drag.

Reads the drag while the load is not measured, gives whether it is in motion, what rise may still be a weight, and
which rise behaves as no weight does.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass

from scuffwatch.detect.load_motion import LoadMotion
from scuffwatch.detect.other_kinds import Kind
from scuffwatch.detect.track import Track

_MOTION_SHARE = 0.12
_ACCEPT_S = 3.0
"""A level that has been followed for so long was a weight's."""
_WEIGHT_RATIO, _WEIGHT_SIGMAS = 1.1, 3.0
"""A step of less, over the level and over its noise, is no weight but the level's own change."""
_HANGER_ZEROS = 20.0
"""With a cell's zero at a thousandth of its range that is a fiftieth of it."""
_STEP_LEAVES = 0.03
"""Of a step the means of 0.4 and 1 s are still so far apart after 3.5 s: exp(-3.5)."""
_SECOND_TIMES = 8.0
"""Where one has been seen beyond the hanger: seldom does the next make eight times as much of it. Own choice."""
_FULL_TIMES, _FULL_ZEROS = 4.5, 40.0
"""A level of a twenty-fifth of the cell's range is no hanger's, and no weight makes so many times as much of it: 3 of
9,000 in 2,500 simulated recordings of fourteen worlds (some 400 h) did, and 141 of their 800 scuffings."""
_HANGER_TIMES = 4.0
"""The first weight makes more of a light hanger, which says nothing of the next."""
_NEXT_TIMES = 1.3
"""Weights that grow by a constant factor: the next may be so much more than as many times the last."""


class UnseenWeights:
    """Follow the drag's level as if it were the load's.

    Args:
        weight_times: a rise of more than this many of the largest weights seen is none.
        weights_least: before so many have been seen the next may make eight times as much, or four and a half times
            where the level fills a twenty-fifth of the cell's range; before one, and below that, any rise may be one.
        zero: how far the drag's zero may be off; a level of less than twenty times that is a hanger's, and no measure
            of the weights to come. 0 where it is not known: then the first level may be nothing but the cell's zero.

    What survives a call: the level, the highest so far, the largest step that was a weight, how many
        there were, and how many times the level before the last one was.

    Attributes:
        is_open: whether the present level has not yet shown that it stays.
    """

    def __init__(self, weight_times: float, weights_least: int, zero: float = 0.0) -> None:
        self._weight_times, self._weights_least = weight_times, weights_least
        self._least = _HANGER_ZEROS * zero
        self._motion = LoadMotion(_MOTION_SHARE, 0.0)
        self._level = self._top = self._largest_step = 0.0
        self._last_times = 1.0
        self._weights = 0
        self._followed_s = 0.0

    @property
    def moving(self) -> bool:
        """Say whether the drag is, or just was, on its way to another level."""
        return self._motion.moving

    @property
    def is_open(self) -> bool:
        """Say whether the present level has not yet shown that it stays."""
        return self._followed_s < _ACCEPT_S

    @property
    def has_seen_one(self) -> bool:
        """Say whether a weight beyond the hanger has been seen."""
        return self._weights > 0

    def has_seen_enough(self, load_was_seen: bool) -> bool:
        """Say whether so many have been seen that their size tells of the next; of those measured, one is enough."""
        return self._weights >= (1 if load_was_seen else self._weights_least)

    def forget(self) -> None:
        """Begin anew after a hole."""
        self._motion.forget()

    def update(self, drag: float, fresh: bool, dt_s: float) -> None:
        """Take the slice's drag; NaN where the load is measured or there is no drag."""
        self._motion.update(drag, fresh, dt_s)

    def leave_level(self) -> None:
        """Say that the level has been left."""
        self._followed_s = 0.0

    def stay(self, dt_s: float, is_weight: bool) -> None:
        """Say that the level has lasted another slice; `is_weight`: no load has ever been measured."""
        before_s, self._followed_s = self._followed_s, self._followed_s + dt_s
        level = self._motion.level_n
        if before_s >= _ACCEPT_S or self.is_open or not is_weight or level != level:
            return
        step = level - self._level
        if level < self._least:
            return
        if step > (_WEIGHT_RATIO - 1.0) * self._level and step > _WEIGHT_SIGMAS * self._motion.sigma_n:
            times = level / self._level if self._level > 0.0 else 1.0
            if self._weights or times <= _HANGER_TIMES:
                self._last_times = times
            self._weights += 1
            self._largest_step = max(self._largest_step, step)
        self._level = level
        self._top = max(self._top, level)

    def limit(self, usual_drag: float, load_was_seen: bool) -> float:
        """Give the rise, natural logarithm, beyond which it is no weight; infinite where none tells.

        Args:
            usual_drag: from which the rise is counted.
            load_was_seen: whether the weights so far were measured; one of them is enough then.
        """
        # A lever that was lifted is set down again with all that hung there.
        top = max(self._top, usual_drag)
        if not self.has_seen_enough(load_was_seen):
            return self._limit_of_few(top, usual_drag)
        most = max(top + self._weight_times * self._largest_step, top * _NEXT_TIMES * self._last_times)
        return math.log(most / max(usual_drag, 1e-9))

    def _limit_of_few(self, top: float, usual_drag: float) -> float:
        """Give the same before enough weights have been seen, by how much of the cell's range the level fills."""
        if not self._weights or self._least <= 0.0:
            return math.inf
        is_full = top >= _FULL_ZEROS / _HANGER_ZEROS * self._least
        return math.log((_FULL_TIMES if is_full else _SECOND_TIMES) * top / max(usual_drag, 1e-9))


@dataclass(frozen=True, slots=True)
class NoWeightParams:
    """When a rise that nobody measured the load of is none of a weight. Rises are natural logarithms.

    Attributes:
        rise, low_rise: mean and lowest above usual.
        unrest, unrest_least: ratio to usual, and least size, from which the new level has not come to rest.
        restless_s: with two further kinds for so long, s: a weight of four times as much has come to rest by then.
        unsettled_s: with unrest alone, s: a lever that bounces has come to rest sooner.
        swung_s: the same where stick-slip has been told on this rig, s.
        climb, climb_s: a rise that goes on by 0.1 a second for so long, s: a weight is set down in less.
        open_most_s: longer than this no level is kept from being learned, s.
    """

    rise: float = 0.69
    low_rise: float = 0.30
    unrest: float = 4.0
    unrest_least: float = 0.07
    restless_s: float = 3.2
    unsettled_s: float = 4.0
    swung_s: float = 7.5
    climb: float = 0.06
    climb_s: float = 4.0
    open_most_s: float = 8.0


class NoWeight:
    """Look whether a rise behaves as no weight does: it stays restless, or goes on rising.

    Args:
        params: see `NoWeightParams`.

    What survives a call: for how long each has been so.

    Attributes:
        is_open: whether friction is far above usual and has not come to rest there: no level to be learned.
    """

    def __init__(self, params: NoWeightParams) -> None:
        self._params = params
        self.reset()

    def reset(self) -> None:
        """Begin anew: a load is measured, or nothing turns."""
        self._restless_s = self._unsettled_s = self._climb_s = 0.0
        self.is_open = self._is_far = self._has_swung = False

    def update(
        self, track: Track, kinds: Collection[Kind], dt_s: float, *, has_swung: bool = False, is_first: bool = False
    ) -> None:
        """Take the next slice's friction, while no load is measured.

        Args:
            track: of the friction force.
            kinds: what has been seen beside it.
            dt_s: length of the slice, s.
            has_swung: whether stick-slip has been told on this rig: then a new level comes to rest later, if at all.
            is_first: whether no weight has been seen yet: out of next to nothing the first one goes on rising for
                longer, as it is let down.
        """
        p = self._params
        self._is_far = track.rise >= p.rise
        unsettled = self._is_far and track.low_rise >= p.low_rise and track.restless >= p.unrest
        unsettled = unsettled and track.unrest >= p.unrest_least
        self._unsettled_s = self._unsettled_s + dt_s if unsettled else 0.0
        self._has_swung = has_swung
        climbs = not is_first and track.climb >= max(p.climb, _STEP_LEAVES * track.rise)
        self._climb_s = self._climb_s + dt_s if climbs else 0.0
        restless = unsettled and len(kinds) >= 2 and Kind.VARIABILITY in kinds
        self._restless_s = self._restless_s + dt_s if restless else 0.0
        self.is_open = unsettled and self._unsettled_s <= p.open_most_s

    @property
    def found(self) -> bool:
        """Say whether it is no weight."""
        p = self._params
        climbs = self._is_far and self._climb_s >= p.climb_s
        unsettled = self._unsettled_s >= (p.swung_s if self._has_swung else p.unsettled_s)
        return climbs or self._restless_s >= p.restless_s or unsettled
