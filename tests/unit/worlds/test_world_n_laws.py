"""The painted world keeps the laws it states, and its truth can be read again from what is inside."""

import math
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from world_n_made import simulate

from world_b.values import (  # isort: skip
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    SCUFFINGS,
    Fault,
    Floats,
    Inside,
    Kind,
    Klass,
    Precursor,
    Recording,
)
from world_n import curves  # isort: skip
from world_n.names import Oddity  # isort: skip
from world_n.picture import Charts, paint  # isort: skip
from world_n.scene import Scene  # isort: skip
from world_n.stamps import stamped  # isort: skip
from world_n.world import plan_of  # isort: skip

pytestmark = [pytest.mark.slow, pytest.mark.long]

SEEDS = [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 16))]
RUBBING = (*SCUFFINGS, Klass.SEIZURE)
FINE_HZ = 1000.0
SEARCHED_SEEDS = 60

every_class = pytest.mark.parametrize("klass", list(Klass), ids=lambda k: k.name)
rubbing_classes = pytest.mark.parametrize("klass", RUBBING, ids=lambda k: k.name)
every_seed = pytest.mark.parametrize("seed", SEEDS)


@cache
def made(seed: int, klass: Klass) -> tuple[Recording, Inside, Scene, Charts]:
    return *simulate(seed, klass), *plan_of(seed, klass)


def with_kind(kind: Kind | Oddity, klass: Klass = Klass.STAIRCASE) -> tuple[Recording, Inside, Scene]:
    """Give the first recording of a class that has a healthy thing of this kind."""
    for seed in range(SEARCHED_SEEDS):
        scene, _ = plan_of(seed, klass)
        if scene.of(kind):
            return *simulate(seed, klass), scene
    raise AssertionError(f"{kind} not found in {SEARCHED_SEEDS} seeds")


def fine(scene: Scene, charts: Charts, from_s: float, to_s: float) -> tuple[Floats, Floats, Floats]:
    """Give times, friction and load on a grid of the recordings' own, not the truth's."""
    t_s = np.arange(int(from_s * FINE_HZ), int(to_s * FINE_HZ)) / FINE_HZ
    picture = paint(t_s, scene, charts.whole)
    return t_s, picture.friction_n, picture.load_n


@pytest.mark.parametrize("curve", [curves.ramp, curves.smooth, curves.logistic])
def test_ways_up_run_from_nothing_to_all(curve: object) -> None:
    assert callable(curve)
    y = curve(np.linspace(-0.5, 1.5, 201))
    assert y[0] == 0.0
    assert y[-1] == pytest.approx(1.0)
    assert np.all(np.diff(y) >= 0.0)


def test_a_lag_reaches_63_percent_after_its_time() -> None:
    shown = curves.lagged(np.concatenate([[0.0], np.ones(1000)]), 0.01, 2.0)
    assert shown[200] == pytest.approx(1.0 - math.exp(-1.0), abs=1e-6)


def test_a_wander_is_the_same_whoever_asks() -> None:
    t_s = np.linspace(0.0, 50.0, 501)
    whole = curves.wander(t_s, 7, 0.3, 60.0)
    assert np.array_equal(whole[100:200], curves.wander(t_s[100:200], 7, 0.3, 60.0))
    assert np.std(curves.wander(np.linspace(0.0, 9000.0, 90_001), 8, 0.3, 9000.0)) == pytest.approx(0.816, abs=0.03)


