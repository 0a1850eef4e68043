"""Bursts: short rises of the drag that come out of calm and go again, as a contact shows before it scuffs.

Reads the mechanical variable slice by slice, gives how many bursts there were lately, against how many are too many.
A burst begins where a bank of CUSUMs on the whitened variable says that it has left its level, and ends where it is
back. What swings below the level too, or comes in a train without calm, is stick-slip; what does not come back is
another level. A particle passes now and then on a healthy contact as well: so the bursts themselves are counted by a
CUSUM, against the rate usual on this rig.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.smooth import share_of
from scuffwatch.detect.whiten import WhiteBank, WhiteBankParams, WhitenParams

_FAST_S, _LEVEL_S, _BELOW_FADE_S, _SWING_S = 0.03, 2.0, 5.0, 20.0
_DIPS_SHARE, _BACK_SHARE = 0.45, 0.4
"""Of a burst's height: what dips so far below the level swings, and so near to it a burst is over."""
_CALM_S, _JUST_S, _TRIAL_S = 0.6, 0.3, 3.0
"""A burst comes out of so much calm that ended just before, and goes into as much within the third; a train of swings
does neither."""
_CALM_SHARE, _CALM_TIMES = 0.67, 5.0
"""Calm does not dip below the level by so much of a burst's least height, or of its own mean distance from it."""
_CLIP, _FAR = 4.0, 4.0
_PAIR_S = 0.015
_FREEZE_AT = 0.5
_TOGETHER = 16
"""Samples whose sum shows what whitening has left: about as long as a burst."""


@dataclass(frozen=True, slots=True)
class BurstParams:
    """What a burst is, and how many are too many. Heights are natural logarithms: 0.10 is a tenth.

    Attributes:
        height: least height of its mean over 0.03 s above the level.
        least_s, most_s: how long it lasts by its mean over 0.03 s, s.
        single_s: so long its single values are as high: an electrical spike has three at most of 100 a second, and may
            be as long by its mean.
        arl: mean number of healthy samples between two false ones (average run length); a sample is 20 ms or longer.
        learn_first: so many samples are learned from before anything is a burst.
        usual_s: between two on a healthy contact, s, as long as this rig has not shown others.
        least_usual_s, most_usual_s: a rig that shows more, or fewer, is taken for one that shows so many, s.
        before_s: between two before scuffing, s.
        enough, least: log-likelihood ratio from which there are too many, and the fewest that can be.

    Sizes, times and rates: this project's own choice; `enough` gives one false warning in 37 to 41 h at the usual
    rate (counted in the tests).
    """

    height: float = 0.09
    least_s: float = 0.03
    most_s: float = 1.5
    single_s: float = 0.035
    arl: float = 5e5
    learn_first: int = 500
    usual_s: float = 600.0
    least_usual_s: float = 30.0
    most_usual_s: float = 3_600.0
    before_s: float = 15.0
    enough: float = 7.4
    least: int = 2


class BurstRate:
    """CUSUM of a Poisson process: bursts come at their usual rate, or as before scuffing.

    Args:
        params: see `BurstParams`.

    What survives a call: the sum, the bursts in it and since when, and what is usual on this rig.

    Attributes:
        sum: log-likelihood ratio.
        count, since_s: bursts in the sum, and the time since the first of them, s.

    Source:
        log-likelihood ratio of two Poisson processes; derived here.
    """

    def __init__(self, params: BurstParams) -> None:
        self._params = params
        self._seen, self._watched_s = 0, 0.0
        self.forget()

    def forget(self) -> None:
        """Forget the bursts that have not become usual."""
        self.sum = self.since_s = 0.0
        self.count = 0

    @property
    def _usual_hz(self) -> float:
        p = self._params
        seen_hz = (1.0 + self._seen) / (p.usual_s + self._watched_s)
        return min(max(seen_hz, 1.0 / p.most_usual_s), 1.0 / p.least_usual_s)

    @property
    def _gain(self) -> float:
        return math.log(1.0 / (self._params.before_s * self._usual_hz))

    @property
    def near(self) -> float:
        """Give the sum over what is enough, ratio."""
        return self.sum / self._params.enough

    @property
    def enough_count(self) -> int:
        """Give how many bursts in the time since the first would have been enough."""
        drained = self.since_s * (1.0 / self._params.before_s - self._usual_hz)
        return max(self._params.least, math.ceil((self._params.enough + drained) / self._gain - 1e-9))

    @property
    def are_too_many(self) -> bool:
        """Say whether there are."""
        return self.sum >= self._params.enough and self.count >= self._params.least

    def pass_time(self, dt_s: float) -> None:
        """Let a slice pass without a burst."""
        if not self.count:
            self._watched_s += dt_s
            return
        self.since_s += dt_s
        self.sum -= (1.0 / self._params.before_s - self._usual_hz) * dt_s
        if self.sum <= 0.0:
            self._seen += self.count
            self._watched_s += self.since_s
            self.forget()

    def add(self) -> None:
        """Count a burst."""
        self.sum += self._gain
        self.count += 1


