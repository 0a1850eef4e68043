"""Run lengths of CUSUMs against published tables: what thresholds rest on."""

import math

import numpy as np
import pytest

from scuffwatch.detect.arl import (
    exact_arl,
    exact_delay,
    exact_threshold,
    normal_below,
    normal_density,
    quick_threshold,
    siegmund_arl,
    siegmund_threshold,
)

SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5)


def two_sided(k: float, h: float, shift: float, head_start: float = 0.0) -> float:
    """Two one-sided charts side by side, started at the head start (Lucas & Crosier 1982, appendix)."""
    up, down = exact_arl(k, h, shift), exact_arl(k, h, -shift)
    up_ahead, down_ahead = exact_arl(k, h, shift, head_start), exact_arl(k, h, -shift, head_start)
    return (up_ahead * down + up * down_ahead - up * down) / (up + down)


def in_print(value: float) -> float:
    """Half a unit of the last of three significant digits, as the tables are printed; two decimals below 10."""
    return 0.5 * 10.0 ** (max(-2, math.floor(math.log10(value)) - 2)) * 1.1


# Lucas & Crosier 1982, Technometrics 24 (3) 199, Table 1, as quoted by the R package spc (xcusum.arl).
LUCAS_CROSIER = (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31)
LUCAS_CROSIER_AHEAD = (149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.32, 1.07, 1.01)


@pytest.mark.parametrize(("shift", "arl"), list(zip(SHIFTS, LUCAS_CROSIER, strict=True)))
def test_lucas_and_crosier(shift: float, arl: float) -> None:
    assert two_sided(0.5, 4, shift) == pytest.approx(arl, abs=in_print(arl))


@pytest.mark.parametrize(("shift", "arl"), list(zip(SHIFTS, LUCAS_CROSIER_AHEAD, strict=True)))
def test_lucas_and_crosier_with_a_head_start(shift: float, arl: float) -> None:
    assert two_sided(0.5, 4, shift, 2.0) == pytest.approx(arl, abs=in_print(arl))


def test_brook_and_evans() -> None:
    # Brook & Evans 1972, Biometrika 59 (3) 539, as quoted by spc: a Markov chain, so its last digit is coarse.
    assert exact_arl(0.5, 3) == pytest.approx(117.59, abs=0.01)
    assert exact_arl(0.5, 3, 1.5) == pytest.approx(3.75, abs=0.005)


@pytest.mark.parametrize(("shift", "arl", "digit"), [(-0.5, 1963, 0.5), (0, 117.4, 0.25), (0.5, 17.35, 0.005)])
def test_waldmann(shift: float, arl: float, digit: float) -> None:
    # Waldmann 1986, Technometrics 28 (1) 61, as quoted by spc; he gives bounds, and 117.4 for what is 117.6.
    assert exact_arl(0.5, 3, shift) == pytest.approx(arl, abs=digit)


# Vance 1986, Journal of Quality Technology 18 (3) 188, Table 1, as quoted by spc: k = 0, h = 10.
VANCE = (
    (-0.25, 2071.51),
    (-0.125, 400.28),
    (0, 124.66),
    (0.125, 59.30),
    (0.25, 36.71),
    (0.5, 20.37),
    (0.75, 14.06),
    (1, 10.75),
)


@pytest.mark.parametrize(("shift", "arl"), VANCE)
def test_vance(shift: float, arl: float) -> None:
    assert exact_arl(0, 10, shift) == pytest.approx(arl, rel=4e-5, abs=0.005)


def test_a_pair_printed_to_ten_decimals() -> None:
    # SAS/QC manual 1999, as quoted by spc: k = 0.25, h = 8, shift 2.5, without and with a head start of 0.1.
    # Its eighth decimal is not ours, nor that of any number of nodes from 40 to 200.
    assert exact_arl(0.25, 8, 2.5) == pytest.approx(4.1500836225, abs=1.1e-7)
    assert exact_arl(0.25, 8, 2.5, 0.1) == pytest.approx(4.1061588131, abs=1.1e-7)


@pytest.mark.parametrize(
    ("k", "h", "arl"),
    [(0.25, 8.01, 370), (0.5, 4.77, 370), (0.75, 3.34, 370), (1, 2.52, 370), (1.25, 1.99, 370), (1.5, 1.61, 370)],
)
def test_two_sided_thresholds_for_370(k: float, h: float, arl: float) -> None:
    # Thresholds in common use, from a snippet for spc; they are printed to 0.01 in h, that is 1-2 % in run length.
    assert two_sided(k, h, 0) == pytest.approx(arl, rel=0.02)


def ewma_arl(weight: float, width: float, shift: float) -> float:
    """Two-sided EWMA with fixed limits, by the same quadrature as `exact_arl`."""
    limit = width * math.sqrt(weight / (2.0 - weight))
    nodes, weights = np.polynomial.legendre.leggauss(200)
    y = limit * nodes
    into = normal_density((y[None, :] - (1.0 - weight) * y[:, None]) / weight - shift) * (limit * weights / weight)
    lengths = np.linalg.solve(np.eye(y.size) - into, np.ones(y.size))
    return float(1.0 + (normal_density(y / weight - shift) * (limit * weights / weight)) @ lengths)


