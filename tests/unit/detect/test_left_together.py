"""What whitening by one coefficient leaves, and what a bank makes of it; and of a level that has changed."""

import math

import numpy as np
import pytest

from scuffwatch.detect.whiten import LeftTogether, WhiteBank, WhiteBankParams, WhitenParams

TOGETHER = 32


def white(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, 1.0, count)


def wandering(count: int, phi: float, theta: float, seed: int = 1) -> np.ndarray:
    """Give noise with an autoregressive and a moving-average part, of variance 1."""
    e = white(count + 500, seed)
    e[1:] += theta * e[:-1]
    x, values = 0.0, []
    for one in e.tolist():
        x = phi * x + one
        values.append(x)
    # Variance of such noise: Box, Jenkins, Time Series Analysis, section 3.4.
    return np.array(values[500:]) / math.sqrt((1.0 + theta * theta + 2.0 * phi * theta) / (1.0 - phi * phi))


def learned(values: np.ndarray, memory: int = 100_000) -> LeftTogether:
    left = LeftTogether(TOGETHER, memory)
    for value in values.tolist():
        left.learn(value)
    return left


def ratio_of(phi: float) -> float:
    """Give the ratio for a known lag-one correlation.

    Derived here: the variance of a sum of n is n + 2 times the sum over k of (n - k) times phi to the k.
    """
    return math.sqrt(1.0 + 2.0 * sum((1.0 - k / TOGETHER) * phi**k for k in range(1, TOGETHER)))


# --- what is left together ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_it_comes_down_to_one_where_nothing_is_left(seed: int) -> None:
    # Margin: two standard deviations of 3,125 sums, 1 + 2 sqrt(2 / 3125) = 1.051, and what they err by themselves.
    assert 1.0 <= learned(white(200_000, seed)).ratio <= math.sqrt(1.051 * 1.051)


def test_after_a_few_sums_it_is_as_large_as_it_may_be() -> None:
    """Of 200 beginners with 30 sums of correlated noise few find less than what is true."""
    # Derived here: chi-square of 30 below 30 / (1 + 2 sqrt(2 / 31)), 9 %; half of them without the margin.
    too_small = sum(learned(wandering(30 * TOGETHER, 0.5, 0.0, seed)).ratio < ratio_of(0.5) for seed in range(200))
    assert too_small <= 30


def test_a_burst_counts_for_no_more_than_three_standard_deviations() -> None:
    """After 40 sums: one that is all bursts may not make the ratio more than sqrt(1 + 9 / 41) times as large."""
    with_burst = white(42 * TOGETHER)
    with_burst[40 * TOGETHER : 41 * TOGETHER] += 4.0
    # Derived here: a mean over 41 moves by one 41st of what is new; a tenth more for what the sums themselves err by.
    assert learned(with_burst).ratio <= 1.1 * math.sqrt(1.0 + 9.0 / 41.0) * learned(white(42 * TOGETHER)).ratio


@pytest.mark.parametrize("phi", [0.3, 0.6, 0.9])
def test_slower_correlation_is_found_as_large_as_it_is(phi: float) -> None:
    assert learned(wandering(200_000, phi, 0.0)).ratio == pytest.approx(ratio_of(phi) * math.sqrt(1.051), rel=0.05)


def test_what_swings_back_and_forth_makes_nothing_larger() -> None:
    assert learned(wandering(200_000, -0.5, 0.0)).ratio == 1.0


def test_the_unfinished_sum_says_nothing() -> None:
    left = learned(np.full(TOGETHER - 1, 3.0))
    assert left.ratio == 1.0
    left.learn(3.0)
    # Derived here: (32 * 3)² / 32 = 288, beside the one that it begins with, and twice sqrt(2 / 2) more.
    assert left.ratio == pytest.approx(math.sqrt((288.0 + 1.0) / 2.0 * 3.0))


def test_the_oldest_sums_are_forgotten_and_sooner_when_in_doubt() -> None:
    """From correlated to white noise: in doubt of all but ten sums it is down within 60, else it takes thousands."""
    sure, doubting = (learned(wandering(100_000, 0.9, 0.0)) for _ in range(2))
    before = sure.ratio
    doubting.doubt(10 * TOGETHER)
    assert doubting.ratio == before
    for value in white(60 * TOGETHER, 5).tolist():
        sure.learn(value)
        doubting.learn(value)
    assert doubting.ratio < 0.6 * before
    assert sure.ratio > 0.95 * before


def test_who_has_seen_less_than_the_doubt_leaves_has_nothing_to_doubt() -> None:
    doubting, other = learned(white(5 * TOGETHER)), learned(white(5 * TOGETHER))
    doubting.doubt(10 * TOGETHER)
    for value in white(3 * TOGETHER, 6).tolist():
        doubting.learn(value)
        other.learn(value)
    assert doubting.ratio == other.ratio


