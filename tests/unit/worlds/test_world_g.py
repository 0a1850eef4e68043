"""The seventh simulated world keeps its contract: equal arguments give equal bits, each class holds its promise, the
truth is on the clock of the stamps, rate and channel set change only what is shown, and the README counts."""

from collections import Counter
from dataclasses import replace
from functools import cache
from math import isnan, nan

import numpy as np
import pytest

from world_g_made import BENCH, RATE_HZ, SEED_OF, made  # isort: skip

from world_b.values import (
    CHANNELS_OF,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Kind,
    Klass,
    Precursor,
    Tachometer,
)
from world_g import generate
from world_g.plan import Plan
from world_g.rig import Rig
from world_g.simulate import drawn

pytestmark = [pytest.mark.slow, pytest.mark.long]
README = (BENCH / "world_g" / "README.md").read_text()
FLOWING = " ".join(README.split())
EVENTS = [klass for klass in SEED_OF if klass in TRIP_WORTHY]
PLANS = 60


@cache
def planned() -> dict[Klass, list[tuple[Rig, Plan]]]:
    """Give rig and plan of the first try of many seeds, before any promise is looked at."""
    return {klass: [drawn(seed, klass, None, 0)[:2] for seed in range(PLANS)] for klass in Klass}


def test_equal_arguments_give_equal_bits_and_another_seed_another_rig() -> None:
    klass = Klass.SUPPLY_LOST
    first, again = made(klass)[0], generate(SEED_OF[klass], klass, RATE_HZ, ChannelSet.ALL)
    assert first.time_s.tobytes() == again.time_s.tobytes()
    for name, read in first.channels.items():
        assert read.tobytes() == again.channels[name].tobytes(), name
    assert (first.rig, repr(first.truth)) == (again.rig, repr(again.truth))
    assert len({rig.radius_m for rig, _ in planned()[klass]}) == PLANS


@pytest.mark.long
@pytest.mark.parametrize("klass", SEED_OF)
def test_rows_are_complete_within_the_rails_and_belong_to_a_sensible_rig(klass: Klass) -> None:
    recording, inside = made(klass)
    rig, rows = recording.rig, len(recording.time_s)
    assert tuple(recording.channels) == CHANNELS_OF[ChannelSet.ALL] == tuple(rig.ranges)
    assert 0.9 * len(inside.t_s) <= rows <= len(inside.t_s)
    for name, read in recording.channels.items():
        low, high = rig.ranges[name]
        assert read.dtype == np.float64
        assert read.shape == (rows,)
        assert low <= np.nanmin(read) <= np.nanmax(read) <= high, name
    assert set(rig.limits) <= set(recording.channels)
    assert 20.0 <= rig.ring_diameter_mm <= 100.0
    assert 50.0 <= rig.ring_speed_rpm <= 2000.0
    assert rig.no_load_current_a > 0.0
    assert min(rig.loads_n) > 0.0


