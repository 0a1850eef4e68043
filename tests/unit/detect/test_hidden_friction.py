"""Friction that does not stand out of its noise: what is seen when it comes out of it. Made up here."""

import random

import pytest
from slice_makers import bad, make

from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, Level

FIRST_N, NOISE_N = 20.0, 0.1
HIDDEN_N = 0.2
"""A coefficient of 0.01: two standard deviations, where eight of them stand out, or three of a mean."""


def found(
    grows_n: float = 0.0, loads_n: tuple[float, ...] = (FIRST_N,), load_is_lost: bool = False, seed: int = 1
) -> list[Finding]:
    """Give what is found: each load for 30 s, then friction that grows for 2 s by as many newtons."""
    draw, watch, findings = random.Random(seed), ScuffWatch(ScuffParams()), list[Finding]()
    healthy = 3_000 * len(loads_n)
    for k in range(healthy + 600):
        load_n = loads_n[min(k // 3_000, len(loads_n) - 1)]
        grown = min(1.0, max(0.0, (k - healthy) / 200))
        force_n = HIDDEN_N * load_n / FIRST_N + grows_n * grown
        row = {"friction_force_n": draw.gauss(force_n, NOISE_N), "motor_current_a": draw.gauss(0.34, 0.005)}
        is_lost = load_is_lost and k >= healthy - 500
        load = bad(Reason.UNDER_RANGE, -16.0) if is_lost else draw.gauss(load_n, 0.3)
        findings += watch.update(make(k, row | {"normal_load_n": load}), running=True)
    return findings


@pytest.mark.slow
@pytest.mark.parametrize("load_is_lost", [False, True])
def test_scuffing_that_comes_out_of_the_noise_trips(load_is_lost: bool) -> None:
    """Under the first weight of all, whether the load is still measured then or not."""
    for seed in range(3):
        trips = [finding for finding in found(6.0, load_is_lost=load_is_lost, seed=seed) if finding.level is Level.TRIP]
        assert len(trips) == 1
        assert 30.0 < trips[0].t_rig_s < 32.5


@pytest.mark.slow
def test_a_hidden_friction_that_weights_bring_out_is_none() -> None:
    for seed in range(3):
        assert found(loads_n=(FIRST_N, 60.0, 120.0, 180.0), seed=seed) == []


@pytest.mark.slow
def test_a_load_that_is_lost_while_friction_is_hidden_is_nothing() -> None:
    assert found(load_is_lost=True) == []


@pytest.mark.slow
def test_a_cell_that_drops_out_to_nothing_and_comes_back_is_no_scuffing() -> None:
    """Its wire is broken for 8 s: what it reads in that time is not the friction to which it comes back."""
    draw, watch, findings = random.Random(1), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(6_000):
        force_n = 0.0 if 3_000 <= k < 3_800 else 8.0
        row = {"friction_force_n": draw.gauss(force_n, NOISE_N), "motor_current_a": draw.gauss(3.1, 0.02)}
        findings += watch.update(make(k, row | {"normal_load_n": draw.gauss(63.0, 0.3)}), running=True)
    assert [finding for finding in findings if finding.level is Level.TRIP] == []


NO_LOAD_A, IDLES_A, DRAWS_A = 3.6, 3.75, 6.2
"""Of 3.75 A without a tenth of doubt 1 A is torque, of 6.2 A 5: three times the floor that the doubt makes, not six."""


@pytest.mark.slow
@pytest.mark.parametrize(("within_s", "lasts_s", "trips"), [(0.7, 6.0, 1), (60.0, 6.0, 0), (0.02, 0.15, 0)])
def test_a_torque_that_was_hidden_trips_where_it_came_within_seconds_and_stays(
    within_s: float, lasts_s: float, trips: int
) -> None:
    """No friction is measured. A motor that comes to idle otherwise does so slowly, a dip of the mains is soon over."""
    params = ScuffParams(mechanics=MechanicsParams(no_load_current_a=NO_LOAD_A))
    draw, watch, findings = random.Random(1), ScuffWatch(params), list[Finding]()
    for k in range(round(100.0 * (30.0 + within_s + lasts_s + 3.0))):
        t_s = 0.01 * k - 30.0
        share = min(1.0, max(0.0, t_s / within_s)) if t_s < within_s + lasts_s else 0.0
        row = {"normal_load_n": draw.gauss(520.0, 2.0), "motor_current_a": IDLES_A + share * (DRAWS_A - IDLES_A)}
        row["motor_current_a"] = draw.gauss(row["motor_current_a"], 0.05)
        findings += watch.update(make(k, row), running=True)
    assert sum(finding.level is Level.TRIP for finding in findings) == trips


@pytest.mark.slow
@pytest.mark.parametrize("scuffs", [False, True])
def test_a_coarse_cell_that_shows_nothing_but_0_under_the_hanger_makes_no_multiple_of_it(scuffs: bool) -> None:
    """It shows steps of 12 N; the hanger presses with 12 N, then come 180 N, and maybe four times the friction."""
    draw, watch, findings = random.Random(1), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(6_000):
        load_n = 12.0 if k < 2_000 else 180.0
        true_n = 0.13 * load_n * (4.0 if scuffs and k >= 5_000 else 1.0)
        row = {
            "normal_load_n": draw.gauss(load_n, 1.0),
            "friction_force_n": 12.0 * round(draw.gauss(true_n, 0.1 * true_n) / 12.0),
        }
        findings += watch.update(make(k, row), running=True)
    trips_s = [finding.t_rig_s for finding in findings if finding.level is Level.TRIP]
    assert len(trips_s) == scuffs
    assert all(50.0 < t_s < 50.5 for t_s in trips_s)