# --- a bank that looks at it --------------------------------------------------------------------------------

ARL, COUNT = 3e3, 60_000


def alarms(values: np.ndarray, run_together: int) -> int:
    params = WhiteBankParams(ARL, WhitenParams(memory=6_000), clip=4.0, run_together=run_together)
    bank, found = WhiteBank(params), 0
    for value in values.tolist():
        if bank.update(value) > 1.0:
            found += 1
            bank.reset()
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("phi", "theta"), [(0.9, -0.5), (0.95, -0.7), (0.98, -0.9)])
def test_it_holds_its_run_length_where_one_coefficient_does_not(phi: float, theta: float) -> None:
    """Wander under faster noise: the lag-one correlation is small, and what is left of it lasts."""
    wanted = COUNT / ARL
    values = wandering(COUNT, phi, theta)
    assert alarms(values, 0) > 4.0 * wanted
    assert alarms(values, TOGETHER) <= wanted


@pytest.mark.slow
@pytest.mark.parametrize(("phi", "theta"), [(0.0, 0.0), (0.9, 0.0), (0.9, 0.7)])
def test_where_one_coefficient_suffices_it_holds_it_too(phi: float, theta: float) -> None:
    assert alarms(wandering(COUNT, phi, theta), TOGETHER) <= COUNT / ARL


def test_it_still_alarms_on_a_shift() -> None:
    bank = WhiteBank(WhiteBankParams(1e6, WhitenParams(memory=6_000), clip=4.0, run_together=TOGETHER))
    assert max(bank.update(x) for x in wandering(20_000, 0.9, -0.5).tolist()) < 1.0
    delay = next(n for n, x in enumerate((wandering(5_000, 0.9, -0.5, 2) + 3.0).tolist(), 1) if bank.update(x) > 1.0)
    assert delay < 100


# --- doubt --------------------------------------------------------------------------------------------------


def bank_after(count: int, learn_first: int = 1_000) -> WhiteBank:
    bank = WhiteBank(WhiteBankParams(1e6, learn_first=learn_first))
    for value in wandering(count, 0.5, 0.0).tolist():
        bank.update(value)
    return bank


def test_doubt_keeps_what_was_learned_as_a_first_guess() -> None:
    bank = bank_after(20_000)
    whitener = bank.whitener
    before = (whitener.level, whitener.spread, whitener.phi, bank.near)
    bank.doubt()
    assert (whitener.level, whitener.spread, whitener.phi, bank.near) == before
    assert whitener.learned == 1_000


def test_what_comes_after_a_doubt_weighs_more() -> None:
    """Noise that halves: a thousand samples on, a bank in doubt has gone most of the way, and one without a tenth."""
    spreads = []
    for doubts in (False, True):
        bank = bank_after(20_000)
        if doubts:
            bank.doubt()
        for value in wandering(1_500, 0.5, 0.0, 7).tolist():
            bank.update(0.5 * value)
        spreads.append(bank.whitener.spread)
    assert spreads[0] > 0.95
    assert spreads[1] < 0.78


def test_a_bank_that_knows_less_than_a_first_guess_has_nothing_to_doubt() -> None:
    bank, other = bank_after(700), bank_after(700)
    bank.doubt()
    assert bank.whitener.learned == other.whitener.learned < 1_000
    rest = wandering(3_000, 0.5, 0.0, 8).tolist()
    assert [bank.update(x) for x in rest] == [other.update(x) for x in rest]


@pytest.mark.slow
def test_after_a_doubt_the_thresholds_allow_for_how_little_is_known() -> None:
    """The same residual is nearer to an alarm for a bank that is sure of its level and spread."""
    nears = []
    for doubts in (False, True):
        bank = bank_after(60_000)
        if doubts:
            bank.doubt()
        for value in wandering(600, 0.5, 0.0, 7).tolist():
            bank.update(value)
        bank.reset()
        for _ in range(5):
            bank.update(3.0)
        nears.append(bank.near)
    assert nears[1] < 0.95 * nears[0]


def test_a_number_of_samples_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="run_together -1: not >= 0"):
        WhiteBankParams(1e6, run_together=-1)


@pytest.mark.slow
def test_a_bank_in_doubt_doubts_what_is_left_together_too() -> None:
    found = []
    for doubts in (False, True):
        bank = WhiteBank(WhiteBankParams(1e6, clip=4.0, run_together=TOGETHER))
        for value in wandering(64_000, 0.9, -0.5).tolist():
            bank.update(value)
        if doubts:
            bank.doubt()
        for value in white(60 * TOGETHER, 5).tolist():
            bank.update(value)
        assert bank._together is not None
        found.append(bank._together.ratio)
    assert found[1] < 0.95 * found[0]
