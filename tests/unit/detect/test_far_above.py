"""A coefficient that no boundary film has is scuffing, however slowly it came there. Courses made up here."""

import math
import random
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.far_above import FarAboveParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, Level

ROWS_S = 10


def trips(
    coefficient: Callable[[float], float],
    lasts_s: float,
    load_n: Callable[[float], float] = lambda _: 200.0,
    current_a: Callable[[float], float] | None = None,
) -> list[Finding]:
    """Give the trips of a friction coefficient by time, at ten rows a second."""
    draw, watch, found = random.Random(1), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(ROWS_S * lasts_s)):
        now_s = k / ROWS_S
        now_n = load_n(now_s)
        force_n = coefficient(now_s) * now_n
        row = {"normal_load_n": draw.gauss(now_n, 0.5), "friction_force_n": draw.gauss(force_n, 0.02 * force_n)}
        if current_a is not None:
            row["motor_current_a"] = draw.gauss(current_a(now_s), 0.005)
        found += watch.update(make(k, row, duration_s=1 / ROWS_S), running=True)
    return [finding for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
def test_oil_that_runs_out_within_ten_minutes_is_found_at_a_quarter() -> None:
    (trip,) = trips(lambda now_s: 0.1 + 0.3 * max(0.0, now_s - 60.0) / 600.0, 700.0)
    assert trip.t_rig_s == pytest.approx(360.0, abs=6.0)
    assert trip.says.startswith("Scuffing: friction coefficient 0.25, limit 0.25, and as little as 0.10 before")
    assert trip.evidence[0].value >= trip.evidence[0].limit == 0.25


@pytest.mark.slow
@pytest.mark.parametrize(
    "coefficient",
    [
        lambda now_s: 0.1 + 0.14 * min(1.0, now_s / 600.0),  # a poor boundary film
        lambda now_s: 0.45 - 0.1 * min(1.0, now_s / 300.0),  # dry from the start
        lambda now_s: 0.15 + 0.14 * min(1.0, now_s / 600.0),  # less than twice as much
    ],
)
def test_what_may_be_a_films_or_was_so_from_the_start_is_none(coefficient: Callable[[float], float]) -> None:
    assert trips(coefficient, 700.0) == []


def test_what_scuffs_before_its_first_level_is_learned_is_found() -> None:
    """2 s after the first weight, within 0.5 s; at the hanger nothing rubs."""
    found = trips(
        lambda now_s: 0.08 + 0.3 * min(1.0, max(0.0, now_s - 22.5) / 0.5),
        60.0,
        lambda now_s: 1.0 if now_s < 20.0 else 90.0,
    )
    assert len(found) == 1
    assert 22.5 < found[0].t_rig_s < 30.0


@pytest.mark.parametrize(("times", "scuffed", "is_found"), [(2.3, 0.3, True), (4.5, 0.38, True), (6.0, 0.38, False)])
def test_what_scuffs_as_a_weight_more_than_doubles_the_load_is_held_against_what_it_was_under_less(
    times: float, scuffed: float, is_found: bool
) -> None:
    """1.4 times as much as under the same load is too much then, and under a fifth of it nothing is known."""
    found = trips(
        lambda now_s: 0.1 + (scuffed - 0.1) * min(1.0, max(0.0, now_s - 60.3) / 0.5),
        90.0,
        lambda now_s: 50.0 if now_s < 60.0 else 50.0 * times,
    )
    assert len(found) == is_found
    for trip in found:
        assert 60.3 < trip.t_rig_s < 67.0
        assert trip.evidence[0].limit == pytest.approx(0.28, abs=0.01)


def test_what_scuffs_as_most_of_the_weights_are_taken_off_is_found() -> None:
    """Of 200 N 80 are left; whatever friction is then becomes usual."""
    (trip,) = trips(
        lambda now_s: 0.1 + 0.25 * min(1.0, max(0.0, now_s - 60.4) / 0.5),
        90.0,
        lambda now_s: 200.0 if now_s < 60.0 else 80.0,
    )
    assert 60.4 < trip.t_rig_s < 67.0


@pytest.mark.slow
def test_a_load_cell_that_drifts_to_a_third_makes_no_such_coefficient() -> None:
    """The friction force stays as it is."""
    load_n = lambda now_s: 200.0 * (1.0 - 0.65 * max(0.0, now_s - 60.0) / 600.0)  # noqa: E731
    assert trips(lambda now_s: 20.0 / load_n(now_s), 660.0, load_n) == []


def test_under_a_fifth_of_the_weights_the_cells_zero_is_no_coefficient() -> None:
    load_n = lambda now_s: 200.0 if now_s < 60.0 else 40.0  # noqa: E731
    assert trips(lambda now_s: 0.1 + 8.0 / load_n(now_s), 200.0, load_n) == []


@pytest.mark.slow
def test_weights_that_come_on_a_cell_whose_zero_is_off_make_no_coefficient_of_their_own() -> None:
    """A lever that divides the load by five, and a friction cell that shows a newton too little: 0.14, 0.27, 0.32."""
    load_n = lambda now_s: 7.0 * 3.0 ** (now_s // 60.0)  # noqa: E731
    assert trips(lambda now_s: 0.34 - 1.4 / load_n(now_s), 240.0, load_n) == []


@pytest.mark.slow
@pytest.mark.parametrize(("grows_a", "is_denied"), [(0.0, True), (0.1, True), (1.0, False)])
def test_a_friction_cell_that_drifts_beside_a_current_that_stays_makes_none(grows_a: float, is_denied: bool) -> None:
    """Three times the friction within ten minutes; the current is 2 A at first."""
    found = trips(
        lambda now_s: 0.1 + 0.3 * max(0.0, now_s - 60.0) / 600.0,
        700.0,
        current_a=lambda now_s: 2.0 + grows_a * max(0.0, now_s - 60.0) / 300.0,
    )
    assert (found == []) is is_denied


@pytest.mark.parametrize(("stated", "counts"), [(math.nan, 0.25), (0.2, 0.25), (0.25, 0.25), (0.6, 0.6)])
def test_who_states_a_higher_limit_expects_more_than_a_film_has(stated: float, counts: float) -> None:
    assert FarAboveParams.beside(stated).coefficient == counts