@pytest.mark.parametrize("klass", SEED_OF)
def test_the_truth_names_what_its_class_promises_and_no_more(klass: Klass) -> None:
    truth = made(klass)[0].truth
    harmed = klass in (*SCUFFINGS, Klass.SEIZURE)
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert isnan(truth.onset_s) != harmed
    assert isnan(truth.jam_s) != (klass is Klass.JAM)
    assert isnan(truth.overheat_s) != (klass is Klass.OVERHEAT)
    assert isnan(truth.supply_lost_s) != (klass is Klass.SUPPLY_LOST)
    assert (truth.fault is not None) == (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
    assert isnan(truth.earliest_legitimate_trip_s) != (truth.trip_worthy or klass is Klass.SUPPLY_LOST)
    assert harmed or klass is Klass.JAM or isnan(truth.stall_s)
    assert klass not in (Klass.SEIZURE, Klass.JAM) or not isnan(truth.stall_s)
    assert harmed or truth.precursor is Precursor.NONE
    assert bool(truth.seen_by) == truth.trip_worthy


@pytest.mark.parametrize("klass", EVENTS)
def test_moments_are_in_order_and_within_the_stamps(klass: Klass) -> None:
    recording = made(klass)[0]
    truth, first_s = recording.truth, recording.truth.earliest_legitimate_trip_s
    moments = (truth.onset_s, truth.jam_s, truth.overheat_s, truth.severe_s, truth.stall_s)
    assert recording.time_s[0] < first_s
    assert all(first_s <= moment_s < recording.time_s[-1] for moment_s in moments if not isnan(moment_s))
    assert not truth.severe_s < truth.onset_s
    assert not truth.fault_s > first_s
    assert truth.fault_channel not in truth.seen_by
    assert [each.t_s for each in truth.nuisances] == sorted(each.t_s for each in truth.nuisances)


@pytest.mark.parametrize("rate_hz", [5.0, 2000.0])
def test_the_rate_changes_the_rows_and_not_the_world(rate_hz: float) -> None:
    usual, other = made(Klass.JAM)[0], generate(SEED_OF[Klass.JAM], Klass.JAM, rate_hz, ChannelSet.ALL)
    assert other.rig == usual.rig
    assert repr(replace(other.truth, seen_by=())) == repr(replace(usual.truth, seen_by=()))
    assert float(np.median(np.diff(other.time_s))) == pytest.approx(1.0 / rate_hz, rel=0.01)
    for name, read in usual.channels.items():
        assert np.nanmedian(other.channels[name]) == pytest.approx(np.nanmedian(read), rel=0.02, abs=0.3), name


@pytest.mark.long
@pytest.mark.parametrize("channel_set", [ChannelSet.LOAD_CELL])
def test_a_forced_channel_set_hides_channels_and_changes_none(channel_set: ChannelSet) -> None:
    full, part = made(Klass.JAM)[0], generate(SEED_OF[Klass.JAM], Klass.JAM, RATE_HZ, channel_set)
    assert part.rig.channel_set is channel_set
    assert tuple(part.channels) == CHANNELS_OF[channel_set]
    assert (part.truth.jam_s, part.truth.stall_s) == (full.truth.jam_s, full.truth.stall_s)
    assert part.time_s.tobytes() == full.time_s.tobytes()
    assert set(part.rig.limits) <= set(part.channels)


@pytest.mark.parametrize(
    ("seed", "rate_hz", "value"), [(0, 4.9, "4.9"), (0, 2001.0, "2001"), (0, nan, "nan"), (-1, 9.0, "-1")]
)
def test_arguments_outside_are_refused_with_value_and_range(seed: int, rate_hz: float, value: str) -> None:
    with pytest.raises(ValueError, match=rf"must be .*{value}"):
        generate(seed, Klass.JAM, rate_hz)


def test_every_kind_of_thing_occurs_and_half_of_the_rigs_have_all_channels() -> None:
    both = [pair for pairs in planned().values() for pair in pairs]
    rigs, plans = [rig for rig, _ in both], [plan for _, plan in both]
    assert {plan.fault.fault for plan in plans if plan.fault} == set(Fault)
    assert {plan.harm.precursor for plan in plans if plan.harm} == set(Precursor)
    assert {rig.motor.kind for rig in rigs} == set(DriveKind)
    assert {rig.sensing.tachometer for rig in rigs} == set(Tachometer)
    assert 0.4 < sum(rig.channel_set is ChannelSet.ALL for rig in rigs) / len(rigs) < 0.6
    assert {rig.channel_set for rig in rigs} == set(ChannelSet)


def test_nobody_touches_anything_from_the_first_sign_on() -> None:
    for plan in (plan for klass in EVENTS for _, plan in planned()[klass]):
        assert max(hang.t_s for hang in plan.hands.hangs) < plan.first_s
        assert max(at_s for at_s, _ in plan.hands.switches) < plan.first_s
        if plan.fault:
            assert plan.fault.t_s < plan.first_s


def _row(klass: Klass) -> list[str]:
    line = next(line for line in README.splitlines() if line.startswith(f"| {klass.value} |"))
    return [cell.strip() for cell in line.strip("|").split("|")]


@pytest.mark.parametrize("klass", list(Klass))
def test_the_readme_counts_lengths_and_says_what_is_trip_worthy(klass: Klass) -> None:
    _, length, worthy, _ = _row(klass)
    assert worthy == ("yes" if klass in TRIP_WORTHY else "no")
    if klass is not Klass.OVERHEAT:  # as long as it takes to pass the limit
        assert length == f"{np.mean([plan.duration_s for _, plan in planned()[klass]]) / 60.0:.0f}"


def test_the_readme_counts_the_nuisances_and_every_one_occurs() -> None:
    kinds = Counter(
        kind for pairs in planned().values() for _, plan in pairs for kind in {each.kind for each in plan.nuisances}
    )
    share = {kind: kinds[kind] / (PLANS * len(Klass)) for kind in Kind}
    assert [kind for kind in Kind if f"{kind.value} {100.0 * share[kind]:.0f}" not in FLOWING] == []
    assert min(share.values()) > 0.03


def test_a_night_and_a_clock_set_back_are_in_the_stamps_where_the_truth_says_so() -> None:
    recording = made(Klass.STARTS_AND_STOPS)[0]
    kinds = {each.kind for each in recording.truth.nuisances}
    steps_s = np.diff(recording.time_s)
    assert Kind.DAY_BETWEEN in kinds
    assert steps_s.max() > 3600.0
    assert Kind.BACKWARD_STAMPS in kinds or steps_s.min() >= 0.0
