"""The world of tipping points: shape, determinism, truth against the inner world, healthy classes stay healthy."""

from collections.abc import Iterator

import numpy as np
import pytest
import world_o_made as made
from scipy.ndimage import uniform_filter1d
from world_b.values import (
    CHANNELS_OF,
    NORMAL_LOAD,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Fault,
    Floats,
    Inside,
    Kind,
    Klass,
    Precursor,
    Recording,
)

pytestmark = pytest.mark.slow

SEEDS = (0, 1, 2)
HEALTHY = tuple(k for k in Klass if k not in TRIP_WORTHY)
EVERY = [(seed, klass) for klass in Klass for seed in SEEDS]


def coefficient(inside: Inside, over_s: float = 1.0) -> Floats:
    """Give friction over load, means of a span; NaN where the pin hardly bears."""
    n = max(1, round(over_s / (inside.t_s[1] - inside.t_s[0])))
    load_n = uniform_filter1d(inside.normal_load_n, n)
    ratio = uniform_filter1d(inside.friction_force_n, n) / np.maximum(load_n, 1e-6)
    return np.where(load_n > 2.0, ratio, np.nan)


def on_one_clock(klass: Klass) -> Iterator[tuple[Recording, Inside]]:
    """Give the recordings of a class whose stamps run as the inner clock does: no day between."""
    for seed in SEEDS:
        recording, inside = made.simulate(seed, klass)
        if not any(n.kind is Kind.DAY_BETWEEN for n in recording.truth.nuisances):
            yield recording, inside


@pytest.mark.parametrize(("seed", "klass"), EVERY, ids=lambda v: getattr(v, "name", str(v)))
def test_shape_ranges_and_facts(seed: int, klass: Klass) -> None:
    recording, inside = made.simulate(seed, klass)
    rig, truth = recording.rig, recording.truth
    assert tuple(recording.channels) == CHANNELS_OF[rig.channel_set]
    assert 120.0 < inside.t_s[-1] < 1300.0
    assert np.allclose(np.diff(inside.t_s), 0.01)
    for name, values in recording.channels.items():
        assert values.shape == recording.time_s.shape
        assert values.dtype == np.float64
        if name != truth.fault_channel:
            low, high = rig.ranges[name]
            assert np.nanmin(values) >= low - 1e-9
            assert np.nanmax(values) <= high + 1e-9
    assert set(rig.limits) <= set(recording.channels)
    assert 15.0 * 0.95 < rig.ring_diameter_mm < 60.0 * 1.05
    assert 28.0 < rig.ring_speed_rpm < 1600.0
    assert all(5.0 <= load_n <= 500.0 for load_n in rig.loads_n)
    assert 1 <= len(truth.nuisances) <= 10
    assert [n.t_s for n in truth.nuisances] == sorted(n.t_s for n in truth.nuisances)
    assert inside.motor_current_a.max() < 15.0
    assert 30.0 < inside.sound_level_db.min() < inside.sound_level_db.max() < 105.0


def test_same_seed_same_recording() -> None:
    first, _ = made.simulate(5, Klass.SCUFFING_SHORT)
    made.simulate.cache_clear()
    again, _ = made.simulate(5, Klass.SCUFFING_SHORT)
    assert repr(first.truth) == repr(again.truth)
    assert first.time_s.tobytes() == again.time_s.tobytes()
    assert all(first.channels[n].tobytes() == again.channels[n].tobytes() for n in first.channels)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_LONG, Klass.JAM, Klass.OVERHEAT, Klass.SCUFFING_WITH_FAULT])
def test_truth_and_rig_are_the_same_at_any_rate(klass: Klass) -> None:
    usual, inside = made.simulate(1, klass)
    for rate_hz in (10.0, 37.0, 250.0):
        other, thin = made.simulate(1, klass, rate_hz)
        assert repr(other.truth) == repr(usual.truth)
        assert other.rig == usual.rig
        assert thin.t_s[-1] == pytest.approx(inside.t_s[-1], abs=1.01 / rate_hz)
        assert len(other.time_s) == pytest.approx(len(usual.time_s) * rate_hz / 100.0, rel=0.03)