@every_class
@every_seed
def test_current_follows_torque_by_the_stated_law(seed: int, klass: Klass) -> None:
    _, inside, scene, _ = made(seed, klass)
    drive = scene.rig.drive
    if scene.of(Kind.BRIEF_DIP, Oddity.EVENING_SAG, Oddity.COMPRESSOR):
        return
    since_s = inside.t_s - max(scene.runs[0][0], -drive.cold_tau_s)
    cold = 1.0 + drive.cold_share * np.exp(-since_s / drive.cold_tau_s)
    share = inside.friction_force_n / (0.4 * scene.rig.contact.largest_load_n)
    free_a, rub_a = drive.no_load_a * cold, drive.no_load_a * drive.gain * share
    law_a = np.sqrt(free_a**2 + rub_a**2) if drive.squared else free_a + rub_a
    full = inside.ring_speed_rad_s > 0.5 * inside.ring_speed_rad_s.max()
    first_off_s = min(off for _, off in scene.runs)
    steady = full & inside.on & (since_s > drive.start_s + 1.0) & (inside.t_s < first_off_s)
    if scene.event is not None:
        steady &= inside.t_s < scene.event.start_s
    assert np.count_nonzero(steady) > 100
    capped_a = np.minimum(law_a, drive.lock_a) if "LIMITED" in drive.kind.name else law_a
    assert np.allclose(inside.motor_current_a[steady], capped_a[steady], rtol=1e-6)


@every_class
@every_seed
def test_shaft_torque_is_friction_drag_and_nothing_when_off(seed: int, klass: Klass) -> None:
    _, inside, scene, _ = made(seed, klass)
    rest_nm = inside.shaft_torque_nm - inside.friction_force_n * inside.ring_radius_m
    assert np.all(inside.shaft_torque_nm[~inside.on] == 0.0)
    assert np.all(inside.motor_current_a[~inside.on] == 0.0)
    held = inside.on & (inside.t_s >= scene.event.start_s) if klass is Klass.JAM and scene.event else ~inside.on
    free = inside.on & ~held
    assert np.all(rest_nm[free] >= 0.5 * inside.drag_torque_nm * 0.999)
    assert np.all(rest_nm[free] <= inside.drag_torque_nm * 1.201)
    if klass is Klass.JAM:
        assert np.max(rest_nm[held]) > inside.drag_torque_nm * 1.201


@every_class
@every_seed
def test_heat_put_in_covers_heat_kept(seed: int, klass: Klass) -> None:
    _, inside, scene, _ = made(seed, klass)
    rise_k = inside.bath_temperature_degc[-1] - inside.bath_temperature_degc[0]
    assert inside.bath_heat_j == pytest.approx(scene.rig.heat.bath_capacity_j_k * rise_k, rel=0.02, abs=50.0)
    speed_m_s = inside.ring_speed_rad_s * inside.ring_radius_m
    friction_j = float(np.sum(inside.friction_force_n * speed_m_s) * 0.01)
    assert inside.heat_in_j > 0.97 * friction_j
    assert inside.heat_in_j >= inside.bath_heat_j


@rubbing_classes
@every_seed
def test_onset_and_severe_read_again(seed: int, klass: Klass) -> None:
    recording, _, scene, charts = made(seed, klass)
    truth, event = recording.truth, scene.event
    assert event is not None
    offset_s = stamped(event.start_s, scene) - event.start_s
    onset_s = truth.onset_s - offset_s
    t_s, friction_n, load_n = fine(scene, charts, onset_s - 10.0, min(onset_s + 60.0, scene.duration_s))
    # load's waviness is in both, so their ratio is free of it; what is left moves little in a fraction of a second
    ratio = friction_n / load_n
    if event.precursor in (Precursor.NONE, Precursor.MICRO_SCUFF):
        just_before = ratio[(t_s > event.start_s - 0.2) & (t_s < event.start_s)].mean()
        first_s = t_s[np.flatnonzero((ratio > 1.03 * just_before) & (t_s > event.start_s))[0]]
        assert first_s == pytest.approx(onset_s, abs=0.02 + 0.05 * event.rise_s)
    assert 0.0 < onset_s - event.start_s < 0.5 * event.rise_s + 0.1
    usual_n = np.median(friction_n[t_s < onset_s])
    above = np.flatnonzero((friction_n >= 3.0 * usual_n) & (t_s >= onset_s))
    if math.isnan(truth.severe_s):
        assert len(above) == 0
    else:
        assert t_s[above[0]] == pytest.approx(truth.severe_s - offset_s, abs=0.02)


