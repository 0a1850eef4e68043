"""Scuffing by the motor's torque current alone: what it says, and does not say, when it dips and surges.

A rig with a load cell and a current transducer and without a friction cell. Made up here; no source.
"""

import math
import random
from collections.abc import Callable, Iterator

import pytest
from slice_makers import make

from scuffwatch.detect.mechanics import MechanicsParams
from scuffwatch.detect.nearness import Known
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.block import Slice
from scuffwatch.model.finding import Level

NO_LOAD_A, USUAL_A = 0.6, 2.0
HEALTHY_S = 12.0
DIP, DIP_S, TREBLED = 0.3, 0.3, 3.0
Share = Callable[[float], float]


def slices(share: Share, seconds: float, seed: int = 1, friction: Share | None = None) -> Iterator[Slice]:
    """Give a contact at 500 N whose torque current is so many times its usual one, by the time after 12 s."""
    draw = random.Random(seed)
    for k in range(round(100.0 * (HEALTHY_S + seconds))):
        since_s = k / 100.0 - HEALTHY_S
        torque_a = USUAL_A * (share(since_s) if since_s >= 0.0 else 1.0)
        row = {
            "normal_load_n": draw.gauss(500.0, 1.5),
            "motor_current_a": draw.gauss(math.hypot(NO_LOAD_A, torque_a), 0.01),
        }
        if friction is not None:
            row["friction_force_n"] = draw.gauss(50.0 * (friction(since_s) if since_s >= 0.0 else 1.0), 0.5)
        yield make(k, row)


def watch() -> ScuffWatch:
    return ScuffWatch(ScuffParams(mechanics=MechanicsParams(no_load_current_a=NO_LOAD_A)))


def trips_s(share: Share, seconds: float, seed: int = 1, friction: Share | None = None) -> list[float]:
    """Give when it trips, from the end of the healthy part on."""
    asked = watch()
    found = [f for s in slices(share, seconds, seed, friction) for f in asked.update(s, running=True)]
    return [finding.t_rig_s - HEALTHY_S for finding in found if finding.level is Level.TRIP]


def steps(*parts: tuple[float, float]) -> Share:
    """Give parts, each (lasts so many s, so many times usual), one after the other; the last one stays."""

    def share(since_s: float) -> float:
        for lasts_s, times in parts:
            if since_s < lasts_s:
                return times
            since_s -= lasts_s
        return parts[-1][1]

    return share


@pytest.mark.slow
def test_a_surge_after_a_dip_is_no_scuffing_and_without_one_it_is() -> None:
    """Ten dips of 0.3 s, each with a second of three times the usual current after it: no trip. Alone: ten."""
    seeds = range(10)
    dips = [trips_s(steps((DIP_S, DIP), (1.0, TREBLED), (3.0, 1.0)), 4.0, seed) for seed in seeds]
    alone = [trips_s(steps((1.0, TREBLED), (3.0, 1.0)), 4.0, seed) for seed in seeds]
    assert sum(len(found) for found in dips) == 0
    assert [len(found) for found in alone] == [1] * len(seeds)
    assert max(found[0] for found in alone) <= 0.12


@pytest.mark.parametrize(("depth", "is_dip"), [(0.0, True), (0.45, True), (0.56, False), (0.8, False)])
def test_a_current_that_falls_to_half_has_dipped(depth: float, is_dip: bool) -> None:
    found = trips_s(steps((DIP_S, depth), (1.0, TREBLED), (3.0, 1.0)), 4.0)
    if is_dip:
        assert found == []
    else:
        assert found == pytest.approx([DIP_S + 0.06], abs=0.05)


@pytest.mark.parametrize(
    ("after_s", "found_s"), [(0.0, 1.5), (0.5, 1.5), (1.0, 1.5), (1.4, 1.5), (1.6, 1.6), (2.0, 2.0)]
)
def test_scuffing_is_found_as_soon_as_the_current_speaks_again(after_s: float, found_s: float) -> None:
    """What begins within 1.5 s of a dip and stays is found right after them, and what begins later as soon as ever."""
    found = trips_s(steps((DIP_S, DIP), (after_s, 1.0), (math.inf, TREBLED)), 5.0)
    assert found == pytest.approx([DIP_S + found_s + 0.05], abs=0.04)


@pytest.mark.slow
@pytest.mark.parametrize("lasts_s", [1.0, 3.0, 4.9])
def test_a_dip_of_up_to_five_seconds_leaves_what_is_usual_as_it_was(lasts_s: float) -> None:
    """Back at its usual current it is no rise, though the mean of the last seconds was a third of it."""
    assert trips_s(steps((lasts_s, DIP), (8.0, 1.0)), lasts_s + 8.0) == []
    found = trips_s(steps((lasts_s, DIP), (math.inf, TREBLED)), lasts_s + 4.0)
    assert found == pytest.approx([lasts_s + 1.55], abs=0.04)


@pytest.mark.slow
@pytest.mark.parametrize("lasts_s", [10.0, 20.0, 60.0])
def test_a_current_that_has_settled_far_below_speaks_from_there(lasts_s: float) -> None:
    """It fell to a third for good; three times that, later, is a rise and no end of a dip."""
    found = trips_s(steps((lasts_s, DIP), (math.inf, TREBLED * DIP)), lasts_s + 4.0)
    assert len(found) == 1
    assert lasts_s < found[0] <= lasts_s + 0.3


@pytest.mark.slow
def test_each_dip_has_its_own_five_seconds() -> None:
    """Five dips of 1.5 s, 6.5 s apart and each with a surge: 7.5 s in all, and no trip."""
    assert trips_s(steps(*[(1.5, DIP), (1.0, TREBLED), (5.5, 1.0)] * 5), 40.0) == []


