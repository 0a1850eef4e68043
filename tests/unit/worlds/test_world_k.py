"""world_k keeps the contract of its recordings, and its parts keep to published laws."""

import math

import numpy as np
import pytest
from world_k_made import made, short

# isort: split
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    RING_SPEED,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Floats,
    Inside,
    Klass,
    Precursor,
    Recording,
    Tachometer,
)
from world_k import generate, simulate
from world_k.contact import Curve, Surface, pressure_pa
from world_k.drives import BrushedBare, BrushedLimited, Drive, DriveDesign, Induction, drive_of, free_current_a
from world_k.line import Line, LineDesign
from world_k.oil import dynamic_pa_s, kinematic_mm2_s, oil_through
from world_k.rig import draw_rig, flat_m3
from world_k.sound import FAST_S, SLOW_S, weighted_db
from world_k.tachometer import Teeth, read_rpm
from world_k.thermal import Heat

pytestmark = [pytest.mark.slow, pytest.mark.long]

ALL_CLASSES = list(Klass)
GROWING = (*SCUFFINGS, Klass.SEIZURE)
RATE_HZ = 100.0


def healthy(recording: Recording, inside: Inside) -> np.ndarray:
    """Give the rows of the inside before anything is wrong with the rig (none of these recordings holds a night)."""
    end_s = recording.truth.earliest_legitimate_trip_s
    return inside.t_s < (math.inf if math.isnan(end_s) else end_s - 0.05)


@pytest.mark.parametrize("klass", ALL_CLASSES)
def test_channels_are_those_of_the_set_and_stamps_are_as_many(klass: Klass) -> None:
    recording, inside = short(klass)
    assert tuple(recording.channels) == CHANNELS_OF[ChannelSet.ALL]
    assert {values.shape for values in recording.channels.values()} == {recording.time_s.shape}
    assert {values.dtype for values in recording.channels.values()} == {np.dtype(np.float64)}
    assert 230.0 < inside.t_s[-1] < 3700.0
    assert recording.time_s.size <= inside.t_s.size


@pytest.mark.parametrize("klass", ALL_CLASSES)
def test_truth_is_in_order(klass: Klass) -> None:
    truth = short(klass)[0].truth
    assert truth.trip_worthy == (klass in TRIP_WORTHY) == math.isfinite(truth.earliest_legitimate_trip_s)
    assert math.isfinite(truth.onset_s) == (klass in GROWING)
    assert math.isfinite(truth.supply_lost_s) == (klass is Klass.SUPPLY_LOST)
    assert math.isfinite(truth.jam_s) == (klass is Klass.JAM)
    assert math.isfinite(truth.overheat_s) == (klass is Klass.OVERHEAT)
    assert math.isfinite(truth.fault_s) == (truth.fault is not None) == bool(truth.fault_channel)
    order = [truth.earliest_legitimate_trip_s, truth.onset_s, truth.severe_s]
    known = [time_s for time_s in order if math.isfinite(time_s)]
    assert known == sorted(known)
    times_s = [item.t_s for item in truth.nuisances]
    assert times_s == sorted(times_s)


@pytest.mark.parametrize("klass", ALL_CLASSES)
def test_no_healthy_true_value_passes_a_limit_or_a_range(klass: Klass) -> None:
    recording, inside = short(klass)
    rows = healthy(recording, inside)
    true = {
        FRICTION_FORCE: inside.friction_force_n,
        PIN_TEMPERATURE: inside.pin_temperature_degc,
        BATH_TEMPERATURE: inside.bath_temperature_degc,
        MOTOR_CURRENT: inside.motor_current_a,
    }
    for name, limit in recording.rig.limits.items():
        assert true[name][rows].max() < limit
        assert limit <= recording.rig.ranges[name][1]
    for name, (low, high) in recording.rig.ranges.items():
        values = recording.channels[name][np.isfinite(recording.channels[name])]
        assert name == recording.truth.fault_channel or (low <= values.min() and values.max() <= high)


@pytest.mark.parametrize("klass", ALL_CLASSES)
def test_the_bath_keeps_less_heat_than_was_put_in(klass: Klass) -> None:
    inside = short(klass)[1]
    friction_j = float(np.sum(inside.friction_force_n * inside.ring_speed_rad_s)) * inside.ring_radius_m / RATE_HZ
    assert friction_j <= inside.heat_in_j * 1.001
    assert inside.bath_heat_j <= inside.heat_in_j


