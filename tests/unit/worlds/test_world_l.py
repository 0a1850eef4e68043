"""The world "l": its contract for every class, and its truth against the noise-free traces."""

import math

import numpy as np
import pytest
from world_l_made import made

# isort: split
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Klass,
)
from world_l import generate, simulate

pytestmark = [pytest.mark.slow, pytest.mark.long]

EVERY = pytest.mark.parametrize("klass", list(Klass), ids=lambda k: k.name)
HEALTHY = [klass for klass in Klass if klass not in TRIP_WORTHY]


@EVERY
def test_a_recording_keeps_its_contract(klass: Klass) -> None:
    recording, inside = made(klass)
    rig, truth = recording.rig, recording.truth
    assert tuple(recording.channels) == CHANNELS_OF[ChannelSet.ALL]
    assert set(rig.ranges) == set(recording.channels)
    for name, values in recording.channels.items():
        low, high = rig.ranges[name]
        assert values.shape == recording.time_s.shape
        assert values.dtype == np.float64
        assert np.nanmin(values) >= low
        assert np.nanmax(values) <= high
    assert np.isfinite(recording.time_s).all()
    assert np.diff(inside.t_s) == pytest.approx(0.02)
    assert all(np.isfinite(getattr(inside, name)).all() for name in inside.__slots__ if name.endswith(("_n", "_degc")))
    assert inside.friction_force_n.min() >= 0.0
    assert 20.0 <= rig.ring_diameter_mm <= 100.0
    assert 50.0 <= rig.ring_speed_rpm <= 3000.0
    assert all(load_n > 0.0 for load_n in rig.loads_n)
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert set(truth.seen_by) <= set(recording.channels)


@EVERY
def test_equal_arguments_give_equal_bits(klass: Klass) -> None:
    again, first = generate(1, klass, 50.0, ChannelSet.ALL), made(klass)[0]
    assert again.time_s.tobytes() == first.time_s.tobytes()
    assert all(again.channels[n].tobytes() == v.tobytes() for n, v in first.channels.items())
    assert again.rig == first.rig
    assert repr(again.truth) == repr(first.truth)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_LONG, Klass.OVERHEAT, Klass.STARTS_AND_STOPS], ids=lambda k: k.name)
@pytest.mark.parametrize("channel_set", [ChannelSet.FRICTION_CELL, ChannelSet.CURRENT_ONLY], ids=lambda s: s.name)
def test_rig_and_plan_depend_neither_on_rate_nor_on_channels(klass: Klass, channel_set: ChannelSet) -> None:
    full, other = made(klass)[0], generate(1, klass, 12.5, channel_set)
    for name in ("ring_diameter_mm", "ring_speed_rpm", "no_load_current_a", "loads_n", "drive", "belt", "tachometer"):
        assert getattr(full.rig, name) == getattr(other.rig, name)
    same = ("onset_s", "stall_s") if klass is Klass.OVERHEAT else ("earliest_legitimate_trip_s", "onset_s", "stall_s")
    for name in same:  # without a bath thermocouple an overheat is passed when the pin passes
        assert getattr(full.truth, name) == pytest.approx(getattr(other.truth, name), abs=0.6, nan_ok=True)
    assert tuple(other.channels) == CHANNELS_OF[channel_set]
    assert set(other.truth.seen_by) <= set(other.channels)


def test_a_rate_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="range 10 to 1000"):
        generate(1, Klass.ENDURANCE, 5.0)


@pytest.mark.parametrize("rate_hz", [10.0, 33.0, 400.0])
def test_rows_come_at_the_rate(rate_hz: float) -> None:
    recording, inside = simulate(3, Klass.JAM, rate_hz)
    assert float(np.median(np.diff(recording.time_s))) == pytest.approx(1.0 / rate_hz, rel=1e-6)
    assert np.diff(inside.t_s) == pytest.approx(1.0 / rate_hz)


@pytest.mark.parametrize("klass", HEALTHY, ids=lambda k: k.name)
@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_happens_in_a_healthy_recording(klass: Klass, seed: int) -> None:
    recording, inside = made(klass, seed)
    truth, limits = recording.truth, recording.rig.limits
    for name in ("onset_s", "severe_s", "stall_s", "jam_s", "overheat_s"):
        assert math.isnan(getattr(truth, name))
    assert inside.pin_temperature_degc.max() < limits[PIN_TEMPERATURE] - 3.0
    assert inside.bath_temperature_degc.max() < limits[BATH_TEMPERATURE] - 3.0
    if FRICTION_FORCE in limits:
        assert inside.friction_force_n.max() < limits[FRICTION_FORCE]


