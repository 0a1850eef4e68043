"""Slices: where they are cut, what a hole does, what a slow channel says while it is silent."""

import math

import pytest
from rows import FAST, SLOW, block, fast, rules, slow

from scuffwatch.model.block import Slice
from scuffwatch.model.channel import GroupLayout, IntegerType, Quality, Reason
from scuffwatch.signals.slices import Slicer, samples_per_slice


def slicer(**more: float) -> Slicer:
    return Slicer((FAST, SLOW), rules(FAST, SLOW, **more))


def feed(target: Slicer, *given) -> list[Slice]:
    return [made for one in given for made in target.accept(one)]


@pytest.mark.parametrize(
    ("rate_hz", "samples"), [(10.0, 1), (80.0, 1), (100.0, 1), (200.0, 2), (1000.0, 10), (5000.0, 50)]
)
def test_a_slice_is_10_ms_or_one_sample(rate_hz: float, samples: int) -> None:
    assert samples_per_slice(rate_hz) == samples


def test_slices_follow_the_sample_index() -> None:
    made = feed(slicer(), fast(0, 7), fast(7, 7), fast(14, 20))
    assert [s.index for s in made] == [0, 1, 2]
    assert [s.t_rig_s for s in made] == [0.01, 0.02, 0.03]
    assert all(s.duration_s == 0.01 and s.gap_before_s == 0.0 for s in made)


def test_a_slice_names_the_frame_of_its_last_sample() -> None:
    made = feed(slicer(), fast(0, 7, sequence=1), fast(7, 7, sequence=2), fast(25, 10, sequence=3))
    assert [(s.index, s.frame_sequence) for s in made] == [(0, 2), (1, 2), (2, 3)]


def test_channels_have_a_fixed_order_and_their_values() -> None:
    (made,) = feed(slicer(), slow(0), fast(0, 10, level=300))
    assert list(made.channels) == ["friction_force_n", "motor_current_a", "normal_load_n", "pin_temperature_degc"]
    assert made.channels["friction_force_n"].mean == 3.25
    assert made.channels["pin_temperature_degc"].mean == 60.25
    assert made.channels["friction_force_n"].age_s == 0.001
    assert made.channels["pin_temperature_degc"].age_s == 0.01


def test_a_hole_in_a_slice_makes_it_uncertain_and_is_not_filled() -> None:
    made = feed(slicer(), fast(0, 4, level=100), fast(6, 14, level=200, lost=2))
    force = made[0].channels["friction_force_n"]
    assert (force.quality, force.reason) == (Quality.UNCERTAIN, Reason.GAP)
    assert force.mean == pytest.approx(0.25 + 0.01 * (4 * 100 + 4 * 200) / 8)
    assert made[1].channels["friction_force_n"].quality is Quality.GOOD


def test_slices_lost_whole_are_not_given_and_the_next_one_says_how_long() -> None:
    made = feed(slicer(), fast(0, 14), fast(57, 13, lost=43))
    assert [(s.index, s.gap_before_s) for s in made] == [(0, 0.0), (1, 0.0), (5, pytest.approx(0.03)), (6, 0.0)]
    assert [s.channels["motor_current_a"].quality for s in made[1:3]] == [Quality.UNCERTAIN] * 2
    assert made[1].channels["motor_current_a"].age_s == pytest.approx(0.007)


def test_a_node_joined_in_the_middle_begins_with_a_partial_slice() -> None:
    made = feed(slicer(), fast(1234, 26))
    assert [s.index for s in made] == [123, 124, 125]
    assert [s.channels["motor_current_a"].quality for s in made] == [Quality.UNCERTAIN, Quality.GOOD, Quality.GOOD]
    assert made[0].gap_before_s == 0.0


def test_a_slow_value_is_held_with_its_age_and_then_has_no_number() -> None:
    target = slicer(max_age_s=0.25)
    made = feed(target, slow(0), *(fast(20 * k, 20) for k in range(20)))
    pins = [s.channels["pin_temperature_degc"] for s in made]
    assert [pin.fresh for pin in pins] == [True] + [False] * 39
    assert [pin.age_s for pin in pins] == pytest.approx([0.01 * (k + 1) for k in range(40)])
    assert all(pin.mean == 60.25 and pin.quality is Quality.GOOD for pin in pins[:25])
    assert all(math.isnan(pin.mean) and pin.reason is Reason.TOO_OLD for pin in pins[25:])
    back = feed(target, slow(4, pin=6100), fast(400, 20))
    assert back[0].channels["pin_temperature_degc"].mean == 61.25


