"""Bursts: what is one, what only looks like one, and how many of them are too many.

Sizes and times of bursts and swings: common practice, no source. Where a check rests on more, it says so.
"""

import math

import numpy as np
import pytest

from scuffwatch.detect.bursts import BurstParams, BurstRate, Bursts

DT_S = 0.01
PARAMS = BurstParams()
HOUR_S = 3_600.0

# --- how many are too many ----------------------------------------------------------------------------------


def rate_after(gaps_s: list[float], watched_s: float = 0.0) -> BurstRate:
    """Give the rate of a rig that showed none for `watched_s`, then one, and one more after each gap."""
    rate = BurstRate(PARAMS)
    rate.pass_time(watched_s)
    rate.add()
    for gap_s in gaps_s:
        rate.pass_time(gap_s)
        rate.add()
    return rate


def shown(every_s: float, hours: float, seed: int = 1) -> tuple[BurstRate, int]:
    """Give the rate of a rig with Poisson bursts, and how often there were too many; each time it begins anew."""
    gaps_s = np.random.default_rng(seed).exponential(every_s, round(hours * HOUR_S / every_s))
    rate, warnings = BurstRate(PARAMS), 0
    for gap_s in gaps_s.tolist():
        rate.pass_time(gap_s)
        rate.add()
        if rate.are_too_many:
            warnings += 1
            rate.forget()
    return rate, warnings


def test_at_the_usual_rate_a_false_warning_comes_in_30_hours_or_more() -> None:
    # Poisson process by its exponential gaps, numpy. 10,000 h give about 270 warnings: 6 % of standard deviation.
    _, warnings = shown(PARAMS.usual_s, 10_000.0)
    assert 30.0 <= 10_000.0 / warnings <= 60.0


@pytest.mark.parametrize("gap_s", [1.0, 5.0, 12.0])
def test_enough_count_is_the_count_at_which_it_is_enough(gap_s: float) -> None:
    """Each time it must say of the time that has passed: fewer would not have been enough."""
    rate = rate_after([])
    while not rate.are_too_many:
        assert rate.count < rate.enough_count
        rate.pass_time(gap_s)
        rate.add()
    assert rate.count == rate.enough_count
    assert rate.near >= 1.0
    assert rate.since_s == pytest.approx((rate.count - 1) * gap_s)


def test_three_within_40_s_are_enough_on_a_new_rig() -> None:
    assert rate_after([20.0, 20.0]).are_too_many
    # Derived here from the log-likelihood ratio: 3 ln 40 - 7.4 is drained in 56.5 s, or in 58.5 s where the time
    # since the first already counts for what is usual.
    assert rate_after([28.0, 28.0]).are_too_many
    assert not rate_after([29.5, 29.5]).are_too_many


@pytest.mark.parametrize("watched_s", [0.0, 620.0, HOUR_S, 100 * HOUR_S])
def test_one_is_never_enough_and_two_only_on_a_rig_known_to_be_calm(watched_s: float) -> None:
    """After ten minutes without any two are, by their likelihood: 2 ln[(600 + t) / 15] - 7.4, derived here."""
    assert not rate_after([], watched_s).are_too_many
    two = rate_after([1.0], watched_s)
    is_calm = watched_s > 600.0
    assert two.are_too_many is is_calm
    assert two.enough_count == (2 if is_calm else 3)


def test_two_are_enough_for_less_time_than_three() -> None:
    # Derived here: after an hour 2 ln 240 - 7.4 is drained in 53.6 s.
    assert rate_after([52.0], HOUR_S).are_too_many
    assert not rate_after([55.0], HOUR_S).are_too_many


def test_after_an_hour_without_three_may_take_longer() -> None:
    # Derived here: 3 ln 240 - 7.4 is drained in 136.2 s.
    for watched_s in (HOUR_S, 100 * HOUR_S):  # a rig is taken for no calmer than one in an hour
        assert rate_after([67.5, 67.5], watched_s).are_too_many
        assert not rate_after([69.0, 69.0], watched_s).are_too_many


def test_a_rig_that_shows_more_needs_more() -> None:
    counts = []
    for every_s in (3_600.0, 120.0, 60.0):
        rate, _ = shown(every_s, 300.0)
        rate.pass_time(HOUR_S)
        assert (rate.count, rate.sum) == (0, 0.0)
        rate.add()
        counts.append(rate.enough_count)
    assert counts == [2, 4, 6]  # derived here: 7.4 / ln(every / 15 s), rounded up


def test_bursts_before_a_warning_do_not_become_usual() -> None:
    rate = rate_after([5.0] * 20)
    rate.forget()
    rate.add()
    assert rate.sum >= rate_after([]).sum


def test_bursts_that_go_on_do_not_make_a_rig_seem_calmer() -> None:
    """One every 55 s, for two hours: the sum creeps up, and what one more adds to it must not grow."""
    rate = rate_after([])
    first = rate.sum
    for _ in range(130):
        rate.pass_time(55.0)
        before = rate.sum
        rate.add()
    assert rate.sum - before <= first + 1e-9


