"""Starts that only friction tells of: the first rise, or the first after a fall, until it has lasted. Made up here."""

import math

import pytest
from slice_makers import SLICE_S

from scuffwatch.detect.start_by_friction import StartByFriction
from scuffwatch.detect.track import Phase, Track

AT_REST, TURNING = math.log(0.03), math.log(0.1)


def told(*parts: tuple[float, float], has_load: bool = True) -> list[bool]:
    """Give of each slice whether it may be a start; parts are a coefficient's logarithm and for how long, s.

    A start that has become usual is learned at once, as its owner does.
    """
    track, start, found = Track(), StartByFriction(), []
    for y, lasts_s in parts:
        for _ in range(round(lasts_s / SLICE_S)):
            track.update(y, True, SLICE_S, Phase.FOLLOW)
            found.append(start.is_start(track, has_load, SLICE_S))
            if found[-1] and start.has_become_usual():
                track.begin_level(restart=False, unseen=True)
    return found


def seconds(found: list[bool], since_s: float = 0.0) -> float:
    return sum(found[round(since_s / SLICE_S) :]) * SLICE_S


def test_the_first_rise_may_be_a_start_for_a_second_and_is_usual_then() -> None:
    assert seconds(told((AT_REST, 10.0), (TURNING, 10.0))) == pytest.approx(1.0, abs=0.03)


def test_a_second_rise_is_none_and_one_after_a_rest_is() -> None:
    twice = told((AT_REST, 10.0), (TURNING, 10.0), (TURNING + 0.4, 10.0))
    assert seconds(twice, since_s=20.0) == 0.0
    rested = told((AT_REST, 10.0), (TURNING, 10.0), (math.log(0.055), 8.0), (TURNING, 10.0))
    assert seconds(rested, since_s=28.0) == pytest.approx(1.0, abs=0.03)


def test_a_short_rise_uses_no_start_up() -> None:
    """A bump at the weights before the motor is switched on."""
    found = told((AT_REST, 10.0), (TURNING, 0.5), (AT_REST, 10.0), (TURNING, 10.0))
    assert seconds(found, since_s=20.5) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize(("y", "has_load"), [(math.log(0.22), True), (TURNING, False)])
def test_beyond_a_healthy_films_friction_or_without_a_load_it_is_none(y: float, has_load: bool) -> None:
    assert seconds(told((AT_REST, 10.0), (y, 10.0), has_load=has_load), since_s=10.2) == 0.0
