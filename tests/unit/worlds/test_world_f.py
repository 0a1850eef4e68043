"""The sixth simulated world keeps its contract: same arguments, same bits; rate and channels change only what is shown;
the truth fits its class and the stamps; the README counts."""

from collections import Counter
from dataclasses import replace
from math import isnan, nan

import numpy as np
import pytest

from world_f_made import BENCH, made, planned  # isort: skip

from world_b.values import (
    CHANNELS_OF,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Kind,
    Klass,
    Precursor,
    Recording,
    Tachometer,
)
from world_f import generate
from world_f.drives import start_a
from world_f.spoil import FAULTS, failed_of

pytestmark = [pytest.mark.slow, pytest.mark.long]
README = (BENCH / "world_f" / "README.md").read_text()
BRIEF = [klass for klass in Klass if klass is not Klass.ENDURANCE]
PLANS = 60
NIGHTS = (0, 2)


def bits(recording: Recording) -> list[bytes]:
    return [recording.time_s.tobytes(), *(read.tobytes() for read in recording.channels.values())]


def test_a_recording_is_the_same_when_made_again_and_another_seed_makes_another() -> None:
    klass = Klass.SCUFFING_WITH_FAULT
    once, twice = generate(7, klass, 20.0), generate(7, klass, 20.0)
    assert bits(once) == bits(twice)
    assert repr((once.rig, once.truth)) == repr((twice.rig, twice.truth))
    assert planned(7, klass) != planned(8, klass)


@pytest.mark.parametrize("klass", BRIEF)
def test_a_recording_fits_its_rig(klass: Klass) -> None:
    recording, inside = made(0, klass)
    rig, rows = recording.rig, len(recording.time_s)
    assert tuple(recording.channels) == CHANNELS_OF[ChannelSet.ALL] == tuple(rig.ranges)
    assert 0.95 * len(inside.t_s) <= rows <= len(inside.t_s)
    for name, read in recording.channels.items():
        low, high = rig.ranges[name]
        assert read.dtype == np.float64
        assert read.shape == (rows,)
        assert low <= np.nanmin(read) <= np.nanmax(read) <= high, name
    assert set(rig.limits) <= set(recording.channels)
    assert rig.ring_speed_rpm >= 60.0
    assert min(rig.loads_n) > 0.0
    assert (rig.pulses_per_turn == 0) == (rig.tachometer is Tachometer.ANALOGUE)


@pytest.mark.parametrize("klass", BRIEF)
def test_the_truth_tells_what_its_class_promises_and_no_more(klass: Klass) -> None:
    truth = made(0, klass)[0].truth
    scuffs = klass in (*SCUFFINGS, Klass.SEIZURE)
    there = {
        "onset_s": scuffs,
        "jam_s": klass is Klass.JAM,
        "overheat_s": klass is Klass.OVERHEAT,
        "supply_lost_s": klass is Klass.SUPPLY_LOST,
        "fault_s": klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT),
        "earliest_legitimate_trip_s": klass in (*TRIP_WORTHY, Klass.SUPPLY_LOST),
    }
    assert {name: not isnan(getattr(truth, name)) for name in there} == there
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert (truth.fault is not None) == there["fault_s"] == bool(truth.fault_channel)
    assert not isnan(truth.stall_s) or klass not in (Klass.SEIZURE, Klass.JAM)
    assert isnan(truth.stall_s) or scuffs or klass is Klass.JAM
    assert bool(truth.seen_by) == (klass in TRIP_WORTHY)


@pytest.mark.parametrize("klass", [klass for klass in BRIEF if klass in TRIP_WORTHY])
def test_moments_come_in_order_and_within_the_stamps(klass: Klass) -> None:
    for seed in range(2):
        recording = made(seed, klass)[0]
        truth, stamps = recording.truth, recording.time_s
        begin_s = truth.earliest_legitimate_trip_s
        later = [truth.onset_s, truth.severe_s, truth.stall_s, truth.jam_s, truth.overheat_s]
        assert stamps[0] < begin_s
        assert all(begin_s <= moment_s < stamps[-1] for moment_s in later if not isnan(moment_s))
        assert not truth.severe_s < truth.onset_s
        assert not truth.fault_s > begin_s
        assert truth.fault_channel not in truth.seen_by
        begins = [nuisance.t_s for nuisance in truth.nuisances]
        assert begins == sorted(begins)


