"""One mechanical variable followed in time: what is usual for it, how far it is above, and how restless it is.

Reads y and the phase of the load, gives rises in natural logarithm. The baseline is driven by means, never by single
values; it falls fast, rises slowly, and stops rising where the rise is evidence.
"""

import math
from collections import deque
from enum import Enum

from scuffwatch.detect.smooth import Rate, Usual, share_of

_FAST_S, _MEAN_S, _SLOWER_S, _RECENT_S = 0.03, 0.4, 1.0, 4.0
_LOW_S = 0.6
_BASE_S, _FALL_S = 12.0, 4.0
_SLOW_TIMES = 12.0
_SMALL_RISE, _EVIDENCE_RISE = 0.1, 0.25
_UNREST_S, _USUAL_UNREST_S = 0.7, 60.0
_CEILING_FADE_S, _CEILING_LEARN_S = 40.0, 3.0
_LEARN_S = 3.0
_LEVEL_S = 300.0
_STEP_CAP = math.log(2.2)
_RESTART_CAP = math.log(1.25)
_LEAST_UNREST = 0.01
_STEP_MOST = 0.8


class Phase(Enum):
    """What the load and the motor allow to be learned."""

    OFF = "no contact or no motion"
    HOLD = "load in motion, or just started"
    FOLLOW = "steady"


