"""Mains hum on the friction cell, as slices of 10 ms see it. Made up here."""

import math
import random

import pytest
from slice_makers import make

from scuffwatch.detect.hum import Hum
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, Level


def read(mains_hz: float, amplitude_n: float, noise_n: float = 0.2, slice_s: float = 0.01) -> list[float]:
    draw = random.Random(1)
    phase = [math.tau * mains_hz * k * slice_s + 0.3 for k in range(3_000)]
    return [20.0 + amplitude_n * math.sin(p) + draw.gauss(0.0, noise_n) for p in phase]


def given(values: list[float], slice_s: float = 0.01) -> list[float]:
    hum = Hum()
    return [hum.take(value, True, slice_s) for value in values]


def swing(values: list[float]) -> float:
    tail = values[1_000:]
    mean = math.fsum(tail) / len(tail)
    return math.sqrt(math.fsum((value - mean) ** 2 for value in tail) / len(tail))


@pytest.mark.parametrize(("mains_hz", "left_share"), [(50.03, 0.06), (60.02, 0.35)])
def test_hum_is_taken_out(mains_hz: float, left_share: float) -> None:
    values = read(mains_hz, 5.0)
    assert swing(given(values)) < left_share * swing(values)


@pytest.mark.parametrize("what_hz", [0.0, 1.7, 9.0, 20.0])
def test_what_is_no_hum_is_given_as_it_is(what_hz: float) -> None:
    values = read(what_hz, 5.0 if what_hz else 0.0)
    assert given(values) == values


def test_a_little_hum_in_much_noise_is_left() -> None:
    values = read(50.03, 0.2, noise_n=1.0)
    assert given(values) == values


def test_longer_slices_are_left_alone() -> None:
    values = read(49.2, 5.0, slice_s=0.1)
    assert given(values, 0.1) == values


def test_a_hole_and_a_held_value_take_nothing_from_before() -> None:
    hum, values = Hum(), read(50.03, 5.0)
    for value in values:
        hum.take(value, True, 0.01)
    assert hum.hums
    last = 0.5 * (values[-1] + values[-2])
    assert hum.take(values[-1], False, 0.01) == last
    assert math.isnan(hum.take(math.nan, True, 0.01))
    assert hum.take(30.0, True, 0.01) == 30.0
    assert hum.take(20.0, True, 0.01) == 25.0


@pytest.mark.slow
def test_scuffing_is_seen_through_hum_as_large_as_friction() -> None:
    """At 50 N friction of 4.5 N under a hum of 5 N rises to four times as much within 0.4 s."""
    draw, watch, found = random.Random(3), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(9_000):
        friction_n = 4.5 * (1.0 + 3.0 * min(1.0, max(0.0, (k - 8_000) / 40)))
        force_n = friction_n + 5.0 * math.sin(math.tau * 50.02 * k * 0.01) + draw.gauss(0.0, 0.1)
        row = {"normal_load_n": draw.gauss(50.0, 0.5), "friction_force_n": force_n}
        found += watch.update(make(k, row), running=True)
    (trip,) = found
    assert trip.level is Level.TRIP
    assert 80.0 < trip.t_rig_s < 80.4
