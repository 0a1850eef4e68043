"""world_j keeps the contract of the simulated worlds, and its physics agrees with facts from outside."""

import math
from dataclasses import astuple, replace
from types import SimpleNamespace

import numpy as np
import pytest
from world_j_made import made

from world_b.values import (  # isort: skip
    CHANNELS_OF,
    FRICTION_FORCE,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Klass,
    Truth,
)
from world_j import drives, filters, generate, physics, rigs, sounds  # isort: skip
from world_j.scripts import Script  # isort: skip

pytestmark = [pytest.mark.slow, pytest.mark.long]

HEALTHY = tuple(k for k in Klass if k not in TRIP_WORTHY and k is not Klass.SUPPLY_LOST)


def in_order(*times_s: float) -> bool:
    """Check that those of the times that happened do so in this order."""
    happened = [t_s for t_s in times_s if math.isfinite(t_s)]
    return happened == sorted(happened)


def check_truth(klass: Klass, truth: Truth) -> None:
    """Check order and promise of a truth."""
    assert truth.trip_worthy is (klass in TRIP_WORTHY)
    assert math.isfinite(truth.earliest_legitimate_trip_s) is (klass not in HEALTHY)
    assert in_order(truth.earliest_legitimate_trip_s, truth.onset_s, truth.severe_s)
    assert in_order(truth.earliest_legitimate_trip_s, truth.onset_s, truth.jam_s, truth.stall_s)
    assert in_order(truth.earliest_legitimate_trip_s, truth.overheat_s)
    assert math.isfinite(truth.onset_s) is (klass in (*SCUFFINGS, Klass.SEIZURE))
    assert (truth.fault is not None) is (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
    if klass in (Klass.SEIZURE, Klass.JAM):
        assert math.isfinite(truth.stall_s)
    if klass is Klass.OVERHEAT:
        assert truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
    if klass is Klass.SCUFFING_LONG:
        assert 20.0 <= truth.onset_s - truth.earliest_legitimate_trip_s <= 240.0
    if klass is Klass.SCUFFING_SUDDEN:
        assert truth.onset_s == truth.earliest_legitimate_trip_s


def test_equal_arguments_give_equal_bits() -> None:
    first, second = made(1, Klass.STAIRCASE)[0], generate(1, Klass.STAIRCASE, 100.0, ChannelSet.ALL)
    assert np.array_equal(first.time_s, second.time_s)
    assert repr((first.rig, first.truth)) == repr((second.rig, second.truth))
    for name, values in first.channels.items():
        assert np.array_equal(values, second.channels[name], equal_nan=True)


def test_neither_rate_nor_channel_set_changes_what_happens() -> None:
    usual, inside = made(1, Klass.OVERHEAT)
    slow, slow_inside = made(1, Klass.OVERHEAT, 20.0, ChannelSet.LOAD_CELL)
    assert usual.truth.nuisances == slow.truth.nuisances
    assert usual.truth.jam_s == slow.truth.jam_s or math.isnan(usual.truth.jam_s)
    assert usual.rig.loads_n == slow.rig.loads_n
    assert usual.rig.ring_speed_rpm == slow.rig.ring_speed_rpm
    assert set(slow.channels) == set(slow.rig.ranges) == set(CHANNELS_OF[ChannelSet.LOAD_CELL])
    for name in ("friction_force_n", "motor_current_a", "pin_temperature_degc"):
        whole, thin = getattr(inside, name)[::5], getattr(slow_inside, name)
        n = min(whole.size, thin.size)
        assert np.allclose(whole[:n], thin[:n], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("klass", [Klass.OVERHEAT, Klass.SENSOR_FAULT, Klass.STARTS_AND_STOPS])
def test_rows_and_truth_of_a_few_classes(klass: Klass) -> None:
    recording, inside = made(1, klass)
    check_truth(klass, recording.truth)
    assert 300.0 < inside.t_s[-1] < 3700.0
    assert recording.time_s.size <= inside.t_s.size
    for values in recording.channels.values():
        assert values.shape == recording.time_s.shape
        assert values.dtype == np.float64


@pytest.mark.long
@pytest.mark.parametrize("klass", list(Klass))
@pytest.mark.parametrize("seed", range(4))
def test_every_class_keeps_its_promise(klass: Klass, seed: int) -> None:
    recording, inside = made(seed, klass)
    truth, t_s, force_n = recording.truth, inside.t_s, inside.friction_force_n
    check_truth(klass, truth)
    for name, limit in recording.rig.limits.items():
        if klass in HEALTHY and name != truth.fault_channel:
            assert np.nanmax(recording.channels[name]) < limit
    gap_s = recording.time_s[-1] - t_s[-1] if recording.time_s[-1] > 40_000.0 else 0.0  # a night left out
    if klass in SCUFFINGS:
        first_s, onset_s = (s - round(gap_s, 0) for s in (truth.earliest_legitimate_trip_s, truth.onset_s))
        before_n = np.median(force_n[(t_s > first_s - 6.0) & (t_s < first_s - 1.0)])
        assert np.max(force_n[(t_s > onset_s - 1.0) & (t_s < onset_s + 11.0)]) > 2.0 * before_n
    if klass in TRIP_WORTHY:
        assert truth.seen_by
    if klass in HEALTHY:
        turning = inside.on & (inside.ring_speed_rad_s > 0.06 * recording.rig.ring_speed_rpm)
        loaded = turning & (inside.normal_load_n > 0.3 * max(recording.rig.loads_n))
        coefficient = force_n[loaded] / inside.normal_load_n[loaded]
        assert np.quantile(coefficient, 0.01) > 0.03
        assert np.quantile(coefficient, 0.99) < 0.2


def test_a_lag_shows_63_percent_of_a_step_after_its_time_constant() -> None:
    shown = filters.lag(np.concatenate((np.zeros(1), np.ones(999))), 0.001, 0.1)
    assert shown[100] == pytest.approx(1.0 - math.exp(-1.0), abs=1e-3)


def test_the_sound_meter_decays_as_fast_and_slow_do() -> None:
    """Source: IEC 61672-1, clause 5.8: 34.7 dB/s for F and 4.3 dB/s for S after a steady sound stops."""
    level_db = np.where(np.arange(2000) < 1000, 94.0, 20.0).astype(np.float64)
    for meter_s, decay_db_s in ((0.125, 34.7), (1.0, 4.3)):
        shown_db = sounds.metered_db(level_db, 0.001, meter_s)
        assert shown_db[1200] - shown_db[1700] == pytest.approx(0.5 * decay_db_s, rel=0.02)


def test_a_cage_motor_slips_and_starts_as_text_books_say() -> None:
    """Source: A. E. Fitzgerald, Electric Machinery, ch. 6: full-load slip of 2 to 10 %, breakdown at 200 to 300 %."""
    found = 0
    for seed in range(40):
        drive = drives.draw_drive(np.random.default_rng(seed), 50.0, 500.0)
        if drive.kind is DriveKind.INDUCTION_DIRECT:
            found += 1
            overload = drive.peak_torque_nm / drive.rated_torque_nm
            slip = drives.rated_slip_rad_s(overload, drive.pull_out_rad_s)
            assert 0.02 < slip / drive.free_speed_rad_s < 0.11
            state = drives.DriveState(drive, True, 0.0, physics.STEP_S)
            assert state.pull(drive.free_speed_rad_s - slip, True) == pytest.approx(drive.rated_torque_nm)
            assert state.pull(drive.free_speed_rad_s - drive.pull_out_rad_s, True) == pytest.approx(
                drive.peak_torque_nm
            )
            assert drives.cage_current_a(drive, np.array(slip)) == pytest.approx(drive.rated_current_a)
            start_a = drives.cage_current_a(drive, np.array(drive.free_speed_rad_s))
            assert 2.0 < start_a / drive.rated_current_a < 8.0
    assert found > 3


def test_friction_work_becomes_heat_in_pin_ring_and_bath_or_leaves() -> None:
    """Source: first law: with no way out, the three capacities keep all the work done on them."""
    rig = rigs.draw_rig(np.random.default_rng(3))
    closed = replace(rig, heat=replace(rig.heat, bath_w_k=1e-12, heater_w=0.0, set_degc=math.nan))
    t_s = np.arange(20_001) * physics.STEP_S
    nothing, story = physics.Extra(0.0 * t_s, 0.0 * t_s, 1.0 + 0.0 * t_s), SimpleNamespace(oil_s=math.nan, oil_k=0.0)
    state = physics.HeatState(closed, Script(100.0, 100.0), story, nothing, 0.0)  # type: ignore[arg-type]
    start_degc, work_j = state.bath, 3.0
    for k in range(0, t_s.size, physics.HEAT_EVERY):
        state.advance(k, work_j)
    kept_j = sum(
        capacity_j_k * (now_degc - start_degc)
        for capacity_j_k, now_degc in (
            (closed.heat.pin_j_k, state.pin),
            (closed.heat.ring_j_k, state.ring),
            (closed.heat.bath_j_k, state.bath),
        )
    )
    assert kept_j == pytest.approx(state.heat_in_j, rel=1e-6)
    assert state.heat_in_j == pytest.approx(work_j * (len(state.baths) - 1))


def test_heat_put_in_is_friction_force_times_way() -> None:
    """Source: work is force times way; the bath keeps less than what is put in."""
    inside = made(1, Klass.OVERHEAT)[1]
    work_j = np.trapezoid(inside.friction_force_n * inside.ring_speed_rad_s, inside.t_s) * inside.ring_radius_m
    assert inside.heat_in_j > 0.97 * work_j
    assert inside.bath_heat_j < inside.heat_in_j


def test_torque_at_steady_speed_is_friction_and_drag() -> None:
    """Source: Newton: without acceleration the motor's torque equals what resists."""
    inside = made(1, Klass.OVERHEAT)[1]
    late = slice(inside.t_s.size // 3, inside.t_s.size // 2)
    resists = np.mean(inside.friction_force_n[late]) * inside.ring_radius_m
    drag = np.mean(inside.shaft_torque_nm[late]) - resists
    assert 0.8 * inside.drag_torque_nm < drag < 2.0 * inside.drag_torque_nm


def test_the_force_limit_is_near_healthy_running() -> None:
    recording = made(1, Klass.OVERHEAT)[0]
    highest = np.nanmax(recording.channels[FRICTION_FORCE])
    assert highest < recording.rig.limits[FRICTION_FORCE] < 3.0 * highest
    assert recording.rig.limits[PIN_TEMPERATURE] < 150.0


def test_all_fields_of_the_rig_are_told() -> None:
    assert all(value is not None for value in astuple(made(1, Klass.OVERHEAT)[0].rig))
