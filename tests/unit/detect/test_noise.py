"""Noise of a channel from the steps between its values."""

import math

import numpy as np
import pytest

from scuffwatch.detect.noise import Noise


def learned(values: np.ndarray, noise: Noise | None = None) -> Noise:
    noise = Noise() if noise is None else noise
    for value in values.tolist():
        noise.learn(value, 0.01)
    return noise


@pytest.mark.parametrize("sigma", [0.02, 1.0, 50.0])
def test_it_is_the_standard_deviation_of_white_noise_whatever_the_signal_does(sigma: float) -> None:
    # Reference: numpy's normal numbers. A mean of 1,000 steps errs by about 2.5 %; bound of four times that.
    draw, n = np.random.default_rng(1), 8_000
    signal = 3.0 * sigma * np.sin(np.arange(n) / 200.0)
    assert learned(signal + draw.normal(0.0, sigma, n)).sigma == pytest.approx(sigma, rel=0.1)


def test_it_is_known_after_thirty_steps() -> None:
    values = np.random.default_rng(1).normal(0.0, 1.0, 31)
    assert not learned(values[:30]).is_known
    assert learned(values).is_known


def test_spikes_count_for_little() -> None:
    values = np.random.default_rng(1).normal(0.0, 1.0, 8_000)
    values[1_000::100] += 40.0
    assert learned(values).sigma < 1.3


def test_it_follows_noise_that_has_doubled_within_its_memory() -> None:
    # Derived here: after one memory of 20 s the mean step has gone 1 - 1/e of the way from 1 to 2.
    draw = np.random.default_rng(1)
    noise = learned(draw.normal(0.0, 1.0, 8_000))
    assert learned(draw.normal(0.0, 2.0, 2_000), noise).sigma == pytest.approx(2.0 - 1.0 / math.e, rel=0.1)


@pytest.mark.parametrize("rows", [3, 5, 10])
def test_a_slow_reading_that_is_held_is_as_noisy_as_it_is(rows: int) -> None:
    """Reference: numpy's normal numbers; each is shown for so many rows, as a slow transmitter's table does."""
    values = np.repeat(np.random.default_rng(1).normal(0.0, 2.0, 20_000 // rows), rows)
    assert learned(values).sigma == pytest.approx(2.0, rel=0.2)


def test_a_converter_that_flips_by_chance_is_no_reading_that_is_held() -> None:
    """One in fifteen values is a step away: its changes alone would tell of nearly a step."""
    flips = (np.random.default_rng(1).random(20_000) < 1 / 15).astype(float)
    assert learned(flips).sigma < 0.2