@rubbing_classes
@every_seed
def test_scuffed_coefficient_is_that_of_scuffed_steel(seed: int, klass: Klass) -> None:
    _, inside, scene, _ = made(seed, klass)
    event = scene.event
    assert event is not None
    late = (inside.t_s > event.start_s + event.rise_s) & (inside.t_s < event.start_s + event.rise_s + 4.0)
    early = (inside.t_s > event.start_s - 6.0) & (inside.t_s < event.start_s)
    coefficient = inside.friction_force_n / np.maximum(inside.normal_load_n, 1e-9)
    assert 0.2 < np.median(coefficient[late]) < 0.9
    assert np.median(coefficient[late]) > 1.5 * np.median(coefficient[early])


@pytest.mark.parametrize("klass", [k for k in RUBBING if k is not Klass.SCUFFING_SUDDEN], ids=lambda k: k.name)
@every_seed
def test_first_damage_is_the_first_difference(seed: int, klass: Klass) -> None:
    recording, inside, scene, charts = made(seed, klass)
    event = scene.event
    assert event is not None
    healthy_n = paint(inside.t_s, scene, charts.whole, strike=False, warn=False).friction_n
    offset_s = stamped(event.start_s, scene) - event.start_s
    earliest_s = recording.truth.earliest_legitimate_trip_s - offset_s
    before = inside.t_s < min(earliest_s, event.start_s)
    assert np.array_equal(inside.friction_force_n[before], healthy_n[before])
    ahead = (inside.t_s >= earliest_s) & (inside.t_s < event.start_s)
    if event.precursor is not Precursor.NONE:
        assert np.max(inside.friction_force_n[ahead] / healthy_n[ahead]) > 1.05


@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM], ids=lambda k: k.name)
@every_seed
def test_stall_read_again(seed: int, klass: Klass) -> None:
    recording, inside, scene, _ = made(seed, klass)
    truth, event = recording.truth, scene.event
    assert event is not None
    offset_s = stamped(event.start_s, scene) - event.start_s
    slow = inside.ring_speed_rad_s < 0.02 * scene.rig.drive.speed_rpm * 2.0 * math.pi / 60.0
    first = np.flatnonzero(slow & inside.on & (inside.t_s >= event.start_s))[0]
    assert inside.t_s[first] == pytest.approx(truth.stall_s - offset_s, abs=0.0101)
    if klass is Klass.JAM:
        before = (inside.t_s > event.start_s - 1.0) & (inside.t_s < truth.jam_s - offset_s)
        assert np.ptp(inside.ring_speed_rad_s[before]) < 0.02 * inside.ring_speed_rad_s.max()


@every_seed
def test_overheat_read_again(seed: int) -> None:
    recording, inside, scene, _ = made(seed, Klass.OVERHEAT)
    truth, limits = recording.truth, recording.rig.limits
    courses = {PIN_TEMPERATURE: inside.pin_temperature_degc, BATH_TEMPERATURE: inside.bath_temperature_degc}
    first_s = min(
        inside.t_s[np.flatnonzero(courses[name] > limits[name])[0]]
        for name in truth.seen_by
        if np.any(courses[name] > limits[name])
    )
    assert stamped(float(first_s), scene) == pytest.approx(truth.overheat_s, abs=0.02)
    assert truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0 + 1e-9
    shown = [n for n in truth.seen_by if np.nanmedian(recording.channels[n][-100:]) > limits[n]]
    assert shown
    event = scene.event
    assert event is not None
    names = [n for n in truth.seen_by if np.any(courses[n] > limits[n])]
    rates = [np.ptp(courses[n][inside.t_s > event.start_s]) / event.heat_length_s for n in names]
    assert all(0.015 < rate < 9.0 for rate in rates)


