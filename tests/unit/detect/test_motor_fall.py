"""A dip of the mains: the motor slows, surges and runs on, which is no jam; and what a jam right after one costs.

Sizes and times are made up here; no source.
"""

import math
import random
from collections.abc import Iterable

import pytest
from slice_makers import make

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.finding import FindingKind

SET_RPM, USUAL_A, SURGE_A = 600.0, 2.0, 6.0
AGAIN_A = 3.6
"""Of a motor that takes up speed again: 1.5 times its usual current speaks for a jam with the speed, twice without."""
Part = tuple[float, float, float, float]
"""So many s, from one speed to another, r/min, and a current, A."""
START: tuple[Part, ...] = ((0.5, 0.0, 595.0, SURGE_A), (4.0, 595.0, 595.0, USUAL_A))
BACK: tuple[Part, ...] = ((0.4, 200.0, 595.0, AGAIN_A), (3.0, 595.0, 595.0, USUAL_A))


class Bench:
    """A motor that has started, and what is found from then on; with a load that is measured, or without."""

    def __init__(self, seed: int = 1, load_n: float = math.nan) -> None:
        self.load_n, self.mu = load_n, 0.1
        self.watch = MotorWatch(MotorParams(speed_set_rpm=SET_RPM, no_load_current_a=0.6))
        self._draw, self._index = random.Random(seed), 0
        assert self.feed(START) == []
        assert self.watch.state is MotorState.RUNNING

    def feed(self, parts: Iterable[Part]) -> list[tuple[int, FindingKind]]:
        """Give what is found, and in which slice of these parts."""
        found, first, draw = [], self._index, self._draw
        for lasts_s, from_rpm, to_rpm, current_a in parts:
            slices = round(100.0 * lasts_s)
            for k in range(slices):
                speed_rpm = from_rpm + (to_rpm - from_rpm) * (k + 1) / slices
                row = {
                    "ring_speed_rpm": max(0.0, draw.gauss(speed_rpm, 1.0)),
                    "motor_current_a": draw.gauss(current_a, 0.02),
                    "friction_coefficient": draw.gauss(self.mu, 0.002),
                }
                if self.load_n == self.load_n:
                    row["normal_load_n"] = draw.gauss(self.load_n, 1.0)
                new = self.watch.update(make(self._index, row))
                found += [(self._index - first, finding.kind) for finding in new]
                self._index += 1
        return found


def dip(current_a: float = 0.3, lasts_s: float = 0.2) -> Part:
    return (lasts_s, 595.0, 560.0, current_a)


def surge(seconds: float) -> tuple[Part, ...]:
    """Give a speed that takes so long to fall below half after the current is back, and then comes up again."""
    before: tuple[Part, ...] = ((seconds, 560.0, 310.0, AGAIN_A),) if seconds else ()
    return (*before, (0.1, 250.0, 200.0, AGAIN_A), *BACK)


@pytest.mark.slow
@pytest.mark.parametrize("seconds", [0.0, 0.3, 0.6, 0.85])
def test_a_motor_that_a_dip_of_the_mains_has_slowed_is_no_jam_within_a_second_of_it(seconds: float) -> None:
    """Of ten such dips none is an event, and the motor runs on; the same without the dip is a jam each time."""
    for seed in range(10):
        dips, jams = Bench(seed), Bench(seed)
        assert dips.feed((dip(), *surge(seconds))) == []
        assert dips.watch.state is MotorState.RUNNING
        assert dips.watch.armed
        assert [kind for _, kind in jams.feed(surge(seconds))] == [FindingKind.JAM]


@pytest.mark.parametrize(("after_s", "delay", "kind"), [(0.9, 500, FindingKind.STALL), (1.1, 1, FindingKind.JAM)])
def test_a_jam_within_a_second_of_a_dip_is_found_as_a_start_that_fails(
    after_s: float, delay: int, kind: FindingKind
) -> None:
    """Five seconds late: that is what the rule costs. Later than a second after it a jam is found in two slices."""
    for seed in range(5):
        bench = Bench(seed)
        bench.feed((dip(), (after_s, 595.0, 595.0, USUAL_A)))
        ((index, found),) = bench.feed(((7.0, 0.0, 0.0, SURGE_A),))
        assert found is kind
        assert index == pytest.approx(delay, abs=2)


@pytest.mark.parametrize(("current_a", "lasts_s"), [(1.4, 0.2), (0.3, 0.03)])
def test_a_current_below_three_quarters_for_three_slices_is_a_dip(current_a: float, lasts_s: float) -> None:
    assert Bench().feed((dip(current_a, lasts_s), *surge(0.3))) == []


@pytest.mark.parametrize(("current_a", "lasts_s"), [(1.6, 0.2), (0.3, 0.02)])
def test_a_current_that_falls_less_or_for_less_is_none(current_a: float, lasts_s: float) -> None:
    found = Bench().feed((dip(current_a, lasts_s), *surge(0.3)))
    assert [kind for _, kind in found] == [FindingKind.JAM]


