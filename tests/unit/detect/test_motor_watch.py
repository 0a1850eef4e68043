"""What the motor watch says in single situations, what it is silent about, and whether the ring turns."""

import math

import pytest
from motor_bench import CURRENT, MU, SPEED, Bench, Row, row_of
from slice_makers import bad

from scuffwatch.detect.stall import MotorState
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import FindingKind, Level


def test_it_is_armed_after_one_second_at_80_percent_of_the_speed() -> None:
    bench = Bench()
    bench.feed([row_of(470.0, 2.0)] * 190)
    assert bench.watch.state is MotorState.STARTING
    bench.feed([row_of(480.0, 2.0)] * 99)
    assert not bench.watch.armed
    bench.feed([row_of(480.0, 2.0)] * 2)
    assert bench.watch.armed


@pytest.mark.parametrize(("speed_rpm", "most_s"), [(470.0, 3.1), (310.0, 3.1), (200.0, 10.1)])
def test_a_motor_that_goes_on_evenly_below_its_speed_has_started(speed_rpm: float, most_s: float) -> None:
    """Restarted under all its weights it does not come to 80 %: the contact must be watched, and a jam be seen."""
    bench = Bench()
    bench.feed([row_of(speed_rpm, 2.0)] * round(100.0 * (most_s - 0.2)))
    assert bench.watch.state is MotorState.STARTING
    bench.feed([row_of(speed_rpm, 2.0)] * 20)
    assert bench.watch.state is MotorState.RUNNING
    bench.feed([row_of(speed_rpm, 2.0)] * 1_000)
    assert bench.found == []
    first = bench.feed([row_of(0.2 * speed_rpm, 5.5)] * 50)
    assert [(finding.kind, index - first <= 2) for index, finding in bench.found] == [(FindingKind.JAM, True)]


def test_a_motor_that_still_gains_speed_has_not_started() -> None:
    bench = Bench()
    bench.feed([row_of(100.0 + 15.0 * 0.01 * k, 2.0) for k in range(2_500)])
    assert bench.watch.state is MotorState.STARTING


def test_a_start_that_lasts_too_long_is_a_start_no_more_for_the_current_limit() -> None:
    bench = Bench()
    bench.feed([row_of(200.0, 6.0)] * 490)
    assert not bench.watch.armed
    bench.feed([row_of(200.0, 6.0)] * 20)
    assert bench.watch.armed
    assert bench.found == []


def test_the_jam_is_said_with_speed_and_current() -> None:
    bench = Bench()
    bench.start()
    first = bench.feed([row_of(100.0, 5.5)] * 50)
    ((index, finding),) = bench.found
    assert index - first <= 2
    assert finding.says == "Jam: ring speed 100 r/min, limit 300, and motor current 5.50 A."
    assert finding.channels == (SPEED, CURRENT)
    assert (finding.kind, finding.level) == (FindingKind.JAM, Level.TRIP)
    assert bench.watch.standing == (finding,)


def test_the_stall_names_the_friction_that_led() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(590.0, 2.8, 0.4)] * 20)
    bench.feed([row_of(0.0, 5.5, 0.35)] * 10)
    ((_, finding),) = bench.found
    assert finding.says == (
        "Stall: ring speed 0 r/min, limit 300, and motor current 5.50 A; friction coefficient 0.400 before."
    )
    assert finding.evidence[2].name == MU


def test_a_jam_stands_until_the_current_has_gone() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 5.5)] * 500)
    assert bench.kinds == [FindingKind.JAM]
    assert bench.watch.standing
    bench.feed([row_of(0.0, 0.0)] * 3)
    assert bench.watch.standing == ()
    assert bench.watch.state is MotorState.STOPPED


def test_a_jam_that_frees_itself_has_cleared_after_a_second_at_speed() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 5.5)] * 50)
    bench.feed([row_of(595.0, 2.0)] * 110)
    assert bench.watch.standing == ()
    assert bench.watch.armed


def test_a_lost_tachometer_is_that_and_no_stall() -> None:
    bench = Bench()
    bench.start()
    first = bench.feed([row_of(0.0, 2.0)] * 300)
    ((index, finding),) = bench.found
    assert (finding.kind, finding.level) == (FindingKind.SPEED_SENSOR_LOST, Level.TRIP)
    assert 25 <= index - first <= 35
    assert (
        finding.says == "Speed sensor lost: ring speed 0 r/min, limit 300, and motor current 2.00 A, as when it runs."
    )
    assert bench.watch.ring_turning is True