class Track:
    """Follow one variable.

    What survives a call: means, baseline, unrest, ceiling and the lowest of the last moments.

    Attributes:
        fast, mean, recent: exponential means over 0.03, 0.4 and 4 s; NaN before the first value.
        base: what is usual; NaN before a level has been learned.
        low: lowest `fast` of the last 0.6 s.
        unrest: mean distance of y from its mean, over 0.7 s; `usual_unrest` is what is usual for it.
        ceiling: highest `fast` above the baseline while healthy, fading within 40 s.
        samples: fresh values so far.
    """

    def __init__(self) -> None:
        self._dt_s = math.nan
        self._alphas = (1.0, 1.0, 1.0, 1.0, 1.0)
        self._lows: deque[tuple[float, float]] = deque()
        self.base = math.nan
        self._cap = math.inf
        self._level = math.nan
        self._usual_unrest = Usual(_USUAL_UNREST_S, wary=True)
        self._fall, self._lift = Rate(_FALL_S), Rate(_CEILING_LEARN_S)
        self.samples = 0
        self.forget_motion()

    def forget_motion(self) -> None:
        """Begin anew after a stop; what is usual stays."""
        self.forget_means()
        self.ceiling = 0.0
        self._learned_s = 0.0

    def forget_means(self) -> None:
        """Begin anew after a hole; what is usual stays, and so does how well it is known."""
        self.fast = self.mean = self.recent = self._slower = math.nan
        self.low = math.nan
        self.unrest = 0.0
        self._age_s = self._recent_age_s = 0.0
        self._lows.clear()

    @property
    def usual_unrest(self) -> float:
        """Give the usual distance of y from its mean; NaN before it is known."""
        return self._usual_unrest.value

    @property
    def is_known(self) -> bool:
        """Say whether there is a baseline and a value."""
        return self.base == self.base and self.fast == self.fast

    @property
    def rise(self) -> float:
        """Give how far the 0.4 s mean is above the baseline; NaN where either is not known."""
        return self.mean - self.base

    @property
    def climb(self) -> float:
        """Give how far the 0.4 s mean is above a 1 s one: 0.6 s times the slope; a step has left it after 3 s."""
        return self.mean - self._slower

    @property
    def low_rise(self) -> float:
        """Give how far the lowest of the last 0.6 s is above the baseline."""
        return self.low - self.base

    @property
    def jump(self) -> float:
        """Give how far the 0.03 s mean is above both baseline and the last 4 s."""
        return self.fast - max(self.base, self.recent)

    def begin_level(self, restart: bool, unseen: bool = False, slack: float = 0.0) -> None:
        """Say that the load has gone to a new level, or that the motor has started again at the old one.

        Where the load is not seen, y itself goes up with every weight, and any level is taken as it is. `slack` is what
        a zero error of the friction cell may add at a load so much larger.
        """
        self._learned_s = 0.0
        self.forget_means()
        if self.base == self.base:
            if not restart:
                self._usual_unrest.forget()
            self._cap = math.inf if unseen else self.base + (_RESTART_CAP if restart else _STEP_CAP + slack)

    def update(self, y: float, fresh: bool, dt_s: float, phase: Phase) -> None:
        """Take the next slice's y; NaN is passed over, and so is a held value."""
        if y != y or not fresh or phase is Phase.OFF:
            return
        self.samples += 1
        if dt_s != self._dt_s:
            self._dt_s = dt_s
            self._alphas = tuple(  # type: ignore[assignment]
                share_of(dt_s, memory_s) for memory_s in (_FAST_S, _MEAN_S, _SLOWER_S, _RECENT_S, _UNREST_S)
            )
        a_fast, a_mean, a_slower, a_recent, a_unrest = self._alphas
        if self.fast != self.fast:
            self.fast = self.mean = self._slower = y
            known = self.base == self.base and self._learned_s > 0.0
            self.recent, self._recent_age_s = (self.base, _RECENT_S) if known else (y, 0.0)
        # A spike of a few samples, however high, must not carry the means away.
        y = min(max(y, self.fast - _STEP_MOST), self.fast + _STEP_MOST)
        # A mean that is younger than its memory is the plain mean of what there is: a first value must not weigh more.
        self._age_s += dt_s
        young = dt_s / self._age_s
        self.fast += (y - self.fast) * max(a_fast, young)
        self.mean += (y - self.mean) * max(a_mean, young)
        self._slower += (y - self._slower) * max(a_slower, young)
        self._recent_age_s += dt_s
        self.recent += (y - self.recent) * max(a_recent, dt_s / self._recent_age_s)
        self.unrest += (abs(y - self.mean) - self.unrest) * max(a_unrest, young)
        self._follow_low(dt_s)
        if phase is Phase.HOLD:
            return
        if self._learned_s < _LEARN_S:
            self._learn(dt_s)
        else:
            self._follow(dt_s)

    def _follow_low(self, dt_s: float) -> None:
        lows, fast = self._lows, self.fast
        while lows and lows[-1][1] >= fast:
            lows.pop()
        now_s = self.samples * dt_s
        lows.append((now_s, fast))
        while lows[0][0] < now_s - _LOW_S:
            lows.popleft()
        self.low = lows[0][1]

    def _learn(self, dt_s: float) -> None:
        """Learn a new level within its cap: growing mean over the first seconds."""
        first = self._learned_s == 0.0
        self._learned_s += dt_s
        target = self.mean if first or self.base != self.base else self.base
        target += (self.mean - target) * min(1.0, dt_s / self._learned_s)
        self.base = self._level = min(target, self._cap)
        self._usual_unrest.learn(self.unrest, dt_s)

    def _follow(self, dt_s: float) -> None:
        rise = self.mean - self.base
        if self.base < self._level:
            self._level = self.base
        else:
            self._level += (self.base - self._level) * dt_s / _LEVEL_S
        if rise <= 0.0:
            self.base += rise * self._fall.share(dt_s)
        else:
            slower = 1.0 if rise < _SMALL_RISE else _SLOW_TIMES
            if rise < _EVIDENCE_RISE:
                self.base += rise * dt_s / (_BASE_S * slower)
            else:
                self.base += _EVIDENCE_RISE * dt_s / (_BASE_S * _SLOW_TIMES)
        above = self.fast - self.base
        self.ceiling += -self.ceiling * dt_s / _CEILING_FADE_S
        if above > self.ceiling:
            self.ceiling += (min(above, 0.6) - self.ceiling) * self._lift.share(dt_s)
        if rise < _EVIDENCE_RISE:
            slower = 1.0 if self.unrest < 2.0 * max(self._usual_unrest.value, _LEAST_UNREST) else 20.0
            self._usual_unrest.learn(self.unrest, dt_s, slower)

    @property
    def crept(self) -> float:
        """Give how far the baseline and what is above it have risen since the level was learned."""
        return self.mean - self._level

    @property
    def restless(self) -> float:
        """Give the unrest over what is usual, ratio; 1 where that is not known."""
        usual = self._usual_unrest.value
        return self.unrest / max(usual, _LEAST_UNREST) if usual == usual else 1.0
