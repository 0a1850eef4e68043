"""Whitening: what it learns, what it leaves, and when it learns nothing."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.detect.cusum import bank_params
from scuffwatch.detect.whiten import (
    WhiteBank,
    WhiteBankParams,
    Whitener,
    WhitenParams,
    raised_thresholds,
    shift_left,
)


def correlated(phi: float, count: int, seed: int = 1, level: float = 0.0, spread: float = 1.0) -> list[float]:
    draw, x, values = random.Random(seed), 0.0, []
    for _ in range(count):
        x = phi * x + math.sqrt(1 - phi * phi) * draw.gauss(0, 1)
        values.append(level + spread * x)
    return values


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_it_learns_what_numpy_finds_over_all_at_once(phi: float) -> None:
    # numpy's own mean, std and corrcoef over the same residuals; running means start from a guess, hence the slack.
    values = correlated(phi, 20_000, level=7.0, spread=3.0)
    whitener = Whitener(WhitenParams())
    left = [whitener.update(x, True) for x in values][2_000:]
    assert whitener.level == pytest.approx(np.mean(values), abs=0.02)
    assert whitener.spread == pytest.approx(np.std(values), rel=0.01)
    assert whitener.phi == pytest.approx(max(0.0, np.corrcoef(values[1:], values[:-1])[0, 1]), abs=0.01)
    assert np.std(left) == pytest.approx(1.0, abs=0.03)
    assert abs(np.corrcoef(left[1:], left[:-1])[0, 1]) < 0.03


def test_a_lasting_shift_is_left_as_shift_left_says() -> None:
    whitener = Whitener(WhitenParams(learns_level=False))
    for x in correlated(0.9, 50_000):
        whitener.update(x, True)
    left = [whitener.update(x + 2.0, False) for x in correlated(0.9, 50_000, seed=2)]
    assert np.mean(left[1:]) == pytest.approx(2.0 * shift_left(0.9), abs=0.05)
    assert shift_left(0.5) == pytest.approx(math.sqrt(1 / 3))  # DETECTION: a third of the information


def test_an_unknown_residual_stands_between_two_that_are_judged_apart() -> None:
    whitener = Whitener(WhitenParams(learns_level=False))
    for x in correlated(0.8, 5_000):
        whitener.update(x, True)
    learned = whitener.learned
    assert math.isnan(whitener.update(math.nan, True))
    assert whitener.update(1.5, True) == 1.5  # by itself: in marginal standard deviations
    assert whitener.learned == learned
    phi = whitener.phi
    assert whitener.update(1.5, False) == pytest.approx(1.5 * (1 - phi) / math.sqrt(1 - phi * phi))


def test_what_may_not_be_learned_changes_nothing() -> None:
    whitener = Whitener(WhitenParams())
    for x in correlated(0.5, 1_000):
        whitener.update(x, True)
    before = (whitener.learned, whitener.level, whitener.spread, whitener.phi)
    for x in correlated(0.9, 100, level=50.0):
        whitener.update(x, False)
    assert (whitener.learned, whitener.level, whitener.spread, whitener.phi) == before


def test_the_oldest_is_forgotten() -> None:
    whitener = Whitener(WhitenParams(memory=500))
    for level in (0.0, 4.0):
        for x in correlated(0.0, 5_000, level=level):
            whitener.update(x, True)
    assert whitener.level == pytest.approx(4.0, abs=0.2)


anything = st.floats(allow_nan=True, allow_infinity=True) | st.floats(-5, 5) | st.just(0.0)


@given(st.lists(anything, min_size=1, max_size=200))
def test_nothing_poisons_it(values: list[float]) -> None:
    bank = WhiteBank(WhiteBankParams(1e4, learn_first=100))
    for x in values:
        assert 0.0 <= bank.update(x) < math.inf
    whitener = bank.whitener
    assert all(map(math.isfinite, (whitener.level, whitener.spread, whitener.phi)))
    assert 0.0 <= whitener.phi <= 0.98


def test_a_still_channel_is_no_evidence() -> None:
    bank = WhiteBank(WhiteBankParams(1e4))
    assert {bank.update(3.0) for _ in range(5_000)} == {0.0}


def test_nothing_is_judged_before_enough_is_learned() -> None:
    bank = WhiteBank(WhiteBankParams(1e6, learn_first=1_000))
    nears = [bank.update(x) for x in correlated(0.3, 2_000, level=5.0)]
    assert set(nears[:1_000]) == {0.0}
    assert max(nears[1_001:]) > 0.0


def test_it_alarms_on_a_shift_and_does_not_learn_it() -> None:
    bank = WhiteBank(WhiteBankParams(1e6))
    assert max(bank.update(x) for x in correlated(0.6, 20_000, seed=4)) < 1.0
    delay = next(n for n, x in enumerate(correlated(0.6, 5_000, seed=5, level=1.0), 1) if bank.update(x) > 1.0)
    assert delay < 250  # the optimum for a known shift is 97 on average
    for x in correlated(0.6, 5_000, seed=6, level=1.0):
        bank.update(x)
    assert bank.near > 5.0
    assert abs(bank.whitener.level) < 0.05
    bank.reset()
    assert bank.near == 0.0
    assert bank.whitener.learned > 19_000


def test_the_same_residuals_give_the_same_bits() -> None:
    first, again = WhiteBank(WhiteBankParams(1e5)), WhiteBank(WhiteBankParams(1e5))
    values = correlated(0.8, 6_000, seed=9)
    assert [first.update(x) for x in values] == [again.update(x) for x in values]


def test_thresholds_come_down_to_those_of_what_is_known() -> None:
    known = bank_params(1e6, shift_left(0.9))
    few, many, all_but = (raised_thresholds(known, 0.9, n, True) for n in (1_000, 100_000, 10**9))
    assert all(a > b > c > h for a, b, c, h in zip(few[:5], many[:5], all_but[:5], known.hs[:5], strict=True))
    assert few[0] == 1.25 * known.hs[0]
    assert all_but == pytest.approx(known.hs, rel=1e-4)
    assert all(a <= b for a, b in zip(raised_thresholds(known, 0.9, 10_000, False), few, strict=True))


@pytest.mark.parametrize(
    "make",
    [
        lambda: WhitenParams(memory=99),
        lambda: WhitenParams(phi_max=1.0),
        lambda: WhitenParams(spread_min=0.0),
        lambda: WhiteBankParams(1e6, learn_first=99),
        lambda: WhiteBankParams(1e6, freeze_at=0.0),
    ],
)
def test_parameters_that_make_no_sense_are_refused(make) -> None:
    with pytest.raises(ValueError, match="not"):
        make()
