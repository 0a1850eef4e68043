"""The eighth simulated world over many seeds: every class keeps its promise, nobody touches anything near an event."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

import world_h
from world_b.values import SCUFFINGS, TRIP_WORTHY, ChannelSet, Kind, Klass, Precursor

CONTACTS = (*SCUFFINGS, Klass.SEIZURE)
HANDS = (
    Kind.SET_DOWN_TWICE,
    Kind.HARD_SET_DOWN,
    Kind.TAKEN_OFF_AGAIN,
    Kind.LIFTED,
    Kind.BUMP,
    Kind.PAUSE,
    Kind.RESTART_BEFORE_REST,
    Kind.INCHING,
    Kind.DAY_BETWEEN,
    Kind.HOLES,
    Kind.DUPLICATE_STAMPS,
    Kind.BACKWARD_STAMPS,
    Kind.BRIEF_DIP,
)


@pytest.mark.long
@pytest.mark.parametrize("klass", list(Klass))
def test_every_class_keeps_its_promise_over_many_seeds(klass: Klass) -> None:
    for seed in range(2 if klass is Klass.ENDURANCE else 12):
        recording = world_h.generate(seed + 100, klass, 20.0)
        truth, end_s = recording.truth, float(recording.time_s[-1])
        assert truth.trip_worthy == (klass in TRIP_WORTHY)
        assert (truth.fault is not None) == (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
        assert (truth.precursor is not Precursor.NONE) <= (klass in CONTACTS)
        assert (Kind.STICK_SLIP in [one.kind for one in truth.nuisances]) >= (klass is Klass.STICK_SLIP)
        assert (Kind.SQUEAL in [one.kind for one in truth.nuisances]) >= (klass is Klass.SQUEAL)
        if klass is Klass.OVERHEAT:
            assert 0.0 <= truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
            assert truth.overheat_s < end_s
        if klass in CONTACTS:
            lead_s = truth.onset_s - truth.earliest_legitimate_trip_s
            assert (lead_s == 0.0) == (truth.precursor is Precursor.NONE)
            assert (lead_s >= 30.0) >= (klass is Klass.SCUFFING_LONG)
        if klass in (Klass.SEIZURE, Klass.JAM):
            assert truth.stall_s < end_s - 2.0


@pytest.mark.long
def test_nobody_touches_anything_from_three_seconds_before_the_first_sign() -> None:
    kinds: set[Kind] = set()
    for klass in (*TRIP_WORTHY, Klass.SUPPLY_LOST):
        for seed in range(8):
            truth = world_h.generate(seed + 300, klass, 10.0).truth
            first_s = truth.supply_lost_s if klass is Klass.SUPPLY_LOST else truth.earliest_legitimate_trip_s
            if klass is Klass.OVERHEAT:
                first_s = truth.overheat_s
            touched = [one for one in truth.nuisances if one.kind in HANDS]
            kinds |= {one.kind for one in truth.nuisances}
            assert all(one.t_s + one.duration_s <= first_s - 3.0 for one in touched if one.kind is not Kind.DAY_BETWEEN)
    assert len(kinds) > 20


@pytest.mark.long
def test_about_half_of_the_rigs_have_all_channels_and_every_nuisance_turns_up() -> None:
    recordings = [
        world_h.generate(seed, klass, 5.0) for seed in range(700, 716) for klass in set(Klass) - {Klass.ENDURANCE}
    ]
    everything = [one.rig.channel_set is ChannelSet.ALL for one in recordings]
    assert 0.4 < np.mean(everything) < 0.6
    assert {nuisance.kind for one in recordings for nuisance in one.truth.nuisances} == set(Kind)
