"""The first simulated world keeps its promises: same seed same bits, and a truth that its own signals bear out.

Limits without a source are derived here or common practice, as said beside each.
"""

import sys
import time
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

import world_a  # noqa: E402
from world_b.values import (  # noqa: E402
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    RING_SPEED,
    SCUFFINGS,
    SOUND_LEVEL,
    TRIP_WORTHY,
    ChannelSet,
    Fault,
    Kind,
    Klass,
    Recording,
)

pytestmark = pytest.mark.slow

HEALTHY = (Klass.STAIRCASE, Klass.STICK_SLIP, Klass.SQUEAL, Klass.STARTS_AND_STOPS, Klass.SENSOR_FAULT)
SHORT = tuple(klass for klass in Klass if klass is not Klass.ENDURANCE)


@lru_cache(maxsize=64)
def made(seed: int, klass: Klass, rate_hz: float = 20.0, channels: ChannelSet | None = None) -> Recording:
    return world_a.generate(seed, klass, rate_hz, channels)


@pytest.mark.parametrize("klass", [Klass.STAIRCASE, Klass.SCUFFING_LONG, Klass.JAM, Klass.SENSOR_FAULT])
def test_equal_seeds_give_equal_bits_and_others_do_not(klass: Klass) -> None:
    one, two, other = made(3, klass), world_a.generate(3, klass, 20.0), made(2, klass)
    assert one.time_s.tobytes() == two.time_s.tobytes()
    assert all(one.channels[name].tobytes() == two.channels[name].tobytes() for name in one.channels)
    assert repr((one.rig, one.truth)) == repr((two.rig, two.truth))
    assert repr(other.rig) != repr(one.rig)


@pytest.mark.parametrize("rate_hz", [1.0, 5000.0])
def test_a_rate_out_of_range_is_refused(rate_hz: float) -> None:
    with pytest.raises(ValueError, match=f"{rate_hz}"):
        world_a.generate(0, Klass.JAM, rate_hz)


def test_the_rate_changes_neither_rig_nor_story() -> None:
    fast, slow = made(5, Klass.SCUFFING_SHORT, 100.0), made(5, Klass.SCUFFING_SHORT, 20.0)
    assert repr(fast.rig) == repr(slow.rig)
    assert fast.truth.onset_s == slow.truth.onset_s
    assert fast.truth.severe_s == slow.truth.severe_s


@pytest.mark.parametrize("klass", SHORT)
def test_a_recording_is_what_its_class_and_its_rig_say(klass: Klass) -> None:
    for seed in range(1):
        recording = made(seed, klass)
        rig, truth = recording.rig, recording.truth
        assert truth.trip_worthy == (klass in TRIP_WORTHY)
        assert np.isfinite(truth.earliest_legitimate_trip_s) == (truth.trip_worthy or klass is Klass.SUPPLY_LOST)
        assert set(recording.channels) == set(CHANNELS_OF[rig.channel_set]) == set(rig.ranges)
        assert set(rig.limits) <= set(recording.channels)
        for name, read in recording.channels.items():
            low, high = rig.ranges[name]
            beyond = 0.0201 * (high - low)
            assert read.shape == recording.time_s.shape
            assert np.nanmin(read) >= low - beyond
            assert np.nanmax(read) <= high + beyond
            if klass in HEALTHY and name != truth.fault_channel:
                assert np.nanmean((read >= low) & (read <= high)) > 0.95


@pytest.mark.parametrize("klass", SCUFFINGS)
def test_a_force_that_is_read_triples_at_severe_and_not_before(klass: Klass) -> None:
    shown = 0
    for seed in range(4):
        recording = made(seed, klass, 100.0, ChannelSet.ALL)
        truth, t_s, force_n = recording.truth, recording.time_s, recording.channels[FRICTION_FORCE]
        if truth.fault_channel == FRICTION_FORCE or not truth.onset_s < truth.severe_s:
            continue
        first_s = truth.earliest_legitimate_trip_s
        before_n = np.nanmedian(force_n[(t_s > first_s - 4.0) & (t_s < first_s - 0.1)])
        after_n = np.nanmedian(force_n[(t_s > truth.severe_s) & (t_s < truth.severe_s + 0.3)])
        full_n = recording.rig.ranges[FRICTION_FORCE][1]
        # Chatter of a scuffed contact and a cell that is at its end lie between.
        assert after_n > min(2.0 * before_n, 0.9 * full_n)
        assert np.nanmedian(force_n[(t_s > truth.onset_s - 1.0) & (t_s < truth.onset_s)]) < 2.2 * before_n
        shown += 1
    assert shown >= 1