def test_a_tachometer_that_comes_back_is_believed_after_a_second() -> None:
    bench = Bench(speed_lost_level=Level.WARN)
    bench.start()
    bench.feed([row_of(0.0, 2.0)] * 300)
    bench.feed([row_of(595.0, 2.0)] * 95)
    assert bench.watch.standing
    bench.feed([row_of(595.0, 2.0)] * 10)
    assert bench.watch.standing == ()
    bench.feed([row_of(0.0, 5.5)] * 10)
    assert bench.kinds[-1] is FindingKind.JAM
    assert "ring speed" in bench.found[-1][1].says


def test_a_tachometer_that_is_dead_at_the_start_is_found_when_the_current_has_settled() -> None:
    bench = Bench()
    bench.feed([row_of(0.0, 6.0)] * 50 + [row_of(0.0, 2.0)] * 400)
    assert bench.kinds == [FindingKind.SPEED_SENSOR_LOST]


def test_a_motor_that_never_turns_is_a_stall_at_start() -> None:
    bench = Bench()
    bench.feed([row_of(0.0, 0.0)] * 100)
    first = bench.feed([row_of(0.0, 6.0)] * 600)
    ((index, finding),) = bench.found
    assert (finding.kind, finding.level) == (FindingKind.STALL, Level.TRIP)
    assert index - first == pytest.approx(500, abs=5)
    assert finding.says == "Stall at start: ring speed 0 r/min after 5.0 s, limit 12, and motor current 6.00 A."


def test_a_friction_stop_with_moved_friction_at_the_current_rail_is_no_lost_tachometer() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 2.0, 0.02)] * 100)
    assert bench.kinds == [FindingKind.JAM]


@pytest.mark.parametrize(("contactor", "kinds"), [(None, []), (True, [FindingKind.MOTOR_SUPPLY_LOST]), (False, [])])
def test_current_and_speed_gone_is_a_lost_supply_only_at_a_closed_contactor(contactor, kinds) -> None:
    bench = Bench()
    bench.start(contactor_closed=True)
    bench.feed((row_of(595.0 * math.exp(-k / 30), 0.0) for k in range(600)), contactor)
    assert bench.kinds == kinds


def test_the_lost_supply_is_a_warning_that_stands_until_the_contactor_opens() -> None:
    bench = Bench()
    bench.start(contactor_closed=True)
    bench.feed([row_of(20.0, 0.0)] * 200, True)
    ((_, finding),) = bench.found
    assert finding.level is Level.WARN
    assert (
        finding.says
        == "Motor supply lost: motor current 0.00 A, limit 0.18, and ring speed 20 r/min with the contactor closed."
    )
    assert bench.watch.standing == (finding,)
    bench.feed([row_of(0.0, 0.0)], False)
    assert bench.watch.standing == ()


def test_a_lost_supply_that_is_only_a_notice_does_not_stand() -> None:
    bench = Bench(supply_lost_level=Level.NOTICE)
    bench.start(contactor_closed=True)
    bench.feed([row_of(20.0, 0.0)] * 200, True)
    assert bench.kinds == [FindingKind.MOTOR_SUPPLY_LOST]
    assert bench.watch.standing == ()


def test_our_own_stop_is_no_event_while_the_contactor_is_still_reported_closed() -> None:
    bench = Bench()
    bench.start(contactor_closed=True)
    bench.feed([row_of(300.0, 0.0)] * 40, True)
    bench.feed([row_of(100.0, 0.0)] * 400, False)
    assert bench.found == []


def test_a_current_sensor_that_dies_at_full_speed_is_no_lost_supply() -> None:
    bench = Bench()
    bench.start(contactor_closed=True)
    bench.feed([row_of(595.0, 0.0)] * 3000, True)
    assert bench.found == []