@pytest.mark.parametrize("klass", GROWING)
def test_a_scuff_at_least_doubles_friction_and_stays(klass: Klass) -> None:
    recording, inside = short(klass)
    truth, friction_n = recording.truth, inside.friction_force_n
    earliest, onset = (int(t_s * RATE_HZ) for t_s in (truth.earliest_legitimate_trip_s, truth.onset_s))
    before_n = float(np.median(friction_n[earliest - 200 : earliest]))
    end = int((truth.stall_s if math.isfinite(truth.stall_s) else inside.t_s[-1]) * RATE_HZ)
    late_n = friction_n[onset + int(0.7 * (end - onset)) : end]
    assert np.median(late_n) > 2.2 * before_n
    assert late_n.min() > 1.5 * before_n
    assert np.median(late_n / inside.normal_load_n[end - late_n.size : end]) > 0.15
    if klass is Klass.SEIZURE:
        assert math.isfinite(truth.stall_s)


@pytest.mark.parametrize(
    ("klass", "least_s", "most_s"), [(Klass.SCUFFING_LONG, 20, 241), (Klass.SCUFFING_SHORT, 1, 20)]
)
def test_precursors_are_ahead_by_what_the_class_says(klass: Klass, least_s: float, most_s: float) -> None:
    recording, inside = short(klass)
    truth = recording.truth
    assert least_s <= truth.onset_s - truth.earliest_legitimate_trip_s <= most_s
    assert truth.precursor is not Precursor.NONE
    first, onset = (int(t_s * RATE_HZ) for t_s in (truth.earliest_legitimate_trip_s, truth.onset_s))
    quiet_n = inside.friction_force_n[first - 300 : first]
    assert inside.friction_force_n[first:onset].max() > 1.2 * np.median(quiet_n)


def test_a_jam_stops_the_ring_within_300_ms_while_the_motor_pulls() -> None:
    recording, inside = short(Klass.JAM)
    assert 0.0 <= recording.truth.stall_s - recording.truth.jam_s <= 0.3
    assert inside.on[-1]
    assert inside.ring_speed_rad_s[-1] == 0.0


def test_an_overheat_is_earliest_180_s_before_the_true_limit() -> None:
    recording, inside = short(Klass.OVERHEAT)
    truth, limits = recording.truth, recording.rig.limits
    assert 0.0 < truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
    over = (inside.bath_temperature_degc > limits[BATH_TEMPERATURE]) | (
        inside.pin_temperature_degc > limits[PIN_TEMPERATURE]
    )
    assert inside.t_s[over][0] == pytest.approx(truth.overheat_s, abs=0.2)
    assert set(truth.seen_by) == {PIN_TEMPERATURE, BATH_TEMPERATURE}


def test_a_lost_supply_ends_the_current_and_the_ring_coasts() -> None:
    recording, inside = short(Klass.SUPPLY_LOST)
    after = int(recording.truth.supply_lost_s * RATE_HZ) + 1
    assert not inside.motor_current_a[after:].any()
    assert (np.diff(inside.ring_speed_rad_s[after:]) <= 0.0).all()


def test_starts_are_at_least_five() -> None:
    inside = short(Klass.STARTS_AND_STOPS)[1]
    assert np.count_nonzero(np.diff(inside.on.astype(int)) == 1) >= 5


def test_equal_arguments_give_equal_bits_and_other_seeds_do_not() -> None:
    first, again = generate(3, Klass.SUPPLY_LOST, 20.0), generate(3, Klass.SUPPLY_LOST, 20.0)
    assert repr((first.rig, first.truth)) == repr((again.rig, again.truth))
    np.testing.assert_array_equal(first.time_s, again.time_s)
    for name, values in first.channels.items():
        np.testing.assert_array_equal(values, again.channels[name])
    assert generate(4, Klass.SUPPLY_LOST, 20.0).rig != first.rig


@pytest.mark.parametrize("channel_set", list(ChannelSet))
def test_a_channel_set_changes_what_is_seen_and_not_what_happens(channel_set: ChannelSet) -> None:
    recording, inside = made(18, Klass.SUPPLY_LOST, 20.0, channel_set)
    assert tuple(recording.channels) == tuple(recording.rig.ranges) == CHANNELS_OF[channel_set]
    assert set(recording.rig.limits) <= set(recording.channels)
    whole = made(18, Klass.SUPPLY_LOST, 20.0, ChannelSet.ALL)[1]
    np.testing.assert_array_equal(inside.friction_force_n, whole.friction_force_n)


def test_no_channel_set_draws_one() -> None:
    assert made(18, Klass.SUPPLY_LOST, 20.0, None)[0].rig.channel_set in ChannelSet


def test_another_rate_is_the_same_bench() -> None:
    slow, fast = made(18, Klass.SUPPLY_LOST, 20.0)[0], short(Klass.SUPPLY_LOST)[0]
    assert slow.rig.loads_n == fast.rig.loads_n
    assert slow.truth.supply_lost_s == fast.truth.supply_lost_s