@pytest.mark.parametrize("rate_hz", [5.0, 33.0, 2000.0])
def test_a_rate_changes_neither_the_rig_nor_what_happens(rate_hz: float) -> None:
    usual, other = made(1, Klass.SCUFFING_SHORT)[0], generate(1, Klass.SCUFFING_SHORT, rate_hz, ChannelSet.ALL)
    assert other.rig == usual.rig
    assert repr(replace(other.truth, seen_by=())) == repr(replace(usual.truth, seen_by=()))
    assert float(np.median(np.diff(other.time_s))) == pytest.approx(1.0 / rate_hz, rel=0.01)
    for name, read in usual.channels.items():
        assert np.nanmedian(other.channels[name]) == pytest.approx(np.nanmedian(read), rel=0.02, abs=0.3), name


@pytest.mark.parametrize("channel_set", [ChannelSet.LOAD_CELL, ChannelSet.CURRENT_AND_SPEED, ChannelSet.CURRENT_ONLY])
def test_a_forced_channel_set_shows_less_of_the_same_world(channel_set: ChannelSet) -> None:
    whole, part = made(2, Klass.SEIZURE)[0], generate(2, Klass.SEIZURE, 100.0, channel_set)
    assert part.rig.channel_set is channel_set
    assert tuple(part.channels) == CHANNELS_OF[channel_set]
    assert repr(replace(part.truth, seen_by=())) == repr(replace(whole.truth, seen_by=()))
    assert set(part.truth.seen_by) == set(whole.truth.seen_by) & set(part.channels)
    assert part.time_s.tobytes() == whole.time_s.tobytes()


@pytest.mark.parametrize(("seed", "rate_hz"), [(3, 4.99), (3, 2000.5), (3, nan), (-1, 100.0)])
def test_a_seed_or_rate_outside_is_refused_by_value_and_range(seed: int, rate_hz: float) -> None:
    with pytest.raises(ValueError, match=rf"({seed}|{rate_hz}) must be"):
        generate(seed, Klass.STAIRCASE, rate_hz)


def test_a_night_is_in_the_stamps_where_the_truth_says_so_and_only_a_set_clock_runs_backward() -> None:
    seen: Counter[Kind] = Counter()
    for seed in NIGHTS:
        recording = generate(seed, Klass.STARTS_AND_STOPS, 5.0)
        kinds = {nuisance.kind for nuisance in recording.truth.nuisances}
        steps = np.diff(recording.time_s)
        assert (steps.max() > 8.0 * 3600.0) == (Kind.DAY_BETWEEN in kinds)
        assert (steps.min() < 0.0) <= (Kind.BACKWARD_STAMPS in kinds)
        seen.update(kinds)
    assert seen[Kind.DAY_BETWEEN] > 0


@pytest.mark.parametrize("klass", list(Klass))
def test_the_readme_has_the_mean_length_of_a_class(klass: Klass) -> None:
    row = next(line for line in README.splitlines() if line.startswith(f"| {klass.value} |"))
    mean_min = float(np.mean([planned(seed, klass)[1].duration_s for seed in range(PLANS)])) / 60.0
    worthy = "yes" if klass in TRIP_WORTHY else "no"
    assert row.startswith(f"| {klass.value} | {mean_min:.0f} | {worthy} | ")


def test_the_readme_counts_the_nuisances_and_all_of_them_occur() -> None:
    plans = [planned(seed, klass) for klass in Klass for seed in range(PLANS)]
    kinds = Counter(kind for _, plan in plans for kind in {mishap.kind for mishap in plan.mishaps})
    flowing = " ".join(README.split())
    for kind in Kind:
        assert f"{kind.value} {100.0 * kinds[kind] / len(plans):.0f}" in flowing
        assert kinds[kind] >= 0.04 * len(plans), kind
    rails = sum(start_a(rig.motor) > rig.sensing.gauges["motor_current_a"].high for rig, _ in plans)
    assert rails == kinds[Kind.CURRENT_RAIL]


def test_every_drive_tachometer_channel_set_fault_and_precursor_occurs() -> None:
    plans = [planned(seed, klass) for klass in Klass for seed in range(PLANS)]
    rigs = [rig for rig, _ in plans]
    assert {rig.motor.kind for rig in rigs} == set(DriveKind)
    assert {rig.sensing.tachometer for rig in rigs} == set(Tachometer)
    sets = Counter(rig.channel_set for rig in rigs)
    assert set(sets) == set(ChannelSet)
    assert 0.4 < sets[ChannelSet.ALL] / len(rigs) < 0.6
    failed = [failed_of(plan, CHANNELS_OF[rig.channel_set]) for rig, plan in plans if plan.fault is not None]
    assert {each.fault for each in failed if each is not None} == set(FAULTS)
    assert {plan.scuffing.precursor for _, plan in plans if plan.scuffing is not None} == set(Precursor)


@pytest.mark.long
def test_an_endurance_run_lasts_about_an_hour_and_stays_healthy() -> None:
    recording = generate(0, Klass.ENDURANCE, 5.0)
    assert 2700.0 < recording.time_s[-1] < 4400.0
    assert not recording.truth.trip_worthy
