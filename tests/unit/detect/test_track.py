"""One variable followed in time: a slope is no unrest, a swing of seconds no rise. Made up here."""

import math
import random

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.track import Phase, Track
from scuffwatch.model.finding import Finding, FindingKind


def follow(track: Track, values: list[float]) -> list[tuple[float, float]]:
    """Give unrest and jitter over usual after each value."""
    found = []
    for value in values:
        track.update(value, True, 0.01, Phase.FOLLOW)
        found.append((track.restless, track.jitter_ratio))
    return found


@pytest.mark.parametrize("slope_s", [0.2, 0.5, -0.5])
def test_a_smooth_slope_is_restless_and_has_little_jitter(slope_s: float) -> None:
    """Less than a fifth of it, while the means of 0.4 and 1 s have not yet settled to their lag."""
    draw, track = random.Random(1), Track()
    follow(track, [draw.gauss(0.0, 0.01) for _ in range(3_000)])
    found = follow(track, [slope_s * k * 0.01 + draw.gauss(0.0, 0.01) for k in range(150)])
    most = max(restless for restless, _ in found)
    assert most > 4.0
    assert max(jitter for _, jitter in found) < 0.2 * most


def test_noise_that_grows_is_jitter() -> None:
    draw, track = random.Random(1), Track()
    follow(track, [draw.gauss(0.0, 0.02) for _ in range(3_000)])
    restless, jitter = follow(track, [draw.gauss(0.0, 0.08) for _ in range(200)])[-1]
    assert restless > 3.0
    assert jitter > 0.8 * restless


def found_in(mu_of: list[float]) -> list[Finding]:
    """Give what is found in a coefficient of friction, 100 a second, at 400 N."""
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), list[Finding]()
    for k, mu in enumerate(mu_of):
        row = {"normal_load_n": draw.gauss(400.0, 2.0), "friction_force_n": draw.gauss(400.0 * mu, 1.0)}
        found += watch.update(make(k, row), running=True)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("period_s", [1.5, 2.0, 3.0])
@pytest.mark.parametrize("swing", [0.1, 0.25])
def test_slow_stick_slip_about_an_unchanged_mean_is_no_scuffing(period_s: float, swing: float) -> None:
    """A slow rise and a sudden slip for four minutes, after a minute without: slower than what counts as unrest."""
    calm = [0.08] * 6_000
    swings = [0.08 * (1.0 + swing * (2.0 * ((k * 0.01 / period_s) % 1.0) - 1.0)) for k in range(24_000)]
    assert {finding.kind for finding in found_in(calm + swings)} <= {FindingKind.STICK_SLIP}


@pytest.mark.slow
def test_what_creeps_up_with_growing_wander_is_warned_of() -> None:
    """By a third within 80 s, while it wanders from second to second ever more."""
    draw, wander, mu = random.Random(3), 0.0, []
    for k in range(14_000):
        grown = min(1.0, max(0.0, (k - 6_000) / 8_000))
        if k % 100 == 0:
            wander = draw.gauss(0.0, 0.002 + 0.03 * grown)
        mu.append(0.08 * (1.0 + 0.33 * grown + wander))
    (finding, *_) = found_in(mu)
    assert finding.kind is FindingKind.SCUFFING_ONSET
    assert 60.0 < finding.t_rig_s < 140.0
    assert math.isfinite(finding.evidence[0].value)