@pytest.mark.parametrize("rate_hz", [9.9, 1001.0, float("nan")])
def test_refuses_other_rates(rate_hz: float) -> None:
    with pytest.raises(ValueError, match="rate_hz"):
        made.simulate(0, Klass.JAM, rate_hz)


@pytest.mark.parametrize("channels", list(ChannelSet))
def test_channel_set_is_obeyed(channels: ChannelSet) -> None:
    for klass in (Klass.OVERHEAT, Klass.SCUFFING_WITH_FAULT, Klass.SQUEAL):
        recording, _ = made.simulate(3, klass, 100.0, channels)
        truth = recording.truth
        assert recording.rig.channel_set is channels
        assert tuple(recording.channels) == CHANNELS_OF[channels]
        assert set(truth.seen_by) <= set(CHANNELS_OF[channels]) - {truth.fault_channel}


@pytest.mark.parametrize(("seed", "klass"), EVERY, ids=lambda v: getattr(v, "name", str(v)))
def test_healthy_until_the_event(seed: int, klass: Klass) -> None:
    recording, inside = made.simulate(seed, klass)
    truth = recording.truth
    if any(n.kind is Kind.DAY_BETWEEN for n in truth.nuisances):
        return  # stamps and inner clock differ
    healthy = inside.t_s < (truth.earliest_legitimate_trip_s - 1.0 if truth.trip_worthy else np.inf)
    running = inside.ring_speed_rad_s > 0.8 * np.median(inside.ring_speed_rad_s[healthy & inside.on])
    assert np.nanmax(coefficient(inside, 1.5)[healthy & running]) <= 0.16
    for name, limit in recording.rig.limits.items():
        assert getattr(inside, name)[healthy].max() < limit


@pytest.mark.parametrize("klass", HEALTHY)
def test_healthy_classes_have_nothing_to_trip_for(klass: Klass) -> None:
    for seed in SEEDS:
        truth = made.simulate(seed, klass)[0].truth
        assert not truth.trip_worthy
        assert truth.seen_by == ()
        assert truth.precursor is Precursor.NONE
        for value in (truth.onset_s, truth.severe_s, truth.stall_s, truth.jam_s, truth.overheat_s):
            assert np.isnan(value)


@pytest.mark.parametrize("klass", SCUFFINGS)
def test_scuffing_tips_for_good(klass: Klass) -> None:
    low_s, high_s = {
        Klass.SCUFFING_LONG: (30.0, 330.0),
        Klass.SCUFFING_SHORT: (1.0, 15.0),
        Klass.SCUFFING_SUDDEN: (-0.01, 1.5),
        Klass.SCUFFING_WITH_FAULT: (1.0, 330.0),
    }[klass]
    for recording, inside in on_one_clock(klass):
        truth = recording.truth
        assert low_s <= truth.onset_s - truth.earliest_legitimate_trip_s <= high_s
        assert inside.t_s[-1] - truth.onset_s >= 25.0
        mu = coefficient(inside)
        begin = truth.earliest_legitimate_trip_s
        before = np.nanmedian(mu[(inside.t_s > begin - 10.0) & (inside.t_s < begin)])
        high = mu >= max(0.25, 2.5 * before) * 0.999
        first = np.flatnonzero(high & (inside.t_s > truth.onset_s))[0]
        assert inside.t_s[first] - truth.onset_s < 21.0
        assert high[first : first + 2000].all()
        assert np.isnan(truth.severe_s) or truth.severe_s >= truth.onset_s
        assert truth.seen_by


def test_sudden_triples_soon() -> None:
    for seed in SEEDS:
        truth = made.simulate(seed, Klass.SCUFFING_SUDDEN)[0].truth
        assert truth.precursor is Precursor.NONE
        assert 0.15 <= truth.severe_s - truth.earliest_legitimate_trip_s <= 6.5


