"""Thresholds of a bank from the rig's own healthy residuals, by block bootstrap.

Reads whitened healthy residuals once, gives one threshold a member. Seldom done, in small portions, so that whoever
learns a baseline need not wait for it.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scuffwatch.detect.arl import quick_arl
from scuffwatch.detect.cusum import CusumParams, update_rigs

_TILT = 1.0
"""Blocks of this over k² samples: longer ones hold too few sums as large as an alarm is made of."""

_BLOCK_MAX = 50
_TINY = 1e-9
_FEWEST = 1_000
_ENOUGH = 100.0
"""Sums that must carry the exponent, as an effective number, before it is believed against the normal one."""


@dataclass(frozen=True, slots=True)
class BootstrapParams:
    """How much is drawn.

    Attributes:
        block: samples that stay together, ≥ 1; longer than what correlation whitening leaves.
        rigs: resampled series side by side, ≥ 100.
        run: samples of each series, ≥ 500; from the threshold that is passed once in a run the residuals' own exponent
            leads to the one for the wanted run length.
        seed: of the draw; the same residuals and seed give the same thresholds.
    """

    block: int = 10
    rigs: int = 512
    run: int = 3_000
    seed: int = 1

    def __post_init__(self) -> None:
        if self.block < 1 or self.rigs < 100 or self.run < 500:
            raise ValueError(f"{self}: not block >= 1, rigs >= 100, run >= 500")


def block_sums(residuals: NDArray[np.float64], length: int) -> NDArray[np.float64]:
    """Give the sums over every `length` neighbours, the series closed to a ring; (n,) float64 of the same n."""
    ring = np.concatenate(([0.0], np.cumsum(np.concatenate((residuals, residuals[: length - 1])))))
    return ring[length:] - ring[:-length]


def exponent(residuals: NDArray[np.float64], k: float, block: int) -> float:
    """Give θ of run length ~ exp(θ h) of a CUSUM on residuals such as these.

    The positive root of mean(exp(θ (sum over a short block − its length × k))) = 1, which sees tails, times the short
    block's share of the long-run variance, which sees correlation; where too few sums carry the root,
    2 (k − mean) over the long-run variance if that is smaller.

    Args:
        residuals: (n,) float64, standard deviations, not all equal.
        k: reference value, > mean of the residuals.
        block: samples in a block for the long-run variance.
    Raises:
        ValueError: the mean of the residuals is not below k, or they do not vary.
    Source:
        derived here after the adjustment coefficient of a random walk (Lundberg); Siegmund, Sequential Analysis
        (1985), chapter 2, for the run length.
    """
    drift, spread = k - float(residuals.mean()), float(block_sums(residuals, block).var()) / block
    if not drift > 0.0 or not spread > 0.0:
        raise ValueError(f"residuals of mean {k - drift} and long-run variance {spread}: not below {k}, or still")
    normal = 2.0 * drift / spread
    length = min(max(round(_TILT / (k * k)), 1), _BLOCK_MAX)
    steps = block_sums(residuals, length) - length * k
    if not float(steps.max()) > 0.0:
        return normal
    low, high = 0.0, 300.0 / float(steps.max())
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(np.exp(middle * steps).mean()) < 1.0 else (low, middle)
    carry = np.exp(low * steps)
    enough = float(carry.sum()) ** 2 / float((carry * carry).sum()) >= _ENOUGH
    theta = low * float(steps.var()) / length / spread
    return theta if enough else min(theta, normal)


class BlockBootstrap:
    """Find each member's threshold on series put together from blocks of healthy residuals.

    Args:
        residuals: (n,) float64, n ≥ 1000, whitened; they are made to have mean 0.
        params: the bank whose thresholds are sought; its own tell the run length that each member shall have.
        how: see `BootstrapParams`.

    Raises:
        ValueError: too few residuals, one that is not finite, or all equal.

    What survives a call: sums and highest sums of the resampled series.
    """

    def __init__(
        self, residuals: NDArray[np.float64], params: CusumParams, how: BootstrapParams = BootstrapParams()
    ) -> None:
        if residuals.size < _FEWEST or not np.isfinite(residuals).all() or not float(np.ptp(residuals)) > 0.0:
            raise ValueError(f"{residuals.size} residuals: not {_FEWEST} finite ones that vary")
        clipped = np.clip(residuals, params.clip_low, params.clip_high)
        self._residuals = clipped - clipped.mean()
        self._params, self._how = params, how
        self._draw = np.random.default_rng(how.seed)
        self._sums = np.zeros((len(params.ks), how.rigs))
        self._highest = np.zeros_like(self._sums)
        self._left = how.run

    def advance(self) -> bool:
        """Go on by one block for every series, about two milliseconds; True while more is needed."""
        start = self._draw.integers(0, self._residuals.size, self._how.rigs)
        for step in range(min(self._how.block, self._left)):
            update_rigs(self._sums, self._residuals[(start + step) % self._residuals.size], self._params.ks)
            np.maximum(self._highest, self._sums, out=self._highest)
        self._left -= min(self._how.block, self._left)
        return self._left > 0

    def thresholds(self) -> CusumParams:
        """Give the bank with thresholds that keep each member's run length on residuals such as these."""
        hs = []
        for k, h, highest in zip(self._params.ks, self._params.hs, self._highest, strict=True):
            once_a_run = float(np.quantile(highest, math.exp(-1.0)))
            theta = exponent(self._residuals, k, self._how.block)
            beyond = _climb(theta, k, quick_arl(k, h)) - _climb(theta, k, self._how.run)
            hs.append(max(once_a_run + beyond, _TINY))
        return CusumParams(self._params.ks, tuple(hs), self._params.clip_low, self._params.clip_high)


def _climb(theta: float, k: float, arl: float) -> float:
    """Siegmund's threshold with an exponent of its own, overshoot left out: only differences count."""
    b = 0.0
    for _ in range(20):
        b = math.log1p(theta * k * arl + theta * b) / theta
    return b


def bootstrap_thresholds(
    residuals: NDArray[np.float64], params: CusumParams, how: BootstrapParams = BootstrapParams()
) -> CusumParams:
    """Do all of a `BlockBootstrap` at once: some tenths of a second, so never in the loop of slices.

    Args and errors: see `BlockBootstrap`.
    """
    work = BlockBootstrap(residuals, params, how)
    while work.advance():
        pass
    return work.thresholds()
