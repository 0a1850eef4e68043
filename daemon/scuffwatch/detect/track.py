"""One mechanical variable followed in time: what is usual for it, how far it is above, and how restless it is.

Reads y and the phase of the load, gives rises in natural logarithm. The baseline is driven by means, never by single
values; it falls fast, rises slowly, and stops rising where the rise is evidence.
"""

import math
from collections import deque
from enum import Enum

from scuffwatch.detect.smooth import Usual, share_of

_FAST_S, _MEAN_S, _SLOWER_S, _RECENT_S = 0.03, 0.4, 1.0, 4.0
_LOW_S = 0.6
_BASE_S, _FALL_S = 12.0, 4.0
_SLOW_BASE_S = 144.0
_SMALL_RISE, _EVIDENCE_RISE = 0.1, 0.25
_CALM = 1.5
"""Unrest over usual below which a rise may be the film's own: scuffing is restless."""
_UNREST_S, _USUAL_UNREST_S = 0.7, 60.0
_SLOPE_SHARE = _MEAN_S / (_SLOWER_S - _MEAN_S)
"""A mean lags behind a slope by the slope times its memory: what is so far from the mean, as a share of the climb."""
_CEILING_FADE_S, _CEILING_LEARN_S, _CEILING_MOST = 40.0, 3.0, 0.6
_LEARN_S = 3.0
_LEVEL_S = 300.0
STEP_CAP = math.log(2.2)
_RESTART_CAP = math.log(1.25)
LOG_DROP, _DROPS_S = -1.1, 20.0
"""A drag that has fallen to a third is a wire that is broken more often than a contact that has recovered: it is not
followed for so long."""
_DROP_LEAST_S, _AFTER_DROP_S = 0.2, 2.0
"""A swing of stick-slip is shorter; and so long the mean may have to catch up with what comes back."""
_HELD_S, _DIP, _FLAT = 15.0, 0.22, 0.1
_DIP_MOST_S, _BACK = 240.0, 0.1
"""A drag that was flat and falls away at once has been oiled or wetted: for some minutes, where it comes back to is no
rise. One that runs in falls slowly, and what it was is forgotten."""
_LEAST_UNREST = 0.01
_STEP_MOST, _REST_MOST = 0.8, 0.15


class Phase(Enum):
    """What the load and the motor allow to be learned."""

    OFF = "no contact or no motion"
    HOLD = "load in motion, or just started"
    FOLLOW = "steady"


_OFF, _HOLD = Phase.OFF, Phase.HOLD
"""By names of their own: to look one up in its class every slice takes longer than the comparison."""