def test_a_second_dip_has_a_second_of_its_own() -> None:
    between: Part = (0.8, 560.0, 595.0, USUAL_A)
    assert Bench().feed((dip(), between, dip(), *surge(0.6))) == []


@pytest.mark.slow
def test_a_ring_that_gains_speed_again_is_being_started_and_not_held() -> None:
    """Seen at a quarter of its speed under the usual current, and then coming up under the surge: no event."""
    seen: Part = (0.01, 150.0, 150.0, USUAL_A)
    up: tuple[Part, ...] = ((0.4, 230.0, 595.0, SURGE_A), (2.0, 595.0, 595.0, USUAL_A))
    held: Part = (0.5, 150.0, 150.0, SURGE_A)
    for seed in range(10):
        assert Bench(seed).feed((seen, *up)) == []
        ((index, kind),) = Bench(seed).feed((seen, held))
        assert kind is FindingKind.JAM
        assert index <= 2


@pytest.mark.slow
def test_a_dip_that_leaves_the_ring_above_half_its_speed_is_no_jam_either() -> None:
    """The motor takes up speed again with as much current as in its start, at an unchanged friction."""
    dip: tuple[Part, ...] = ((0.2, 595.0, 500.0, 0.3), (0.3, 500.0, 595.0, SURGE_A), (3.0, 595.0, 595.0, USUAL_A))
    for seed in range(10):
        assert Bench(seed).feed(dip) == []


BRAKED: tuple[Part, ...] = ((0.5, 595.0, 0.0, AGAIN_A), (2.0, 0.0, 0.0, 0.0))


def test_a_drive_that_brakes_a_ring_with_nothing_on_it_is_no_jam() -> None:
    """It draws 1.8 times the usual current for half a second, as a jam does; under a weight that is one."""
    for seed in range(5):
        bare = Bench(seed, load_n=0.0)
        assert bare.feed(BRAKED) == []
        assert bare.watch.state is MotorState.STOPPED
        assert [kind for _, kind in Bench(seed, load_n=100.0).feed(BRAKED)] == [FindingKind.JAM]


@pytest.mark.slow
def test_a_hundredth_of_the_largest_load_is_nothing_on_the_ring() -> None:
    """A hanger of 10 N after 1,000: what a friction cell whose zero is off makes of it says nothing of a stop."""
    for seed in range(5):
        bench = Bench(seed, load_n=1_000.0)
        assert bench.feed(((5.0, 595.0, 595.0, USUAL_A),)) == []
        bench.load_n, bench.mu = 10.0, 1.0
        assert bench.feed(((4.0, 595.0, 595.0, USUAL_A), *BRAKED)) == []
        assert bench.watch.state is MotorState.STOPPED


def test_a_ring_that_is_held_with_nothing_on_it_is_a_jam_a_second_later() -> None:
    ((index, kind),) = Bench(load_n=0.0).feed(((1.0, 595.0, 0.0, AGAIN_A), (3.0, 0.0, 0.0, AGAIN_A)))
    assert kind is FindingKind.JAM
    assert 148 <= index <= 156


def test_a_drive_that_brakes_abruptly_with_a_little_more_current_is_no_jam() -> None:
    """A quarter more than usual, from 595 r/min to rest in 0.15 s, and none 0.15 s later; held it goes on."""
    braked: tuple[Part, ...] = ((0.15, 595.0, 0.0, 1.25 * USUAL_A), (0.1, 0.0, 0.0, 1.25 * USUAL_A))
    for seed in range(5):
        assert Bench(seed).feed((*braked, (2.0, 0.0, 0.0, 0.0))) == []
        ((index, kind),) = Bench(seed).feed((*braked, (2.0, 0.0, 0.0, 1.25 * USUAL_A)))
        assert kind is FindingKind.JAM
        assert index <= 15 + 25


@pytest.mark.slow
def test_what_a_motor_draws_that_its_weight_slows_to_below_four_fifths_is_usual() -> None:
    """A weight that draws 1.7 times as much slows it to 79 %; 20 s later its friction cell drifts to nothing."""
    for seed in range(5):
        bench = Bench(seed)
        assert bench.feed(((0.5, 595.0, 475.0, 3.4), (20.0, 475.0, 475.0, 3.4))) == []
        bench.mu = 0.02
        assert bench.feed(((5.0, 475.0, 475.0, 3.4),)) == []
        ((index, kind),) = bench.feed(((0.05, 475.0, 0.0, 3.4 * AGAIN_A / USUAL_A), (1.0, 0.0, 0.0, SURGE_A)))
        assert kind is FindingKind.JAM
        assert index <= 6


