"""The world "l": its contract for every class, its truth against the noise-free traces, its parts against the laws."""

import math
from dataclasses import replace

import numpy as np
import pytest
from world_l_made import made

# isort: split
from world_b.values import (
    BATH_TEMPERATURE,
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Klass,
)
from world_l import generate, simulate
from world_l.clock import even_s
from world_l.contact import asperity_share, breakaway_gain, crowding, worn_mm3
from world_l.draws import Purpose, stream
from world_l.drive import critical_slip_of, current_a, kloss_slope, kloss_torque_nm
from world_l.faults import FaultMade, go_wrong
from world_l.growth import rise, wander
from world_l.heat import HeatPaths, HeatState, HeatTrouble, step
from world_l.oil import Oil
from world_l.plan import Growth
from world_l.readings import resonant
from world_l.rig import Rig, draw_rig
from world_l.sound import weighted_db

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


def test_every_fault_can_be_told_from_the_channel() -> None:
    t_s = even_s(1000, 0.1)
    values = 10.0 + np.sin(t_s)
    for fault in Fault:
        wrong = go_wrong(values, t_s, 50.0, FaultMade(MOTOR_CURRENT, fault), (-20.0, 20.0), 3)
        assert wrong[:500] == pytest.approx(values[:500])
        assert not np.array_equal(wrong[500:], values[500:], equal_nan=True)


def test_walther_passes_through_both_data_sheet_points() -> None:
    """ASTM D341; ISO VG 46 with VI near 100 has about 6.8 mm2/s at 100 degC and some 17 mm2/s at 65 degC."""
    oil = Oil(46.0, 6.8)
    assert oil.viscosity_mm2_s(40.0) == pytest.approx(46.0)
    assert oil.viscosity_mm2_s(100.0) == pytest.approx(6.8)
    assert oil.viscosity_mm2_s(65.0) == pytest.approx(17.0, rel=0.05)


def test_wear_goes_with_load_and_distance() -> None:
    """Archard 1953, J. Appl. Phys. 24, 981."""
    assert worn_mm3(1e-7, 200.0, 50.0) == pytest.approx(4.0 * worn_mm3(1e-7, 100.0, 25.0))
    assert crowding(3.0, 1.0) == pytest.approx(0.5)


def test_kloss_has_its_peak_at_critical_slip() -> None:
    """Kloss: T = 2 Tk / (s / sk + sk / s); the solved critical slip gives rated torque at rated slip."""
    assert kloss_torque_nm(5.0, 0.3, 0.3) == pytest.approx(5.0)
    assert kloss_slope(5.0, 0.3, 0.3) == pytest.approx(0.0)
    assert kloss_torque_nm(2.5, critical_slip_of(0.05, 2.5), 0.05) == pytest.approx(1.0)


def test_friction_falls_with_the_film_and_rises_with_rest() -> None:
    """Olver & Spikes 1998: share 1 / (1 + film ratio)^2; Dieterich 1972: log growth of static friction."""
    assert asperity_share(0.0) == 1.0
    assert asperity_share(1.0) == 0.25
    assert breakaway_gain(0.02, math.e - 1.0) == pytest.approx(1.02)


def _rig_with(kind: DriveKind) -> Rig:
    rigs = (draw_rig(stream(seed, Klass.ENDURANCE, Purpose.RIG), Klass.ENDURANCE) for seed in range(200))
    return next(rig for rig in rigs if rig.drive.kind is kind)


@pytest.mark.parametrize("kind", list(DriveKind), ids=lambda k: k.name)
def test_rated_torque_takes_rated_current(kind: DriveKind) -> None:
    drive = _rig_with(kind).drive
    k = drive.peak_torque_nm / drive.rated_torque_nm
    slip = drive.critical_slip * (k - math.sqrt(k * k - 1.0)) if kind is DriveKind.INDUCTION_DIRECT else 0.0
    speed = np.array([drive.idle_speed_rad_s * (1.0 - slip)])
    taken = current_a(drive, np.array([drive.rated_torque_nm]), speed, np.ones(1), np.ones(1))
    assert taken[0] == pytest.approx(drive.rated_current_a)
    if kind is DriveKind.INDUCTION_DIRECT:
        locked = current_a(drive, np.zeros(1), np.zeros(1), np.ones(1), np.ones(1))
        assert 2.5 < locked[0] / drive.rated_current_a < 9.0


