"""The fifth simulated world keeps its contract: the same arguments give the same recording, every class is what it
promises, the truth is on the clock of the stamps, other rates and channel sets show the same world, the README
counts."""

from collections import Counter
from dataclasses import replace
from math import isnan, nan

import numpy as np
import pytest

from world_e_made import BENCH, made  # isort: skip

from world_b.values import CHANNELS_OF, SCUFFINGS, TRIP_WORTHY, ChannelSet, Kind, Klass
from world_e import generate
from world_e.motors import start_a
from world_e.plan import Plan
from world_e.plans import draw_plan
from world_e.rig import Rig
from world_e.rig_draws import draw_rig
from world_e.simulate import dice_of

pytestmark = [pytest.mark.slow, pytest.mark.long]
README = (BENCH / "world_e" / "README.md").read_text()
FLOWING = " ".join(README.split())
SHORT = [klass for klass in Klass if klass is not Klass.ENDURANCE]
EVENTS = [klass for klass in SHORT if klass in TRIP_WORTHY]
PLANS = 60


def planned(seed: int, klass: Klass) -> tuple[Rig, Plan]:
    """Give rig and plan of the first try, before any promise is looked at."""
    for_rig, for_plan, *_ = dice_of(seed, klass, 0)
    rig = draw_rig(for_rig, None)
    return rig, draw_plan(for_plan, rig, klass)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_SHORT, Klass.SENSOR_FAULT])
def test_the_same_arguments_give_the_same_bits_and_another_seed_another_rig(klass: Klass) -> None:
    first, again = generate(4, klass, 50.0), generate(4, klass, 50.0)
    assert first.time_s.tobytes() == again.time_s.tobytes()
    assert {name: read.tobytes() for name, read in first.channels.items()} == {
        name: read.tobytes() for name, read in again.channels.items()
    }
    assert (first.rig, repr(first.truth)) == (again.rig, repr(again.truth))
    assert planned(4, klass) != planned(5, klass)


@pytest.mark.parametrize("klass", SHORT)
def test_a_recording_has_its_channels_within_their_rails_and_a_rig_that_fits(klass: Klass) -> None:
    recording, inside = made(1, klass)
    rig, count = recording.rig, len(recording.time_s)
    assert tuple(recording.channels) == CHANNELS_OF[ChannelSet.ALL] == tuple(rig.ranges)
    assert all(read.dtype == np.float64 and read.shape == (count,) for read in recording.channels.values())
    assert 0.9 * len(inside.t_s) <= count <= len(inside.t_s)
    assert set(rig.limits) <= set(recording.channels)
    assert min(rig.loads_n) > 0.0
    assert 20.0 <= rig.ring_diameter_mm <= 100.0
    assert 50.0 <= rig.ring_speed_rpm <= 3000.0
    for name, read in recording.channels.items():
        low, high = rig.ranges[name]
        well = read[~np.isnan(read)]
        assert low - 1.1 * (high - low) <= well.min() <= well.max() <= high + 0.03 * (high - low), name


