"""Whitening of correlated noise whose correlation is not known, and a bank of CUSUMs on what is left.

Reads one residual at a time, learns level, spread and lag-one correlation from the healthy ones, gives how near the
bank is to an alarm. Plain recursion, constant memory.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.cusum import CusumBank, CusumParams, bank_params

_FAR = 4.0
_SURE = 2.0
"""So many of its own standard deviations above what was found: few sums say little."""
_FIRST = 50
"""Samples that give a first spread."""
_FIRST_SUMS, _MOST_SQUARE = 8, 9.0
"""So many sums give a first mean square; from then on none counts for more than three standard deviations: a burst."""
_HUGE = 1e100
"""No residual: beyond this its square would no longer be a number."""


def shift_left(phi: float) -> float:
    """Give what whitening leaves of a lasting shift: standard deviations of what is left, per one of the residual.

    Source:
        derived here: (1 − φ) / √(1 − φ²).
    """
    return math.sqrt((1.0 - phi) / (1.0 + phi))


@dataclass(frozen=True, slots=True)
class WhitenParams:
    """How a residual is whitened.

    Attributes:
        memory: samples after which the oldest begin to be forgotten, ≥ 100.
        phi_max: highest lag-one correlation that is believed; the lowest is 0.
        learns_level: False where the residual's mean and spread are known to be 0 and 1.
        spread_min: a smaller spread is not believed, > 0: else the first digit of a still channel is an alarm.
    """

    memory: int = 100_000
    phi_max: float = 0.98
    learns_level: bool = True
    spread_min: float = 1e-6

    def __post_init__(self) -> None:
        if not 0.0 < self.spread_min < _HUGE:
            raise ValueError(f"spread_min {self.spread_min}: not > 0")
        if self.memory < 100 or not 0.0 <= self.phi_max < 1.0:
            raise ValueError(f"memory {self.memory}, phi_max {self.phi_max}: not memory >= 100, 0 <= phi_max < 1")


class Whitener:
    """Give the part of each residual that the one before did not foretell, in its own standard deviations.

    Args:
        params: see `WhitenParams`.

    What survives a call: the last residual, the number learned from, and running means.

    Attributes:
        learned: number of residuals learned from.
        level: mean of the residual.
        spread: standard deviation of the residual.
        phi: lag-one correlation, 0..phi_max.
    """

    __slots__ = ("_lagged", "_last", "_params", "_scale", "_square", "_square_min", "learned", "level", "phi", "spread")

    def __init__(self, params: WhitenParams) -> None:
        self._params = params
        self._last: float | None = None
        self._square_min = params.spread_min * params.spread_min
        self.learned, self.level, self._square, self._lagged = 0, 0.0, 1.0, 0.0
        self.spread, self.phi, self._scale = 1.0, 0.0, 1.0

    def update(self, x: float, learn: bool) -> float:
        """Take the next residual; give what is left of it, NaN where it is not finite.

        Args:
            x: residual; after one that is not finite the next is judged by itself.
            learn: whether it counts as healthy.
        """
        if not -_HUGE < x < _HUGE:
            self._last = None
            return math.nan
        level, last = self.level, self._last
        self._last = x
        deviation = x - level
        if last is None:
            return deviation / self.spread
        left = (deviation - self.phi * (last - level)) / self._scale
        if learn:
            self._learn(deviation, last - level)
        return left

    def is_far(self, x: float, spreads: float) -> bool:
        """Say whether a residual is so many spreads away from the level."""
        return abs(x - self.level) > spreads * self.spread

    def _learn(self, deviation: float, before: float) -> None:
        self.learned = learned = self.learned + 1
        weight = 1.0 / min(learned, self._params.memory)
        self._lagged += weight * (deviation * before - self._lagged)
        if self._params.learns_level:
            self.level += weight * deviation
        self._square += weight * (deviation * deviation - self._square)
        square = self._square if self._square > self._square_min else self._square_min
        self.phi = phi = min(max(self._lagged / square, 0.0), self._params.phi_max)
        self.spread = math.sqrt(square) if self._params.learns_level else 1.0
        self._scale = self.spread * math.sqrt(1.0 - phi * phi)


def raised_thresholds(params: CusumParams, phi: float, learned: int, learns_level: bool) -> tuple[float, ...]:
    """Give thresholds that keep the mean false-alarm rate although φ, level and spread are only estimates.

    The exponent of a member's run length, 2 k h, errs by a normal amount of variance v; the mean rate over rigs is then
    exp(v / 2) times too high, and h + v / (4 k) brings it back. Never more than a quarter is added.

    Args:
        params: a bank for known φ, level and spread.
        phi: estimated lag-one correlation.
        learned: samples that it was estimated from, ≥ 1.
        learns_level: whether level and spread were estimated too.
    Source:
        derived here from the large-sample variances of φ, (1 − φ²) / n, of the level of what is left, 1 / n, and of its
        variance, 2 / n.
    """
    of_variance = 4.0 * (1.0 + phi) / (1.0 - phi) + (2.0 if learns_level else 0.0)
    hs = []
    for k, h in zip(params.ks, params.hs, strict=True):
        of_level = (2.0 * h) ** 2 if learns_level else 0.0
        v = ((2.0 * k * h) ** 2 * of_variance + of_level) / learned
        hs.append(h + min(v / (4.0 * k), 0.25 * h))
    return tuple(hs)


@dataclass(frozen=True, slots=True)
class WhiteBankParams:
    """A bank on whitened residuals.

    Attributes:
        arl: wanted mean samples between false alarms, ≥ 1e3.
        whiten: see `WhitenParams`.
        learn_first: samples learned from before anything is judged, ≥ 100.
        freeze_at: nothing is learned while the bank is nearer than this, 0..1. Lower leaves out so many of the healthy
            residuals that rise that level and correlation come out too small (at 1/3: five times the false alarms at
            φ = 0.9; at 1/2: none more).
        clip: residuals beyond ± this, after whitening, are clipped.
        first_far: of the first samples, before anything is judged, those so many spreads away are not learned from,
            > 0: a burst among them would be taken for how they are. Infinite: all are.
        run_together: samples whose sum is held against what it would be if whitening had left nothing; what is left of
            slower correlation then makes every residual smaller. 0: not looked at.
    """

    arl: float
    whiten: WhitenParams = WhitenParams()
    learn_first: int = 1_000
    freeze_at: float = 0.5
    clip: float = math.inf
    first_far: float = math.inf
    run_together: int = 0

    def __post_init__(self) -> None:
        if self.run_together < 0:
            raise ValueError(f"run_together {self.run_together}: not >= 0")
        if self.learn_first < 100 or not 0.0 < self.freeze_at <= 1.0:
            raise ValueError(f"learn_first {self.learn_first}, freeze_at {self.freeze_at}: not >= 100, not in 0..1")


class LeftTogether:
    """Tell what whitening by one coefficient has left of slower correlation, from sums of many samples.

    Args:
        together: samples of a sum, >= 2.
        memory: samples after which the oldest begin to be forgotten.

    What survives a call: the unfinished sum, and the mean square of the finished ones.

    Attributes:
        ratio: standard deviation of a sum over that of as many independent residuals, >= 1; as large as it may be
            after so few sums.

    Source:
        the variance of a sum of n independent values is n times that of one; derived here.
    """

    __slots__ = ("_memory", "_n", "_square", "_sum", "_sums", "_together", "ratio")

    def __init__(self, together: int, memory: int) -> None:
        self._together, self._memory = together, max(2, memory // together)
        self._sum, self._n, self._sums, self._square = 0.0, 0, 0, 1.0
        self.ratio = 1.0

    def doubt(self, learned: int) -> None:
        """Hold what was learned for what so many samples say."""
        self._sums = min(self._sums, learned // self._together)

    def learn(self, left: float) -> None:
        """Take a healthy residual, whitened; one beyond four counts as four."""
        self._sum += left if -_FAR < left < _FAR else (_FAR if left > 0.0 else -_FAR)
        self._n += 1
        if self._n < self._together:
            return
        square = self._sum * self._sum / self._together
        self._sum, self._n = 0.0, 0
        if self._sums >= _FIRST_SUMS:
            square = min(square, _MOST_SQUARE * self._square)
        self._sums += 1
        known = min(self._sums + 1, self._memory)
        self._square += (square - self._square) / known
        most = self._square * (1.0 + _SURE * math.sqrt(2.0 / known))
        self.ratio = math.sqrt(most) if most > 1.0 else 1.0


class WhiteBank:
    """Whiten, judge by a bank made for the correlation found, and learn only while nothing grows.

    Args:
        params: see `WhiteBankParams`.

    What survives a call: the whitener, the bank, and when its thresholds are next made anew: each time the number of
    samples learned from has grown by half, so ever more seldom.

    Attributes:
        near: as of `CusumBank`; 0 while the first samples are learned.
        whitener: see `Whitener`.
    """

    __slots__ = ("_bank", "_next", "_params", "_together", "whitener")

    def __init__(self, params: WhiteBankParams) -> None:
        self._params = params
        self._next = params.learn_first
        self._bank: CusumBank | None = None
        self.whitener = Whitener(params.whiten)
        self._together = LeftTogether(params.run_together, params.whiten.memory) if params.run_together else None

    @property
    def near(self) -> float:
        """Largest S / h."""
        return 0.0 if self._bank is None else self._bank.near

    def reset(self) -> None:
        """Forget the evidence, keep what was learned."""
        if self._bank is not None:
            self._bank.reset()

    def doubt(self) -> None:
        """Hold what was learned for no more than a first guess: the level has changed."""
        first = self._params.learn_first
        self.whitener.learned = min(self.whitener.learned, first)
        self._next = min(self._next, first + first // 2)
        if self._together is not None:
            self._together.doubt(first)

    def update(self, x: float) -> float:
        """Take the next residual; give `near`."""
        learn = self.near < self._params.freeze_at
        if self._bank is None and self.whitener.learned >= _FIRST:
            learn = not self.whitener.is_far(x, self._params.first_far)
        left = self.whitener.update(x, learn)
        if self._together is not None and left == left:
            together = self._together
            if learn:
                together.learn(left)
            left /= together.ratio
        if self.whitener.learned >= self._next:
            self._make()
        return 0.0 if self._bank is None else self._bank.update(left)

    def _make(self) -> None:
        params, phi = self._params, self.whitener.phi
        learned = min(self.whitener.learned, params.whiten.memory)
        self._next = self.whitener.learned + max(1, learned // 2)
        plain = bank_params(params.arl, shift_left(phi), params.clip)
        hs = raised_thresholds(plain, phi, learned, params.whiten.learns_level)
        sums = [] if self._bank is None else self._bank.sums
        self._bank = CusumBank(CusumParams(plain.ks, hs, plain.clip_low, plain.clip_high))
        if len(sums) == len(hs):
            self._bank.sums = sums
