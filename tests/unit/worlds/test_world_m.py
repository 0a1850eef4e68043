"""World m keeps the contract, tells the truth about itself, and hangs on its arguments alone."""

from math import isnan

import numpy as np
import pytest
from world_m_made import SEEDS, inside_s, made, sample, set_rad_s, steps

from world_b.values import (  # isort: skip
    BATH_TEMPERATURE,
    CHANNELS_OF,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Fault,
    Inside,
    Kind,
    Klass,
    Precursor,
)
from world_m import generate, simulate  # isort: skip

pytestmark = [pytest.mark.slow, pytest.mark.long]

QUIET = tuple(k for k in Klass if k not in TRIP_WORTHY)


def of(*klasses: Klass) -> pytest.MarkDecorator:
    """Give each class with the first seed, and behind --long with the others."""
    first, *others = SEEDS
    cases = [pytest.param(first, klass, id=f"{klass.name}-{first}") for klass in klasses]
    for seed in others:
        cases += [pytest.param(seed, klass, id=f"{klass.name}-{seed}", marks=pytest.mark.long) for klass in klasses]
    return pytest.mark.parametrize(("seed", "klass"), cases)


by_case = of(*Klass)


@by_case
def test_a_recording_keeps_the_contract(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    rig, truth = recording.rig, recording.truth
    names = CHANNELS_OF[rig.channel_set]
    assert tuple(recording.channels) == names
    assert set(rig.ranges) == set(names)
    assert set(rig.limits) == {PIN_TEMPERATURE, BATH_TEMPERATURE} & set(names)
    for name, value in recording.channels.items():
        assert value.shape == recording.time_s.shape
        assert value.dtype == np.float64
        low, high = rig.ranges[name]
        assert np.nanmin(value) >= low - 1e-9
        assert np.nanmax(value) <= high + 1e-9
    assert 195.0 <= inside.t_s[-1] <= 1500.0
    assert 20.0 <= rig.ring_diameter_mm <= 100.0
    assert 0.7 * 50.0 <= rig.ring_speed_rpm <= 3000.0
    assert rig.loads_n
    assert min(rig.loads_n) > 0.0
    assert truth.trip_worthy is (klass in TRIP_WORTHY)
    begins = [n.t_s for n in truth.nuisances]
    assert begins == sorted(begins)
    assert all(n.duration_s >= 0.0 for n in truth.nuisances)
    assert isnan(truth.earliest_legitimate_trip_s) is not (truth.trip_worthy or klass is Klass.SUPPLY_LOST)


@of(*QUIET)
def test_a_healthy_machine_neither_stalls_nor_overheats(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    truth = recording.truth
    held = inside.on & (inside.ring_speed_rad_s < 0.02 * set_rad_s(recording))
    assert longest_run(held) < steps(inside, 5.0), "longer at rest under power than a soft start takes"
    for channel, true in temperatures(inside).items():
        assert true.max() < recording.rig.limits.get(channel, np.inf)
    times = (truth.onset_s, truth.severe_s, truth.stall_s, truth.jam_s, truth.overheat_s)
    assert all(isnan(t_s) for t_s in times)
    assert truth.seen_by == ()


@of(*SCUFFINGS, Klass.SEIZURE)
def test_a_scuffing_is_sharp_and_does_not_heal(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    truth = recording.truth
    onset = sample(inside, inside_s(recording, truth.onset_s))
    friction = inside.friction_force_n / np.maximum(inside.normal_load_n, 1e-9)
    before = float(np.median(friction[onset - steps(inside, 10.0) : onset]))  # load over load: a step does not matter
    turning = inside.ring_speed_rad_s[onset:] > 0.02 * set_rad_s(recording)
    minute = friction[onset : onset + steps(inside, 60.0)]
    assert np.convolve(minute, np.full(100, 0.01), mode="valid").max() > 1.8 * before
    if turning[-1]:
        assert np.median(friction[-steps(inside, 4.0) :]) > 1.5 * before
    assert truth.earliest_legitimate_trip_s <= truth.onset_s
    assert inside_s(recording, truth.onset_s) > 60.0
    if not isnan(truth.severe_s):
        at = sample(inside, inside_s(recording, truth.severe_s))
        just_before = np.median(inside.friction_force_n[onset - steps(inside, 1.0) : onset])
        assert inside.friction_force_n[at] >= 2.0 * just_before, "three times that since the last load move"


@of(*SCUFFINGS)
def test_a_precursor_goes_before_in_its_classes(seed: int, klass: Klass) -> None:
    truth = made(seed, klass)[0].truth
    lead_s = truth.onset_s - truth.earliest_legitimate_trip_s
    if klass is Klass.SCUFFING_LONG:
        assert lead_s > 15.0
    if klass is Klass.SCUFFING_SHORT:
        assert 0.0 < lead_s < 30.0
    assert (truth.precursor is Precursor.NONE) is (lead_s < 0.2)


@of(Klass.SEIZURE, Klass.JAM)
def test_a_stall_is_read_where_the_ring_stops_under_power(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    truth = recording.truth
    if isnan(truth.stall_s):
        assert klass is Klass.JAM
        assert np.median(inside.ring_speed_rad_s[-steps(inside, 5.0) :]) < 0.25 * set_rad_s(recording), "nearly stopped"
        return
    begun_s = truth.jam_s if klass is Klass.JAM else truth.onset_s
    assert truth.stall_s > begun_s
    at = sample(inside, inside_s(recording, truth.stall_s))
    begun = sample(inside, inside_s(recording, begun_s))
    limit = 0.02 * set_rad_s(recording)
    assert inside.on[at]
    assert inside.ring_speed_rad_s[at] < limit
    assert inside.ring_speed_rad_s[begun:at].min() >= limit
    assert inside.ring_speed_rad_s[at:].max() < 0.2 * set_rad_s(recording), "it stays held"


@of(Klass.SEIZURE)
def test_a_seizure_has_friction_up_before_speed_is_down(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    onset = sample(inside, inside_s(recording, recording.truth.onset_s))
    stall = sample(inside, inside_s(recording, recording.truth.stall_s))
    before = np.median(inside.friction_force_n[onset - steps(inside, 5.0) : onset])
    assert inside.friction_force_n[onset:stall].max() > 2.0 * before


@of(Klass.OVERHEAT)
def test_an_overheat_passes_the_limit_when_it_says(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    truth, limits = recording.truth, recording.rig.limits
    at = sample(inside, inside_s(recording, truth.overheat_s))
    true = temperatures(inside)
    assert any(true[name][at] > limit for name, limit in limits.items())
    assert all(true[name][:at].max() <= limit for name, limit in limits.items())
    assert 0.0 < truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0 + 1e-6
    assert set(truth.seen_by) == set(limits)


@of(Klass.SUPPLY_LOST)
def test_a_lost_supply_is_off_from_then_on(seed: int, klass: Klass) -> None:
    recording, inside = made(seed, klass)
    at = sample(inside, inside_s(recording, recording.truth.supply_lost_s))
    assert inside.on[at - 1]
    assert not inside.on[at:].any()
    assert not inside.motor_current_a[at:].any()


@of(Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT)
def test_a_fault_shows_on_its_channel(seed: int, klass: Klass) -> None:
    recording, _inside = made(seed, klass)
    truth = recording.truth
    assert truth.fault is not None
    value = recording.channels[truth.fault_channel][recording.time_s > truth.fault_s]
    low, high = recording.rig.ranges[truth.fault_channel]
    share = {
        Fault.STUCK: np.mean(value == np.sort(value)[value.size // 2]),
        Fault.SATURATED: np.mean(value == high),
        Fault.OPEN_THERMOCOUPLE: np.mean((value == high) | (value == low)),
        Fault.DROPOUT: 2.0 * np.mean(np.isnan(value)),
        Fault.TACHOMETER_LOST: np.mean(value == 0.0),
        Fault.DRIFT: 1.0,
        Fault.SIGN_FLIP: 1.0,
    }[truth.fault]
    assert share > 0.5
    assert isnan(truth.onset_s) or truth.fault_s < truth.onset_s


@pytest.mark.parametrize("klass", list(Klass))
def test_equal_arguments_give_equal_bits(klass: Klass) -> None:
    first, again = made(2, klass)[0], generate(2, klass)
    assert np.array_equal(first.time_s, again.time_s)
    for name, value in first.channels.items():
        assert np.array_equal(value, again.channels[name], equal_nan=True)
    assert repr((first.rig, first.truth)) == repr((again.rig, again.truth))


@pytest.mark.parametrize("rate_hz", [10.0, 37.0, 333.0])
@pytest.mark.parametrize("klass", [Klass.STARTS_AND_STOPS, Klass.SCUFFING_LONG, Klass.OVERHEAT])
def test_neither_rig_nor_plan_hangs_on_the_rate(klass: Klass, rate_hz: float) -> None:
    first, inside = made(2, klass)
    other, inside_other = simulate(2, klass, rate_hz)
    assert other.rig == first.rig
    assert other.truth.nuisances == first.truth.nuisances
    assert other.truth.onset_s == first.truth.onset_s or isnan(first.truth.onset_s)
    assert np.array_equal(inside.friction_force_n, inside_other.friction_force_n)
    assert other.time_s.size == pytest.approx(first.time_s.size * rate_hz / 100.0, rel=0.02)


@pytest.mark.long
@pytest.mark.parametrize("channel_set", list(ChannelSet))
@pytest.mark.parametrize("klass", list(Klass))
def test_every_class_can_be_had_with_every_set_of_channels(klass: Klass, channel_set: ChannelSet) -> None:
    first, inside = made(2, klass)
    other, inside_other = simulate(2, klass, 20.0, channel_set)
    assert other.rig.channel_set is channel_set
    assert tuple(other.channels) == CHANNELS_OF[channel_set]
    assert other.rig.loads_n == first.rig.loads_n
    assert other.rig.drive is first.rig.drive
    assert np.array_equal(inside.motor_current_a, inside_other.motor_current_a)
    assert set(other.truth.seen_by) <= set(other.channels)


@pytest.mark.parametrize("rate_hz", [9.9, 1000.1, float("nan")])
def test_a_rate_out_of_range_is_refused(rate_hz: float) -> None:
    with pytest.raises(ValueError, match="rate"):
        generate(0, Klass.STAIRCASE, rate_hz)


@of(Klass.STAIRCASE, Klass.STARTS_AND_STOPS, Klass.SCUFFING_SHORT)
def test_stamps_go_wrong_only_where_it_is_written(seed: int, klass: Klass) -> None:
    recording = made(seed, klass)[0]
    kinds = {n.kind for n in recording.truth.nuisances}
    gaps_s = np.diff(recording.time_s)
    assert bool(gaps_s.min() < -1e-6) is (Kind.BACKWARD_STAMPS in kinds)
    assert bool(gaps_s.max() > 1000.0) is (Kind.DAY_BETWEEN in kinds)
    if not kinds & {Kind.BACKWARD_STAMPS, Kind.DUPLICATE_STAMPS}:
        assert gaps_s.min() > 0.0


def temperatures(inside: Inside) -> dict[str, np.ndarray]:
    return {PIN_TEMPERATURE: inside.pin_temperature_degc, BATH_TEMPERATURE: inside.bath_temperature_degc}


def longest_run(flags: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return int(np.max(edges[1::2] - edges[::2], initial=0))
