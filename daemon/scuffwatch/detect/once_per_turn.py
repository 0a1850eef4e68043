"""Once per turn: a hot patch on the ring that passes the pin each time round, and grows.

Reads the mechanical variable slice by slice with the speed of the ring, gives how far the variable swings at just that
frequency against what is usual at this load. Runout of the ring does so too, but does not grow; stick-slip has a
frequency of its own.

Source:
    heat spots that grow before scuffing: Matsuzaki, Yagi, Sugimura 2018, Tribology Letters 66.
"""

import cmath
import math
from dataclasses import dataclass

from scuffwatch.detect.drag import Drag
from scuffwatch.detect.smooth import Usual, share_of

_MEMORY_S, _MEMORY_TURNS, _USUAL_S = 2.0, 6.0, 60.0
"""Of the swing: so long, and so many turns at least. A mean over few turns swings by the noise alone."""
_SPEED_S = 4.0
"""Of the speed: one that counts pulses jumps by a tenth from gate to gate, and would lose the phase."""
_KNOWN_S, _RECENT_S = 5.0, 4.0
_JUDGED_EVERY_S = 0.1 - 1e-6
"""Its mean of 2 s moves slowly: to judge it more often costs time and tells nothing."""
_LEAST_USUAL = 0.008
_SLOWER_UP, _GROWN_TIMES = 20.0, 1.3
"""From the second on, what is usual grows so much slower than it falls: else it learns what it is there to show."""
_LEVEL_TIMES, _LEVEL_FADE_S = 1.5, 120.0
"""A weight makes runout felt so many times as much, at most; what stays for the second is runout nevertheless."""
_MOST_TURNS = 0.4
"""So many turns a slice, at most: a faster ring swings between two slices and cannot be seen."""
_CLIP = 0.5
_SIGMA_OF_DISTANCE = 1.2533
"""A standard deviation over the mean distance from the mean, of normal noise: sqrt(pi / 2)."""


@dataclass(frozen=True, slots=True)
class OncePerTurnParams:
    """When a swing once a turn is a warning. Amplitudes are natural logarithms: 0.03 is 3 %.

    Attributes:
        least: least amplitude.
        times: amplitude over usual.
        share, share_of_all: least share of what unrest has grown by, and of all unrest, that the swing has grown by. Of
            a patch on a tenth of the track a fifth of the power is at the frequency itself (its Fourier series).
        real: least share of the swing's growth that unrest has grown by.
        resolution: least amplitude over the smallest step of the drag: a coarse converter swings by itself.
        lasts_s: for so long without a break, s, and so many turns as its mean takes in twice.
        sudden: a swing that is so many times the limit by then did not grow: stick-slip that has the ring's frequency.
        grows_on: unless it goes on to so many times what it was then. A mean that follows a step has less to go after
            two of its memories: 13.5 % of it.

    Sizes and times: this project's own choice.
    """

    least: float = 0.03
    times: float = 2.0
    share: float = 0.15
    share_of_all: float = 0.1
    real: float = 0.4
    resolution: float = 0.7
    lasts_s: float = 4.0
    sudden: float = 1.6
    grows_on: float = 1.25


