"""The simulated rig box's clock: real time, or real time less the pauses of its process."""

import pytest

from scuffwatch.sim.own_clock import TURN_S, OwnClock


class Mono:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def after(excuse: bool, turns_s: tuple[float, ...]) -> OwnClock:
    mono = Mono()
    clock = OwnClock(excuse, mono)
    for turn_s in turns_s:
        clock.begin_turn()
        mono.now_s += turn_s
    return clock


def test_short_turns_are_real_time() -> None:
    assert after(True, (0.005, 0.02, 0.029)).now_mono_s() == pytest.approx(100.054)


def test_a_pause_is_left_out_in_and_after_the_turn_it_falls_into() -> None:
    assert after(True, (0.005, 0.5)).now_mono_s() == pytest.approx(100.005 + TURN_S)
    clock = after(True, (0.005, 0.5, 0.005))
    assert clock.now_mono_s() == pytest.approx(100.01 + TURN_S)
    assert clock.excused_s == pytest.approx(0.5 - TURN_S)


def test_without_the_excuse_a_pause_counts() -> None:
    clock = after(False, (0.005, 0.5, 0.005))
    assert clock.now_mono_s() == pytest.approx(100.51)
    assert clock.excused_s == 0.0


def test_it_never_runs_back() -> None:
    mono, seen = Mono(), []
    clock = OwnClock(True, mono)
    for step_s in (0.01, 0.2, 0.0, 0.031, 0.5, 0.001):
        clock.begin_turn()
        seen.append(clock.now_mono_s())
        mono.now_s += step_s
        seen.append(clock.now_mono_s())
    assert seen == sorted(seen)
