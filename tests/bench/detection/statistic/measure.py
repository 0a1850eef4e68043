"""Run lengths and delays of the statistic, by plain counting over many rigs at once."""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from white_rigs import WhiteRigs

from scuffwatch.detect.cusum import CusumParams, near_rigs, update_rigs
from scuffwatch.detect.whiten import WhiteBankParams

Array = NDArray[np.float64]
Draw = Callable[[int], Array]


def bank_arl(params: CusumParams, draw: Draw, alarms: int, rigs: int = 2_000) -> float:
    """Mean samples between alarms of a bank on residuals as drawn, counted over `alarms` of them."""
    sums, seen, samples = np.zeros((len(params.ks), rigs)), 0, 0
    while seen < alarms:
        update_rigs(sums, draw(rigs), params.ks, params.clip_low, params.clip_high)
        over = near_rigs(sums, params.hs) > 1.0
        if over.any():
            sums[:, over] = 0.0
            seen += int(over.sum())
        samples += rigs
    return samples / seen


def bank_delay(params: CusumParams, draw: Draw, shift: float, runs: int, healthy: int = 0) -> float:
    """Mean samples from the shift to the alarm; from S = 0 (the worst case), or after so many healthy samples."""
    sums = np.zeros((len(params.ks), runs))
    for _ in range(healthy):
        update_rigs(sums, draw(runs), params.ks, params.clip_low, params.clip_high)
        sums = sums[:, near_rigs(sums, params.hs) <= 1.0]
        runs = sums.shape[1]
    total, after, left = 0, 0, runs
    while left:
        after += 1
        update_rigs(sums, draw(left) + shift, params.ks, params.clip_low, params.clip_high)
        on = near_rigs(sums, params.hs) <= 1.0
        total += after * (left - int(on.sum()))
        sums = sums[:, on]
        left = sums.shape[1]
    return total / runs


class CorrelatedNoise:
    """AR(1) noise of mean 0 and spread 1 on many rigs."""

    def __init__(self, phi: float, rigs: int, seed: int) -> None:
        self._phi, self._draw = phi, np.random.default_rng(seed)
        self.x: Array = self._draw.standard_normal(rigs)

    def step(self) -> Array:
        fresh = self._draw.standard_normal(self.x.size)
        self.x = self._phi * self.x + np.sqrt(1.0 - self._phi**2) * fresh
        return self.x

    def copy(self) -> "CorrelatedNoise":
        return deepcopy(self)


@dataclass(frozen=True, slots=True)
class Learned:
    """Rigs that have learned their own noise.

    Attributes:
        rigs: as they were when they had learned.
        noise: as it was then.
        arl: mean samples between false alarms in the healthy time after that.
        alarms: how many that rests on.
    """

    rigs: WhiteRigs
    noise: CorrelatedNoise
    arl: float
    alarms: int


def learn(params: WhiteBankParams, noise: CorrelatedNoise, learn_for: int, healthy: int) -> Learned:
    """Let rigs learn, then count their false alarms; an alarm clears the evidence and nothing else."""
    rigs, alarms = WhiteRigs(params, noise.x.size), 0
    for _ in range(learn_for):
        rigs.reset(rigs.update(noise.step()) > 1.0)
    learned = rigs.copy(), noise.copy()
    for _ in range(healthy):
        over = rigs.update(noise.step()) > 1.0
        if over.any():
            rigs.reset(over)
            alarms += int(over.sum())
    return Learned(*learned, noise.x.size * healthy / max(alarms, 1), alarms)


def learned_delay(learned: Learned, shift: float, worst: bool = True) -> float:
    """Mean samples from a shift to the alarm, of rigs that go on learning while they see nothing.

    Args:
        learned: rigs; they are left as they are.
        shift: in marginal standard deviations.
        worst: from S = 0, else from the evidence that happens to be there.
    """
    rigs, noise = learned.rigs.copy(), learned.noise.copy()
    if worst:
        rigs.reset()
    runs, total, after = noise.x.size, 0, 0
    while noise.x.size:
        after += 1
        over = rigs.update(noise.step() + shift) > 1.0
        if over.any():
            total += after * int(over.sum())
            rigs.keep(~over)
            noise.x = noise.x[~over]
    return total / runs