class Track:
    """Follow one variable.

    What survives a call: means, baseline, unrest, ceiling and the lowest of the last moments.

    Attributes:
        fast, mean, recent: exponential means over 0.03, 0.4 and 4 s; NaN before the first value.
        base: what is usual; NaN before a level has been learned.
        usual: the same, or what it was before the drag fell away at once, some minutes ago at most, if that is more.
        is_known: whether there is a baseline and a value.
        low: lowest `fast` of the last 0.6 s.
        rise, low_rise: how far `mean` and `low` are above `usual`; NaN where either is not known.
        climb: how far `mean` is above a 1 s one: 0.6 s times the slope; a step has left it after 3 s.
        jump: how far `fast` is above both `usual` and the last 4 s.
        crept: how far `recent` has risen since the level was learned: a swing of seconds does not count.
        unrest: mean distance of y from its mean, over 0.7 s; `usual_unrest` is what is usual for it, NaN before it is
            known.
        restless: unrest over what is usual, ratio; 1 where that is not known.
        jitter, jitter_ratio: the same less what a smooth slope adds to it: a film in transition is not restless.
        ceiling: highest `fast` above the baseline while healthy, fading within 40 s.
        samples: fresh values so far.
        rested, rested_s: plain mean of y since a new load has come to rest and before its level is begun, and for how
            long.
    """

    def __init__(self) -> None:
        self._dt_s = math.nan
        self._alphas = (1.0, 1.0, 1.0, 1.0, 1.0)
        self._fall_share = self._lift_share = self._held_share = 1.0
        self._lows: deque[tuple[float, float]] = deque()
        self.base = self.usual = math.nan
        self._cap = math.inf
        self._level = self._kept = math.nan
        self._flat = self._before_dip = math.nan
        self._dip_s = self._flat_s = 0.0
        self._restarted = False
        self._usual_unrest = Usual(_USUAL_UNREST_S, wary=True)
        self.samples = 0
        self.forget_motion()

    def forget_motion(self) -> None:
        """Begin anew after a stop; what is usual stays."""
        self.forget_means()
        self.ceiling = 0.0
        self._learned_s = 0.0
        self._flat = math.nan

    def forget_means(self) -> None:
        """Begin anew after a hole; what is usual stays, and so does how well it is known."""
        self.fast = self.mean = self.recent = self._slower = math.nan
        self.low = math.nan
        self.unrest = 0.0
        self._age_s = self._recent_age_s = self.rested_s = self._dropped_s = 0.0
        self._since_drop_s, self._before_drop = math.inf, math.nan
        self.rested = math.nan
        self._lows.clear()
        self._compare()

    def begin_level(
        self,
        restart: bool,
        unseen: bool = False,
        slack: float = 0.0,
        healthy: float = -math.inf,
        *,
        keeps: bool = False,
    ) -> None:
        """Say that the load has gone to a new level, or that the motor has started again at the old one.

        Where the load is not seen, y itself goes up with every weight, and any level is taken as it is. `slack` is what
        a zero error of the friction cell may add at a load so much larger; a level up to `healthy` is taken after any
        step. Where `rest` has followed y at the new load already, that is the level's beginning: else scuffing that
        begins just now would be. Where a hand may have typed a load in before it hangs there, `keeps` remembers for
        some minutes what y was before it: so far it goes up again by itself.
        """
        self._learned_s = 0.0
        self._restarted = restart
        self._flat = math.nan
        if not restart:
            self._before_dip, self._dip_s = (self.usual if keeps else math.nan), 0.0
        if self.base == self.base:
            if not restart:
                self._usual_unrest.forget()
            cap = self._level + _RESTART_CAP if restart else self.base + STEP_CAP + slack
            self._cap = math.inf if unseen else cap if restart or cap > healthy else healthy
            if self.rested_s > 0.0 and not restart:
                self._learned_s = self._recent_age_s = self.rested_s
                self.base = self._level = self.recent = min(self.rested, self._cap)
                self.rested_s = 0.0
                self._compare()
                return
        self.forget_means()

    def forget_drop(self) -> None:
        """Say that what came after the drag fell away was none of the contact's: go back to what was usual before."""
        if self._dropped_s:
            self.base = self._before_drop
        self.forget_means()

    def hold_level(self) -> None:
        """Keep what is usual though the load has come to a level: what the drag is now is none of its own."""
        self.forget_means()
        self._learned_s = _LEARN_S

    def rest(self, y: float, fresh: bool, dt_s: float) -> None:
        """Take y of a slice in which a new load has come to rest and its level is not yet begun; NaN is passed over."""
        if y != y or not fresh:
            return
        if self.rested_s == 0.0:
            self.rested = y
        self.rested_s += dt_s
        away = min(max(y - self.rested, -_REST_MOST), _REST_MOST)  # what scuffs already must not carry it away
        self.rested += away * dt_s / self.rested_s

    def keep(self) -> None:
        """Keep what is usual now for `recall`: the load is the heaviest so far, or nearly."""
        self._kept = self.base

    def recall(self) -> None:
        """Go back to what was kept: weights that were taken off hang there again, whatever was learned without them."""
        if self._kept == self._kept:
            self.forget_means()
            self.base = self._level = self._kept
            self._learned_s = _LEARN_S
            self._compare()

    @property
    def is_learning(self) -> bool:
        """Say whether the level is still being learned, so that a rise goes into it."""
        return self._learned_s < _LEARN_S

    def update(self, y: float, fresh: bool, dt_s: float, phase: Phase) -> None:
        """Take the next slice's y; NaN is passed over, and so is a held value."""
        if y != y or not fresh or phase is _OFF:
            return
        self.samples += 1
        if dt_s != self._dt_s:
            self._take_length(dt_s)
        if self.fast != self.fast:
            self.fast = self.mean = self._slower = y
            known = self.base == self.base and self._learned_s > 0.0
            self.recent, self._recent_age_s = (self.base, _RECENT_S) if known else (y, 0.0)
        self._follow_means(y, dt_s)
        self._follow_low(dt_s)
        if phase is not _HOLD:
            if self._learned_s < _LEARN_S:
                self._learn(dt_s)
            else:
                self._follow(dt_s)
        self._compare()

    def _take_length(self, dt_s: float) -> None:
        """Work out what each mean takes of a slice; slices stay as long as they are."""
        self._dt_s = dt_s
        self._alphas = tuple(  # type: ignore[assignment]
            share_of(dt_s, memory_s) for memory_s in (_FAST_S, _MEAN_S, _SLOWER_S, _RECENT_S, _UNREST_S)
        )
        self._fall_share, self._lift_share = share_of(dt_s, _FALL_S), share_of(dt_s, _CEILING_LEARN_S)
        self._held_share = share_of(dt_s, _HELD_S)

    def _compare(self) -> None:
        """Hold the means against what is usual, once a slice: each of the answers is asked for several times."""
        fast, mean, base, recent = self.fast, self.mean, self.base, self.recent
        self.is_known = base == base and fast == fast
        usual = self.usual = self._before_dip if self._before_dip > base else base
        self.rise = mean - usual
        self.climb = mean - self._slower
        self.low_rise = self.low - usual
        self.jump = fast - (recent if recent > usual else usual)
        self.crept = recent - self._level
        unrest = self.usual_unrest = self._usual_unrest.value
        least = unrest if unrest > _LEAST_UNREST else _LEAST_UNREST
        self.restless = self.unrest / least if unrest == unrest else 1.0
        climb = self.climb if self.climb > 0.0 else -self.climb
        jitter = self.unrest - _SLOPE_SHARE * climb
        jitter = self.jitter = jitter if jitter > 0.0 else 0.0
        self.jitter_ratio = jitter / least if unrest == unrest else 1.0

    def _follow_means(self, y: float, dt_s: float) -> None:
        a_fast, a_mean, a_slower, a_recent, a_unrest = self._alphas
        fast, mean, slower = self.fast, self.mean, self._slower
        # A spike of a few samples, however high, must not carry the means away.
        if y < fast - _STEP_MOST:
            y = fast - _STEP_MOST
        elif y > fast + _STEP_MOST:
            y = fast + _STEP_MOST
        # A mean that is younger than its memory is the plain mean of what there is: a first value must not weigh more.
        age_s = self._age_s = self._age_s + dt_s
        young = dt_s / age_s
        if young > a_slower:  # of the four the one with the longest memory
            a_fast, a_mean, a_slower, a_unrest = max(a_fast, young), max(a_mean, young), young, max(a_unrest, young)
        self.fast = fast + (y - fast) * a_fast
        mean = self.mean = mean + (y - mean) * a_mean
        self._slower = slower + (y - slower) * a_slower
        recent_age_s = self._recent_age_s = self._recent_age_s + dt_s
        young = dt_s / recent_age_s
        self.recent += (y - self.recent) * (young if young > a_recent else a_recent)
        self.unrest += (abs(y - mean) - self.unrest) * a_unrest

    def _follow_low(self, dt_s: float) -> None:
        lows, fast = self._lows, self.fast
        while lows and lows[-1][1] >= fast:
            lows.pop()
        now_s = self.samples * dt_s
        lows.append((now_s, fast))
        since_s = now_s - _LOW_S
        while lows[0][0] < since_s:
            lows.popleft()
        self.low = lows[0][1]

    def _learn(self, dt_s: float) -> None:
        """Learn a new level within its cap: growing mean over the first seconds."""
        first = self._learned_s == 0.0
        self._learned_s += dt_s
        target = self.mean if first or self.base != self.base else self.base
        target += (self.mean - target) * min(1.0, dt_s / self._learned_s)
        base = self.base = min(target, self._cap)
        # However often it is learned anew at one load, what it has crept up since the first time is remembered.
        if not self._restarted or not base > self._level:
            self._level = base
        self._usual_unrest.learn(self.unrest, dt_s)

    def _follow(self, dt_s: float) -> None:
        base, level, unrest = self.base, self._level, self.unrest
        rise = self.mean - base
        self._follow_dip(dt_s)
        if base < level:
            self._level = base
        else:
            self._level = level + (base - level) * dt_s / _LEVEL_S
        if self.fast - base < LOG_DROP:
            if not self._dropped_s:
                self._before_drop = base
            self._dropped_s += dt_s
        else:
            self._dropped_s = 0.0
        if rise < LOG_DROP or self._dropped_s >= _DROP_LEAST_S:
            self._since_drop_s = 0.0
            if self._dropped_s >= _DROPS_S and rise < 0.0:
                base += rise * self._fall_share
            elif self._dropped_s:
                base = self._before_drop
        elif rise <= 0.0:
            if self._since_drop_s < _AFTER_DROP_S:  # what the mean has yet to catch up with is the drop
                self._since_drop_s += dt_s
                rise = min(max(rise, self.fast - base), 0.0)
            base += rise * self._fall_share
        elif rise < _EVIDENCE_RISE:
            base += rise * dt_s / (_BASE_S if rise < _SMALL_RISE or self.restless < _CALM else _SLOW_BASE_S)
        elif self.mean <= self._before_dip + _BACK:  # it comes back to where it was
            base += rise * self._fall_share
        else:
            base += _EVIDENCE_RISE * dt_s / _SLOW_BASE_S
        self.base = base
        above, ceiling = self.fast - base, self.ceiling
        ceiling += -ceiling * dt_s / _CEILING_FADE_S
        if above > ceiling:
            ceiling += ((above if above < _CEILING_MOST else _CEILING_MOST) - ceiling) * self._lift_share
        self.ceiling = ceiling
        if rise < _EVIDENCE_RISE:
            usual = self._usual_unrest.value
            most = 2.0 * (_LEAST_UNREST if usual < _LEAST_UNREST else usual)
            self._usual_unrest.learn(unrest, dt_s, 1.0 if unrest < most else 20.0)

    def _follow_dip(self, dt_s: float) -> None:
        """Remember what the drag was while flat, once it falls away at once, for some minutes."""
        flat = self._flat
        if flat != flat:
            self._flat, self._flat_s = self.mean, 0.0
            return
        if self._before_dip == self._before_dip:
            self._dip_s += dt_s
            if self._dip_s > _DIP_MOST_S or self.base > self._before_dip:
                self._before_dip = math.nan
        is_flat = -_FLAT < self.recent - flat < _FLAT
        self._flat_s = self._flat_s + dt_s if is_flat else 0.0
        if self.fast < flat - _DIP and self._flat_s >= _HELD_S and self._before_dip != self._before_dip:
            self._before_dip, self._dip_s = flat, 0.0
        self._flat = flat + (self.mean - flat) * self._held_share