def design(kind: DriveKind) -> DriveDesign:
    """Give a drive of about 60 W."""
    return DriveDesign(kind, 30.0, 0.5, 2.0, 6.0, 1.5, 0.3, 0.25, 1.0, 0.0)


def turned(drive: Drive, load_nm: float, seconds: float, inertia_kg_m2: float = 0.05) -> float:
    """Start a drive against a constant torque; give the speed it ends at, rad/s."""
    shaft = Line(LineDesign(inertia_kg_m2, 0.0, load_nm, 0.0, math.inf, 0.0, 0.01), 0.0)
    for _ in range(int(seconds * 100)):
        shaft.step(drive.step(shaft.motor_rad_s, True, 1.0, 0.01), 0.0, 0.0, 0.01)
    return shaft.ring_rad_s


@pytest.mark.parametrize("kind", list(DriveKind))
def test_every_drive_reaches_set_speed_droops_and_stalls(kind: DriveKind) -> None:
    assert turned(drive_of(design(kind)), 0.5, 20.0) == pytest.approx(30.0, rel=0.03)
    loaded = drive_of(design(kind))
    assert 15.0 < turned(loaded, 2.0, 20.0) < 30.1
    assert loaded.current_a == pytest.approx(1.5, rel=0.12)
    stalled = drive_of(design(kind))
    assert turned(stalled, 8.0, 20.0) == 0.0
    assert stalled.current_a > 2.0 * loaded.current_a


@pytest.mark.parametrize("kind", list(DriveKind))
def test_the_current_noted_with_the_pin_lifted_is_what_the_drive_settles_at(kind: DriveKind) -> None:
    drive = drive_of(design(kind))
    turned(drive, 0.5, 20.0)
    assert drive.current_a == pytest.approx(free_current_a(design(kind)), rel=0.1)


def test_brushed_torque_is_proportional_to_current_less_the_idle_one() -> None:
    for motor in (BrushedBare(design(DriveKind.BRUSHED_BARE)), BrushedLimited(design(DriveKind.BRUSHED_LIMITED))):
        for _ in range(60):
            torque_nm = motor.step(12.0, True, 1.0, 0.01)
        assert torque_nm > 0.0
        assert torque_nm == pytest.approx(motor.constant_nm_a * (motor.current_a - motor.idle_a))


def test_an_induction_motor_pulls_most_at_its_pull_out_slip() -> None:
    motor = Induction(design(DriveKind.INDUCTION_DIRECT), inverter=False)
    speeds_rad_s = np.linspace(0.0, motor.field_rad_s, 400)
    torques_nm = [motor.step(float(speed_rad_s), True, 1.0, 0.01) for speed_rad_s in speeds_rad_s]
    assert max(torques_nm) == pytest.approx(6.0, rel=1e-3)
    assert speeds_rad_s[int(np.argmax(torques_nm))] == pytest.approx(0.75 * motor.field_rad_s, rel=0.01)


def test_a_belt_slips_when_the_ring_is_held_and_the_motor_turns_on() -> None:
    shaft = Line(LineDesign(0.01, 0.05, 0.1, 0.0, 2.0, 0.02, 0.01), 30.0)
    for _ in range(200):
        shaft.step(2.2, 0.0, 50.0, 0.01)
    assert shaft.ring_rad_s == 0.0
    assert shaft.motor_rad_s > 20.0


def test_friction_at_rest_is_no_more_than_the_motor_gives() -> None:
    shaft = Line(LineDesign(0.01, 0.05, 0.1, 0.0, math.inf, 0.0, 0.01), 0.0)
    shaft.step(0.6, 100.0, 0.0, 0.01)
    assert shaft.friction_n == pytest.approx((0.6 - 0.1) / 0.01)


@pytest.mark.parametrize(
    ("at_30_mpa_s", "at_60_mpa_s", "at_100_mpa_s"), [(153.0, 34.0, 9.1), (250.0, 50.5, 12.6), (122.0, 26.3, 7.3)]
)
def test_viscosity_follows_published_oils(at_30_mpa_s: float, at_60_mpa_s: float, at_100_mpa_s: float) -> None:
    """Three heavy machine oils of Stachowiak and Batchelor, Engineering Tribology, table 2.3."""
    oil = oil_through(at_30_mpa_s / 0.87, at_100_mpa_s / 0.87, 30.0, 100.0)
    assert dynamic_pa_s(oil, 60.0) * 1e3 == pytest.approx(at_60_mpa_s, rel=0.1)
    assert kinematic_mm2_s(oil, 30.0) == pytest.approx(at_30_mpa_s / 0.87)


