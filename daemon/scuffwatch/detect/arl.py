"""Average run lengths of one-sided CUSUMs on unit normal noise, and thresholds for a wanted one.

Reads reference value, threshold and shift, gives samples to an alarm. Used where thresholds are set, never per slice.
"""

import math

import numpy as np
from numpy.typing import NDArray

_OVERSHOOT = 1.166
"""Mean overshoot of both barriers together. Source: Siegmund, Sequential Analysis (1985), §2.5, 2 × 0.583."""

_LARGE_K = 0.0275
"""What Siegmund's threshold lacks, over k²."""

_NODES_PER_SIGMA = 3
_NODES_MIN = 40
_HIGHEST_THRESHOLD = 400.0


def normal_density(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the unit normal density at x; any shape, float64."""
    return np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)


def normal_below(x: float) -> float:
    """Give the probability of a unit normal value below x."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def exact_arl(k: float, h: float, shift: float = 0.0, head_start: float = 0.0) -> float:
    """Give the mean number of samples until S > h, S = max(0, S + x − k), x unit normal about `shift`.

    Args:
        k: reference value, standard deviations.
        h: threshold, standard deviations, > 0.
        shift: mean of x, standard deviations.
        head_start: S before the first sample, 0..h.
    Returns:
        Samples, ≥ 1.
    Raises:
        ValueError: h or head_start outside the range above.
    Source:
        Page's integral equation, solved at Gauss-Legendre nodes with S = 0 as a node of its own (Nyström).
        DOMAIN §3 holds the tables it is tested against.
    """
    if not 0.0 < h <= _HIGHEST_THRESHOLD or not 0.0 <= head_start <= h:
        raise ValueError(f"threshold {h}, head start {head_start}: not 0 < h <= {_HIGHEST_THRESHOLD}, 0 <= start <= h")
    nodes, weights = np.polynomial.legendre.leggauss(max(_NODES_MIN, math.ceil(_NODES_PER_SIGMA * h)))
    y = 0.5 * h * (nodes + 1.0)
    states = np.concatenate(([0.0], y))
    kernel = np.empty((states.size, states.size))
    kernel[:, 0] = [normal_below(k - shift - s) for s in states]
    kernel[:, 1:] = normal_density(y[None, :] - states[:, None] + k - shift) * (0.5 * h * weights)
    lengths = np.linalg.solve(np.eye(states.size) - kernel, np.ones(states.size))
    to_zero = normal_below(k - shift - head_start) * lengths[0]
    onward = (normal_density(y - head_start + k - shift) * (0.5 * h * weights)) @ lengths[1:]
    return float(1.0 + to_zero + onward)


def siegmund_arl(k: float, h: float, shift: float = 0.0) -> float:
    """Give the approximate mean number of samples until S > h, from S = 0.

    Within 1 % at shift 0 for k ≤ 0.5, poor for shifts above about 2 k + 1.

    Source:
        Siegmund, Sequential Analysis (1985), as quoted in DOMAIN §3.
    """
    drift, b = shift - k, h + _OVERSHOOT
    if abs(drift) * b < 1e-6:
        return b * b
    return (math.expm1(-2.0 * drift * b) + 2.0 * drift * b) / (2.0 * drift * drift)


def siegmund_threshold(k: float, arl: float) -> float:
    """Give h for which `siegmund_arl(k, h)` is `arl`; plain arithmetic, some microseconds.

    Args:
        k: reference value, > 0.
        arl: wanted mean samples between false alarms, > 1.
    Raises:
        ValueError: outside the ranges above, or so near 1 that h would not be positive.
    """
    if not k > 0.0 or not arl > 1.0:
        raise ValueError(f"reference value {k}, run length {arl}: not k > 0, arl > 1")
    b = math.log1p(2.0 * k * k * arl) / (2.0 * k)
    for _ in range(8):
        b = math.log1p(2.0 * k * k * arl + 2.0 * k * b) / (2.0 * k)
    if not b > _OVERSHOOT:
        raise ValueError(f"reference value {k}, run length {arl}: no positive threshold")
    return b - _OVERSHOOT


def quick_threshold(k: float, arl: float) -> float:
    """Give h for which `exact_arl(k, h)` is `arl` within 2 %, for 0.01 ≤ k ≤ 1.5 and arl ≥ 1e4; some microseconds.

    Raises:
        ValueError: see `siegmund_threshold`.
    Source:
        Siegmund's formula and a correction fitted here to `exact_threshold`.
    """
    return siegmund_threshold(k, arl) + _LARGE_K * k * k


def quick_arl(k: float, h: float) -> float:
    """Give the run length whose `quick_threshold` is h."""
    return siegmund_arl(k, h - _LARGE_K * k * k)


def exact_threshold(k: float, arl: float) -> float:
    """Give h for which `exact_arl(k, h)` is `arl` within 1 in 1e6; some milliseconds.

    Args:
        k: reference value, > 0.
        arl: wanted mean samples between false alarms, > 1.
    Raises:
        ValueError: see `siegmund_threshold`.
    """
    h = siegmund_threshold(k, arl)
    for _ in range(30):
        found, beyond = exact_arl(k, h), exact_arl(k, h + 1e-3)
        step = math.log(arl / found) / (math.log(beyond / found) / 1e-3)
        h = min(max(h + step, 0.5 * h), 2.0 * h)
        if abs(step) < 1e-7 * h:
            break
    return h


def exact_delay(shift: float, arl: float) -> float:
    """Give the shortest possible worst-case mean delay for a known shift, in samples.

    Args:
        shift: of the mean, standard deviations, > 0.
        arl: mean samples between false alarms, > 1.
    Source:
        Moustakides, Annals of Statistics 14 (1986) 1379: the CUSUM with k = shift / 2 is optimal, and S = 0 is worst.
    """
    k = 0.5 * shift
    return exact_arl(k, exact_threshold(k, arl), shift)
