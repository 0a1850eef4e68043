"""A friction cell whose wire breaks now and then: what it reads meanwhile becomes nobody's usual. Made up here."""

import math
import random
import re
from collections.abc import Callable

import pytest
from slice_makers import make

from scuffwatch.detect.gone_friction import GoneFriction
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.finding import Finding, FindingKind, Level


def heard(is_broken: Callable[[float], bool], load_n: Callable[[float], float], until_s: float) -> list[Finding]:
    """Give what is said of a coefficient of 0.13 whose cell reads nothing at times."""
    draw, watch, found = random.Random(3), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(round(100 * until_s)):
        now_n = load_n(0.01 * k)
        friction_n = 0.0 if is_broken(0.01 * k) else draw.gauss(0.13 * now_n, 0.003 * now_n)
        row = {"normal_load_n": draw.gauss(now_n, 0.004 * now_n), "friction_force_n": friction_n}
        found += watch.update(make(k, row), running=True)
    return found


def trips(found: list[Finding]) -> list[float]:
    return [finding.t_rig_s for finding in found if finding.level is Level.TRIP]


@pytest.mark.slow
def test_a_wire_that_breaks_again_and_again_draws_nothing_down() -> None:
    """For 0.4 s of every 1.5, from 30 s on: what comes back would be twice as much as usual after a minute."""
    assert trips(heard(lambda t_s: 30.0 <= t_s < 90.0 and t_s % 1.5 < 0.4, lambda t_s: 200.0, 100.0)) == []


@pytest.mark.slow
def test_a_weight_that_is_set_down_while_the_wire_is_broken_begins_no_level_of_nothing() -> None:
    """From 29.5 to 33 s, the weight at 30 s; and a weight of a fifteenth more, which is none for the load."""
    for heavier in (1.4, 1.065):
        found = heard(
            lambda t_s: 29.5 <= t_s < 33.0, lambda t_s, to=heavier: 200.0 * (to if t_s >= 30.0 else 1.0), 45.0
        )
        assert trips(found) == []


@pytest.mark.slow
def test_a_cell_that_says_nothing_is_named_once_it_has_for_half_a_second_together() -> None:
    found = heard(lambda t_s: t_s >= 30.0 and t_s % 1.0 < 0.3, lambda t_s: 200.0, 40.0)
    (named,) = [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT]
    assert (named.level, named.channels) == (Level.WARN, ("friction_force_n",))
    assert 30.5 < named.t_rig_s < 34.0
    said = re.sub(r"20\d\.\d", "200", named.says)
    assert (
        said == "Sensor fault: friction force 0.0 N under a normal load of 200 N on a turning ring; it is not believed."
    )


@pytest.mark.slow
def test_a_lifted_lever_under_which_the_load_cell_shows_its_zero_is_no_broken_wire() -> None:
    """600 N for a while; then the lever is lifted for ten seconds, and the cell shows 17 N, the pin nothing."""
    found = heard(lambda t_s: 40.0 <= t_s < 50.0, lambda t_s: 17.0 if 40.0 <= t_s < 50.0 else 600.0, 60.0)
    assert [finding for finding in found if finding.kind is FindingKind.SENSOR_FAULT] == []


@pytest.mark.parametrize("lasts", [5, 9])
def test_a_trough_of_stick_slip_is_the_contacts_and_what_lasts_is_the_wires(lasts: int) -> None:
    gone, given = GoneFriction(), list[float]()
    for k in range(1_000):
        given.append(gone.take(0.0 if k >= 500 and k % 50 < lasts else 20.0, 200.0, True, True, 0.01))
    assert not any(math.isnan(value) for value in given)
    assert not gone.is_told


def test_a_friction_that_stays_low_for_a_minute_is_the_contacts_own() -> None:
    gone = GoneFriction()
    given = [gone.take(20.0 if k < 500 else 0.5, 200.0, True, True, 0.01) for k in range(8_000)]
    missing = [k for k, value in enumerate(given) if math.isnan(value)]
    assert missing == list(range(missing[0], missing[-1] + 1))
    assert (missing[0], missing[-1]) == (pytest.approx(510, abs=1), pytest.approx(6_500, abs=1))
    assert not math.isnan(gone.take(0.5, 200.0, True, True, 0.01))


def test_without_a_load_that_hangs_there_nothing_is_gone() -> None:
    gone = GoneFriction()
    for k in range(1_000):
        # It stops within two slices, as a motor that is switched off is seen to.
        assert gone.take(20.0 if k < 500 else 0.0, 200.0, k < 502, True, 0.01) == (20.0 if k < 500 else 0.0)
    for k in range(1_000):
        assert gone.take(20.0 if k < 500 else 0.0, 200.0, True, k < 500, 0.01) == (20.0 if k < 500 else 0.0)


@pytest.mark.slow
def test_a_contact_that_scuffs_after_its_wire_was_broken_is_seen() -> None:
    def broken(t_s: float) -> bool:
        return 30.0 <= t_s < 40.0 and t_s % 1.5 < 0.4

    draw, watch, found = random.Random(3), ScuffWatch(ScuffParams()), list[Finding]()
    for k in range(5_000):
        t_s = 0.01 * k
        times = 1.0 + 2.0 * min(1.0, max(0.0, (t_s - 45.0) / 0.3))
        friction_n = 0.0 if broken(t_s) else draw.gauss(26.0 * times, 0.6)
        row = {"normal_load_n": draw.gauss(200.0, 0.8), "friction_force_n": friction_n}
        found += watch.update(make(k, row), running=True)
    (trip_s,) = trips(found)
    assert 45.0 < trip_s < 45.35
