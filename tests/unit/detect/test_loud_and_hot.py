"""Without a load cell a rise with more sound and heat than a weight brings is scuffing. Made up here."""

import math
import random

import pytest
from slice_makers import make

from scuffwatch.detect.loud_and_hot import LoudAndHot, LoudAndHotParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.track import Track
from scuffwatch.model.finding import Finding, Level

SCUFFS_S, USUAL_N = 40.0, 10.0


def trips(times: float, louder_db: float, heating_k_s: float, *, loud_s: float = 60.0, seed: int = 1) -> list[Finding]:
    """Give the trips where friction goes to so many times usual within 0.3 s, before any weight has been seen."""
    draw, watch, found, degc = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding](), 60.0
    for k in range(5_200):
        after_s = 0.01 * k - SCUFFS_S
        force_n = USUAL_N * (1.0 + (times - 1.0) * min(1.0, max(0.0, after_s / 0.3)))
        degc += 0.01 * heating_k_s if after_s > 0.0 else 0.0
        row = {
            "friction_force_n": draw.gauss(force_n, 0.02 * force_n),
            "sound_level_db": draw.gauss(70.0 + (louder_db if 0.0 < after_s < loud_s else 0.0), 0.3),
            "pin_temperature_degc": 0.1 * round(10.0 * draw.gauss(degc, 0.05)),
        }
        found += watch.update(make(k, row), running=True)
    return [finding for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
@pytest.mark.parametrize("times", [2.2, 3.5, 4.8])
@pytest.mark.parametrize(("louder_db", "heating_k_s"), [(8.0, 1.5), (15.0, 0.8), (4.0, 3.0)])
def test_a_rise_that_screams_and_burns_is_scuffing(times: float, louder_db: float, heating_k_s: float) -> None:
    for seed in range(2):
        (trip,) = trips(times, louder_db, heating_k_s, seed=seed)
        assert 0.5 < trip.t_rig_s - SCUFFS_S < 6.0
        assert trip.evidence[0].value == pytest.approx(times, rel=0.1)
        assert trip.evidence[0].limit == pytest.approx(math.exp(0.69))
        assert "sound changed by" in trip.says


@pytest.mark.slow
@pytest.mark.parametrize(
    ("times", "louder_db", "heating_k_s"),
    [
        (2.0, 3.0, 0.5),  # a weight that doubles the load
        (3.5, 6.0, 0.3),  # the first weight on a hanger
        (1.6, 15.0, 3.0),  # less than a weight: what two kinds beside it trip, where a load is measured
        (3.5, 15.0, 0.0),  # a weight, and a door that slams
        (3.5, 0.0, 3.0),  # a weight, and a heater that comes on
        (6.5, 8.0, 0.5),  # so many times are a first weight's
    ],
)
def test_a_weight_is_none(times: float, louder_db: float, heating_k_s: float) -> None:
    for seed in range(2):
        assert trips(times, louder_db, heating_k_s, seed=seed) == []


@pytest.mark.slow
@pytest.mark.parametrize("times", [5.5, 7.0, 12.0])
def test_more_than_a_first_weight_does_is_scuffing_however_far_it_rises(times: float) -> None:
    """Between the last rise that is no first weight's and the first that is none at all lay a hole."""
    (trip,) = trips(times, 10.0, 2.0)
    assert 0.5 < trip.t_rig_s - SCUFFS_S < 6.0


@pytest.mark.parametrize(("levels", "was_measured", "is_found"), [(1, False, False), (1, True, True), (2, False, True)])
def test_after_a_weight_no_rise_is_too_large_to_be_scuffing(levels: int, was_measured: bool, is_found: bool) -> None:
    """The first may be that of a weight after the hanger."""
    watch, track = LoudAndHot(LoudAndHotParams()), Track()
    track.base = track.mean = 0.0
    for level in range(levels):
        for is_open, rise in ((True, 0.5), (False, 0.5)) if level else ((True, 0.0), (False, 0.0)):
            track.base = track.mean = rise
            for _ in range(300):
                watch.update(track, is_open, 0.0, 0.0, 0.01, was_measured=was_measured)
    track.mean += math.log(6.5)
    for _ in range(400):
        watch.update(track, True, 8.0, 1.2, 0.01, was_measured=was_measured)
    assert watch.found is is_found


@pytest.mark.slow
def test_sound_that_is_gone_before_the_pin_is_hot_was_a_doors() -> None:
    assert trips(3.5, 8.0, 0.8, loud_s=1.5) == []
