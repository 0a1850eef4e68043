"""The seventh simulated world agrees with its own truth and with mechanics: forces, speeds, heat, work, instruments."""

from dataclasses import replace
from math import inf, isnan

import numpy as np
import pytest

from world_g_made import RATE_HZ, SEED_OF, made  # isort: skip

from world_b.values import (
    BATH_TEMPERATURE,
    FRICTION_FORCE,
    PIN_TEMPERATURE,
    SCUFFINGS,
    SOUND_LEVEL,
    ChannelSet,
    DriveKind,
    Fault,
    Kind,
    Klass,
    Tachometer,
)
from world_g.chance import BEFORE_S, SLOW_S, STEP_S, lagged
from world_g.courses import PATCHES, Courses, clock_s
from world_g.hands import draw_hands
from world_g.harm import no_harm
from world_g.lever import hung_n
from world_g.plan import Hands, Hang, Plan
from world_g.promise import HEALTHY_MU
from world_g.rig import Rig
from world_g.rig_draws import draw_rig
from world_g.slow import begin
from world_g.sound import metered_db
from world_g.tachometer import RPM, read_rpm
from world_g.truth import trailing
from world_g.turning import Turned, turn

pytestmark = [pytest.mark.slow, pytest.mark.long]
DAMAGE = (*SCUFFINGS, Klass.SEIZURE)


def even_s(klass: Klass, stamp_s: float) -> float:
    """Give the moment on the even clock that a stamp belongs to; whatever moves the stamps comes before an event."""
    recording, inside = made(klass)
    return float(inside.t_s[-1] - (recording.time_s[-1] - stamp_s))


def a_rig(kind: DriveKind, seed: int = 1) -> Rig:
    """Give a rig with this drive and a belt that does not slip."""
    while True:
        rig = draw_rig(np.random.default_rng(seed), ChannelSet.ALL)
        if rig.motor.kind is kind:
            return replace(rig, motor=replace(rig.motor, belt_torque_nm=inf))
        seed += 1


def a_plan(lasts_s: float, hangs: tuple[Hang, ...] = ()) -> Plan:
    """Give a plan in which the motor is switched on 1 s after the inner clock's begin."""
    hands = Hands(lasts_s, hangs, ((1.0 - BEFORE_S, True),), (), ((0.0, lasts_s),), ())
    nothing = float("nan")
    return Plan(lasts_s, hands, (), nothing, None, None, None, nothing, None)


def turned_steadily(rig: Rig, lasts_s: float, load_n: float) -> Turned:
    """Turn a rig under one load without any unrest."""
    t_s = clock_s(lasts_s)
    one, none = np.ones(len(t_s)), np.zeros(len(t_s))
    courses = Courses(
        t_s=t_s, hung_n=load_n * one, unrest=one, on=t_s >= 1.0 - BEFORE_S, supply=one, outside_nm=none,
        harm=no_harm(len(t_s)), torn=np.ones((len(t_s), PATCHES)), phases=np.zeros(6),
    )  # fmt: skip
    return turn(rig, a_plan(lasts_s), courses, begin(rig, False, load_n, 0.5, PATCHES), 0.1)


@pytest.mark.parametrize("klass", DAMAGE)
def test_the_force_triples_when_the_truth_says_so(klass: Klass) -> None:
    recording, inside = made(klass)
    truth, force = recording.truth, trailing(inside.friction_force_n, 0.05, 1.0 / RATE_HZ)
    first_s, onset_s = (even_s(klass, x) for x in (truth.earliest_legitimate_trip_s, truth.onset_s))
    before = inside.friction_force_n[(inside.t_s >= first_s - 2.0) & (inside.t_s < first_s)].mean()
    onset = int(np.searchsorted(inside.t_s, onset_s))
    assert force[onset : onset + 1200].max() > 1.9 * before
    if isnan(truth.severe_s):
        assert force[onset:].max() < 3.1 * before
        return
    severe = int(np.searchsorted(inside.t_s, even_s(klass, truth.severe_s)))
    assert force[severe : severe + 4].max() > 2.85 * before
    assert force[onset : severe - 3].max(initial=0.0) < 3.1 * before


@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM])
def test_at_the_stall_the_ring_stands_while_the_motor_pulls_and_not_before(klass: Klass) -> None:
    recording, inside = made(klass)
    stall = int(np.searchsorted(inside.t_s, even_s(klass, recording.truth.stall_s)))
    set_rad_s = recording.rig.ring_speed_rpm / RPM
    assert inside.ring_speed_rad_s[stall + 2] < 0.021 * set_rad_s
    assert inside.ring_speed_rad_s[stall - 3] > 0.019 * set_rad_s
    assert inside.on[stall]
    assert inside.shaft_torque_nm[stall + 2] > 0.0