@pytest.mark.parametrize("klass", SHORT)
def test_the_truth_has_what_its_class_has_and_nothing_else(klass: Klass) -> None:
    truth = made(1, klass)[0].truth
    scuffs = klass in (*SCUFFINGS, Klass.SEIZURE)
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert isnan(truth.onset_s) != scuffs
    assert isnan(truth.jam_s) != (klass is Klass.JAM)
    assert isnan(truth.overheat_s) != (klass is Klass.OVERHEAT)
    assert isnan(truth.supply_lost_s) != (klass is Klass.SUPPLY_LOST)
    assert (truth.fault is not None) == (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
    assert isnan(truth.earliest_legitimate_trip_s) != (truth.trip_worthy or klass is Klass.SUPPLY_LOST)
    assert isnan(truth.stall_s) or scuffs or klass is Klass.JAM
    if klass in (Klass.SEIZURE, Klass.JAM):
        assert not isnan(truth.stall_s)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("klass", EVENTS)
def test_times_of_the_truth_are_in_order_and_within_the_stamps(klass: Klass, seed: int) -> None:
    recording = made(seed, klass)[0]
    truth, stamps = recording.truth, recording.time_s
    first_s = truth.earliest_legitimate_trip_s
    moments = [truth.onset_s, truth.jam_s, truth.overheat_s, truth.severe_s, truth.stall_s]
    assert stamps[0] < first_s
    assert all(first_s <= moment_s < stamps[-1] for moment_s in moments if not isnan(moment_s))
    assert not truth.severe_s < truth.onset_s
    assert truth.fault_channel not in truth.seen_by
    assert [nuisance.t_s for nuisance in truth.nuisances] == sorted(nuisance.t_s for nuisance in truth.nuisances)


@pytest.mark.parametrize("rate_hz", [5.0, 40.0, 2000.0])
def test_another_rate_shows_the_same_world(rate_hz: float) -> None:
    usual, other = made(2, Klass.SCUFFING_SUDDEN)[0], generate(2, Klass.SCUFFING_SUDDEN, rate_hz, ChannelSet.ALL)
    assert other.rig == usual.rig
    bare = {"seen_by": (), "nuisances": ()}
    assert repr(replace(other.truth, **bare)) == repr(replace(usual.truth, **bare))  # type: ignore[arg-type]
    assert float(np.median(np.diff(other.time_s))) == pytest.approx(1.0 / rate_hz, rel=0.01)
    for name, read in usual.channels.items():
        assert np.nanmedian(other.channels[name]) == pytest.approx(np.nanmedian(read), rel=0.02, abs=0.3), name


@pytest.mark.parametrize("channel_set", list(ChannelSet))
def test_a_forced_channel_set_changes_only_what_is_shown(channel_set: ChannelSet) -> None:
    full, part = made(3, Klass.JAM)[0], generate(3, Klass.JAM, 100.0, channel_set)
    assert part.rig.channel_set is channel_set
    assert tuple(part.channels) == CHANNELS_OF[channel_set]
    assert (part.truth.jam_s, part.truth.stall_s) == (full.truth.jam_s, full.truth.stall_s)
    assert part.time_s.tobytes() == full.time_s.tobytes()


@pytest.mark.parametrize(("seed", "rate_hz"), [(0, 4.9), (0, 2001.0), (0, nan), (-1, 100.0)])
def test_arguments_outside_are_refused_with_value_and_range(seed: int, rate_hz: float) -> None:
    with pytest.raises(ValueError, match=r"must be"):
        generate(seed, Klass.JAM, rate_hz)


@pytest.mark.long
def test_stamps_jump_by_a_night_and_run_backward_where_the_truth_says_so() -> None:
    found: Counter[Kind] = Counter()
    for seed in range(8):
        recording = generate(seed, Klass.STARTS_AND_STOPS, 10.0)
        kinds = {nuisance.kind for nuisance in recording.truth.nuisances}
        steps = np.diff(recording.time_s)
        assert (steps.max() > 3600.0) == (Kind.DAY_BETWEEN in kinds)
        assert Kind.BACKWARD_STAMPS in kinds or steps.min() >= 0.0
        found.update(kinds)
    assert found[Kind.DAY_BETWEEN] > 0


def _row(name: str) -> list[str]:
    line = next(line for line in README.splitlines() if line.startswith(f"| {name} |"))
    return [cell.strip() for cell in line.strip("|").split("|")]


@pytest.mark.parametrize("klass", [klass for klass in Klass if klass is not Klass.OVERHEAT])
def test_the_readme_counts_lengths_and_says_what_is_trip_worthy(klass: Klass) -> None:
    mean_min = np.mean([planned(seed, klass)[1].duration_s for seed in range(PLANS)]) / 60.0
    _, length, worthy, _ = _row(klass.value)
    assert length == f"{mean_min:.0f}"
    assert worthy == ("yes" if klass in TRIP_WORTHY else "no")


@pytest.mark.long
def test_an_endurance_run_lasts_about_an_hour_and_the_readme_counts_the_length_of_an_overheat() -> None:
    assert 2600.0 < len(generate(0, Klass.ENDURANCE, 5.0).time_s) / 5.0 < 4600.0
    lengths_s = [len(generate(seed, Klass.OVERHEAT, 5.0).time_s) / 5.0 for seed in range(6)]
    assert float(_row(Klass.OVERHEAT.value)[1]) == round(float(np.mean(lengths_s)) / 60.0)


def test_the_readme_counts_the_nuisances_and_every_one_occurs() -> None:
    kinds: Counter[Kind] = Counter()
    rails = 0
    for klass in Klass:
        for seed in range(PLANS):
            rig, plan = planned(seed, klass)
            kinds.update({nuisance.kind for nuisance in plan.nuisances})
            rails += start_a(rig.motor) > rig.sensing.current_full_a
    kinds[Kind.CURRENT_RAIL] = rails
    count = PLANS * len(Klass)
    said = {kind: f"{kind.value} {100.0 * kinds[kind] / count:.0f}" for kind in Kind}
    assert [words for words in said.values() if words not in FLOWING] == []
    assert min(kinds[kind] / count for kind in Kind) > 0.04
