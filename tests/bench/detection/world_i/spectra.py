"""Noise of a given spectrum and recursive filters, both through the fast Fourier transform.

A recursive filter is a quotient of polynomials in z; evaluated on the unit circle over a record padded until the
filter has died away it gives the same samples as the recursion, without a loop over them.
"""

import numpy as np
from world_b.values import Floats

from .draws import Rng


def unrest(rng: Rng, duration_s: float, rate_hz: float, low_hz: float, high_hz: float, slope: float) -> Floats:
    """Give noise of unit standard deviation: flat below low_hz, power falling as f**-slope, nothing above high_hz.

    Returns:
        (ceil(duration_s * rate_hz) + 1,) float64, dimensionless.
    """
    count = int(np.ceil(duration_s * rate_hz)) + 1
    frequency_hz = np.fft.rfftfreq(count, 1.0 / rate_hz)
    shape = np.where(frequency_hz > high_hz, 0.0, np.maximum(frequency_hz, low_hz) ** (-slope / 2.0))
    shape[0] = 0.0
    noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(count)) * shape, count)
    return noise / max(float(noise.std()), 1e-30)


def _recursive(signal: Floats, numerator: Floats, denominator: Floats, settle_count: int) -> Floats:
    start = signal[0]
    count = signal.size
    padded = 1 << int(np.ceil(np.log2(count + settle_count)))
    z_inverse = np.exp(-2j * np.pi * np.arange(padded // 2 + 1) / padded)
    gain = np.polyval(numerator[::-1], z_inverse) / np.polyval(denominator[::-1], z_inverse)
    moved: Floats = np.fft.irfft(np.fft.rfft(signal - start, padded) * gain, padded)[:count]
    return moved + float(start)


def lag(signal: Floats, rate_hz: float, time_constant_s: float) -> Floats:
    """Give the signal after a first-order lag, at rest on its first value at the start.

    Source: exact sampled response, y += (1 - exp(-dt / tau)) (x - y).
    """
    keep = float(np.exp(-1.0 / (rate_hz * time_constant_s))) if time_constant_s > 0 else 0.0
    if keep < 1e-3:
        return signal.copy()
    settle_count = int(12.0 * time_constant_s * rate_hz) + 16
    return _recursive(signal, np.array([1.0 - keep]), np.array([1.0, -keep]), settle_count)


def ring(signal: Floats, rate_hz: float, natural_hz: float, damping_ratio: float) -> Floats:
    """Give the reading of a sprung cell of that natural frequency: a unity-gain pole pair at the sampled frequency.

    A cell too fast for the rate (natural_hz over 0.4 rate_hz) follows at once.
    Source: matched poles z = exp(-zeta w dt +- i w sqrt(1 - zeta**2) dt), gain 1 at rest.
    """
    if natural_hz > 0.4 * rate_hz:
        return signal.copy()
    omega_dt = 2.0 * np.pi * natural_hz / rate_hz
    radius = np.exp(-damping_ratio * omega_dt)
    denominator = np.array([1.0, -2.0 * radius * np.cos(omega_dt * np.sqrt(1.0 - damping_ratio**2)), radius**2])
    settle_count = int(12.0 * rate_hz / (damping_ratio * 2.0 * np.pi * natural_hz)) + 16
    return _recursive(signal, np.array([denominator.sum()]), denominator, settle_count)


def moving_mean(signal: Floats, count: int) -> Floats:
    """Give the mean of the last `count` samples, of fewer at the start."""
    if count <= 1:
        return signal.copy()
    total = np.concatenate(([0.0], np.cumsum(signal)))
    last = np.arange(1, signal.size + 1)
    first = np.maximum(last - count, 0)
    return (total[last] - total[first]) / (last - first)
