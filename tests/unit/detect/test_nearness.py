"""How near each kind of scuffing evidence is to its limit: what is known, what is not, and that it decides nothing."""

import math
import random
from collections.abc import Callable, Iterator

import pytest
from slice_makers import bad, make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.nearness import Known, Near
from scuffwatch.detect.other_kinds import Kind
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, Level

Row = dict[str, ChannelSlice | float]
ALL = [
    "friction_rise_ratio",
    "burst_count",
    "once_per_turn_ratio",
    "sound_change_db",
    "unrest_ratio",
    "pin_heating_k_s",
]
HEALTHY_S = 30.0


def steady(seconds: float, change: Callable[[float, Row], None] = lambda t_s, row: None) -> Iterator[Slice]:
    """Give a contact at 200 N and a coefficient of 0.1, as `change(time in s, row)` alters it."""
    draw = random.Random(4)
    for k in range(round(100.0 * seconds)):
        row: Row = {
            "normal_load_n": draw.gauss(200.0, 0.8),
            "friction_force_n": draw.gauss(20.0, 0.4),
            "motor_current_a": draw.gauss(1.6, 0.01),
            "sound_level_db": draw.gauss(62.0, 0.3),
            "pin_temperature_degc": draw.gauss(60.0, 0.03),
            "ring_speed_rpm": draw.gauss(300.0, 0.5),
        }
        change(k / 100.0, row)
        yield make(k, row)


def bank() -> Bank:
    return Bank(BankParams(scuffing=ScuffParams()))


def after(slices: Iterator[Slice]) -> tuple[dict[str, Near], list[Finding]]:
    """Give how near each kind is after the last slice, and what was found up to then."""
    asked, found = bank(), []
    for s in slices:
        found += asked.update(s).new
    return {near.name: near for near in asked.nearness}, found


def without(*names: str) -> Callable[[float, Row], None]:
    def change(t_s: float, row: Row) -> None:
        for name in names:
            del row[name]

    return change


def multiply(row: Row, name: str, times: float) -> None:
    value = row[name]
    assert isinstance(value, float)
    row[name] = value * times


def test_before_the_first_slice_nothing_is_near() -> None:
    assert bank().nearness == ()
    assert Bank(BankParams()).nearness == ()


@pytest.mark.slow
def test_a_healthy_contact_is_far_from_every_limit() -> None:
    near, found = after(steady(HEALTHY_S))
    assert found == []
    assert list(near) == ALL
    assert {one.known for one in near.values()} == {Known.KNOWN}
    assert max(one.share for one in near.values()) < 0.5
    rise = near["friction_rise_ratio"]
    assert rise.value == pytest.approx(1.0, abs=0.02)
    assert rise.limit == pytest.approx(math.exp(ScuffParams().warn_rise))
    assert near["burst_count"].value == 0.0
    assert [near[name].unit for name in ALL] == ["", "", "", "dB", "", "K/s"]


def test_what_is_not_yet_learned_is_not_known_rather_than_0() -> None:
    near, _ = after(steady(4.0))
    assert list(near) == ALL
    learning = {name for name, one in near.items() if one.known is Known.LEARNING}
    assert {"friction_rise_ratio", "burst_count"} <= learning
    assert all(math.isnan(near[name].value) and math.isnan(near[name].share) for name in learning)
    assert all(math.isfinite(one.limit) for one in near.values())


def test_a_contact_that_does_not_slide_says_so() -> None:
    def lift(t_s: float, row: Row) -> None:
        if t_s > 10.0:
            multiply(row, "normal_load_n", 0.001)
            multiply(row, "friction_force_n", 0.001)

    near, _ = after(steady(12.0, lift))
    assert list(near) == ALL
    assert {one.known for one in near.values()} == {Known.NOT_SLIDING}
    assert all(math.isnan(one.value) and math.isnan(one.share) for one in near.values())


def test_a_kind_without_a_channel_is_left_out() -> None:
    near, _ = after(steady(8.0, without("sound_level_db", "pin_temperature_degc", "ring_speed_rpm")))
    assert list(near) == ["friction_rise_ratio", "burst_count", "unrest_ratio"]
    near, _ = after(steady(8.0, without("friction_force_n", "normal_load_n")))
    assert list(near) == ["sound_change_db", "pin_heating_k_s"]  # a current alone says nothing


def test_a_channel_that_gives_nothing_to_be_believed_is_left_out_while_it_does() -> None:
    def break_sound(t_s: float, row: Row) -> None:
        if t_s > 8.0:
            row["sound_level_db"] = bad(Reason.OVER_RANGE)

    near, _ = after(steady(9.0, break_sound))
    assert list(near) == [name for name in ALL if name != "sound_change_db"]