def test_a_group_that_has_never_spoken_says_so() -> None:
    made = feed(slicer(), fast(0, 20))
    assert made[1].channels["normal_load_n"].reason is Reason.NEVER_RECEIVED
    assert made[1].channels["normal_load_n"].quality is Quality.BAD
    assert math.isnan(made[1].channels["normal_load_n"].mean)
    assert made[1].channels["normal_load_n"].age_s == pytest.approx(0.02)


def test_a_slow_sample_belongs_to_the_first_slice_that_ends_after_it() -> None:
    made = feed(slicer(), slow(0, pin=1000), slow(1, pin=2000), fast(0, 120))
    values = [s.channels["pin_temperature_degc"].mean for s in made]
    assert values == [10.25] * 10 + [20.25] * 2


def test_a_slow_sample_that_comes_late_is_used_when_it_comes() -> None:
    made = feed(slicer(), fast(0, 20), slow(0), fast(20, 10))
    assert made[1].channels["pin_temperature_degc"].quality is Quality.BAD
    assert made[2].channels["pin_temperature_degc"].mean == 60.25
    assert made[2].channels["pin_temperature_degc"].age_s == pytest.approx(0.03)


def test_several_samples_of_a_side_group_are_reduced() -> None:
    side = GroupLayout(2, 500.0, IntegerType.INT32, ("x_n",))
    target = Slicer((FAST, side), rules(FAST, side))
    (made,) = feed(target, block(side, 0, [[100, 200, 300, 400, 1000]]), fast(0, 10))
    x = made.channels["x_n"]
    assert (x.mean, x.low, x.high) == (4.25, 1.25, 10.25)


def test_after_a_hole_old_samples_of_a_side_group_are_passed_over() -> None:
    side = GroupLayout(2, 500.0, IntegerType.INT32, ("x_n",))
    target = Slicer((FAST, side), rules(FAST, side))
    feed(target, block(side, 0, [[100] * 5]), fast(0, 10))
    made = feed(target, block(side, 5, [list(range(0, 500, 1))]), fast(1000, 10, lost=990))
    x = made[0].channels["x_n"]
    assert (x.low, x.high) == (0.25 + 4.90, 0.25 + 4.99)


def test_lost_samples_of_a_side_group_make_its_next_value_uncertain() -> None:
    made = feed(slicer(), slow(0), fast(0, 300), slow(3, lost=2), fast(300, 20))
    assert made[30].channels["normal_load_n"].reason is Reason.GAP
    assert made[31].channels["normal_load_n"].reason is Reason.GAP  # held
    assert made[29].channels["normal_load_n"].reason is Reason.NONE


def test_a_new_epoch_begins_anew_and_keeps_what_had_come() -> None:
    target = slicer()
    feed(target, slow(0), fast(0, 25))
    made = feed(target, block(FAST, 0, [[1] * 20, [1] * 20], epoch=1, t0_s=0.02))
    assert [(s.epoch, s.index) for s in made] == [(0, 2), (1, 0), (1, 1)]
    assert made[0].channels["motor_current_a"].quality is Quality.UNCERTAIN
    assert made[1].channels["pin_temperature_degc"].reason is Reason.NEVER_RECEIVED
    times = [s.t_rig_s for s in made]
    assert times == sorted(set(times))


def test_time_never_goes_back_whatever_the_ticks_say() -> None:
    target = slicer()
    made = feed(
        target, fast(0, 20), block(FAST, 20, [[1] * 20] * 2, t0_s=-5.0), block(FAST, 40, [[1] * 20] * 2, t0_s=9.0)
    )
    times = [s.t_rig_s for s in made]
    assert times == sorted(set(times))


def test_a_silent_driver_does_not_let_the_side_groups_grow() -> None:
    target = slicer()
    for k in range(5_000):
        assert target.accept(slow(k)) == ()
    assert len(target._sides[1]._waiting) <= 20


def test_a_rig_of_one_group_has_no_other_channels() -> None:
    (made,) = feed(Slicer((FAST,), rules(FAST)), fast(0, 10))
    assert list(made.channels) == list(FAST.channels)


def test_what_cannot_be_sliced_is_refused_at_the_start() -> None:
    with pytest.raises(ValueError, match="no group 0"):
        Slicer((SLOW,), rules(SLOW))
    with pytest.raises(ValueError, match="without a rule: normal_load_n"):
        Slicer((FAST, SLOW), rules(FAST))
    twin = GroupLayout(1, 10.0, IntegerType.INT16, ("motor_current_a",))
    with pytest.raises(ValueError, match="two places"):
        Slicer((FAST, twin), rules(FAST))
