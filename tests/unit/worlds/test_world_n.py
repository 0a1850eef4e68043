"""The painted world keeps its contract: same arguments, same recording; truth in order; every value comes about."""

import dataclasses
import math
from collections import Counter
from functools import cache

import numpy as np
import pytest
from world_n_made import simulate

from world_b.values import (  # isort: skip
    CHANNELS_OF,
    FRICTION_FORCE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Inside,
    Kind,
    Klass,
    Precursor,
    Recording,
    Tachometer,
    Truth,
)
from world_n import generate  # isort: skip

pytestmark = [pytest.mark.slow, pytest.mark.long]

FIRST_SEED = 0
MORE_SEEDS = range(1, 13)
SEEDS = [FIRST_SEED, *(pytest.param(seed, marks=pytest.mark.long) for seed in MORE_SEEDS)]
MANY_SEEDS = 60
SHORTEST_S, LONGEST_S = 120.0, 1600.0
HEALTHY = tuple(k for k in Klass if k not in TRIP_WORTHY and k is not Klass.SUPPLY_LOST)

every_class = pytest.mark.parametrize("klass", list(Klass), ids=lambda k: k.name)
every_seed = pytest.mark.parametrize("seed", SEEDS)


@cache
def made(seed: int, klass: Klass) -> tuple[Recording, Inside]:
    return simulate(seed, klass)


def times_of(truth: Truth) -> dict[str, float]:
    return {f.name: getattr(truth, f.name) for f in dataclasses.fields(truth) if f.name.endswith("_s")}


@every_class
def test_same_arguments_give_the_same_recording(klass: Klass) -> None:
    first, again = made(FIRST_SEED, klass)[0], generate(FIRST_SEED, klass)
    assert np.array_equal(first.time_s, again.time_s)
    assert all(np.array_equal(first.channels[c], again.channels[c], equal_nan=True) for c in first.channels)
    assert repr(first.truth) == repr(again.truth)
    assert first.rig == again.rig


def test_another_seed_or_class_gives_another_rig() -> None:
    usual, seed, klass = made(0, Klass.JAM)[0], made(1, Klass.JAM)[0], made(0, Klass.SEIZURE)[0]
    assert usual.rig != seed.rig
    assert usual.rig.ring_speed_rpm != klass.rig.ring_speed_rpm


@every_class
@every_seed
def test_columns_have_the_shape_of_the_stamps(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    assert tuple(recording.channels) == CHANNELS_OF[recording.rig.channel_set]
    assert recording.time_s.dtype == np.float64
    assert all(c.shape == recording.time_s.shape and c.dtype == np.float64 for c in recording.channels.values())
    assert SHORTEST_S < len(inside.t_s) / 100.0 < LONGEST_S
    assert np.allclose(np.diff(inside.t_s), 0.01)
    for field in dataclasses.fields(inside):
        value = getattr(inside, field.name)
        if isinstance(value, np.ndarray):
            assert value.shape == inside.t_s.shape
            assert np.all(np.isfinite(value))
        else:
            assert math.isfinite(value)


@every_class
@every_seed
def test_samples_are_missing_only_where_the_truth_says_so(seed: int, klass: Klass) -> None:
    recording, _ = made(seed, klass)
    truth = recording.truth
    told = {n.kind for n in truth.nuisances}
    for name, column in recording.channels.items():
        missing = np.count_nonzero(np.isnan(column))
        if name == truth.fault_channel and truth.fault in (Fault.DROPOUT, Fault.OPEN_THERMOCOUPLE):
            assert not np.all(np.isnan(column[recording.time_s < truth.fault_s]))
        elif Kind.SHORT_DROPOUTS in told:
            assert missing < 0.05 * len(column)
        else:
            assert missing == 0


@every_class
@every_seed
def test_ranges_cover_the_data(seed: int, klass: Klass) -> None:
    recording, _ = made(seed, klass)
    assert set(recording.rig.ranges) == set(recording.channels)
    assert set(recording.rig.limits) <= set(recording.channels)
    for name, column in recording.channels.items():
        low, high = recording.rig.ranges[name]
        if recording.truth.fault is Fault.OPEN_THERMOCOUPLE and name == recording.truth.fault_channel:
            continue
        assert low - 1e-9 <= np.nanmin(column)
        assert np.nanmax(column) <= high + 1e-9


@every_class
@every_seed
def test_truth_is_in_order_and_within_the_recording(seed: int, klass: Klass) -> None:
    recording, _ = made(seed, klass)
    truth = recording.truth
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    for name, t_s in times_of(truth).items():
        assert math.isnan(t_s) or recording.time_s[0] <= t_s <= recording.time_s.max(), name
    has_event = klass in TRIP_WORTHY or klass is Klass.SUPPLY_LOST
    assert has_event != math.isnan(truth.earliest_legitimate_trip_s)
    scuffs = klass in (*SCUFFINGS, Klass.SEIZURE)
    assert scuffs != math.isnan(truth.onset_s)
    assert (klass in (Klass.SEIZURE, Klass.JAM)) != math.isnan(truth.stall_s)
    assert (klass is Klass.JAM) != math.isnan(truth.jam_s)
    assert (klass is Klass.OVERHEAT) != math.isnan(truth.overheat_s)
    assert (klass is Klass.SUPPLY_LOST) != math.isnan(truth.supply_lost_s)
    assert (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT)) != math.isnan(truth.fault_s)
    assert not (truth.severe_s < truth.onset_s) or math.isnan(truth.severe_s)
    for later_s in (truth.onset_s, truth.stall_s, truth.overheat_s):
        assert math.isnan(later_s) or truth.earliest_legitimate_trip_s <= later_s
    assert math.isnan(truth.fault_s) or math.isnan(truth.onset_s) or truth.fault_s < truth.earliest_legitimate_trip_s
    starts_s = [n.t_s for n in truth.nuisances]
    assert starts_s == sorted(starts_s)


