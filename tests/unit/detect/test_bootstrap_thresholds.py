"""Thresholds from a rig's own healthy residuals."""

import math

import numpy as np
import pytest

from scuffwatch.detect.bootstrap import (
    BlockBootstrap,
    BootstrapParams,
    block_sums,
    bootstrap_thresholds,
    exponent,
)
from scuffwatch.detect.cusum import CusumParams, bank_params

NORMAL = np.random.default_rng(1).standard_normal(50_000)


def moving_average(count: int, seed: int) -> np.ndarray:
    fresh = np.random.default_rng(seed).standard_normal(count + 1)
    return (fresh[1:] + 0.25 * fresh[:-1]) / math.sqrt(1 + 0.25**2)


def test_independent_normal_residuals_give_the_known_thresholds() -> None:
    known = bank_params(1e6)
    found = bootstrap_thresholds(NORMAL, known)
    assert found.ks == known.ks
    assert found.hs == pytest.approx(known.hs, rel=0.05)


def test_the_exponent_of_normal_residuals_is_twice_the_reference_value() -> None:
    # Siegmund 1985: run length ~ exp(2 k h). The mean of a sample is not 0, hence the sample's own mean taken off.
    for k in (0.1, 0.25, 0.65, 1.0):
        assert exponent(NORMAL - NORMAL.mean(), k, 10) == pytest.approx(2 * k, rel=0.06)


def test_correlation_that_whitening_left_lowers_the_exponent() -> None:
    # Long-run variance of a moving average: the square of the sum of its weights.
    residuals = moving_average(100_000, 2)
    long_run = 1.25**2 / (1 + 0.25**2)
    for k in (0.25, 1.0):
        assert exponent(residuals - residuals.mean(), k, 10) == pytest.approx(2 * k / long_run, rel=0.08)


def test_tails_raise_the_thresholds_of_large_shifts_and_clipping_lowers_them() -> None:
    draw = np.random.default_rng(3)
    heavy = draw.laplace(0.0, math.sqrt(0.5), 50_000)
    plain, clipped = bank_params(1e6), bank_params(1e6, clip=2.0)
    of_heavy, of_clipped = bootstrap_thresholds(heavy, plain), bootstrap_thresholds(NORMAL, clipped)
    assert of_heavy.hs[-1] > 1.5 * plain.hs[-1]
    assert of_heavy.hs[0] == pytest.approx(plain.hs[0], rel=0.12)
    assert all(a < b for a, b in zip(of_clipped.hs, plain.hs, strict=True))
    assert of_clipped.clip_high == 2.0


def test_portions_give_what_all_at_once_gives_and_the_same_each_time() -> None:
    how, known = BootstrapParams(rigs=100, run=501, seed=4), bank_params(1e4)
    work, portions = BlockBootstrap(NORMAL[:2_000], known, how), 1
    while work.advance():
        portions += 1
    assert portions == 51
    assert work.thresholds() == bootstrap_thresholds(NORMAL[:2_000], known, how)
    other = bootstrap_thresholds(NORMAL[:2_000], known, BootstrapParams(rigs=100, run=501, seed=5))
    assert other != work.thresholds()


def test_a_wanted_run_length_below_the_drawn_one_still_has_a_threshold() -> None:
    found = bootstrap_thresholds(NORMAL[:2_000], CusumParams((1.0,), (0.5,)))
    assert 0.0 < found.hs[0] < 3.0


def test_sums_over_a_ring() -> None:
    assert block_sums(np.array([1.0, 2.0, 4.0, 8.0]), 3).tolist() == [7.0, 14.0, 13.0, 11.0]
    assert block_sums(np.array([1.0, 2.0]), 1).tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    "ask",
    [
        lambda: BlockBootstrap(NORMAL[:999], bank_params(1e4)),
        lambda: BlockBootstrap(np.append(NORMAL[:1_000], np.nan), bank_params(1e4)),
        lambda: BlockBootstrap(np.ones(1_000), bank_params(1e4)),
        lambda: BootstrapParams(rigs=99),
        lambda: BootstrapParams(run=499),
        lambda: BootstrapParams(block=0),
        lambda: exponent(NORMAL + 1.0, 0.5, 10),
        lambda: exponent(np.zeros(1_000), 0.5, 10),
    ],
)
def test_what_has_no_answer_is_refused(ask) -> None:
    with pytest.raises(ValueError, match="not"):
        ask()