# --- what is a burst ----------------------------------------------------------------------------------------


def white(seconds: float, sigma: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sigma, round(seconds / DT_S))


def wandering(seconds: float, sigma: float, phi: float, theta: float, seed: int) -> np.ndarray:
    """Give noise with an autoregressive and a moving-average part, of standard deviation `sigma`."""
    n = round(seconds / DT_S)
    e = np.random.default_rng(seed).normal(0.0, 1.0, n + 500)
    e[1:] += theta * e[:-1]
    x, values = 0.0, []
    for one in e.tolist():
        x = phi * x + one
        values.append(x)
    left = np.array(values[500:])
    return sigma * left / left.std()


def found_in(y: np.ndarray, bursts: Bursts | None = None) -> list[tuple[float, float]]:
    """Give when bursts were counted, s, and how high they were."""
    bursts = Bursts(PARAMS) if bursts is None else bursts
    at = []
    for k, value in enumerate(y.tolist()):
        bursts.update(value, DT_S)
        if bursts.found:
            at.append((k * DT_S, bursts.height))
    return at


def with_bursts(y: np.ndarray, at_s: list[float], height: float, lasts_s: float) -> np.ndarray:
    y = y.copy()
    for one_s in at_s:
        y[round(one_s / DT_S) : round((one_s + lasts_s) / DT_S)] += height
    return y


NOISES = [(0.0, 0.0), (0.9, 0.0), (0.5, 0.7), (0.95, 0.7), (0.95, -0.7), (0.98, -0.9)]


@pytest.mark.slow
@pytest.mark.parametrize("sigma", [0.02, 0.06])
@pytest.mark.parametrize(("phi", "theta"), NOISES)
def test_noise_holds_no_bursts(phi: float, theta: float, sigma: float) -> None:
    # Wanted: one in 10,000 s, by the bank alone. 12 noises of 1,200 s each: none was found.
    found = [at for seed in (1, 2) for at in found_in(wandering(600.0, sigma, phi, theta, seed))]
    assert found == []


@pytest.mark.parametrize("lasts_s", [0.05, 0.2, 0.8])
@pytest.mark.parametrize("more", [0.15, 0.30, 0.60])
def test_short_rises_out_of_calm_are_found_with_their_height(more: float, lasts_s: float) -> None:
    height, at_s = math.log1p(more), [30.0, 45.0, 60.0]
    found = found_in(with_bursts(white(80.0, 0.01), at_s, height, lasts_s))
    assert len(found) == 3
    # Derived here: a mean over 0.03 s has gone 1 - exp(-5/3) = 81 % of the way after 0.05 s.
    reached = 1.0 - math.exp(-lasts_s / 0.03)
    for began_s, (t_s, seen) in zip(at_s, found, strict=True):
        assert began_s + lasts_s < t_s < began_s + lasts_s + 1.5
        assert seen == pytest.approx(height * reached, rel=0.12)


def test_bursts_among_the_first_samples_hide_none_of_those_after_them() -> None:
    """Within the 10 s in which it learns how the drag is, at eight times its spread."""
    y = with_bursts(white(60.0, 0.05), [4.0, 7.0], 0.4, 0.8)
    assert len(found_in(with_bursts(y, [25.0, 35.0, 45.0], 0.25, 0.3))) == 3


@pytest.mark.parametrize(("height", "lasts_s"), [(0.07, 0.5), (0.3, 0.01), (0.4, 1.7)])
def test_what_is_too_low_too_short_or_too_long_is_none(height: float, lasts_s: float) -> None:
    assert found_in(with_bursts(white(80.0, 0.005), [30.0, 45.0, 60.0], height, lasts_s)) == []


@pytest.mark.parametrize("samples", [1, 2, 3])
@pytest.mark.parametrize("height", [0.5, 1.5, 3.2])
def test_an_electrical_spike_is_none_however_high(height: float, samples: int) -> None:
    """Up to three samples, five times to 25 times the drag: its mean over 0.03 s is as long above as a burst's."""
    y = white(300.0, 0.03)
    for at_s in (60.0, 61.003, 140.0, 200.01):
        first = round(at_s * 100)
        y[first : first + samples] += height
    assert found_in(y) == []


@pytest.mark.parametrize("share", [0.3, 0.6, 1.0])
def test_a_rise_that_is_followed_by_a_dip_is_the_half_of_a_swing(share: float) -> None:
    y = with_bursts(white(60.0, 0.005), [30.0, 45.0], 0.3, 0.2)
    many = 2 if share < 0.45 else 0
    assert len(found_in(with_bursts(y, [30.2, 45.2], -0.3 * share, 0.3))) == many