def test_seizure_raises_friction_before_the_ring_stands() -> None:
    for recording, inside in on_one_clock(Klass.SEIZURE):
        truth = recording.truth
        begin = truth.earliest_legitimate_trip_s
        before = np.median(inside.friction_force_n[(inside.t_s > begin - 10.0) & (inside.t_s < begin)])
        rising = (inside.t_s >= truth.onset_s) & (inside.t_s <= truth.stall_s)
        assert inside.friction_force_n[rising].max() > 1.7 * before
        after = inside.t_s > truth.stall_s + 2.0
        assert np.median(inside.ring_speed_rad_s[after]) < 0.03 * inside.ring_speed_rad_s.max()
        assert inside.on[after].all()


def test_jam_stops_the_ring_and_eases_the_contact() -> None:
    for recording, inside in on_one_clock(Klass.JAM):
        truth = recording.truth
        assert truth.earliest_legitimate_trip_s == truth.jam_s
        assert 0.0 < truth.stall_s - truth.jam_s < 3.0
        stands = inside.t_s > truth.stall_s + 0.5
        before = np.abs(inside.t_s - truth.jam_s + 2.0) < 1.5
        assert inside.friction_force_n[stands].max() < inside.friction_force_n[before].mean()
        assert inside.motor_current_a[stands].min() > 0.9 * inside.motor_current_a[before].mean()


def test_overheat_passes_a_limit_that_was_written_down() -> None:
    for seed in SEEDS:
        recording, inside = made.simulate(seed, Klass.OVERHEAT, 100.0, ChannelSet.ALL)
        truth, limits = recording.truth, recording.rig.limits
        if any(n.kind is Kind.DAY_BETWEEN for n in truth.nuisances):
            continue
        assert limits
        assert truth.seen_by == tuple(limits)
        assert 0.0 < truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
        over = np.zeros(inside.t_s.size, dtype=bool)
        for name, limit in limits.items():
            over |= getattr(inside, name) > limit
        assert inside.t_s[np.argmax(over)] == pytest.approx(truth.overheat_s, abs=0.011)
        assert inside.t_s[-1] - truth.overheat_s > 19.0


def test_supply_lost_lets_speed_and_current_fall() -> None:
    for recording, inside in on_one_clock(Klass.SUPPLY_LOST):
        after = inside.t_s > recording.truth.supply_lost_s
        assert not inside.on[after].any()
        assert inside.motor_current_a[after].max() == 0.0
        assert inside.ring_speed_rad_s[-1] < 0.9 * inside.ring_speed_rad_s.max()


@pytest.mark.parametrize("kind", [Kind.STICK_SLIP, Kind.SQUEAL])
def test_stick_slip_and_squeal_keep_the_mean(kind: Kind) -> None:
    klass = Klass.STICK_SLIP if kind is Kind.STICK_SLIP else Klass.SQUEAL
    for recording, inside in on_one_clock(klass):
        mu = coefficient(inside, 4.0)
        for n in (n for n in recording.truth.nuisances if n.kind is kind):
            edge = [np.abs(inside.t_s - n.t_s + 4.0) < 1.5, np.abs(inside.t_s - n.t_s - 5.0) < 1.5]
            usual = [np.nanmean(mu[e]) for e in edge]
            assert abs(usual[1] / usual[0] - 1.0) < 0.3


def test_faults_are_in_the_rows() -> None:
    for seed in range(8):
        recording, _ = made.simulate(seed, Klass.SENSOR_FAULT)
        truth = recording.truth
        bad = recording.channels[truth.fault_channel][recording.time_s > truth.fault_s + 0.1]
        if truth.fault in (Fault.STUCK, Fault.SATURATED, Fault.TACHOMETER_LOST):
            assert np.ptp(bad) == 0.0
        elif truth.fault is Fault.DROPOUT:
            assert np.isnan(bad).all()
        elif truth.fault is Fault.SIGN_FLIP:
            assert truth.fault_channel.endswith("_n")


def test_a_fault_leaves_a_channel_that_shows_the_scuffing() -> None:
    for seed in range(8):
        truth = made.simulate(seed, Klass.SCUFFING_WITH_FAULT)[0].truth
        assert truth.fault is not None
        assert truth.fault_s < truth.onset_s
        assert truth.fault_channel not in truth.seen_by
        assert set(truth.seen_by) - {NORMAL_LOAD}