@pytest.mark.parametrize("klass", [*SCUFFINGS, Klass.SEIZURE], ids=lambda k: k.name)
@pytest.mark.parametrize("seed", [1, 2])
def test_friction_rises_and_stays_after_the_onset(klass: Klass, seed: int) -> None:
    recording, inside = made(klass, seed)
    truth = recording.truth
    assert truth.earliest_legitimate_trip_s <= truth.onset_s
    onset_s = truth.onset_s - _stamp_shift_s(seed, klass)
    first_s = onset_s - (truth.onset_s - truth.earliest_legitimate_trip_s)
    t_s, on = inside.t_s, inside.on
    before_n = np.median(inside.friction_force_n[(t_s > first_s - 6.0) & (t_s < first_s)])
    after = (t_s > onset_s) & on & (inside.ring_speed_rad_s > 0.1)
    assert np.percentile(inside.friction_force_n[after], 95) > 1.35 * before_n
    if not math.isnan(truth.severe_s):
        at = np.searchsorted(t_s, truth.severe_s - _stamp_shift_s(seed, klass))
        assert inside.friction_force_n[at : at + 5].max() >= 2.8 * before_n


def _stamp_shift_s(seed: int, klass: Klass) -> float:
    """Give stamp minus inner clock at the event, from the first rows and a night between."""
    recording, inside = made(klass, seed)
    return float(np.max(recording.time_s) - inside.t_s[-1])


@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM], ids=lambda k: k.name)
@pytest.mark.parametrize("seed", [1, 2])
def test_the_ring_stands_at_the_stall(klass: Klass, seed: int) -> None:
    recording, inside = made(klass, seed)
    at = int(np.searchsorted(inside.t_s, recording.truth.stall_s - _stamp_shift_s(seed, klass) - 1e-6))
    slow_rad_s = 0.02 * recording.rig.ring_speed_rpm * math.pi / 30.0
    assert inside.ring_speed_rad_s[at] < slow_rad_s <= inside.ring_speed_rad_s[at - 1]
    assert inside.on[at]
    begin_s = recording.truth.jam_s if klass is Klass.JAM else recording.truth.onset_s
    assert recording.truth.stall_s > begin_s


@pytest.mark.parametrize("seed", [1, 2])
def test_an_overheat_truly_passes_its_limit(seed: int) -> None:
    recording, inside = made(Klass.OVERHEAT, seed)
    truth, limits = recording.truth, recording.rig.limits
    over = inside.pin_temperature_degc > limits[PIN_TEMPERATURE]
    over |= inside.bath_temperature_degc > limits[BATH_TEMPERATURE]
    first_s = inside.t_s[np.argmax(over)] + _stamp_shift_s(seed, Klass.OVERHEAT)
    assert first_s == pytest.approx(truth.overheat_s, abs=0.021)
    assert truth.overheat_s - 180.0 <= truth.earliest_legitimate_trip_s < truth.overheat_s
    assert set(truth.seen_by) == {PIN_TEMPERATURE, BATH_TEMPERATURE}


def test_the_current_is_gone_after_the_supply() -> None:
    recording, inside = made(Klass.SUPPLY_LOST)
    after = inside.t_s > recording.truth.supply_lost_s - _stamp_shift_s(1, Klass.SUPPLY_LOST) + 0.02
    assert inside.motor_current_a[after].max() == 0.0
    assert not inside.on[after].any()


@EVERY
def test_torque_is_friction_and_drag_at_a_steady_speed(klass: Klass) -> None:
    """Newton: without acceleration the motor gives friction times radius, and the bearings' drag (here 0.9 to 1.7)."""
    _, inside = made(klass)
    speed = inside.ring_speed_rad_s
    steady = inside.on & (np.abs(np.gradient(speed)) < 1e-3 * speed.max()) & (speed > 0.8 * speed.max())
    steady &= inside.motor_speed_rad_s <= 1.1 * np.maximum(speed, 1e-9)
    drag_nm = inside.shaft_torque_nm[steady] - inside.ring_radius_m * inside.friction_force_n[steady]
    assert 0.85 < np.median(drag_nm) / inside.drag_torque_nm < 1.75


def test_the_bath_keeps_no_more_than_was_put_in() -> None:
    for klass in (Klass.OVERHEAT, Klass.SCUFFING_LONG):
        inside = made(klass)[1]
        assert inside.bath_heat_j < inside.heat_in_j