def test_a_jam_takes_the_speed_and_not_by_friction() -> None:
    for seed in range(4):
        recording = made(seed, Klass.JAM, 100.0, ChannelSet.ALL)
        truth, t_s, speed = recording.truth, recording.time_s, recording.channels[RING_SPEED]
        assert truth.jam_s < truth.stall_s < truth.jam_s + 5.0
        assert np.nanmedian(speed[(t_s > truth.jam_s - 3.0) & (t_s < truth.jam_s)]) > 0.5 * recording.rig.ring_speed_rpm
        held = (t_s > truth.stall_s + 0.6) & (t_s < truth.stall_s + 2.0)  # the longest gate is 0.5 s
        assert np.nanmedian(speed[held]) < 0.05 * recording.rig.ring_speed_rpm


def test_a_lost_supply_takes_the_current() -> None:
    for seed in range(4):
        recording = made(seed, Klass.SUPPLY_LOST)
        lost_s, t_s, read = recording.truth.supply_lost_s, recording.time_s, recording.channels[MOTOR_CURRENT]
        before_a = np.nanmedian(read[(t_s > lost_s - 3.0) & (t_s < lost_s)])
        assert np.nanmedian(read[(t_s > lost_s + 0.3) & (t_s < lost_s + 0.8)]) < 0.3 * before_a


def test_overheating_passes_the_limit_when_it_is_said_to() -> None:
    for seed in range(2):
        recording = made(seed, Klass.OVERHEAT)
        truth, t_s = recording.truth, recording.time_s
        hot = [name for name in recording.rig.limits if name.endswith("_degc")]
        assert 0.0 <= truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
        early = t_s < truth.overheat_s - 1.0
        # A thermocouple lags and is up to a kelvin wrong.
        assert all(np.nanmedian(recording.channels[n][early][-10:]) < recording.rig.limits[n] + 3.0 for n in hot)
        assert any(np.nanmax(recording.channels[n]) > recording.rig.limits[n] - 3.0 for n in hot)


@pytest.mark.parametrize("number", range(7))
def test_each_sensor_fault_comes_in_turn(number: int) -> None:
    truth = made(number, Klass.SENSOR_FAULT).truth
    assert truth.fault is list(Fault)[number]
    assert truth.fault_s > 5.0


def test_stick_slip_swings_without_a_shift_and_squeal_only_sounds() -> None:
    for klass, kind in ((Klass.STICK_SLIP, Kind.STICK_SLIP), (Klass.SQUEAL, Kind.SQUEAL)):
        recording = made(1, klass, 100.0, ChannelSet.ALL)
        t_s, force_n = recording.time_s, recording.channels[FRICTION_FORCE]
        sound = recording.channels[SOUND_LEVEL]
        spells = [n for n in recording.truth.nuisances if n.kind is kind and n.duration_s > 4.0]
        assert len(spells) >= 2
        within = np.any([(t_s > n.t_s + 0.5) & (t_s < n.t_s + n.duration_s) for n in spells], axis=0)
        turning = recording.channels[RING_SPEED] > 0.5 * recording.rig.ring_speed_rpm
        inside, outside = force_n[within & turning], force_n[~within & turning]
        assert abs(np.nanmedian(inside) / np.nanmedian(outside) - 1.0) < 0.6  # the loads differ as well
        if kind is Kind.SQUEAL:
            assert np.nanmedian(sound[within & turning]) > np.nanmedian(sound[~within & turning]) + 3.0


def test_healthy_recordings_pass_no_temperature_limit_and_their_ring_keeps_turning() -> None:
    for klass in (Klass.STAIRCASE, Klass.STICK_SLIP, Klass.SQUEAL):
        for seed in range(2):
            truth = made(seed, klass).truth
            assert np.isnan(truth.overheat_s)
            assert np.isnan(truth.stall_s)
            assert np.isnan(truth.onset_s)


@pytest.mark.long
def test_speed_of_making_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    begun_s, made_s = time.process_time(), 0.0
    for klass in (Klass.STAIRCASE, Klass.SCUFFING_LONG, Klass.JAM, Klass.SQUEAL):
        made_s += len(world_a.generate(11, klass).time_s) / 100.0
    took_s = time.process_time() - begun_s
    with capsys.disabled():
        print(f" [world_a: {made_s / 60.0:.0f} min at 100 Hz, {made_s / took_s:.0f}x real time] ", end="")
    assert made_s > 0.0


def test_a_ring_that_is_never_loaded_has_its_starts_and_stops_too() -> None:
    assert len(world_a.generate(9400, Klass.STARTS_AND_STOPS, 10.0).time_s) > 100