@every_class
@every_seed
def test_what_asks_for_a_trip_is_seen(seed: int, klass: Klass) -> None:
    recording, _ = made(seed, klass)
    seen = recording.truth.seen_by
    assert set(seen) <= set(recording.channels)
    assert bool(seen) == (klass in TRIP_WORTHY)


@every_class
@every_seed
def test_precursor_belongs_to_the_class(seed: int, klass: Klass) -> None:
    truth = made(seed, klass)[0].truth
    ahead_s = truth.onset_s - truth.earliest_legitimate_trip_s
    if klass is Klass.SCUFFING_LONG:
        assert truth.precursor is not Precursor.NONE
        assert ahead_s >= 20.0
    elif klass is Klass.SCUFFING_SHORT:
        assert truth.precursor is not Precursor.NONE
        assert 1.0 < ahead_s < 40.0
    elif klass is Klass.SCUFFING_SUDDEN or klass not in (*SCUFFINGS, Klass.SEIZURE):
        assert truth.precursor is Precursor.NONE


@every_class
@every_seed
def test_no_nuisance_of_the_contact_close_to_the_event(seed: int, klass: Klass) -> None:
    truth = made(seed, klass)[0].truth
    begin_s = truth.onset_s if not math.isnan(truth.onset_s) else truth.earliest_legitimate_trip_s
    for nuisance in truth.nuisances:
        if nuisance.t_s > 0.0 and nuisance.kind is not Kind.COARSE_TEMPERATURE and not math.isnan(begin_s):
            assert not begin_s - 10.0 < nuisance.t_s < begin_s + 20.0


@pytest.mark.parametrize(
    "rate_hz", [10.0, *(pytest.param(rate_hz, marks=pytest.mark.long) for rate_hz in (37.0, 1000.0))]
)
@every_class
def test_another_rate_shows_the_same_rig_plan_and_truth(klass: Klass, rate_hz: float) -> None:
    usual, other = made(FIRST_SEED, klass), simulate(FIRST_SEED, klass, rate_hz=rate_hz)
    assert usual[0].rig == other[0].rig
    assert repr(usual[0].truth) == repr(other[0].truth)
    assert len(other[1].t_s) == pytest.approx(len(usual[1].t_s) * rate_hz / 100.0, abs=rate_hz / 100.0 + 1.0)
    if rate_hz == 10.0:
        assert np.allclose(usual[1].friction_force_n[::10][: len(other[1].t_s)], other[1].friction_force_n)
        assert np.allclose(usual[1].pin_temperature_degc[::10][: len(other[1].t_s)], other[1].pin_temperature_degc)


@pytest.mark.parametrize("channel_set", list(ChannelSet), ids=lambda c: c.name)
@pytest.mark.parametrize("klass", [Klass.SCUFFING_SUDDEN, Klass.SCUFFING_WITH_FAULT, Klass.JAM], ids=lambda k: k.name)
def test_a_channel_set_may_be_asked_for(klass: Klass, channel_set: ChannelSet) -> None:
    recording = generate(FIRST_SEED, klass, channel_set=channel_set)
    assert tuple(recording.channels) == CHANNELS_OF[channel_set]
    assert recording.truth.seen_by


@pytest.mark.parametrize("rate_hz", [0.0, 9.9, 1001.0, float("nan")])
def test_a_rate_out_of_range_is_refused(rate_hz: float) -> None:
    with pytest.raises(ValueError, match="rate"):
        generate(FIRST_SEED, Klass.STAIRCASE, rate_hz=rate_hz)


def test_a_negative_seed_is_refused() -> None:
    with pytest.raises(ValueError, match="seed"):
        generate(-1, Klass.STAIRCASE)


@pytest.mark.parametrize("klass", HEALTHY, ids=lambda k: k.name)
@every_seed
def test_healthy_friction_and_heat_stay_below_their_limits(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    limits, there = recording.rig.limits, set(recording.channels)
    loaded = inside.normal_load_n > 0.05 * inside.normal_load_n.max()
    assert np.max(inside.friction_force_n[loaded] / inside.normal_load_n[loaded]) < 0.4
    assert np.max(inside.friction_force_n) < limits.get(FRICTION_FORCE, math.inf)
    for name in there & {"pin_temperature_degc", "bath_temperature_degc"}:
        assert np.max(getattr(inside, name)) < limits[name] - 5.0


@pytest.mark.long
def test_every_value_comes_about() -> None:
    found: Counter[object] = Counter()
    lengths_s = []
    for klass in Klass:
        for seed in range(MANY_SEEDS):
            recording, inside = simulate(seed, klass, rate_hz=10.0)
            truth, rig = recording.truth, recording.rig
            found.update([truth.precursor, truth.fault, rig.drive, rig.tachometer, rig.channel_set])
            found.update(n.kind for n in truth.nuisances)
            lengths_s.append(len(inside.t_s) / 10.0)
    for values in (Precursor, Fault, DriveKind, Tachometer, ChannelSet, Kind):
        assert not [v for v in values if not found[v]]
    assert 0.6 < found[ChannelSet.ALL] / len(lengths_s) < 0.8
    assert 400.0 < np.mean(lengths_s) < 560.0