def knows(share: Share, seconds: float) -> list[bool]:
    """Give for each slice after the healthy part whether the torque current says how far it is above usual."""
    asked, known = watch(), []
    for s in slices(share, seconds):
        asked.update(s, running=True)
        rises = [near for near in asked.nearness(s) if near.name == "torque_rise_ratio"]
        known.append(bool(rises) and rises[0].known is Known.KNOWN)
    assert known[round(100.0 * HEALTHY_S) - 1]
    return known[round(100.0 * HEALTHY_S) :]


def test_what_lasts_longer_than_five_seconds_is_another_level() -> None:
    known = knows(steps((math.inf, DIP)), 6.0)
    assert not any(known[:499])
    assert all(known[501:])


@pytest.mark.slow
def test_a_noisy_current_that_has_settled_lower_is_not_silent_for_good() -> None:
    """At half its level its noise dips below it time and again, never for five seconds in all: after 15 s it speaks."""
    draw = random.Random(2)
    noisy = [0.52 * math.exp(draw.gauss(0.0, 0.15)) for _ in range(10_000)]

    def share(since_s: float) -> float:
        return noisy[round(100.0 * since_s)] * (TREBLED if since_s >= 40.0 else 1.0)

    found = trips_s(share, 45.0)
    assert found == pytest.approx([40.1], abs=0.1)


def test_the_current_is_silent_from_the_first_slice_of_a_dip_until_one_and_a_half_seconds_after_it() -> None:
    silent = [k for k, is_known in enumerate(knows(steps((DIP_S, DIP), (3.0, 1.0)), 3.0)) if not is_known]
    assert silent == list(range(silent[0], silent[-1] + 1))
    assert silent[0] == 0
    assert silent[-1] == pytest.approx(100.0 * (DIP_S + 1.5), abs=2)


@pytest.mark.slow
def test_friction_speaks_through_a_dip_of_the_current() -> None:
    dips, scuffs = steps((3.0, DIP), (1.0, TREBLED), (9.0, 1.0)), steps((1.0, 1.0), (math.inf, TREBLED))
    assert trips_s(dips, 5.0, friction=steps((9.0, 1.0))) == []
    assert trips_s(dips, 5.0, friction=scuffs) == pytest.approx([1.1], abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize(("sound_db", "trips"), [(8.0, True), (0.0, False)])
def test_three_further_kinds_outweigh_the_doubt_of_an_idling_motors_torque(sound_db: float, trips: bool) -> None:
    """The current goes up by 8 %, as a motor's own drag may: with heating, unrest and sound it is scuffing."""
    draw, asked, found = random.Random(5), watch(), []
    for k in range(4_000):
        since_s = max(0.0, k / 100.0 - 30.0)
        torque_a = 0.15 + 0.19 * min(1.0, since_s) + 0.05 * math.sin(40.0 * since_s)
        row = {
            "normal_load_n": draw.gauss(20.0, 0.05),
            "motor_current_a": draw.gauss(math.hypot(NO_LOAD_A, torque_a), 0.0005),
            "sound_level_db": draw.gauss(60.0 + sound_db * (since_s > 0.5), 0.2),
            "pin_temperature_degc": 40.0 + 1.2 * since_s,
        }
        found += [f for f in asked.update(make(k, row), running=True) if f.level is Level.TRIP]
    assert bool(found) is trips


@pytest.mark.slow
@pytest.mark.parametrize(("sound_db", "heating_k_s", "trips"), [(8.0, 1.2, True), (8.0, 0.0, False), (0.0, 1.2, False)])
def test_sound_and_heating_outweigh_the_doubt_of_an_idling_motors_torque_however_noisy(
    sound_db: float, heating_k_s: float, trips: bool
) -> None:
    """The torque current rises within its floor, and by less than four deviations of one value, but stays."""
    draw, asked, found = random.Random(6), watch(), []
    for k in range(4_200):
        since_s = max(0.0, k / 100.0 - 30.0)
        row = {
            "normal_load_n": draw.gauss(20.0, 0.05),
            "motor_current_a": draw.gauss(math.hypot(NO_LOAD_A, 0.15 + 0.22 * min(1.0, since_s)), 0.02),
            "sound_level_db": draw.gauss(60.0 + sound_db * (since_s > 0.5), 0.2),
            "pin_temperature_degc": 40.0 + heating_k_s * since_s,
        }
        found += [f for f in asked.update(make(k, row), running=True) if f.level is Level.TRIP]
    assert bool(found) is trips


@pytest.mark.slow
@pytest.mark.parametrize(("risen_a", "trips"), [(0.45, False), (1.4, True)])
def test_an_idling_motor_and_a_louder_room_are_no_scuffing_until_the_torque_is_far_out_of_its_doubt(
    risen_a: float, trips: bool
) -> None:
    """Its torque current is less than the no-load current may be off by, 0.19 A, and goes up to thrice that."""
    draw, asked, found = random.Random(5), watch(), []
    for k in range(4_500):
        since_s = max(0.0, k / 100.0 - 30.0)
        torque_a = 0.15 + (risen_a - 0.15) * min(1.0, since_s / 8.0)
        row = {
            "normal_load_n": draw.gauss(20.0, 0.05),
            "motor_current_a": draw.gauss(math.hypot(NO_LOAD_A, torque_a), 0.0005),
            "sound_level_db": draw.gauss(60.0 + 8.0 * (since_s > 7.0), 0.2),
        }
        found += [f for f in asked.update(make(k, row), running=True) if f.level is Level.TRIP]
    assert bool(found) is trips