@every_seed
def test_supply_lost_read_again(seed: int) -> None:
    recording, inside, scene, _ = made(seed, Klass.SUPPLY_LOST)
    last_on_s = inside.t_s[np.flatnonzero(inside.on)[-1]]
    assert stamped(float(last_on_s), scene) == pytest.approx(recording.truth.supply_lost_s, abs=0.0101)
    assert recording.truth.earliest_legitimate_trip_s == recording.truth.supply_lost_s


@pytest.mark.parametrize("seed", range(4))
def test_seen_channels_move_in_the_recording_itself(seed: int) -> None:
    recording, _, scene, _ = made(seed, Klass.SCUFFING_SUDDEN)
    t_s, onset_s = recording.time_s, recording.truth.onset_s
    before, after = (t_s > onset_s - 10.0) & (t_s < onset_s), (t_s > onset_s) & (t_s < onset_s + 10.0)
    for name, column in recording.channels.items():
        rest, moved = column[before], column[after]
        rest, moved = rest[np.isfinite(rest)], moved[np.isfinite(moved)]
        line = np.polyfit(np.arange(len(rest)), rest, 1)
        scatter = float(np.std(rest - np.polyval(line, np.arange(len(rest)))))
        unrest = max(scatter, 0.3 * scene.rig.readings[name].step)
        moves = np.max(np.abs(np.convolve(moved, np.ones(50) / 50.0, "valid") - np.median(rest)))
        if name in recording.truth.seen_by:
            assert moves > 3.0 * unrest, name
        elif scene.rig.readings[name].hold_s == 0.0:
            assert moves < 12.0 * unrest, name


def test_a_pause_stops_the_motor() -> None:
    recording, inside, _ = with_kind(Kind.PAUSE)
    pause = next(n for n in recording.truth.nuisances if n.kind is Kind.PAUSE)
    within = (inside.t_s > pause.t_s + 0.1) & (inside.t_s < pause.t_s + pause.duration_s - 0.1)
    assert not np.any(inside.on[within])


def test_a_lifted_lever_takes_the_load_off() -> None:
    recording, inside, _ = with_kind(Kind.LIFTED)
    lift = next(n for n in recording.truth.nuisances if n.kind is Kind.LIFTED)
    assert inside.normal_load_n[int((lift.t_s + 0.9 * lift.duration_s) * 100.0)] == 0.0
    assert inside.normal_load_n[int((lift.t_s - 0.5) * 100.0)] > 0.0


def test_a_night_is_a_jump_of_the_stamps() -> None:
    recording, _, scene = with_kind(Kind.DAY_BETWEEN)
    jumps_s = np.diff(recording.time_s)
    assert np.count_nonzero(jumps_s > 10_000.0) == 1
    assert np.max(jumps_s) == pytest.approx(scene.night_length_s, abs=5.0)


def test_stamps_repeat_run_backward_and_skip_as_told() -> None:
    assert np.any(np.diff(with_kind(Kind.DUPLICATE_STAMPS)[0].time_s) == 0.0)
    assert np.any(np.diff(with_kind(Kind.BACKWARD_STAMPS)[0].time_s) < 0.0)
    recording, inside, _ = with_kind(Kind.HOLES)
    assert len(recording.time_s) < len(inside.t_s)


def test_coarse_temperatures_are_halves_of_a_degree() -> None:
    recording, _, scene = with_kind(Kind.COARSE_TEMPERATURE, Klass.STARTS_AND_STOPS)
    column = recording.channels[PIN_TEMPERATURE]
    halves = np.isclose(column * 2.0, np.round(column * 2.0))
    assert np.mean(halves) > 0.99
    assert scene.rig.readings[PIN_TEMPERATURE].step < 0.5


