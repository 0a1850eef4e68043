"""The eighth simulated world keeps its promises: same bits, every class, honest truth, nuisances where they may be."""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

import world_h
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    NORMAL_LOAD,
    PIN_TEMPERATURE,
    RING_SPEED,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Klass,
    Recording,
)
from world_h.acts import SLOW
from world_h.events import lay_over
from world_h.promise import broken
from world_h.stamps import clock
from world_h.state import State
from world_h.turning import turn, turn_until
from world_h.world import fine
from world_h_made import RATE_HZ, made, rig_with, running, turned, world

pytestmark = [pytest.mark.slow, pytest.mark.long]

CONTACTS = (*SCUFFINGS, Klass.SEIZURE)
NIGHT_SEED = 4
"""Of a sudden scuffing after a night."""
EASY = (Klass.SCUFFING_SUDDEN, Klass.JAM, Klass.SEIZURE, Klass.SUPPLY_LOST)


def same(one: Recording, other: Recording) -> bool:
    """Give whether two recordings are the same to the bit, missing values and truth included."""
    return (
        one.time_s.tobytes() == other.time_s.tobytes()
        and list(one.channels) == list(other.channels)
        and all(one.channels[name].tobytes() == other.channels[name].tobytes() for name in one.channels)
        and repr(one.rig) == repr(other.rig)
        and repr(one.truth) == repr(other.truth)
    )


def test_same_arguments_give_the_same_bits_and_another_seed_does_not() -> None:
    again = world_h.generate(3, Klass.SCUFFING_SUDDEN, RATE_HZ, ChannelSet.ALL)
    assert same(made(Klass.SCUFFING_SUDDEN), again)
    assert not same(made(Klass.SCUFFING_SUDDEN), made(Klass.SCUFFING_SUDDEN, NIGHT_SEED))


def test_rig_and_story_do_not_depend_on_the_rate() -> None:
    slow, fast = world_h.generate(3, Klass.SCUFFING_SUDDEN, 10.0, ChannelSet.ALL), made(Klass.SCUFFING_SUDDEN)
    assert repr(slow.rig) == repr(fast.rig)
    assert repr(replace(slow.truth, seen_by=())) == repr(replace(fast.truth, seen_by=()))
    assert len(slow.time_s) == pytest.approx(len(fast.time_s) * 10.0 / RATE_HZ, abs=5.0)
    before = [one.time_s < one.truth.onset_s for one in (slow, fast)]
    for name in (NORMAL_LOAD, FRICTION_FORCE, PIN_TEMPERATURE, RING_SPEED):
        means = [np.nanmean(one.channels[name][part]) for one, part in zip((slow, fast), before, strict=True)]
        assert means[0] == pytest.approx(means[1], rel=0.02)


@pytest.mark.parametrize("rate_hz", [4.9, 2001.0, float("nan")])
def test_a_rate_outside_the_range_is_refused(rate_hz: float) -> None:
    with pytest.raises(ValueError, match=r"allowed 5\.\.2000 Hz"):
        world_h.generate(3, Klass.SCUFFING_SUDDEN, rate_hz)


@pytest.mark.parametrize("fitted", list(ChannelSet))
def test_the_channels_are_those_fitted(fitted: ChannelSet) -> None:
    recording = world_h.generate(3, Klass.SCUFFING_SUDDEN, 5.0, fitted)
    assert tuple(recording.channels) == CHANNELS_OF[fitted]
    assert set(recording.rig.ranges) == set(recording.channels) >= set(recording.rig.limits)
    for name, values in recording.channels.items():
        low, high = recording.rig.ranges[name]
        assert len(values) == len(recording.time_s)
        assert np.nanmin(values) >= low
        assert np.nanmax(values) <= high


def test_the_clock_of_the_stamps_jumps_over_a_night_and_so_does_the_truth() -> None:
    recording, there = made(Klass.SCUFFING_SUDDEN, NIGHT_SEED), world(Klass.SCUFFING_SUDDEN, NIGHT_SEED)
    [(night_s, length_s)] = there.plan.nights
    assert np.max(np.diff(recording.time_s)) == pytest.approx(length_s, abs=1.0 / RATE_HZ + 2.0)
    assert 7.0 * 3600.0 <= length_s <= 17.0 * 3600.0
    assert recording.truth.onset_s == pytest.approx(there.plan.first_sign_s + length_s)
    assert clock(there.plan, np.array([night_s - 1.0, night_s + 1.0])) == pytest.approx(
        [night_s - 1.0, night_s + 1.0 + length_s]
    )


@pytest.mark.parametrize("klass", EASY)
def test_truth_is_in_order(klass: Klass) -> None:
    truth, end_s = made(klass).truth, float(made(klass).time_s[-1])
    times = [truth.earliest_legitimate_trip_s, truth.onset_s, truth.stall_s, end_s]
    known = [at_s for at_s in times if not math.isnan(at_s)]
    assert known == sorted(known)
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert math.isnan(truth.onset_s) == (klass not in CONTACTS)
    assert math.isnan(truth.jam_s) == (klass is not Klass.JAM)
    assert math.isnan(truth.stall_s) == (klass is not Klass.SEIZURE and klass is not Klass.JAM)
    assert math.isnan(truth.supply_lost_s) == (klass is not Klass.SUPPLY_LOST)
    if klass is Klass.SEIZURE:
        assert truth.onset_s < truth.severe_s < truth.stall_s


