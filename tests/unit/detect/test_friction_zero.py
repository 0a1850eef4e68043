"""How far a friction cell's zero may be off, and what that makes of a small drag."""

import math

import pytest
from slice_makers import SLICE_S, make

from scuffwatch.detect.drag import Drag
from scuffwatch.detect.mechanics import Mechanics, MechanicsParams, friction_zero_n


def test_it_is_a_thousandth_of_the_larger_end_of_the_range() -> None:
    # Creep and zero shift of a load cell, of its full scale: common practice, no source.
    assert friction_zero_n((-500.0, 2_000.0)) == 2.0
    assert friction_zero_n((-2_000.0, 500.0)) == 2.0
    assert friction_zero_n((0.0, 50.0)) == 0.05


@pytest.mark.parametrize("valid_n", [None, (-math.inf, math.inf), (-1e12, 1e12), (-5.0, math.inf)])
def test_a_range_that_is_none_says_nothing_of_the_zero(valid_n: tuple[float, float] | None) -> None:
    assert friction_zero_n(valid_n) == 0.0


def still(force_n: float, zero_n: float) -> Drag:
    """Give the friction view of a rig whose force stands still under 100 N."""
    mechanics = Mechanics(MechanicsParams(friction_zero_n=zero_n))
    for k in range(60):
        s = make(k, {"friction_force_n": force_n, "normal_load_n": 100.0})
        mechanics.read(s, True, 100.0, False)
    return mechanics.friction


def test_it_is_the_floor_under_a_small_drag_and_no_more_than_that() -> None:
    # Derived here: y = ln[(drag + floor) / load]; the floor is a fiftieth of the drag, or the zero where that is more.
    assert still(1.0, 2.0).floor == 2.0
    assert still(1.0, 2.0).y == pytest.approx(math.log(3.0 / 100.0))
    assert still(1.0, 0.0).y == pytest.approx(math.log(1.02 / 100.0))
    assert still(200.0, 2.0).floor == 4.0
    assert still(200.0, 2.0).y == still(200.0, 0.0).y


def test_it_never_takes_a_drag_away() -> None:
    """Unlike a least torque: what is below it still counts as drag, it only moves y less."""
    drag = Drag()
    for _ in range(60):
        drag.read(1.0, True, 100.0, SLICE_S, 0.0, 2.0)
    assert drag.is_above_noise
    for _ in range(60):
        drag.read(1.0, True, 100.0, SLICE_S, 2.0, 0.0)
    assert not drag.is_above_noise


@pytest.mark.parametrize("zero_n", [-0.26, 0.0, 0.26])
@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_what_the_cell_shows_with_its_sign_while_nothing_rubs_is_its_zero(zero_n: float, way: float) -> None:
    """An invented small rig: 0.42 N of friction under 5.5 N, whichever way it pulls."""
    mechanics = Mechanics(MechanicsParams(load_min_n=4.0))
    for k in range(2_000):
        load_n = 0.0 if k < 1_000 else 5.5
        force_n = zero_n + (way * 0.42 if load_n else 0.0)
        mechanics.read(make(k, {"friction_force_n": force_n, "normal_load_n": load_n}), True, load_n, False)
    assert mechanics.friction.drag == pytest.approx(0.42, abs=1e-6)


def test_a_load_that_drops_out_for_half_a_second_teaches_no_zero_and_no_idle() -> None:
    mechanics = Mechanics(MechanicsParams(no_load_current_a=0.8))
    for k in range(1_000):
        row = {"friction_force_n": 6.0, "normal_load_n": 0.0 if 400 <= k < 450 else 72.0, "motor_current_a": 1.6}
        mechanics.read(make(k, row), True, 72.0, False)
    assert mechanics.friction.drag == 6.0
    assert mechanics.current.drag == pytest.approx(math.sqrt(1.6**2 - 0.8**2))