def test_a_jam_pushes_the_current_up_and_takes_the_force_away() -> None:
    recording, inside = made(Klass.JAM)
    jam_s = even_s(Klass.JAM, recording.truth.jam_s)
    before, after = inside.t_s < jam_s, inside.t_s > jam_s + 6.0
    assert inside.motor_current_a[after].mean() > 1.5 * inside.motor_current_a[before][-200:].mean()
    assert inside.friction_force_n[after].max() < 0.2 * inside.friction_force_n[before][-200:].mean()


def test_the_temperature_passes_its_limit_when_the_truth_says_so() -> None:
    recording, inside = made(Klass.OVERHEAT)
    limits, over = (
        recording.rig.limits,
        int(np.searchsorted(inside.t_s, even_s(Klass.OVERHEAT, recording.truth.overheat_s))),
    )
    past = {
        PIN_TEMPERATURE: inside.pin_temperature_degc - limits[PIN_TEMPERATURE],
        BATH_TEMPERATURE: inside.bath_temperature_degc - limits[BATH_TEMPERATURE],
    }
    assert max(course[over + 3] for course in past.values()) > 0.0
    assert max(course[: over - 3].max() for course in past.values()) < 0.0
    assert recording.truth.overheat_s - 180.1 <= recording.truth.earliest_legitimate_trip_s
    assert set(recording.truth.seen_by) == set(past)


@pytest.mark.parametrize("klass", SEED_OF)
def test_a_contact_is_healthy_until_the_first_sign(klass: Klass) -> None:
    recording, inside = made(klass)
    first_s = recording.truth.earliest_legitimate_trip_s
    well = inside.t_s < (inf if isnan(first_s) else even_s(klass, first_s)) - 0.5
    load, force = (trailing(x, 1.0, 1.0 / RATE_HZ) for x in (inside.normal_load_n, inside.friction_force_n))
    turning = inside.ring_speed_rad_s > 0.8 * recording.rig.ring_speed_rpm / RPM
    mu = (force / np.maximum(load, 1e-9))[well & turning & (load > 0.05 * max(recording.rig.loads_n))]
    assert mu.max() < HEALTHY_MU
    assert 0.03 < np.median(mu) < 0.2
    for name, course in (
        (PIN_TEMPERATURE, inside.pin_temperature_degc),
        (BATH_TEMPERATURE, inside.bath_temperature_degc),
    ):
        assert course[well].max() < recording.rig.limits[name] - (0.0 if klass is Klass.OVERHEAT else 2.0)


def test_damage_is_seen_by_the_friction_cell_and_a_fault_is_in_its_channel() -> None:
    for klass in DAMAGE:
        truth = made(klass)[0].truth
        assert (FRICTION_FORCE in truth.seen_by) != (truth.fault_channel == FRICTION_FORCE)
    recording = made(Klass.SENSOR_FAULT)[0]
    assert recording.truth.fault is Fault.DROPOUT
    late = recording.channels[recording.truth.fault_channel][recording.time_s > recording.truth.fault_s + 0.1]
    assert np.nan_to_num(late).max() == 0.0


def test_a_squeal_is_heard() -> None:
    recording = made(Klass.SQUEAL)[0]
    heard, t_s = recording.channels[SOUND_LEVEL], recording.time_s
    bout = next(each for each in recording.truth.nuisances if each.kind is Kind.SQUEAL)
    before = np.nanmedian(heard[(t_s > bout.t_s - 4.0) & (t_s < bout.t_s)])
    assert np.nanmax(heard[(t_s > bout.t_s) & (t_s < bout.t_s + bout.duration_s)]) > before + 5.0


@pytest.mark.parametrize("kind", DriveKind)
def test_the_motor_works_against_friction_drag_and_inertia(kind: DriveKind) -> None:
    rig = a_rig(kind)
    rig = replace(rig, motor=replace(rig.motor, cold_drag_share=0.0))
    turned, motor = turned_steadily(rig, 6.0, 0.5 * rig.most_load_n), rig.motor
    speed = turned.ring_rad_s
    given_j = float((turned.torque_nm * speed).sum() * STEP_S)
    lost_j = float(((turned.friction_n * rig.radius_m + motor.drag_torque_nm) * speed).sum() * STEP_S)
    kept_j = 0.5 * (motor.motor_inertia_kgm2 + motor.ring_inertia_kgm2) * float(speed[-1]) ** 2
    assert given_j == pytest.approx(lost_j + kept_j, rel=0.03)
    assert float(speed[-1]) == pytest.approx(rig.set_rad_s, rel=0.3)


