"""A drag that climbs, and a load that goes away under it: which of them is scuffing. Made up here; no source."""

import math
import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, FindingKind, Level


def climbs(seconds: float, times: float, mu: float = 0.13) -> list[float]:
    """Give the trips where friction climbs evenly to so many times usual within so long, 60 s after the start."""
    draw, watch, found = random.Random(8), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(6_000 + round(100 * seconds)):
        climbed = times ** (max(0, k - 6_000) / (100 * seconds))
        force_n = 300.0 * mu * climbed
        row = {"normal_load_n": draw.gauss(300.0, 1.0), "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s - 60.0 for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
@pytest.mark.parametrize("seconds", [8.0, 15.0, 20.0])
def test_a_drag_that_climbs_on_and_on_is_scuffing_before_it_has_doubled(seconds: float) -> None:
    """To three times within 20 s, the longest a scuffing is taken to last (own choice); no other kind says anything."""
    (trip_s,) = climbs(seconds, 3.0)
    assert trip_s < 0.9 * seconds * math.log(2.0) / math.log(3.0)


@pytest.mark.slow
def test_a_film_in_transition_and_a_film_that_thins_climb_and_are_no_scuffing() -> None:
    """By half within 40 s; and to 1.8 times in 12 s up to a boundary film's friction."""
    assert climbs(40.0, 1.5) == []
    assert climbs(12.0, 1.8, mu=0.06) == []


@pytest.mark.slow
def test_a_load_cell_that_drifts_to_nothing_makes_no_scuffing() -> None:
    """From 100 to 6 N within 43 s under the same friction of 13.6 N, whose share of the load grows ever faster."""
    draw, watch, found = random.Random(9), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(10_000):
        load_n = 100.0 - max(0.0, 0.022 * (k - 4_000)) if k < 8_300 else 6.0
        row = {"normal_load_n": draw.gauss(load_n, 0.3), "friction_force_n": draw.gauss(13.6, 0.3)}
        found += watch.update(make(k, row), running=True)
    assert [finding for finding in found if finding.level is Level.TRIP] == []


@pytest.mark.slow
def test_stick_slip_that_has_been_told_and_drags_twice_as_much_below_a_boundary_film_is_no_scuffing() -> None:
    """A coefficient of 0.03 that swings to and fro about 0.065 from 40 s on; at 0.16 it is scuffing all the same."""
    for mu, is_scuffing in ((0.065, False), (0.16, True)):
        draw, watch, found = random.Random(11), ScuffWatch(ScuffParams()), list[Finding]()
        for k in range(12_000):
            swing = 0.0 if k < 4_000 else 0.55 * math.sin(math.tau * 3.0 * 0.01 * k)
            grown = min(1.0, max(0.0, (k - 6_000) / 2_500))
            force_n = 270.0 * (0.03 + (mu - 0.03) * grown) * (1.0 + swing)
            row = {"normal_load_n": draw.gauss(270.0, 1.0), "friction_force_n": draw.gauss(force_n, 0.3)}
            found += watch.update(make(k, row), running=True)
        assert FindingKind.STICK_SLIP in {finding.kind for finding in found}
        assert bool([finding for finding in found if finding.level is Level.TRIP]) is is_scuffing


def sudden(load_n: Callable[[float], float], times: Callable[[float], float], seconds: float) -> list[float]:
    """Give the trips under a load and a coefficient over 0.13 by their time."""
    draw, watch, found = random.Random(1), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(100 * seconds)):
        now_n = load_n(0.01 * k)
        force_n = 0.13 * now_n * times(0.01 * k)
        row = {"normal_load_n": draw.gauss(now_n, 1.0), "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        found += watch.update(make(k, row), running=True)
    return [finding.t_rig_s for finding in found if finding.level is Level.TRIP]


def from_to(begins_s: float, lasts_s: float, to: float) -> Callable[[float], float]:
    """Give 1 that goes evenly to another value."""
    return lambda t_s: 1.0 + (to - 1.0) * min(1.0, max(0.0, (t_s - begins_s) / lasts_s))


@pytest.mark.slow
@pytest.mark.parametrize("left", [1.0, 0.7, 0.5])
def test_a_load_that_has_relaxed_hides_no_scuffing_later(left: float) -> None:
    """A spring that settles within 150 s; a minute later the drag climbs to 2.6 times in 20 s."""
    relaxes = from_to(30.0, 150.0, left)
    (trip_s,) = sudden(lambda t_s: 300.0 * relaxes(t_s), from_to(240.0, 20.0, 2.6), 262.0)
    assert 240.0 < trip_s < 256.0


@pytest.mark.slow
@pytest.mark.parametrize("left", [0.8, 0.72])
def test_a_lever_that_is_kicked_as_the_contact_seizes_hides_nothing(left: float) -> None:
    """The force doubles within a tenth of a second while the load goes down by a quarter."""
    kicked = from_to(60.0, 0.1, left)
    (trip_s,) = sudden(lambda t_s: 300.0 * kicked(t_s), from_to(60.0, 0.1, 2.9 / left), 62.0)
    assert 60.0 < trip_s < 60.4