class Bursts:
    """Find bursts in one variable.

    Args:
        params: see `BurstParams`.

    What survives a call: the level, what is usual about it, the burst that is open or on trial, and the rate.

    Attributes:
        rate: see `BurstRate`.
        height: of the last burst.
        found: whether one was counted in the last slice.
        below: how far the variable has swung below its level, fading within 5 s.
    """

    def __init__(self, params: BurstParams) -> None:
        self._params = params
        whiten = WhitenParams(memory=3_000, spread_min=0.003)
        self._bank_params = WhiteBankParams(params.arl, whiten, params.learn_first, _FREEZE_AT, _CLIP, _FAR, _TOGETHER)
        self._dt_s = self._fast_share = self._level_share = self._below_share = self._swing_share = math.nan
        self.rate = BurstRate(params)
        self.forget()

    def forget(self) -> None:
        """Begin anew: how restless the variable is is not known."""
        self._bank = WhiteBank(self._bank_params)
        self._swing = 0.0
        self.forget_motion()

    def rise_level(self) -> None:
        """Begin anew at a heavier load: the drag stands further out of its noise, so what is known of that holds."""
        self._bank.doubt()
        self.forget_motion()

    def forget_motion(self) -> None:
        """Begin anew after a stop or a hole, at the same level."""
        self._bank.reset()
        self._fast = self._level = self._waits = math.nan
        self._open_s = self._high = self._away_s = self.below = 0.0
        self._calm_s = self._calm_before_s = self._single_s = 0.0
        self._on_trial = self._trial_s = 0.0
        self.height = math.nan
        self.found = False

    @property
    def is_known(self) -> bool:
        """Say whether enough has been learned of the variable to tell a burst."""
        return self._bank.whitener.learned >= self._params.learn_first

    def update(self, y: float, dt_s: float) -> None:
        """Take a fresh value; NaN is passed over. Slices of 10 ms are taken two at a time: no burst is shorter."""
        self.found = False
        if y != y:
            return
        if y - self._level >= self._params.height:
            self._single_s += dt_s
        elif not self._open_s:
            self._single_s = 0.0
        if dt_s < _PAIR_S:
            if self._waits != self._waits:
                self._waits = y
                return
            y, dt_s, self._waits = 0.5 * (y + self._waits), 2.0 * dt_s, math.nan
        if dt_s != self._dt_s:
            self._take_length(dt_s)
        if self._level != self._level:
            self._fast = self._level = y
        self._fast += (y - self._fast) * self._fast_share
        near = self._bank.update(y - self._level)
        above, swung = self._fast - self._level, self.below
        below = -above if above < 0.0 else 0.0
        self.below = below if below > swung else swung + (below - swung) * self._below_share
        self.rate.pass_time(dt_s)
        self._follow_calm(near < _FREEZE_AT, above, dt_s)
        if self._on_trial:
            self._try(dt_s)
        if self._open_s:
            self._follow(above, dt_s)
        elif near > 1.0 and above >= self._params.height:
            self._open_s, self._high = dt_s, above
        else:
            # It follows what is above as well as what is below: else swings draw it down to their troughs.
            self._level += (y - self._level) * self._level_share
            if near < _FREEZE_AT:
                self._away_s = 0.0
            else:
                self._leave(dt_s)

    def _take_length(self, dt_s: float) -> None:
        """Work out what each mean takes of a slice; slices stay as long as they are."""
        self._dt_s = dt_s
        self._fast_share, self._level_share = share_of(dt_s, _FAST_S), share_of(dt_s, _LEVEL_S)
        self._below_share, self._swing_share = share_of(dt_s, _BELOW_FADE_S), share_of(dt_s, _SWING_S)

    def _follow_calm(self, is_calm: bool, above: float, dt_s: float) -> None:
        """Follow for how long nothing has been away from the level, neither above nor below."""
        if is_calm and above > -max(_CALM_SHARE * self._params.height, _CALM_TIMES * self._swing):
            self._calm_s += dt_s
            self._swing += (abs(above) - self._swing) * self._swing_share
            if self._calm_s >= _CALM_S:
                self._calm_before_s = _JUST_S
            return
        self._calm_s = 0.0
        self._calm_before_s -= dt_s

    def _follow(self, above: float, dt_s: float) -> None:
        """Follow an open burst to its end."""
        p = self._params
        self._open_s += dt_s
        self._high = max(self._high, above)
        if self._open_s > p.most_s:
            self._settle()
        elif above < _BACK_SHARE * self._high:
            came_from_calm = self._calm_before_s + self._open_s > 0.0
            lasted = self._open_s >= p.least_s and self._single_s >= p.single_s
            if lasted and self.below < _DIPS_SHARE * self._high and came_from_calm:
                self._on_trial, self._trial_s = self._high, 0.0
            else:
                self._on_trial = 0.0
            self._open_s = 0.0
            self._bank.reset()

    def _try(self, dt_s: float) -> None:
        """Count the burst on trial once it is calm again, unless it was the first half of a swing."""
        self._trial_s += dt_s
        if self.below >= _DIPS_SHARE * self._on_trial or self._trial_s > _TRIAL_S:
            self._on_trial = 0.0
        elif self._calm_s >= _CALM_S:
            self.height, self._on_trial = self._on_trial, 0.0
            self.found = True
            self.rate.add()

    def _leave(self, dt_s: float) -> None:
        """Follow what is away from the level without being a burst; a level that lasts is the level."""
        self._away_s += dt_s
        if self._away_s > self._params.most_s:
            self._settle()

    def _settle(self) -> None:
        self._level, self._open_s, self._away_s = self._fast, 0.0, 0.0
        self._bank.reset()