def test_friction_grows_as_the_ring_slows_down() -> None:
    recording, inside = made(Klass.SUPPLY_LOST)
    lost_s = even_s(Klass.SUPPLY_LOST, recording.truth.supply_lost_s)
    share = inside.ring_speed_rad_s / (recording.rig.ring_speed_rpm / RPM)
    mu = inside.friction_force_n / np.maximum(inside.normal_load_n, 1e-9)
    before = mu[(inside.t_s > lost_s - 3.0) & (inside.t_s < lost_s)].mean()
    slow = mu[(inside.t_s > lost_s) & (share > 0.02) & (share < 0.3)].mean()
    assert slow > 1.02 * before


def test_the_scar_grows_to_a_new_load_and_friction_falls_again() -> None:
    rig = a_rig(DriveKind.BRUSHED_BARE)
    state = begin(rig, True, 0.5 * rig.most_load_n, 1.0, PATCHES)
    usual = state.lift()
    state.step(0.0, 0.0, rig.most_load_n, 1.0, None)
    assert state.lift() < 0.95 * usual
    assert state.pressed > 1.5
    for _ in range(round(6.0 * rig.contact.runs_in_s / SLOW_S)):
        state.step(0.0, 0.0, rig.most_load_n, 1.0, None)
    assert state.pressed == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_heat_put_in_is_kept_or_lost(seed: int) -> None:
    rig = draw_rig(np.random.default_rng(seed), ChannelSet.ALL)
    state, warmth = begin(rig, False, 10.0, 0.0, PATCHES), rig.warmth
    first_degc, pin_degc, lost_j = state.bath_degc, state.pin_degc, 0.0
    for i in range(600):
        lost_j += SLOW_S * warmth.lost_w_k * (state.bath_degc - warmth.room_degc)
        state.step(i * SLOW_S, rig.usual_power_w, 10.0, 1.0, None)
    in_pin_j = warmth.pin_j_k * (state.pin_degc - pin_degc)
    assert state.heat_kept_j == pytest.approx(warmth.bath_j_k * (state.bath_degc - first_degc), rel=1e-6)
    assert state.heat_in_j == pytest.approx(lost_j + state.heat_kept_j + in_pin_j, rel=1e-6)


def test_the_heat_of_a_recording_holds_its_friction_work() -> None:
    for klass in (Klass.JAM, Klass.SQUEAL, Klass.OVERHEAT):
        inside = made(klass)[1]
        work_j = float((inside.friction_force_n * inside.ring_speed_rad_s).sum() * inside.ring_radius_m / RATE_HZ)
        assert inside.heat_in_j > 0.97 * work_j
        assert inside.bath_heat_j < inside.heat_in_j


def test_a_load_settles_at_its_weight_and_a_dropped_one_overshoots() -> None:
    rig = a_rig(DriveKind.BRUSHED_BARE)
    t_s = clock_s(400.0)
    hung = hung_n(
        np.random.default_rng(0),
        rig.lever,
        a_plan(400.0, (Hang(5.0, 20.0, 1.0, 0.0), Hang(100.0, 50.0, 0.05, 1.0))),
        t_s,
    )
    assert hung[-1] == pytest.approx(50.0, rel=1e-3)
    assert hung[(t_s > 100.0) & (t_s < 103.0)].max() > 52.0
    assert hung[t_s < 5.0].max() == 0.0
    assert 16.0 < hung[np.searchsorted(t_s, 8.0)] <= 20.0


def test_a_staircase_goes_up() -> None:
    rig = a_rig(DriveKind.BRUSHED_BARE)
    hands = draw_hands(np.random.default_rng(3), rig, Klass.STAIRCASE)
    assert hands.hangs[-1].load_n == max(hang.load_n for hang in hands.hangs) <= rig.most_load_n + 0.1
    assert [hang.t_s for hang in hands.hangs] == sorted(hang.t_s for hang in hands.hangs)


@pytest.mark.parametrize("kind", Tachometer)
def test_a_tachometer_reads_the_speed_and_sees_it_stand(kind: Tachometer) -> None:
    t_s = np.arange(0.0, 20.0, STEP_S)
    speed = np.where(t_s < 12.0, 31.4, 0.0)
    sensing = replace(a_rig(DriveKind.BRUSHED_BARE).sensing, tachometer=kind, pulses_per_turn=30, gate_s=0.2)
    read = read_rpm(sensing, speed, t_s)
    assert read[(t_s > 3.0) & (t_s < 11.0)].mean() == pytest.approx(31.4 * RPM, rel=0.01)
    assert read[t_s > 14.0].max() < 1.0


def test_the_meter_is_that_of_the_standard() -> None:
    t_s = np.arange(0.0, 4.0, 0.001)
    burst = np.where((t_s >= 1.0) & (t_s < 1.2), 90.0, 0.0)
    assert metered_db(burst, 0.125, 0.001).max() - 90.0 == pytest.approx(-0.98, abs=0.06)  # 200 ms, Fast: DOMAIN 4
    assert lagged(np.ones(9), 1.0, 0.1) == pytest.approx(np.ones(9))
