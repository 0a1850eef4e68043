"""The local reset button (ISO 13849-1 5.2.2, from secondary pages): a separate deliberate act, on the falling edge."""

import pytest
from guard_rig import Bench

from scuffwatch.guard.states import GuardEventKind, GuardSettings

ALREADY = "Reset refused. The button was held before it could count. Let go, then press again."
LOST = "Reset refused. The rig box was not heard while the button was held. Press again."
TOO_LONG = "Reset refused. Button held longer than 3 s. Let go, then press again."


def ready() -> Bench:
    return Bench().run(2.2, acknowledge="Ada")


@pytest.mark.parametrize("held_s", [0.2, 0.21, 1.0, 2.99, 3.0])
def test_a_press_inside_its_limits_counts(held_s):
    assert ready().press(held_s).permitted


@pytest.mark.parametrize(
    ("held_s", "says"),
    [
        (0.01, "Reset refused. Button held 0.01 s, at least 0.2 s needed. Press again."),
        (0.19, "Reset refused. Button held 0.19 s, at least 0.2 s needed. Press again."),
        (3.01, TOO_LONG),
        (60.0, TOO_LONG),
    ],
)
def test_a_press_outside_its_limits_is_refused_once(held_s, says):
    bench = ready().press(held_s)
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [says]
    assert bench.press(0.5).permitted


@pytest.mark.slow
def test_a_button_stuck_since_the_start_never_permits():
    bench = Bench().run(120.0, reset_pressed=True, acknowledge="Ada")
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. Ring at rest for 0.0 s, 2 s needed."]
    bench.step()
    assert not bench.permitted
    assert bench.press(0.5).permitted


def test_a_button_seen_held_when_it_is_first_known_does_not_count():
    bench = Bench().run(2.2, acknowledge="Ada", reset_pressed=None).press(0.5)
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [ALREADY]


def test_a_press_begun_before_the_ring_was_long_enough_at_rest_does_not_count():
    bench = Bench().run(1.5, acknowledge="Ada").press(1.0)
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. Ring at rest for 1.5 s, 2 s needed."]


def test_a_press_through_the_trip_does_not_count():
    bench = ready().press(0.5).run(2.0)
    bench.step(reset_pressed=True)
    bench.step(reset_pressed=True, stop_request="wall")
    bench.run(2.5, reset_pressed=True, acknowledge="Ada")
    bench.step()
    assert not bench.permitted
    assert len(bench.of(GuardEventKind.RESET_REFUSED)) == 1


@pytest.mark.parametrize("away", [{"link_up": False}, {"reset_pressed": None}])
def test_a_plug_pulled_while_the_button_is_held_is_no_press(away):
    bench = ready().run(0.5, reset_pressed=True)
    bench.step(**{"reset_pressed": False, **away})
    bench.run(2.5)
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [LOST]
    assert bench.press(0.5).permitted


def test_a_link_that_blinks_while_the_button_is_held_ends_the_press():
    bench = ready().run(0.3, reset_pressed=True)
    bench.step(reset_pressed=True, link_up=False)
    bench.run(2.5, reset_pressed=True)
    bench.step()
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [LOST]


def test_a_button_held_while_the_link_comes_back_is_refused_once():
    bench = ready()
    bench.step(link_up=False)
    bench.run(2.5, reset_pressed=True)
    bench.step()
    assert not bench.permitted
    assert len(bench.of(GuardEventKind.RESET_REFUSED)) == 1


@pytest.mark.parametrize("at_release", [False, True])
def test_a_hole_in_node_time_ends_the_press(at_release):
    bench = ready().run(0.3, reset_pressed=True)
    bench.ticks += 100
    bench.step(reset_pressed=not at_release)
    bench.step()
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [LOST]


def test_a_rising_edge_across_a_hole_is_no_edge():
    # With no time of rest asked for, the hole alone decides.
    bench = Bench(GuardSettings(at_rest_s=0.0)).run(1.0, acknowledge="Ada")
    bench.ticks += 26
    bench.press(0.5)
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == [ALREADY]
    assert bench.press(0.5).permitted


def test_a_need_lost_while_the_button_is_held_ends_the_press():
    bench = ready().run(0.3, reset_pressed=True)
    bench.step(reset_pressed=True, run_open=False)
    bench.run(0.3, reset_pressed=True)
    bench.step()
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. No run is open."]


def test_a_need_lost_at_release_ends_the_press():
    bench = ready().run(0.3, reset_pressed=True)
    bench.step(prestart_ok=False, prestart_says="Load cell zero −6.2 N, limit ±2 N.")
    assert not bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == ["Reset refused. Load cell zero −6.2 N, limit ±2 N."]


def test_a_second_press_while_permitted_does_nothing():
    bench = ready().press(0.5).press(0.5).run(1.0, reset_pressed=None)
    assert bench.permitted
    assert bench.of(GuardEventKind.RESET_REFUSED) == []