@pytest.mark.slow
def test_a_motor_that_gains_speed_again_after_its_mains_have_sagged_is_not_held() -> None:
    """For a second at three quarters of its speed, and then back with twice its current for 0.4 s."""
    sag: tuple[Part, ...] = ((0.2, 595.0, 440.0, 1.9), (1.0, 440.0, 440.0, 2.1), (0.4, 440.0, 590.0, 4.6))
    for seed in range(5):
        bench = Bench(seed, load_n=100.0)
        assert bench.feed((*sag, (3.0, 595.0, 595.0, USUAL_A))) == []
        held: tuple[Part, ...] = (*sag[:2], (0.4, 440.0, 430.0, 4.6))
        assert [kind for _, kind in Bench(seed, load_n=100.0).feed(held)] == [FindingKind.JAM]


@pytest.mark.parametrize(
    "sag", [((0.3, 595.0, 540.0, 0.3),), ((0.2, 595.0, 440.0, 1.9), (0.1, 440.0, 470.0, 2.1))], ids=["dips", "sags"]
)
def test_a_limit_that_waits_for_the_start_waits_for_the_surge_after_a_dip_too(sag: tuple[Part, ...]) -> None:
    for seed in range(5):
        bench = Bench(seed)
        assert bench.watch.armed
        bench.feed((*sag, (0.3, 500.0, 590.0, SURGE_A)))
        assert not bench.watch.armed
        bench.feed(((1.5, 595.0, 595.0, USUAL_A),))
        assert bench.watch.armed


def dropout(lasts_s: float, current_a: float = USUAL_A) -> tuple[Part, ...]:
    return ((lasts_s, 0.0, 0.0, current_a), (3.0, 595.0, 595.0, USUAL_A))


@pytest.mark.parametrize("lasts_s", [0.03, 0.2])
def test_a_loose_tachometer_is_no_stall_when_friction_has_led_once(lasts_s: float) -> None:
    """A particle that drags as the wire opens for the third time; the first time nobody could know."""
    bench = Bench()
    assert bench.feed(dropout(lasts_s) * 2) == []
    bench.mu = 0.2
    assert bench.feed([(0.4, 595.0, 595.0, 1.3 * USUAL_A), *dropout(lasts_s, 1.3 * USUAL_A)]) == []


@pytest.mark.slow
@pytest.mark.parametrize(("since_s", "least", "most"), [(3.0, 55, 100), (301.0, 1, 20)])
def test_a_ring_that_is_held_beside_a_loose_tachometer_is_found_within_a_second(
    since_s: float, least: int, most: int
) -> None:
    """By a current of which the speed has to say the rest; and five minutes after the last time at once."""
    bench = Bench()
    assert bench.feed(dropout(0.1) * 3 + ((since_s, 595.0, 595.0, USUAL_A),)) == []
    ((at, kind),) = bench.feed([(3.0, 0.0, 0.0, AGAIN_A)])
    assert kind is FindingKind.JAM
    assert least <= at <= most


def test_a_speed_that_was_set_to_less_than_half_is_what_a_jam_is_held_against() -> None:
    """The next weight takes more current at a speed that stays; and a ring that then stands is held."""
    bench = Bench()
    assert bench.feed([(3.0, 595.0, 240.0, 1.6), (15.0, 240.0, 240.0, 1.6), (10.0, 240.0, 240.0, 2.7)]) == []
    ((at, kind),) = bench.feed([(0.05, 240.0, 0.0, SURGE_A), (3.0, 0.0, 0.0, SURGE_A)])
    assert (kind, at <= 10) == (FindingKind.JAM, True)


def test_a_ring_that_is_held_soon_after_it_has_come_to_speed_is_found_within_seconds() -> None:
    """It is not yet known to run; of a start nobody would take it for one that lasts for 15 s."""
    watch, found = MotorWatch(MotorParams()), []
    for k in range(1_200):
        speed_rpm = min(300.0, 6.0 * k) if k < 70 else 0.0
        new = watch.update(make(k, {"ring_speed_rpm": speed_rpm, "motor_current_a": 4.0}))
        found += [(k, finding.kind) for finding in new]
    assert found == [(pytest.approx(270, abs=5), FindingKind.STALL)]


@pytest.mark.parametrize("left_n", [80.0, 150.0])
def test_a_weight_that_is_taken_off_is_no_dip_of_the_mains(left_n: float) -> None:
    """The current falls with it; a ring that is held within the second is found at once."""
    bench = Bench(load_n=200.0)
    assert bench.feed([(10.0, 595.0, 595.0, USUAL_A)]) == []
    bench.load_n = left_n
    assert bench.feed([(0.4, 595.0, 595.0, 0.6 * USUAL_A)]) == []
    ((at, kind),) = bench.feed([(0.06, 595.0, 0.0, SURGE_A), (3.0, 0.0, 0.0, SURGE_A)])
    assert (kind, at <= 12) == (FindingKind.JAM, True)