@pytest.mark.parametrize(
    ("lag_s", "burst_ms", "below_db"),
    [(FAST_S, 1000, 0.0), (FAST_S, 200, -1.0), (FAST_S, 50, -4.8), (SLOW_S, 1000, -2.0), (SLOW_S, 200, -7.4)],
)
def test_the_meter_answers_tone_bursts_as_the_standard_says(lag_s: float, burst_ms: int, below_db: float) -> None:
    """IEC 61672-1, reference responses to 4 kHz tone bursts (values from memory)."""
    level_db = np.full(4000, 20.0)
    level_db[1000 : 1000 + burst_ms] = 90.0
    assert weighted_db(level_db, 1000.0, lag_s).max() - 90.0 == pytest.approx(below_db, abs=0.1)


def test_heat_accounts_close() -> None:
    heat = Heat(draw_rig(np.random.default_rng(5), Klass.STAIRCASE).heat, 40.0, 0.0)
    start_j = heat.stored_j()
    for k in range(6000):
        heat.step(30.0 + 10.0 * math.sin(k / 50.0), False, 0.0, 0.1)
    heat.fill_up(0.1, 22.0)
    kept_j = heat.bath_heat_j + heat.stored_j() - start_j
    assert heat.heat_in_j == pytest.approx(kept_j + heat.lost_j, rel=1e-9)


def test_pressure_falls_as_the_pin_wears_and_running_in_lowers_friction() -> None:
    rig = draw_rig(np.random.default_rng(6), Klass.STAIRCASE)
    worn_m3 = flat_m3(rig.pair.nose_radius_m, 2e-4)
    assert pressure_pa(rig.pair, worn_m3, 100.0) == pytest.approx(100.0 / (math.pi * 4e-8))
    surface = Surface(rig.pair, rig.full_load_n, worn_m3, run_in=False)
    fresh = surface.curve(rig.full_load_n, rig.pair.reference_pa_s, 1.0)
    for _ in range(9000):
        surface.step(rig.full_load_n, rig.pair.reference_m_s, 0.6, 60.0, 0.1)
    after = surface.curve(rig.full_load_n, rig.pair.reference_pa_s, 1.0)
    assert surface.worn_m3 > worn_m3
    assert friction(after, rig.pair.reference_m_s) < friction(fresh, rig.pair.reference_m_s)
    assert friction(after, 0.0) == after.boundary > friction(after, 1e3 * rig.pair.reference_m_s) > after.fluid


def friction(curve: Curve, speed_m_s: float) -> float:
    """Give the friction coefficient at a speed."""
    return float(curve.fluid + (curve.boundary - curve.fluid) / (1.0 + curve.factor * speed_m_s**curve.exponent))


@pytest.mark.parametrize("kind", list(Tachometer))
def test_every_tachometer_reads_a_steady_shaft_and_a_shaft_at_rest(kind: Tachometer) -> None:
    rigs = (draw_rig(np.random.default_rng(seed), Klass.JAM) for seed in range(40))
    rig = next(rig for rig in rigs if rig.tachometer is kind)
    pulses_per_s = max(rig.pulses_per_turn * rig.set_speed_rpm / 60.0, 1.0)
    teeth = Teeth(1, max(0.5, 40.0 / pulses_per_s), max(1.0, 3.0 / pulses_per_s), 1e-4, 0.05)
    speed_rad_s: Floats = np.repeat([rig.set_speed_rad_s, 0.0], 3000)
    rpm = read_rpm(np.random.default_rng(1), rig, teeth, speed_rad_s, RATE_HZ)
    assert np.median(rpm[:3000]) == pytest.approx(rig.set_speed_rpm, rel=0.03)
    assert np.abs(rpm[-500:]).max() < 0.03 * rig.set_speed_rpm


def test_ring_speed_channel_follows_the_true_speed() -> None:
    recording, inside = short(Klass.STARTS_AND_STOPS)
    read_rpm_values = np.interp(inside.t_s, recording.time_s, np.nan_to_num(recording.channels[RING_SPEED]))
    true_rpm = inside.ring_speed_rad_s * 30.0 / math.pi
    assert np.median(np.abs(read_rpm_values - true_rpm)) < 0.03 * recording.rig.ring_speed_rpm


def test_both_doors_give_the_same_recording() -> None:
    through = simulate(5, Klass.JAM, 20.0)[0]
    np.testing.assert_array_equal(generate(5, Klass.JAM, 20.0).channels[MOTOR_CURRENT], through.channels[MOTOR_CURRENT])
