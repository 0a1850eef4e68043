"""What the motor watch says where speed, current or friction is not measured, or not to be believed."""

from collections.abc import Iterable

import pytest
from motor_bench import CURRENT, LOAD, MU, SPEED, Bench, Row, row_of
from slice_makers import bad, good

from scuffwatch.detect.stall import MotorState
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import FindingKind, Level


def test_after_a_lost_tachometer_the_current_alone_finds_the_jam() -> None:
    bench = Bench(speed_lost_level=Level.WARN)
    bench.start()
    bench.feed([row_of(0.0, 2.0)] * 300)
    first = bench.feed([row_of(0.0, 5.9)] * 100)
    assert bench.kinds == [FindingKind.SPEED_SENSOR_LOST, FindingKind.JAM]
    assert bench.found[0][1].level is Level.WARN
    assert bench.found[1][0] - first <= 50


def test_nothing_is_said_of_a_motor_nothing_is_known_of() -> None:
    bench = Bench()
    bench.feed([{MU: 0.1}] * 300 + [{MU: 0.9}] * 300)
    assert bench.found == []
    assert bench.watch.ring_turning is None


def test_with_speed_alone_a_stop_cannot_be_told_from_a_jam_and_a_led_stall_can() -> None:
    stops, seizes = Bench(), Bench()
    for bench in (stops, seizes):
        bench.start(no_current=True)
    stops.feed([row_of(0.0, 0.0, no_current=True)] * 300)
    seizes.feed([row_of(590.0, 0.0, 0.4, no_current=True)] * 20 + [row_of(0.0, 0.0, 0.4, no_current=True)] * 50)
    assert stops.found == []
    assert seizes.kinds == [FindingKind.STALL]


def test_on_a_hanger_alone_friction_leads_no_stall() -> None:
    """After 500 N, 6.5 N: a coefficient of 0.3 is 2 N that the cell's zero is off by. From 60 N on it is a stall."""
    for load_n, kinds in ((6.5, []), (60.0, [FindingKind.STALL]), (200.0, [FindingKind.STALL])):
        bench = Bench()
        bench.start(no_current=True)
        bench.feed([row_of(595.0, 0.0, no_current=True) | {LOAD: 500.0}] * 400)
        bench.feed([row_of(595.0, 0.0, no_current=True) | {LOAD: load_n}] * 300)
        bench.feed([row_of(595.0, 0.0, 0.3, no_current=True) | {LOAD: load_n}] * 20)
        bench.feed([row_of(0.0, 0.0, 0.3, no_current=True) | {LOAD: load_n}] * 100)
        assert bench.kinds == kinds


def test_a_current_beyond_its_range_is_not_as_when_it_runs() -> None:
    """It has said 2.1 A for ten seconds, its range's end, when the speed goes: that it stays says nothing of a jam."""
    bench = Bench()
    bench.start()
    beyond = bad(Reason.OVER_RANGE, 2.1)
    bench.feed([row_of(595.0, 2.0) | {CURRENT: beyond}] * 1000)
    first = bench.feed([row_of(0.0, 2.0) | {CURRENT: beyond}] * 100)
    ((index, finding),) = bench.found
    assert (finding.kind, finding.level) == (FindingKind.JAM, Level.TRIP)
    assert index - first <= 35


@pytest.mark.parametrize("gone", [{}, {SPEED: 0.0}])
def test_a_start_that_cannot_be_seen_any_more_is_given_up(gone: Row) -> None:
    bench = Bench()
    bench.feed([row_of(100.0, 6.0)] * 20)
    assert bench.watch.state is MotorState.STARTING
    bench.feed([gone] * 2)
    assert bench.watch.state is MotorState.STOPPED


def test_a_current_of_one_sample_a_second_gives_no_verdict_alone() -> None:
    # this project's detection design: 1 Hz current cannot show a protective stop; say blind.
    bench = Bench()

    def rows(current_a: float, lasts_s: int) -> Iterable[Row]:
        for k in range(lasts_s * 100):
            yield {CURRENT: good(current_a, fresh=k % 100 == 0, age_s=(k % 100 + 1) / 100)}

    bench.feed(rows(6.0, 1))
    bench.feed(rows(2.0, 20))
    bench.feed(rows(6.0, 20))
    assert bench.found == []


def test_load_and_friction_explain_current_where_there_is_no_tachometer() -> None:
    bench = Bench()
    start = [{CURRENT: 6.0, "normal_load_n": 60.0, MU: 0.1}] * 50
    bench.feed(start + [{CURRENT: 1.0, "normal_load_n": 60.0, MU: 0.1}] * 500)
    assert bench.watch.armed
    bench.feed([{CURRENT: 3.2, "normal_load_n": 240.0, MU: 0.16}] * 500)
    assert bench.found == []