def test_severe_is_three_times_the_force_of_the_two_seconds_before_the_first_sign() -> None:
    inside, truth = world_h.simulate(3, Klass.SCUFFING_SUDDEN), made(Klass.SCUFFING_SUDDEN).truth
    usual_n = inside.friction_force_n[fine(truth.onset_s - 2.0) : fine(truth.onset_s)].mean()
    at = fine(truth.severe_s)
    assert inside.friction_force_n[at - 9 : at + 1].mean() >= 3.0 * usual_n
    assert inside.friction_force_n[at - 10 : at].mean() < 3.0 * usual_n


def test_a_stalled_ring_stands_while_its_motor_is_supplied() -> None:
    inside, truth = world_h.simulate(10, Klass.SEIZURE), made(Klass.SEIZURE).truth
    set_rad_s = world(Klass.SEIZURE).rig.set_rad_s
    at = fine(truth.stall_s)
    assert inside.on[at:].all()
    assert inside.ring_speed_rad_s[at] < 0.02 * set_rad_s <= inside.ring_speed_rad_s[at - 1]


def test_without_its_event_the_world_is_the_same_up_to_the_first_sign_and_healthy_after() -> None:
    there = world(Klass.SCUFFING_SUDDEN)
    first = fine(there.plan.first_sign_s)
    assert there.course.friction_n[:first].tobytes() == there.still.friction_n[:first].tobytes()
    usual_n = there.still.friction_n[first - 400 : first].mean()
    assert there.still.friction_n[first:].max() < 1.6 * usual_n
    assert there.course.friction_n[first:].max() > 2.0 * usual_n


def test_forking_at_the_first_sign_gives_what_one_turn_would_give() -> None:
    rig = rig_with(DriveKind.BRUSHED_LIMITED)
    acts = running(0.7 * rig.lever.top_load_n, 12.0)
    whole, _ = turned(rig, acts)
    before, forked = turn_until(rig, acts, State(rig, np.ones(len(acts.film)), 0.5), 70)
    joined = turn(rig, acts, forked, before, 70)
    assert len(before.friction_n) == 70 * SLOW
    assert joined.friction_n.tobytes() == whole.friction_n.tobytes()
    assert joined.pin_degc.tobytes() == whole.pin_degc.tobytes()


def test_a_jam_is_seen_by_current_and_speed_and_its_friction_does_not_rise() -> None:
    truth, there = made(Klass.JAM).truth, world(Klass.JAM)
    assert {MOTOR_CURRENT, RING_SPEED} <= set(truth.seen_by)
    begin = fine(truth.jam_s)
    assert there.course.friction_n[begin + 400 :].max() < there.course.friction_n[begin - 400 : begin].mean()


def test_seen_by_names_only_fitted_channels_that_still_work() -> None:
    assert FRICTION_FORCE in made(Klass.SCUFFING_SUDDEN).truth.seen_by
    alone = made(Klass.SCUFFING_SUDDEN, None, ChannelSet.CURRENT_ONLY).truth
    assert set(alone.seen_by) <= {MOTOR_CURRENT}
    failed = made(Klass.SCUFFING_WITH_FAULT).truth
    if failed.fault in (Fault.STUCK, Fault.SATURATED, Fault.DROPOUT, Fault.TACHOMETER_LOST, Fault.OPEN_THERMOCOUPLE):
        assert failed.fault_channel not in failed.seen_by
    assert failed.fault_s < failed.earliest_legitimate_trip_s


def test_limits_are_clear_of_what_the_healthy_run_reaches() -> None:
    for klass in EASY:
        there, limits = world(klass), made(klass).rig.limits
        assert limits[PIN_TEMPERATURE] >= there.still.pin_degc.max() + 15.0
        assert limits[FRICTION_FORCE] >= 1.5 * there.still.friction_n[::100].mean()
        running = there.still.ring_rad_s > 0.9 * there.rig.set_rad_s
        assert limits[MOTOR_CURRENT] >= 1.5 * np.median(there.still.current_a[running])


def test_a_world_that_breaks_its_promise_is_told_from_one_that_keeps_it() -> None:
    there = world(Klass.SCUFFING_SUDDEN)
    assert broken(there) == ""
    assert broken(replace(there, course=there.still)) == "a scuffing raises the force and stays"
    assert broken(replace(there, still=there.course)) == "a healthy contact stays healthy"
    halted = replace(there.still, ring_rad_s=np.zeros_like(there.still.ring_rad_s))
    assert broken(replace(there, still=halted)) == "the motor turns the healthy ring"
    jam = world(Klass.JAM)
    assert broken(jam) == ""
    assert broken(replace(jam, course=jam.still)) == "the motor stalls"


def test_laying_an_event_over_leaves_the_healthy_acts_alone() -> None:
    there = world(Klass.JAM)
    before = there.still_acts.copy()
    changed = lay_over(np.random.default_rng(1), there.rig, there.event, 20.0, there.still_acts)
    assert changed.jam_nm.max() > there.rig.motor.stall_nm or there.rig.motor.belt_nm < there.rig.motor.stall_nm
    assert all(
        getattr(before, name).tobytes() == getattr(there.still_acts, name).tobytes()
        for name in before.__dataclass_fields__
    )
