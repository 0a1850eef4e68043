"""Sudden scuffing is tripped before its force has tripled; a particle, or an electrical spike, is no scuffing.

Made up here: particles up to a half more friction for most of a second, or nine tenths more for less.
"""

import math
import random
import re
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, Level

BEGINS_S, LOAD_N, MU = 10.0, 200.0, 0.1


def trips(times: Callable[[float], float], lasts_s: float, seed: int) -> list[float]:
    """Give the times of the trips after the beginning, s, where friction is so many times usual by that time."""
    draw, watch, found = random.Random(seed), ScuffWatch(ScuffParams()), list[float]()
    for k in range(round(100 * (BEGINS_S + lasts_s))):
        after_s = 0.01 * k - BEGINS_S
        force_n = LOAD_N * MU * (times(after_s) if after_s >= 0.0 else 1.0)
        row = {"normal_load_n": draw.gauss(LOAD_N, 1.0), "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        findings = watch.update(make(k, row), running=True)
        found += [finding.t_rig_s - BEGINS_S for finding in findings if finding.level is Level.TRIP]
    return found


def triples_within(rises_s: float) -> Callable[[float], float]:
    return lambda after_s: 1.0 + 2.0 * min(1.0, after_s / rises_s)


@pytest.mark.slow
@pytest.mark.parametrize("rises_s", [0.09, 0.15, 0.3, 1.0])
def test_a_force_that_triples_is_tripped_before_it_has(rises_s: float) -> None:
    for seed in range(5):
        (trip_s,) = trips(triples_within(rises_s), rises_s + 0.5, seed)
        assert 0.0 < trip_s < rises_s + 1e-9


@pytest.mark.slow
@pytest.mark.parametrize(("times", "lasts_s"), [(1.5, 0.2), (1.4, 0.8), (1.9, 0.1)])
def test_a_particle_that_passes_is_no_scuffing(times: float, lasts_s: float) -> None:
    for seed in range(5):
        assert trips(lambda after_s: times if after_s < lasts_s else 1.0, 2.0, seed) == []


@pytest.mark.slow
def test_a_spike_of_four_values_is_no_scuffing_however_high() -> None:
    for seed in range(5):
        assert trips(lambda after_s: 20.0 if after_s < 0.035 else 1.0, 1.0, seed) == []


@pytest.mark.slow
def test_the_top_of_a_swing_that_came_from_below_is_no_scuffing() -> None:
    """The first seconds of stick-slip, before it can be told: from 0.56 to 1.79 times usual and back in 0.8 s."""

    def swings(after_s: float) -> float:
        return math.exp(-0.58 * math.cos(math.tau * after_s / 0.8))

    for seed in range(5):
        assert trips(swings, 2.0, seed) == []


def test_the_sentence_tells_how_far_it_had_risen_and_from_when_on_so_steep_a_rise_counts() -> None:
    draw, watch, found = random.Random(2), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(1_050):
        force_n = LOAD_N * MU * triples_within(0.1)(max(0.0, 0.01 * k - BEGINS_S))
        row = {"normal_load_n": draw.gauss(LOAD_N, 1.0), "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        found += watch.update(make(k, row), running=True)
    (trip,) = [finding for finding in found if finding.level is Level.TRIP]
    assert re.fullmatch(r"Scuffing: friction 2\.\d\d × usual, limit 2\.12\.", trip.says)
    assert trip.evidence[0].value >= trip.evidence[0].limit == pytest.approx(math.exp(0.75))