@pytest.mark.slow
@pytest.mark.parametrize("peak_to_peak", [0.1, 0.2, 0.3, 0.5])
@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 5.0, 10.0, 20.0])
def test_stick_slip_counts_none_after_its_first_swing(rate_hz: float, peak_to_peak: float) -> None:
    """A slow rise and a sudden slip, about an unchanged mean; it begins somewhere within a swing."""
    for sigma, begins in ((0.005, 0.5), (0.02, 0.7)):
        assert found_after_the_first_swing(sigma, rate_hz, peak_to_peak, begins, seed=3) == []


@pytest.mark.slow
def test_small_stick_slip_counts_a_train_in_one_record_of_twenty_at_most() -> None:
    """Swings at 1 Hz that are hardly larger than the smallest bursts are the hardest; bound set here."""
    records = [found_after_the_first_swing(0.01, 1.0, 0.15, 0.5, seed=seed, lasts_s=100.0) for seed in range(20)]
    assert sum(len(found) >= 3 for found in records) <= 1


def found_after_the_first_swing(
    sigma: float, rate_hz: float, peak_to_peak: float, begins: float, seed: int, lasts_s: float = 60.0
) -> list[tuple[float, float]]:
    y = white(lasts_s, sigma, seed)
    since_s = np.arange(len(y)) * DT_S - 30.0
    y += np.where(since_s > 0.0, peak_to_peak * ((since_s * rate_hz + begins) % 1.0 - 0.5), 0.0)
    return [(t_s, height) for t_s, height in found_in(y) if t_s > 30.0 + 1.0 / rate_hz]


@pytest.mark.parametrize("step", [0.1, 0.2, 0.4, 0.8, -0.2, -0.4])
@pytest.mark.parametrize("sigma", [0.01, 0.06])
def test_a_step_to_another_level_is_none(step: float, sigma: float) -> None:
    assert found_in(stepped(step, sigma)) == []


def stepped(step: float, sigma: float) -> np.ndarray:
    """Give a minute of noise that is at another level for its second half."""
    y = white(60.0, sigma)
    y[3_000:] += step
    return y


@pytest.mark.parametrize(
    "step",
    [
        0.1,
        0.4,
        0.8,
        -0.1,
    ],
)
def test_half_a_minute_after_a_step_bursts_count_from_there(step: float) -> None:
    y = np.concatenate([stepped(step, 0.01), white(10.0, 0.01, 2) + step])
    assert len(found_in(with_bursts(y, [63.0], math.log1p(0.35), 0.3))) == 1


@pytest.mark.parametrize(("phi", "theta", "sigma"), [(0.0, 0.0, 0.01), (0.0, 0.0, 0.06), (0.5, 0.7, 0.04)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_slow_rise_does_not_chatter(phi: float, theta: float, sigma: float, seed: int) -> None:
    y = wandering(80.0, sigma, phi, theta, seed)
    since_s = np.arange(len(y)) * DT_S - 40.0
    assert found_in(y + np.log1p(0.4 * np.clip(since_s / 20.0, 0.0, 1.0))) == []


def test_unknown_values_change_nothing() -> None:
    y = with_bursts(white(80.0, 0.01), [30.0, 45.0, 60.0], 0.3, 0.2)
    whole, holed = Bursts(PARAMS), Bursts(PARAMS)
    found: list[list[float]] = [[], []]
    for value in y.tolist():
        whole.update(value, DT_S)
        found[0] += [whole.height] if whole.found else []
        for one in (math.nan, value, math.nan):
            holed.update(one, DT_S)
            found[1] += [holed.height] if holed.found else []
    assert len(found[0]) == 3
    assert found[0] == found[1]
    assert (holed.below, holed.rate.sum, holed.rate.since_s) == (whole.below, whole.rate.sum, whole.rate.since_s)


def test_a_hole_is_no_burst_and_what_is_usual_stays() -> None:
    bursts = Bursts(PARAMS)
    assert found_in(white(30.0, 0.01), bursts) == []
    bursts.forget_motion()
    after = with_bursts(white(10.0, 0.01, 2) + 0.3, [2.0], 0.3, 0.2)  # two seconds: too little to learn from anew
    assert len(found_in(after, bursts)) == 1
    bursts.forget_motion()
    assert math.isnan(bursts.height)
    assert bursts.rate.count == 1


@pytest.mark.parametrize(("begin_anew", "many"), [(Bursts.rise_level, 1), (Bursts.forget, 0)])
def test_a_heavier_load_keeps_what_was_learned_and_another_level_does_not(begin_anew, many: int) -> None:
    bursts = Bursts(PARAMS)
    found_in(white(60.0, 0.01), bursts)
    begin_anew(bursts)
    after = with_bursts(white(9.0, 0.01, 2) + 0.5, [3.0], 0.3, 0.2)  # learning anew takes 10 s
    assert len(found_in(after, bursts)) == many
    assert len(found_in(with_bursts(white(9.0, 0.01, 3) + 0.5, [5.0], 0.3, 0.2), bursts)) == 1
