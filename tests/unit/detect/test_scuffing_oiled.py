"""A contact that was oiled: its friction falls away at once, and comes back to where it was. Courses made up here."""

import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, Level

pytestmark = pytest.mark.slow

ROWS_S, OILED_S, DRY_S = 20, 60.0, 90.0


def trips(times: Callable[[float], float], lasts_s: float = 130.0) -> list[Finding]:
    """Give the trips of a coefficient that is so many times 0.1, with heat as it rises again."""
    draw, watch, found, degc = random.Random(2), ScuffWatch(ScuffParams()), list[Finding](), 50.0
    for k in range(round(ROWS_S * lasts_s)):
        now_s = k / ROWS_S
        force_n = 20.0 * times(now_s)
        degc += 0.8 / ROWS_S if DRY_S < now_s < DRY_S + 15.0 else 0.0
        row = {
            "normal_load_n": draw.gauss(200.0, 0.5),
            "friction_force_n": draw.gauss(force_n, 0.03 * force_n),
            "pin_temperature_degc": draw.gauss(degc, 0.05),
            "sound_level_db": draw.gauss(60.0, 0.3),
        }
        found += watch.update(make(k, row, duration_s=1 / ROWS_S), running=True)
    return [finding for finding in found if finding.level is Level.TRIP]


def dip(share: float, back: float, back_s: float, falls_s: float = 1.0) -> Callable[[float], float]:
    """Give a course that falls to a share within `falls_s`, and comes back to so many times usual within `back_s`."""

    def times(now_s: float) -> float:
        fallen = 1.0 + (share - 1.0) * min(1.0, max(0.0, now_s - OILED_S) / falls_s)
        return fallen + (back - share) * min(1.0, max(0.0, now_s - DRY_S) / back_s)

    return times


@pytest.mark.parametrize("share", [0.4, 0.6])
@pytest.mark.parametrize("back_s", [0.3, 3.0, 15.0])
def test_friction_that_comes_back_to_where_it_was_is_no_scuffing(share: float, back_s: float) -> None:
    assert trips(dip(share, 1.0, back_s)) == []


@pytest.mark.parametrize("back_s", [0.3, 3.0])
def test_friction_that_goes_on_above_where_it_was_is_scuffing(back_s: float) -> None:
    (trip,) = trips(dip(0.5, 2.5, back_s))
    assert DRY_S < trip.t_rig_s < DRY_S + back_s + 0.5
    assert trip.evidence[0].value < 3.0, "times what it was before it was oiled"


def test_friction_that_has_fallen_slowly_is_held_against_what_it_came_to() -> None:
    """Running-in: what it was is no excuse."""
    (trip,) = trips(dip(0.5, 1.0, 0.3, falls_s=29.0))
    assert DRY_S < trip.t_rig_s < DRY_S + 1.5
