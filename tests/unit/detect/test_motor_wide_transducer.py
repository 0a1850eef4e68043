"""A transducer made for the start surge: its zero may be off by what the motor draws without load. Made up here."""

import pytest
from motor_bench import Bench, Row, row_of

from scuffwatch.detect.motor_params import current_zero_a
from scuffwatch.detect.stall import MotorState
from scuffwatch.model.finding import FindingKind
from scuffwatch.service.replay_settings import column_rules, load_replay_settings, replay_bank_params

pytestmark = pytest.mark.slow

RANGE_A, NO_LOAD_A, ZERO_A, SURGE_A = (-60.0, 60.0), 0.6, 0.56, 20.0
"""The zero is 0.93 of the current without load, and 0.9 % of the range."""
UNLOADED = 0.0


def bench(zero_a: float = current_zero_a(RANGE_A)) -> Bench:
    return Bench(no_load_current_a=NO_LOAD_A, current_zero_a=zero_a)


def at_rest(current_a: float, slices: int, mu: float = UNLOADED) -> list[Row]:
    """A current that its noise takes up and down by a third."""
    return [row_of(0.0, current_a * (1.0 + 0.3 * (-1) ** k), mu) for k in range(slices)]


def coasting() -> list[Row]:
    return [row_of(595.0 - 2.0 * k, ZERO_A) for k in range(298)]


def test_a_fiftieth_of_the_range_may_be_its_zero_and_of_no_range_nothing() -> None:
    """Common practice, no source: two per cent of full scale for a transducer with a core."""
    assert current_zero_a((-1.0, 15.0)) == pytest.approx(0.3)
    assert current_zero_a(RANGE_A) == pytest.approx(1.2)
    assert current_zero_a(None) == current_zero_a((-1e9, 1e9)) == 0.0


def test_a_replayed_table_takes_it_from_the_range_of_its_rig_file() -> None:
    settings = load_replay_settings("[channels.motor_current_a]\nrange = [-60.0, 60.0]\n")
    motor = replay_bank_params(settings, column_rules(settings, ["motor_current_a"], 0.01)).motor
    assert motor is not None
    assert motor.current_zero_a == pytest.approx(1.2)


def test_a_ring_that_has_not_turned_yet_beside_it_is_no_start_that_fails() -> None:
    rig = bench()
    rig.feed(at_rest(ZERO_A, 3_000))
    assert rig.found == []
    assert rig.watch.ring_turning is False
    rig.start()


def test_a_stop_beside_it_is_a_stop_and_no_lost_tachometer() -> None:
    rig = bench()
    rig.start()
    rig.feed(coasting() + at_rest(ZERO_A, 2_000, mu=0.05))
    assert rig.found == []
    assert rig.watch.ring_turning is False
    rig.start()


def test_a_contact_that_rubs_beside_a_tachometer_that_says_0_is_a_lost_tachometer() -> None:
    rig = bench()
    rig.feed([row_of(0.0, 0.7, mu=0.1)] * 500)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]
    assert rig.watch.state is MotorState.RUNNING
    rig.feed([row_of(0.0, 0.7, mu=0.1)] * 10)
    assert rig.watch.ring_turning is True


def test_a_surge_before_it_is_a_motor_that_runs_and_a_lost_tachometer() -> None:
    rig = bench()
    rig.feed(at_rest(ZERO_A, 300) + [row_of(0.0, SURGE_A * 0.93**k, UNLOADED) for k in range(45)])
    rig.feed([row_of(0.0, 0.8, UNLOADED)] * 400)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]


def surge(k: int, speeds_up: bool) -> Row:
    return row_of(10.0 * k if speeds_up else 0.0, 0.7 + SURGE_A if k < 40 else 2.0, mu=0.1)


@pytest.mark.parametrize("speeds_up", [True, False])
def test_a_lost_tachometer_that_grows_from_nothing_with_the_surge_shows_a_start_and_no_jam(speeds_up: bool) -> None:
    rig = bench()
    rig.feed([row_of(0.0, 0.7, mu=0.1)] * 500)
    rig.feed([surge(k, speeds_up) for k in range(60)])
    if not speeds_up:
        assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST, FindingKind.JAM]
        return
    rig.feed([row_of(595.0, 2.0)] * 300)
    assert rig.kinds == [FindingKind.SPEED_SENSOR_LOST]
    assert rig.watch.state is MotorState.RUNNING
    assert not rig.watch.standing


@pytest.mark.parametrize(("current_a", "kinds"), [(0.55, []), (2.4, [FindingKind.STALL])])
def test_what_is_drawn_without_load_holds_no_ring_whatever_the_range(
    current_a: float, kinds: list[FindingKind]
) -> None:
    """Of an unknown range, and too restless to be called a running motor's."""
    rig = bench(zero_a=0.0)
    rig.feed([row_of(0.0, current_a * (1.25 if k // 40 % 2 else 0.75), UNLOADED) for k in range(2_000)])
    assert rig.kinds == kinds
