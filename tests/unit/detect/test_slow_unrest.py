"""Slow unrest: a drag that wanders from second to second, told from noise, drift and a passing particle.

Sizes and times: common practice, no source.
"""

import math

import numpy as np
import pytest

from scuffwatch.detect.slow_unrest import SlowUnrest

DT_S = 0.01


def noise(seconds: int, sigma: float = 0.05, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sigma, seconds * 100)


def time_s(y: np.ndarray) -> np.ndarray:
    return np.arange(len(y)) * DT_S


def ratios(y: np.ndarray, unrest: SlowUnrest | None = None) -> np.ndarray:
    """Give the ratio at the end of every second."""
    unrest = SlowUnrest() if unrest is None else unrest
    found = []
    for k, value in enumerate(y.tolist(), 1):
        unrest.update(value, DT_S)
        if k % 100 == 0:
            found.append(unrest.ratio)
    return np.array(found)


def test_nothing_is_said_before_20_seconds_are_known() -> None:
    """The first difference takes three seconds, and what was learned for 20 s is held against the one after."""
    found = ratios(noise(60))
    assert np.isnan(found[:22]).all()
    assert np.isfinite(found[22:]).all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_is_about_one_on_noise_that_stays_as_it_is(seed: int) -> None:
    # Twenty differences, each with three quarters of its mean as standard deviation (half-normal), overlapping.
    found = ratios(noise(400, seed=seed))[30:]
    assert 0.85 < found.mean() < 1.35
    assert found.max() < 2.0


def test_second_differences_are_what_numpy_gives() -> None:
    """While nothing is usual yet the ratio is hidden; after that it is 0 once the variable stands still."""
    y = noise(25)
    means = y.reshape(-1, 100).mean(axis=1)
    usual = np.abs(np.diff(means, 2))  # an independent way to the same differences
    found = ratios(np.concatenate([y, np.full(30_000, means[-1])]))
    assert 0.5 < found[24] < 2.0
    assert usual.mean() > 0.003  # so it is the noise that counts here, and not the least that is believed
    assert found[-1] < 0.01


@pytest.mark.parametrize("per_s", [-0.05, 0.001, 0.01, 0.1, 1.0])
def test_a_straight_drift_leaves_it(per_s: float) -> None:
    y = noise(120)
    assert ratios(y + per_s * time_s(y)) == pytest.approx(ratios(y), abs=1e-9, nan_ok=True)
    begins = ratios(y + per_s * np.clip(time_s(y) - 80.0, 0.0, None))  # nor does the one bend where it begins
    assert np.nanmax(begins) < 2.0


def test_noise_too_small_to_matter_counts_as_the_least() -> None:
    y = noise(120, sigma=1e-4)
    y[6_000:] += 0.001 * np.sin(2.0 * np.pi * time_s(y)[6_000:] / 4.0)
    assert np.nanmax(ratios(y)) < 1.0


@pytest.mark.parametrize("period_s", [3.5, 4.0, 5.0])
def test_wander_of_seconds_that_grows_is_seen(period_s: float) -> None:
    y = noise(220, sigma=0.02)
    grows = 0.03 * np.clip((time_s(y) - 100.0) / 60.0, 0.0, 1.0)
    found = ratios(y + grows * np.sin(2.0 * np.pi * time_s(y) / period_s))
    assert np.nanmax(found[:100]) < 2.0
    assert np.max(found[120:200]) > 3.0


def test_wander_that_was_always_there_is_usual() -> None:
    y = noise(220, sigma=0.02)
    assert np.nanmax(ratios(y + 0.03 * np.sin(2.0 * np.pi * time_s(y) / 4.0))) < 1.5


@pytest.mark.parametrize("height", [0.1, 0.5, 50.0])
def test_one_particle_does_not(height: float) -> None:
    y = noise(200, sigma=0.02)
    y[12_000:12_030] += height
    found = ratios(y)
    assert found[118] < found[121] < 2.0
    assert np.nanmax(found) < 2.0


def test_a_stop_keeps_what_is_usual_and_another_level_does_not() -> None:
    for begin_anew, seconds in ((SlowUnrest.forget_motion, 3), (SlowUnrest.forget, 23)):
        unrest = SlowUnrest()
        assert ratios(noise(60), unrest)[-1] < 2.0
        begin_anew(unrest)
        assert math.isnan(unrest.ratio)
        found = ratios(noise(40, seed=2) + 0.7, unrest)  # it stands elsewhere now: no difference is taken across
        assert np.isnan(found).sum() == seconds - 1
        assert np.nanmax(found) < 2.5