@pytest.mark.parametrize(
    ("mu_at_rest", "load_n", "state"),
    [(0.14, 100.0, MotorState.STARTING), (0.25, 100.0, MotorState.RUNNING), (0.1, 200.0, MotorState.RUNNING)],
)
def test_a_ring_that_slows_down_without_a_current_coasts_unless_friction_or_a_weight_slows_it(
    mu_at_rest: float, load_n: float, state: MotorState
) -> None:
    """To two thirds of its speed in a second; friction rises meanwhile as less speed makes it, or had risen before."""
    bench = Bench()
    bench.start(no_current=True)
    bench.feed([row_of(595.0, 0.0, no_current=True) | {LOAD: 100.0}] * 400)
    has_risen = mu_at_rest > 0.2
    for k in range(100):
        mu = mu_at_rest if has_risen else 0.1 + (mu_at_rest - 0.1) * k / 100
        bench.feed([row_of(595.0 - 2.0 * k, 0.0, mu, no_current=True) | {LOAD: load_n}])
    assert bench.watch.state is state
    bench.feed([row_of(595.0, 0.0, no_current=True) | {LOAD: load_n}] * 150)
    assert bench.watch.state is MotorState.RUNNING
    assert bench.found == []


def test_a_contact_that_seizes_slowly_does_not_coast_though_its_weight_had_slowed_the_ring_before() -> None:
    """At 84 % of its speed under its weights; friction grows by a sixth a second and takes a thirtieth of the speed."""
    bench = Bench()
    bench.start(no_current=True)
    bench.feed([row_of(504.0, 0.0, no_current=True) | {LOAD: 350.0}] * 1_000)
    for k in range(600):
        speed_rpm, mu = 504.0 * (1.0 - k / 3_000), 0.1 * (1.0 + k / 600)
        bench.feed([row_of(speed_rpm, 0.0, mu, no_current=True) | {LOAD: 350.0}])
        assert bench.watch.state is MotorState.RUNNING, k


@pytest.mark.parametrize("idle_n", [-0.8, 0.5])
def test_what_an_unloaded_motor_drew_says_nothing_of_a_load_set_down_without_a_tachometer(idle_n: float) -> None:
    """The lever was lifted: whether its cell then reads a little below nothing or above, 66 N are no jam."""
    bench = Bench(no_load_current_a=0.35)
    bench.feed([{CURRENT: 1.2, LOAD: idle_n, MU: bad(Reason.MISSING)}] * 50)
    bench.feed([{CURRENT: 0.34, LOAD: idle_n + 0.03 * (-1) ** k, MU: bad(Reason.MISSING)} for k in range(1000)])
    assert bench.watch.state is MotorState.RUNNING
    bench.feed([{CURRENT: 0.34 + 0.46 * min(1.0, k / 25), LOAD: 66.0 * min(1.0, k / 25), MU: 0.12} for k in range(500)])
    assert bench.found == []


@pytest.mark.parametrize(("load_n", "state"), [(60.0, MotorState.STARTING), (0.0, MotorState.RUNNING)])
def test_a_loaded_motor_that_draws_less_than_without_load_is_off_though_nobody_sees_the_ring(
    load_n: float, state: MotorState
) -> None:
    """0.5 A, which its transducer shows at rest, of 0.6 A without load, after 2 A; unloaded it may be idling so."""
    bench = Bench()
    bench.feed([{CURRENT: 6.0, LOAD: 60.0, MU: 0.1}] * 50 + [{CURRENT: 2.0, LOAD: 60.0, MU: 0.1}] * 600)
    assert bench.watch.state is MotorState.RUNNING
    bench.feed([{CURRENT: 0.5 + 0.01 * (-1) ** k, LOAD: load_n, MU: 0.1 if load_n else 0.0} for k in range(1500)])
    assert bench.watch.state is state
    assert bench.found == []


# --- whether the ring turns ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("surge_a", "rises_s", "is_known"), [(12.0, 0.0, True), (3.0, 0.0, False), (12.0, 1.0, False)])
def test_what_a_held_motor_draws_is_known_of_one_switched_straight_on(
    surge_a: float, rises_s: float, is_known: bool
) -> None:
    """By its current alone: 12 A at once before 2 A were its torque at rest; less, or later, may be a drive's."""
    bench = Bench()
    bench.feed([{CURRENT: 2.0}] * round(100.0 * rises_s) + [{CURRENT: surge_a}] * 20 + [{CURRENT: 2.0}] * 600)
    assert bench.watch.state is MotorState.RUNNING
    assert bench.watch.knows_held_current is is_known