PATHS = HeatPaths(20.0, 800.0, 1.0, 0.2, 2.0, 0.3, 20.0, 0.0, 60.0, 55.0, 2.0)


def test_heat_balance_closes_in_joules() -> None:
    """First law: what was put in is in the pin, in the bath, or given to the air."""
    heat = HeatState(20.0, 20.0)
    for i in range(20_000):
        step(heat, PATHS, 40.0 + 30.0 * math.sin(i / 500.0), 20.0, HeatTrouble(extra_bath_w=5.0), 0.25)
    kept_j = PATHS.pin_j_per_k * (heat.pin_degc - 20.0) + PATHS.bath_j_per_k * (heat.bath_degc - 20.0)
    assert heat.put_in_j == pytest.approx(kept_j + heat.given_off_j, rel=1e-9)


def test_a_long_run_ends_where_conduction_says() -> None:
    """Fourier's and Newton's laws: temperatures over the air's are watts over W/K, here without a heater."""
    paths, heat = replace(PATHS, heater_set_degc=math.nan, heater_w=0.0), HeatState(20.0, 20.0)
    for _ in range(80_000):
        step(heat, paths, 50.0, 20.0, HeatTrouble(), 0.25)
    pin_air_w = paths.pin_to_air_w_per_k * (heat.pin_degc - 20.0)
    assert pin_air_w + paths.bath_to_air_w_per_k * (heat.bath_degc - 20.0) == pytest.approx(50.0, rel=1e-3)
    across_w = paths.pin_to_bath_w_per_k * (heat.pin_degc - heat.bath_degc)
    assert across_w + pin_air_w == pytest.approx(0.3 * 50.0, rel=1e-3)


def test_the_bath_keeps_no_more_than_was_put_in() -> None:
    for klass in (Klass.OVERHEAT, Klass.SCUFFING_LONG):
        inside = made(klass)[1]
        assert inside.bath_heat_j < inside.heat_in_j


@pytest.mark.parametrize("growth", list(Growth), ids=lambda g: g.name)
def test_every_growth_starts_at_nothing_and_ends_at_all(growth: Growth) -> None:
    x = np.linspace(0.0, 1.0, 400)
    risen = rise(growth, x, np.random.default_rng(5))
    assert risen[0] == pytest.approx(0.0, abs=1e-9)
    assert risen[-1] == pytest.approx(1.0)
    assert 0.0 <= risen.min() <= risen.max() <= 1.0 + 1e-9


def test_a_wander_is_the_same_at_every_rate() -> None:
    coarse = wander(np.random.default_rng(1), even_s(500, 0.1), 2.0)
    fine = wander(np.random.default_rng(1), even_s(5000, 0.01), 2.0)
    assert fine[::10][:498] == pytest.approx(coarse[:498])


def test_fast_weighting_has_fallen_by_its_rate() -> None:
    """IEC 61672-1: after the sound stops, Fast (0.125 s) falls by 10 lg e / 0.125 s = 34.7 dB/s."""
    level_db = np.where(even_s(2000, 0.001) < 1.0, 90.0, 0.0)
    shown = weighted_db(level_db, 0.001, 0.125)
    assert shown[1100] - shown[1200] == pytest.approx(3.47, abs=0.05)


def test_a_cell_rings_at_its_resonance() -> None:
    """A lightly damped mass on a spring overshoots by exp(-pi D / sqrt(1 - D^2)) (mechanics texts)."""
    stepped = np.where(even_s(4000, 0.001) < 1.0, 0.0, 1.0)
    shown = resonant(stepped, 0.001, 10.0, 0.2)
    assert shown.max() - 1.0 == pytest.approx(math.exp(-math.pi * 0.2 / math.sqrt(0.96)), abs=0.01)
    assert shown[-1] == pytest.approx(1.0, abs=1e-3)
