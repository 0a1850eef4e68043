"""The bank of CUSUMs: its recursion, its answer, and that many rigs at once give the same bits as one."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scuffwatch.detect.cusum import CusumBank, CusumParams, bank_params, near_rigs, update_rigs

PARAMS = CusumParams((0.25, 1.0), (8.0, 3.0))


def test_by_hand() -> None:
    bank = CusumBank(PARAMS)
    assert bank.update(1.25) == 0.125  # 1.0 / 8 against 0.25 / 3
    assert bank.sums == [1.0, 0.25]
    assert bank.update(2.0) == pytest.approx(1.25 / 3)
    assert bank.sums == [2.75, 1.25]
    bank.update(-1.0)
    assert bank.sums == [1.5, 0.0]
    bank.reset()
    assert (bank.sums, bank.near) == ([0.0, 0.0], 0.0)


def test_scores_are_clipped() -> None:
    bank = CusumBank(CusumParams((0.5,), (4.0,), -1.0, 2.0))
    bank.update(50.0)
    assert bank.sums == [1.5]
    bank.update(-50.0)
    assert bank.sums == [0.0]


@pytest.mark.parametrize("z", [math.nan, math.inf, -math.inf])
def test_a_residual_that_is_not_finite_changes_nothing(z: float) -> None:
    bank = CusumBank(PARAMS)
    near, sums = bank.update(1.25), list(bank.sums)
    assert bank.update(z) == near
    assert bank.sums == sums


@pytest.mark.parametrize(
    "wrong",
    [
        ((), ()),
        ((0.5,), (1.0, 2.0)),
        ((-0.1,), (1.0,)),
        ((0.5,), (0.0,)),
        ((0.5,), (math.nan,)),
        ((math.inf,), (1.0,)),
        ((0.5,), (1.0,), 1.0, 1.0),
        ((0.5,), (1.0,), math.nan, 1.0),
    ],
)
def test_parameters_that_make_no_sense_are_refused(wrong) -> None:
    with pytest.raises(ValueError, match=r"reference|thresholds|clip"):
        CusumParams(*wrong)


residuals = st.floats(-40, 40) | st.just(math.nan) | st.sampled_from([math.inf, -math.inf, 0.0, -0.0, 0.25])


@pytest.mark.slow
@given(
    st.lists(st.lists(residuals, min_size=3, max_size=3), min_size=1, max_size=40),
    st.lists(st.tuples(st.floats(0, 3), st.floats(0.1, 50)), min_size=1, max_size=6),
    st.sampled_from([(-math.inf, math.inf), (-2.0, 2.0), (-1.0, 4.0)]),
)
def test_many_rigs_at_once_give_the_same_bits(rows, members, clip) -> None:
    ks, hs = zip(*members, strict=True)
    banks = [CusumBank(CusumParams(ks, hs, *clip)) for _ in range(3)]
    sums = np.zeros((len(ks), 3))
    for row in rows:
        nears = [bank.update(z) for bank, z in zip(banks, row, strict=True)]
        update_rigs(sums, np.array(row), ks, *clip)
        assert sums.T.tobytes() == np.array([bank.sums for bank in banks]).tobytes()
        assert near_rigs(sums, hs).tobytes() == np.array(nears).tobytes()


def test_rigs_with_reference_values_of_their_own() -> None:
    ks, hs = np.array([[0.2, 0.4], [0.8, 1.0]]), np.array([[9.0, 8.0], [4.0, 3.0]])
    sums, banks = np.zeros((2, 2)), [CusumBank(CusumParams(tuple(ks[:, r]), tuple(hs[:, r]))) for r in range(2)]
    draw = random.Random(3)
    for _ in range(200):
        z = [draw.gauss(0.5, 1), draw.gauss(0.5, 1)]
        nears = [bank.update(value) for bank, value in zip(banks, z, strict=True)]
        update_rigs(sums, np.array(z), ks)
        assert list(near_rigs(sums, hs)) == nears


def test_the_bank_made_for_a_run_length_keeps_it() -> None:
    # 1e4 samples between false alarms on unit normal noise; 400 alarms give 5 % (one standard error).
    params = bank_params(1e4)
    draw, rigs = np.random.default_rng(8), 2_000
    sums, alarms, samples = np.zeros((len(params.ks), rigs)), 0, 0
    while alarms < 400:
        update_rigs(sums, draw.standard_normal(rigs), params.ks)
        over = near_rigs(sums, params.hs) > 1.0
        sums[:, over] = 0.0
        alarms, samples = alarms + int(over.sum()), samples + rigs
    assert 1 / 1.2 < samples / alarms / 1e4 < 1.2


@pytest.mark.parametrize(("arl", "scale"), [(999.0, 1.0), (math.nan, 1.0), (1e6, 0.0), (1e6, 1.1)])
def test_a_bank_that_cannot_be_made_is_refused(arl: float, scale: float) -> None:
    with pytest.raises(ValueError, match="run length"):
        bank_params(arl, scale)


def test_a_bank_can_be_made_for_clipped_scores() -> None:
    params = bank_params(1e6, 0.5, 2.0)
    assert (params.clip_low, params.clip_high) == (-2.0, 2.0)
    assert params.ks[0] == 0.125