def test_a_drives_ramp_to_standstill_is_no_event() -> None:
    bench = Bench()
    bench.start(contactor_closed=True)
    bench.feed((row_of(595.0 * (1 - k / 150), 1.6, 0.1 + 0.001 * k) for k in range(150)), True)
    bench.feed([row_of(0.0, 1.0, 0.2)] * 30, True)
    bench.feed([row_of(0.0, 0.0, 0.2)] * 300, True)
    assert bench.found == []


def test_high_current_at_full_speed_is_no_stall() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(580.0, 9.0, 0.5)] * 500)
    assert bench.found == []


def test_a_speed_spike_of_one_slice_is_no_stall() -> None:
    bench = Bench()
    bench.start()
    bench.feed(([row_of(0.0, 5.0)] + [row_of(595.0, 2.0)] * 9) * 50)
    assert bench.found == []


def test_after_a_hole_a_start_surge_is_a_start() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 6.0)] + [row_of(10.0 * k, 6.0) for k in range(60)], gap_before_s=5.0)
    assert bench.found == []
    assert bench.watch.state is MotorState.STARTING


def test_a_restart_of_the_node_is_a_hole() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 6.0)] + [row_of(10.0 * k, 6.0) for k in range(60)], epoch=1)
    assert bench.found == []


def test_friction_that_led_is_a_stall_though_the_current_stays() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(590.0, 2.0, 0.4)] * 20)
    first = bench.feed([row_of(0.0, 2.0, 0.4)] * 100)
    ((index, finding),) = bench.found
    assert finding.kind is FindingKind.STALL
    assert index - first <= 10


def test_friction_that_led_and_a_current_that_follows_is_a_stop() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(590.0, 2.0, 0.4)] * 20)
    bench.feed(row_of(590.0 * math.exp(-k / 4), 2.0 * math.exp(-k / 30), 0.4) for k in range(300))
    assert bench.found == []


@pytest.mark.parametrize(
    ("row", "turning"),
    [
        (row_of(0.0, 0.0), False),
        (row_of(12.0, 0.0), False),
        (row_of(12.1, 0.0), True),
        (row_of(0.0, 0.37), True),
        (row_of(0.0, 0.35), False),  # less than 60 % of no load: a transducer's zero
        (row_of(-50.0, 0.0), True),
        ({SPEED: bad(Reason.TOO_OLD), CURRENT: 0.0}, False),
        ({SPEED: bad(Reason.TOO_OLD), CURRENT: bad(Reason.TOO_OLD)}, None),
        ({}, None),
    ],
)
def test_turning_is_speed_above_2_percent_or_current(row: Row, turning: bool | None) -> None:
    bench = Bench()
    bench.feed([row] * 400)
    assert bench.watch.ring_turning is turning


def test_a_stated_threshold_counts_instead() -> None:
    bench = Bench(turning_rpm=40.0)
    bench.feed([row_of(39.0, 0.0)] * 5)
    assert bench.watch.ring_turning is False
    bench.feed([row_of(41.0, 0.0)] * 5)
    assert bench.watch.ring_turning is True


def test_one_spike_is_no_turning() -> None:
    bench = Bench()
    bench.feed([row_of(0.0, 0.0)] * 100)
    for _ in range(20):
        bench.feed([row_of(500.0, 0.0)])
        assert bench.watch.ring_turning is False
        bench.feed([row_of(0.0, 3.0)] * 2)
        assert bench.watch.ring_turning is False
        bench.feed([row_of(0.0, 0.0)])


def test_without_a_tachometer_rest_is_said_only_after_the_ring_may_have_coasted() -> None:
    bench = Bench()
    bench.start(no_speed=True)
    assert bench.watch.ring_turning is True
    bench.feed([{CURRENT: 0.0}] * 190)
    assert bench.watch.ring_turning is None
    bench.feed([{CURRENT: 0.0}] * 15)
    assert bench.watch.ring_turning is False


def test_a_welded_contactor_is_seen_as_turning_by_current() -> None:
    bench = Bench()
    bench.feed([{CURRENT: 2.0}] * 50, contactor_closed=False)
    assert bench.watch.ring_turning is True


def test_reset_lets_nothing_stand() -> None:
    bench = Bench()
    bench.start()
    bench.feed([row_of(0.0, 5.5)] * 50)
    bench.watch.reset()
    assert bench.watch.standing == ()
    assert bench.watch.state is MotorState.STOPPED
