"""The derived friction coefficient: where it exists, what it is, and why it is missing."""

import math

import pytest

from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import FRICTION_FORCE, NORMAL_LOAD, Quality, Reason
from scuffwatch.signals.friction import FRICTION_COEFFICIENT, FrictionRule, derive

RULE = FrictionRule(load_min_n=10.0)


def value(
    mean: float, quality: Quality = Quality.GOOD, reason: Reason = Reason.NONE, age_s: float = 0.0
) -> ChannelSlice:
    return ChannelSlice(mean, mean - 1.0, mean + 1.0, quality, reason, age_s, True)


def coefficient(force: ChannelSlice, load: ChannelSlice) -> ChannelSlice:
    s = Slice(0, 0, 0.01, 0.01, 0.0, 0, {NORMAL_LOAD: load, FRICTION_FORCE: force})
    return derive(s, RULE).channels[FRICTION_COEFFICIENT]


def test_it_is_force_over_load() -> None:
    # worked example, "Rig propagation": 12.5 N over 98.0665 N gives 0.127465.
    made = coefficient(value(12.5), value(98.0665))
    assert made.mean == pytest.approx(0.127465, abs=5e-7)
    assert (made.low, made.high) == (11.5 / 98.0665, 13.5 / 98.0665)
    assert made.quality is Quality.GOOD


def test_the_sign_of_the_force_is_kept() -> None:
    assert coefficient(value(-20.0), value(100.0)).mean == -0.2


@pytest.mark.parametrize("load_n", [9.99, 0.0, -50.0])
def test_without_load_it_is_missing_and_nothing_is_wrong(load_n: float) -> None:
    made = coefficient(value(1.0), value(load_n))
    assert (made.quality, made.reason) == (Quality.BAD, Reason.MISSING)
    assert math.isnan(made.mean)


def test_it_is_bad_for_the_reason_its_source_is_bad_for() -> None:
    broken = value(math.nan, Quality.BAD, Reason.STUCK)
    for made in (coefficient(broken, value(100.0)), coefficient(value(10.0), broken)):
        assert (made.quality, made.reason) == (Quality.BAD, Reason.STUCK)
        assert math.isnan(made.mean)
    assert coefficient(broken, value(0.0)).reason is Reason.STUCK


def test_it_is_as_uncertain_and_as_old_as_the_worse_source() -> None:
    made = coefficient(value(10.0, age_s=0.001), value(100.0, Quality.UNCERTAIN, Reason.GAP, age_s=0.1))
    assert (made.quality, made.reason, made.age_s) == (Quality.UNCERTAIN, Reason.GAP, 0.1)


def test_the_slice_keeps_everything_else_and_the_order() -> None:
    s = Slice(2, 5, 0.06, 0.01, 0.03, 9, {NORMAL_LOAD: value(100.0), "x_n": value(1.0), FRICTION_FORCE: value(10.0)})
    made = derive(s, RULE)
    assert list(made.channels) == [NORMAL_LOAD, "x_n", FRICTION_FORCE, FRICTION_COEFFICIENT]
    assert (made.epoch, made.index, made.t_rig_s, made.duration_s, made.gap_before_s, made.frame_sequence) == (
        2,
        5,
        0.06,
        0.01,
        0.03,
        9,
    )
    assert FRICTION_COEFFICIENT not in s.channels


def test_a_rig_without_one_of_the_sources_has_none() -> None:
    s = Slice(0, 0, 0.01, 0.01, 0.0, 0, {FRICTION_FORCE: value(10.0)})
    assert derive(s, RULE) is s