def test_a_start_beyond_the_sensor_is_cut_off() -> None:
    for seed in range(SEARCHED_SEEDS):
        scene, _ = plan_of(seed, Klass.STARTS_AND_STOPS)
        there = scene.rig.readings[MOTOR_CURRENT]
        if scene.of(Kind.CURRENT_RAIL) and there.hold_s == 0.0 and not scene.of(Kind.SPIKES):
            break
    recording, inside = simulate(seed, Klass.STARTS_AND_STOPS)
    top_a = recording.rig.ranges[MOTOR_CURRENT][1]
    assert np.max(inside.motor_current_a) > top_a
    assert np.nanmax(recording.channels[MOTOR_CURRENT]) == top_a


def test_hum_is_on_friction_alone() -> None:
    for seed in range(SEARCHED_SEEDS):
        scene, _ = plan_of(seed, Klass.ENDURANCE)
        if scene.of(Kind.MAINS_HUM) and scene.rig.contact.ripple[0] < 0.02 and not scene.of(Kind.HOLES):
            break
    recording, inside = simulate(seed, Klass.ENDURANCE, rate_hz=1000.0)
    column = recording.channels[FRICTION_FORCE][60_000:160_000]
    spectrum = np.abs(np.fft.rfft(column - column.mean()))
    hz = np.fft.rfftfreq(len(column), 0.001)
    at_mains = max(np.max(spectrum[np.abs(hz - mains) < 0.1]) for mains in (49.97, 59.98))
    assert at_mains > 20.0 * np.median(spectrum[(hz > 65.0) & (hz < 95.0)])
    inner = np.abs(np.fft.rfft(inside.friction_force_n[60_000:160_000]))
    assert max(np.max(inner[np.abs(hz - mains) < 0.1]) for mains in (49.97, 59.98)) < 0.5 * at_mains


@pytest.mark.parametrize("fault", list(Fault), ids=lambda f: f.name)
def test_a_fault_shows_from_its_time_on(fault: Fault) -> None:
    for seed in range(SEARCHED_SEEDS):
        scene, _ = plan_of(seed, Klass.SENSOR_FAULT)
        if scene.broken is not None and scene.broken.fault is fault:
            break
    recording, _ = simulate(seed, Klass.SENSOR_FAULT)
    truth = recording.truth
    assert truth.fault is fault
    column, late = recording.channels[truth.fault_channel], recording.time_s > truth.fault_s + 0.1
    before, after = column[~late & (recording.time_s > truth.fault_s - 5.0)], column[late]
    top = recording.rig.ranges[truth.fault_channel][1]
    shows: dict[Fault, Callable[[], object]] = {
        Fault.STUCK: lambda: np.nanstd(after) < 1e-9 < np.nanstd(before),
        Fault.SATURATED: lambda: np.nanmin(after) == top > np.nanmedian(before),
        Fault.OPEN_THERMOCOUPLE: lambda: np.all(np.isnan(after) | (after > top)),
        Fault.DROPOUT: lambda: np.mean(np.isnan(after)) > 0.4 > np.mean(np.isnan(before)),
        Fault.DRIFT: lambda: abs(np.nanmedian(after[-500:]) - np.nanmedian(before)) > 3.0 * np.nanstd(before) > 0.0,
        Fault.SIGN_FLIP: lambda: np.nanmedian(after) < 0.0 < np.nanmedian(before),
        Fault.TACHOMETER_LOST: lambda: np.nanmax(after) == 0.0 < np.nanmedian(before),
    }
    assert shows[fault]()


@pytest.mark.parametrize("oddity", list(Oddity), ids=lambda o: o.name)
def test_every_oddity_comes_about_and_is_not_told(oddity: Oddity) -> None:
    for klass in (Klass.STAIRCASE, Klass.ENDURANCE, Klass.SQUEAL, Klass.STICK_SLIP, Klass.JAM):
        for seed in range(12):
            scene, _ = plan_of(seed, klass)
            if scene.of(oddity):
                recording, _ = simulate(seed, klass, rate_hz=10.0)
                assert all(n.kind.name != oddity.name for n in recording.truth.nuisances)
                return
    raise AssertionError(f"{oddity} in none of the plans")