# Crowder 1987, Technometrics 29 (4) 401, Table 1, as quoted by spc (xewma.arl): width 2, weights 0.5 and 0.05.
CROWDER = ((0, 26.45, 127.53), (0.5, 11.89, 18.97), (1, 4.91, 8.38), (1.5, 2.80, 5.41), (2, 1.94, 4.04))


@pytest.mark.parametrize(("shift", "quick", "slow"), CROWDER)
def test_crowder(shift: float, quick: float, slow: float) -> None:
    assert ewma_arl(0.5, 2, shift) == pytest.approx(quick, abs=0.0101)  # he prints 1.94 for 1.946
    assert ewma_arl(0.05, 2, shift) == pytest.approx(slow, abs=0.0101)


def test_siegmund_as_printed() -> None:
    # DOMAIN §3 has the values of the formula (Siegmund 1985) beside the exact ones.
    assert siegmund_arl(0.5, 4) == pytest.approx(338.093, abs=6e-4)
    assert siegmund_arl(0.5, 5) == pytest.approx(938.222, abs=6e-4)
    assert siegmund_arl(0.5, 4, 1) == pytest.approx(8.343, abs=6e-4)
    assert siegmund_arl(0.5, 4, 4) == pytest.approx(1.435, abs=6e-4)
    assert siegmund_arl(0.5, 4, 0.5) == pytest.approx((4 + 1.166) ** 2)


# This project's detection design, table of exact values: (false alarms, shift, threshold, optimal delay).
OPTIMUM = (
    (1e4, 0.5, 13.11, 49.1),
    (1e4, 1, 7.36, 15.1),
    (1e4, 2, 3.81, 4.56),
    (1e4, 3, 2.47, 2.32),
    (1e6, 0.25, 40.24, 299),
    (1e6, 0.5, 22.31, 85.9),
    (1e6, 1, 11.96, 24.3),
    (1e6, 2, 6.12, 6.86),
    (1e6, 3, 4.00, 3.34),
    (1e6, 4, 2.92, 2.08),
    (3.6e8, 0.5, 34.08, 133),
    (3.6e8, 1, 17.85, 36.1),
    (3.6e8, 2, 9.06, 9.8),
    (3.6e8, 3, 5.96, 4.7),
    (3.6e8, 4, 4.38, 2.8),
)


@pytest.mark.parametrize(("arl", "shift", "threshold", "delay"), OPTIMUM)
def test_the_optimum_for_a_known_shift(arl: float, shift: float, threshold: float, delay: float) -> None:
    assert exact_threshold(shift / 2, arl) == pytest.approx(threshold, abs=0.0051)
    assert exact_delay(shift, arl) == pytest.approx(delay, abs=max(in_print(delay), 0.051 if arl > 1e8 else 0))


def test_a_threshold_gives_its_run_length_back() -> None:
    for k in (0.05, 0.3, 1.5):
        assert exact_arl(k, exact_threshold(k, 2e5)) == pytest.approx(2e5, rel=1e-5)
        assert siegmund_arl(k, siegmund_threshold(k, 2e5)) == pytest.approx(2e5, rel=1e-6)


@pytest.mark.parametrize("k", [0.06, 0.1, 0.25, 0.65, 1.0, 1.5])
@pytest.mark.parametrize("arl", [1e4, 1e6, 3.6e8])
def test_the_quick_threshold_is_good_to_two_percent(k: float, arl: float) -> None:
    assert exact_arl(k, quick_threshold(k, arl)) == pytest.approx(arl, rel=0.02)


def test_a_run_length_is_what_a_plain_count_gives() -> None:
    draw = np.random.default_rng(11)
    runs, length = 20_000, 0
    sums = np.zeros(runs)
    while sums.size:
        length += sums.size
        sums = np.maximum(sums + draw.standard_normal(sums.size) - 0.5, 0.0)
        sums = sums[sums <= 2.0]
    assert length / runs == pytest.approx(exact_arl(0.5, 2.0), rel=4 / math.sqrt(runs))  # four standard errors


@pytest.mark.parametrize(
    "ask",
    [
        lambda: exact_arl(0.5, 0.0),
        lambda: exact_arl(0.5, 401.0),
        lambda: exact_arl(0.5, 4.0, 0.0, 4.1),
        lambda: siegmund_threshold(0.0, 1e4),
        lambda: siegmund_threshold(0.5, 1.0),
        lambda: exact_threshold(3.0, 2.0),
    ],
)
def test_what_has_no_answer_is_refused(ask) -> None:
    with pytest.raises(ValueError, match=r"\d"):
        ask()


def test_the_normal_law() -> None:
    # From memory of any table of the normal distribution.
    assert normal_below(1.96) == pytest.approx(0.9750, abs=5e-5)
    assert float(normal_density(np.array(0.0))) == pytest.approx(0.3989, abs=5e-5)