class OncePerTurn:
    """Follow the swing at the frequency of the ring.

    Args:
        params: see `OncePerTurnParams`.

    What survives a call: the phase of the ring and its mean speed, the swing as a complex mean, what is usual, the
        smallest step of the drag at this load, and for how long the swing was too much.

    Attributes:
        swing: amplitude; NaN where it is not known.
        ratio, limit: amplitude over usual, and from which ratio on it is too much; the ratio is NaN where it is not
            known.
        is_too_fast: whether the ring turns too fast for the slices.
        lasted_s: for how long it has been too much, s.
        has_grown: whether it was taken for stick-slip and has gone on growing as stick-slip does not.
    """

    def __init__(self, params: OncePerTurnParams) -> None:
        self._params = params
        self._usual, self._usual_square = Usual(_USUAL_S, wary=True), Usual(_USUAL_S, wary=True)
        self._recent_square = Usual(_RECENT_S)
        self._dt_s = self._share = self._speed_share = self._turns = math.nan
        self.forget()

    def forget(self) -> None:
        """Begin anew: what is usual is not known."""
        self._most = math.inf
        self._forget_level()

    def begin_level(self) -> None:
        """Begin anew at another load: runout may be felt more there, but not many times as much."""
        usual = self._usual
        if usual.learned_s >= _KNOWN_S:
            self._most = _LEVEL_TIMES * max(usual.value, _LEAST_USUAL)
        self._forget_level()

    def _forget_level(self) -> None:
        self._usual.forget()
        self._usual_square.forget()
        self._recent_square.forget()
        self._step, self._drag = math.inf, math.nan
        self.forget_motion()

    def forget_motion(self) -> None:
        """Begin anew after a stop or a hole; what is usual stays."""
        self._phase = self._age_s = self.lasted_s = 0.0
        self._is_sudden = self.has_grown = False
        self._since_s = self._first_ratio = 0.0
        self._mean, self._slow_times = 0j, 1.0
        self.swing = self.ratio = math.nan
        self.limit, self.is_too_fast = self._params.times, False

    @property
    def is_too_much(self) -> bool:
        """Say whether it has grown to be too much, and been so for long enough."""
        return self.lasted_s >= self._lasts_s and not self._is_sudden

    @property
    def may_be(self) -> bool:
        """Say whether it is too much, or may turn out to be once it has lasted."""
        return self.lasted_s > 0.0 and (self.lasted_s < self._lasts_s or not self._is_sudden)

    @property
    def _lasts_s(self) -> float:
        return self._params.lasts_s * self._slow_times

    def update(self, away: float, unrest: float, drag: Drag, turns_hz: float, dt_s: float) -> None:
        """Take a fresh value.

        Args:
            away: of the variable from its mean over some tenths of a second.
            unrest: mean distance from it.
            drag: that the variable is made of.
            turns_hz: of the ring; NaN where it is not known.
            dt_s: length of the slice, s.
        """
        turns = turns_hz * dt_s
        if not 0.0 < turns <= _MOST_TURNS:
            self.forget_motion()
            self.is_too_fast = turns > _MOST_TURNS
            return
        if dt_s != self._dt_s:
            self._dt_s, self._share = dt_s, share_of(dt_s, _MEMORY_S)
            self._speed_share = share_of(dt_s, _SPEED_S)
        if self._age_s == 0.0:
            self._turns = turns
        young = dt_s / (self._age_s + dt_s)
        turns = self._turns = self._turns + (turns - self._turns) * max(self._speed_share, young)
        step = abs(drag.drag - self._drag) / (drag.drag + drag.floor)
        if 0.0 < step < self._step:
            self._step = step
        self._drag = drag.drag
        self._phase = (self._phase + turns) % 1.0
        age_s = self._age_s = self._age_s + dt_s
        share, young = self._share, dt_s / age_s
        if turns < share * _MEMORY_TURNS:
            share = turns / _MEMORY_TURNS
        self._slow_times = self._share / share
        away = min(max(away, -_CLIP), _CLIP)
        self._mean += (away * cmath.rect(1.0, -math.tau * self._phase) - self._mean) * (
            young if young > share else share
        )
        since_s = self._since_s = self._since_s + dt_s
        if since_s >= _JUDGED_EVERY_S:
            self._since_s = 0.0
            if age_s >= 2.0 * _MEMORY_S * self._slow_times:
                self._judge(unrest, since_s)

    def _judge(self, unrest: float, dt_s: float) -> None:
        p, usual, squares = self._params, self._usual, self._usual_square
        swing = self.swing = 2.0 * abs(self._mean)
        square, slower = (_SIGMA_OF_DISTANCE * unrest) ** 2, 1.0
        if usual.learned_s >= _KNOWN_S:
            if self._most < usual.value:
                self._most += (usual.value - self._most) * dt_s / _LEVEL_FADE_S
            common = max(min(usual.value, self._most), _LEAST_USUAL)
            self.ratio = swing / common
            self.limit = max(p.times, p.least / common, p.resolution * self._step / common)
            grown = 0.5 * (swing * swing - common * common)
            by = self._recent_square.value - squares.value
            # A swing that grew out of unrest that did not is one whose frequency is better known now.
            is_its_own = (
                grown >= max(p.share * (square - squares.value), p.share_of_all * square) and by >= p.real * grown
            )
            before_s = self.lasted_s
            self.lasted_s = before_s + dt_s if self.ratio >= self.limit and is_its_own else 0.0
            if before_s < self._lasts_s:
                self._is_sudden, self._first_ratio = self.ratio > p.sudden * self.limit, self.ratio
                self.has_grown = False
            elif self._is_sudden and self.ratio >= p.grows_on * self._first_ratio:
                self._is_sudden, self.has_grown = False, True
            slower = _SLOWER_UP if self.ratio > _GROWN_TIMES else 1.0
        self._recent_square.learn(square, dt_s)
        usual.learn(swing, dt_s, slower)
        squares.learn(square, dt_s, slower)