def test_without_a_friction_cell_the_torque_speaks() -> None:
    near, _ = after(steady(20.0, without("friction_force_n")))
    assert list(near)[:2] == ["torque_rise_ratio", "burst_count"]


def grow(t_s: float, row: Row) -> None:
    """Let friction rise by 2 % a second, and sound by 1 dB a second, after the healthy part."""
    since_s = max(0.0, t_s - HEALTHY_S)
    multiply(row, "friction_force_n", 1.0 + 0.04 * since_s)
    row["sound_level_db"] = 62.0 + since_s


@pytest.mark.slow
def test_in_a_scuffing_the_shares_grow_and_stand_at_their_limits_when_it_is_told() -> None:
    asked, shares = bank(), []
    for s in steady(HEALTHY_S + 20.0, grow):
        warned = [f for f in asked.update(s).new if f.level is Level.WARN]
        near = {one.name: one for one in asked.nearness}
        shares.append((near["friction_rise_ratio"].share, near["sound_change_db"].share))
        if warned:
            break
    rows = shares[round(HEALTHY_S * 100) :: 100]
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    assert warned
    evidence = {one.name: one for one in warned[0].evidence}
    assert near["friction_rise_ratio"].share >= 1.0
    assert near["friction_rise_ratio"].value == pytest.approx(evidence["friction_rise_ratio"].value)
    assert near["friction_rise_ratio"].limit == pytest.approx(evidence["friction_rise_ratio"].limit)
    assert near["sound_change_db"].share >= 1.0


@pytest.mark.slow
def test_bursts_are_counted_towards_how_many_are_enough() -> None:
    def burst(t_s: float, row: Row) -> None:
        if t_s > HEALTHY_S and (t_s - HEALTHY_S) % 8.0 < 0.2:
            multiply(row, "friction_force_n", 1.4)

    asked, seen = bank(), []
    for k, s in enumerate(steady(HEALTHY_S + 11.0, burst)):
        asked.update(s)
        if k % 100 == 99:
            seen.append(next(near for near in asked.nearness if near.name == "burst_count"))
    counts = [near.value for near in seen if near.known is Known.KNOWN]
    assert counts == sorted(counts)
    assert counts[-1] >= 1.0
    assert 0.0 < seen[-1].share < 1.0
    assert seen[-1].limit > counts[-1]


@pytest.mark.slow
def test_each_further_kind_counts_in_the_detector_exactly_from_its_share_of_1_on() -> None:
    names = {Kind.ACOUSTIC: "sound_change_db", Kind.VARIABILITY: "unrest_ratio", Kind.THERMAL: "pin_heating_k_s"}

    def shake(t_s: float, row: Row) -> None:
        since_s = max(0.0, t_s - HEALTHY_S)
        multiply(row, "friction_force_n", 1.0 + 0.02 * since_s * math.sin(30.0 * t_s))
        row["sound_level_db"] = 62.0 + 0.6 * since_s
        row["pin_temperature_degc"] = 60.0 + 0.06 * since_s**2

    asked, reached = bank(), set[Kind]()
    others = asked._scuffing._others  # type: ignore[union-attr]
    for s in steady(HEALTHY_S + 10.0, shake):
        asked.update(s)
        near = {one.name: one.share for one in asked.nearness}
        lasts = zip(Kind, (others._acoustic, others._variability, others._thermal), strict=True)
        now = {kind for kind, last in lasts if last.since_s == 0.0}
        assert now == {kind for kind, name in names.items() if near.get(name, 0.0) >= 1.0}, s.t_rig_s
        reached |= now
    assert reached == set(Kind)


@pytest.mark.slow
def test_to_ask_changes_nothing_that_is_found() -> None:
    asked, left = bank(), bank()
    for s in steady(HEALTHY_S + 15.0, grow):
        assert asked.update(s).new == left.update(s).new
        assert len(asked.nearness) == len(ALL)


@pytest.mark.slow
def test_the_limit_of_a_rise_is_out_of_the_noise_as_that_of_its_warning_is() -> None:
    """6 N of noise on 20 N, whose floor is three times as much: two standard deviations of one value are 0.32."""
    draw = random.Random(7)
    noisy, _ = after(steady(HEALTHY_S, lambda t_s, row: row.update(friction_force_n=draw.gauss(20.0, 6.0))))
    calm, _ = after(steady(HEALTHY_S))
    assert calm["friction_rise_ratio"].limit == pytest.approx(math.exp(0.2))
    assert noisy["friction_rise_ratio"].limit == pytest.approx(math.exp(0.32), rel=0.1)
