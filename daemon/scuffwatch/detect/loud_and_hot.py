"""A rise that nobody measured the load of, with more sound and heat than a weight brings: then it is none.

Reads the drag's track, sound and heating, says whether it is so. A weight makes a contact hardly louder, and warms its
pin by a kelvin or two; one that scuffs screams and burns.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.other_kinds import Kind, Seen
from scuffwatch.detect.track import Track


@dataclass(frozen=True, slots=True)
class LoudAndHotParams:
    """When a rise is too loud and too hot for a weight.

    Attributes:
        rise, rise_first: mean above the level before, natural logarithm; beyond the second the first weight of a run
            may have come on a hanger, and brings more of both.
        db, gained_k: least of each: sound above usual, dB, and temperature above what it would be, K.
        product_db_k, product_first_db_k: least product of both, dB K; and where it may be the first weight.
        for_s, within_s: for so long, and not later after the level was left, s.

    By a sketch of this rule, in steps of 0.5 s, over 2,600 simulated recordings of eleven worlds (some 500 h): 7
    healthy ones have as much, and a third of their 1,030 scuffings.
    """

    rise: float = 0.69
    rise_first: float = 1.6
    db: float = 2.0
    gained_k: float = 1.2
    product_db_k: float = 18.0
    product_first_db_k: float = 50.0
    for_s: float = 0.5
    within_s: float = 10.0


class LoudAndHot:
    """Follow what came with the drag since its level was left.

    Args:
        params: see `LoudAndHotParams`.

    What survives a call: the level before, how many levels there were, the time since it was left, and the heat gained
        in it.

    Attributes:
        rise: mean of the drag above the level before, natural logarithm; NaN before there was one.
    """

    def __init__(self, params: LoudAndHotParams) -> None:
        self._params = params
        self.reset()

    def reset(self) -> None:
        """Begin anew: nothing turns, or nothing rubs."""
        self._before = self.rise = self._loud_db = math.nan
        self._since_s = self._gained_k = self._lasted_s = 0.0
        self._levels, self._was_open = 0, True
        self._least_db_k = self._params.product_db_k

    def update(
        self, track: Track, is_open: bool, loud_db: float, heating_k_s: float, dt_s: float, *, was_measured: bool
    ) -> None:
        """Take the next slice.

        Args:
            track: of the friction force.
            is_open: whether its level has been left, or has not yet shown that it stays.
            loud_db: sound above usual where it stands out of its spread, dB; else NaN.
            heating_k_s: rate of the pin temperature above usual, K/s; NaN where it is not known.
            dt_s: length of the slice, s.
            was_measured: whether the load has been, since it was put on.
        """
        if not is_open:
            self.stay(track)
            return
        p = self._params
        self._was_open = True
        self._since_s += dt_s
        if heating_k_s == heating_k_s:
            self._gained_k += heating_k_s * dt_s
        self._loud_db = loud_db
        rise = self.rise = track.mean - self._before
        may_be_first = rise > p.rise_first and self._levels <= 1 and not was_measured
        self._least_db_k = p.product_first_db_k if may_be_first else p.product_db_k
        is_so = rise >= p.rise and loud_db >= p.db and self._gained_k >= p.gained_k
        is_so = is_so and loud_db * self._gained_k >= self._least_db_k and self._since_s <= p.within_s
        self._lasted_s = self._lasted_s + dt_s if is_so else 0.0

    def stay(self, track: Track) -> None:
        """Say that the drag is at a level that is known to be one: it has stayed, or its load is measured."""
        self._levels += self._was_open
        self._was_open, self._before = False, track.base
        self._since_s = self._gained_k = self._lasted_s = 0.0

    @property
    def seen(self) -> tuple[Seen, ...]:
        """Give sound and heating against what is too much for a weight while it is so loud; once found."""
        p = self._params
        least_k = max(p.gained_k, self._least_db_k / self._loud_db)
        heating_k_s = self._gained_k / self._since_s
        return (
            Seen(Kind.ACOUSTIC, self._loud_db, p.db),
            Seen(Kind.THERMAL, heating_k_s, least_k / p.within_s),
        )

    @property
    def found(self) -> bool:
        """Say whether it is no weight."""
        return self._lasted_s >= self._params.for_s
