"""The eighth simulated world against facts from outside it; the source stands beside each check."""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "bench" / "detection"))

from world_b.values import SOUND_LEVEL, DriveKind, Klass, Tachometer
from world_h.acts import nothing_done
from world_h.chance import Purpose, generator
from world_h.drives import DT_S, drive_of
from world_h.facts import no_load_a
from world_h.growth import Growth, Law, draw_growth
from world_h.hands import ring
from world_h.instruments import draw_instruments
from world_h.readings import lagged
from world_h.rig import Oil
from world_h.rig_draw import draw_rig
from world_h.state import State
from world_h.tachometer import read_speed
from world_h.turning import Course
from world_h_made import bare_contact, rig_with, running, turned

pytestmark = [pytest.mark.slow, pytest.mark.long]

MOST = dict.fromkeys(
    ("normal_load_n", "friction_force_n", "motor_current_a", "sound_level_db", "pin_temperature_degc"), 10.0
) | {"bath_temperature_degc": 40.0, "ring_speed_rpm": 500.0}


def at_load(kind: DriveKind, share: float, lasts_s: float) -> tuple[Course, State]:
    """Give a bare contact's course and end state under a share of its top load."""
    rig = bare_contact(rig_with(kind))
    return turned(rig, running(share * rig.lever.top_load_n, lasts_s))


def test_friction_over_speed_falls_into_a_valley_and_rises_again() -> None:
    # The Stribeck curve, as in any text on lubrication: boundary plateau, mixed fall, hydrodynamic rise.
    rig = rig_with(DriveKind.BRUSHED_LIMITED)
    rig = replace(rig, contact=replace(rig.contact, stribeck=2.0, stribeck_power=1.6, mu_fluid=0.02))
    _, state = turned(rig, running(0.5 * rig.lever.top_load_n, 2.0))
    mu = [state.mu_at(share * rig.set_rad_s) for share in np.geomspace(0.01, 30.0, 60)]
    lowest = int(np.argmin(mu))
    assert 5 < lowest < 55
    assert (np.diff(mu[:lowest]) < 0.0).all()
    assert (np.diff(mu[lowest:]) > 0.0).all()
    assert mu[0] > 2.0 * mu[lowest]


def test_more_load_moves_the_contact_towards_boundary_friction() -> None:
    # The Stribeck number is viscosity times speed over load: same source.
    light, heavy = (at_load(DriveKind.BRUSHED_LIMITED, share, 4.0)[1] for share in (0.1, 1.0))
    plateau = [
        state.mu_at(0.5 * state.rig.set_rad_s) / state.mu_at(1e-3 * state.rig.set_rad_s) for state in (light, heavy)
    ]
    assert plateau[0] < plateau[1] <= 1.0


def test_oil_thins_from_40_to_100_degc_as_mineral_oils_do() -> None:
    # ISO VG 46 of VI 100: 46 cSt at 40 degC, 6.8 at 100 degC, a ratio of 6.8 (DOMAIN 7);
    # light oils about 4, VG 460 about 15, from memory.
    ratios = []
    for seed in range(60):
        oil = draw_rig(generator(seed, Klass.JAM, 0, Purpose.RIG), tight=False).oil
        ratios.append(oil.viscosity_ratio(40.0) / oil.viscosity_ratio(100.0))
    assert 2.8 < min(ratios) < 6.8 < max(ratios) < 17.0
    assert Oil(850.0, 100.0, 40.0).viscosity_ratio(40.0) == 1.0


def test_a_locked_induction_motor_draws_three_to_ten_times_its_rated_current() -> None:
    # DETECTION 1.3: 3 to 10 times quoted, 5 to 7 usual.
    rig = rig_with(DriveKind.INDUCTION_DIRECT)
    drive = drive_of(rig)
    for _ in range(200):
        drive.pull(0.0, 1.0)
    assert 3.0 < drive.current_a / rig.motor.rated_a < 10.0


def test_an_induction_motor_gives_its_greatest_torque_at_the_breakdown_slip() -> None:
    # Kloss's formula, as in any text on electrical machines.
    rig = rig_with(DriveKind.INDUCTION_DIRECT)
    speeds = np.linspace(0.0, rig.set_rad_s, 2001)
    torques = [drive_of(rig).pull(float(speed), 1.0) for speed in speeds]
    assert max(torques) == pytest.approx(rig.motor.stall_nm, rel=1e-4)
    slip = 1.0 - speeds[int(np.argmax(torques))] / rig.set_rad_s
    assert slip == pytest.approx(rig.motor.breakdown_slip, abs=0.03)


def test_a_brushed_motor_loses_torque_linearly_with_speed() -> None:
    # DOMAIN 8: T = k_t (I - I0), n0 = (V - I0 R) / k_e: a straight line from stall to idling.
    rig = rig_with(DriveKind.BRUSHED_BARE)
    torques = [drive_of(rig).pull(share * rig.set_rad_s, 1.0) for share in (0.0, 0.25, 0.5)]
    assert torques[0] == pytest.approx(rig.motor.stall_nm)
    assert torques[0] - torques[1] == pytest.approx(torques[1] - torques[2])
    assert drive_of(rig).pull(rig.set_rad_s, 1.0) == pytest.approx(rig.motor.drag_nm)


@pytest.mark.parametrize("kind", list(DriveKind))
def test_at_constant_speed_the_shaft_carries_drag_and_friction(kind: DriveKind) -> None:
    # Newton: no acceleration, no difference of torques.
    course, state = at_load(kind, 0.6, 25.0)
    last = slice(-200, None)
    carried = course.friction_n[last].mean() * state.rig.ring_radius_m + state.drag_at(float(course.ring_rad_s[-1]))
    assert course.ring_rad_s[-1] > 0.7 * state.rig.set_rad_s
    assert course.shaft_nm[last].mean() == pytest.approx(carried, rel=0.02)


@pytest.mark.parametrize("kind", list(DriveKind))
def test_with_the_pin_lifted_the_motor_draws_what_the_technician_reads(kind: DriveKind) -> None:
    # Common practice, no source: the no-load current is read by hand with the pin lifted, warm.
    rig = rig_with(kind)
    warm = replace(rig, motor=replace(rig.motor, drag_viscous=0.0))
    course, _ = turned(warm, running(0.0, 20.0))
    assert course.current_a[-200:].mean() == pytest.approx(no_load_a(warm), rel=0.03)
    assert course.ring_rad_s[-1] == pytest.approx(warm.set_rad_s, rel=0.03)


def test_a_controller_with_an_integral_brings_the_speed_back_and_a_bare_motor_does_not() -> None:
    # Common practice, no source.
    left = []
    for kind in (DriveKind.BRUSHED_LIMITED, DriveKind.BRUSHED_BARE):
        rig = bare_contact(rig_with(kind))
        acts = running(0.0, 30.0)
        acts.load_n[acts.t_s > 15.0] = rig.lever.top_load_n
        course, _ = turned(rig, acts)
        at = round(15.0 / DT_S)
        left.append(1.0 - course.ring_rad_s[-1] / course.ring_rad_s[at])
        assert course.ring_rad_s[at:].min() < course.ring_rad_s[at] * 0.9999
    assert left[0] == pytest.approx(0.0, abs=1e-3)
    assert left[1] > 0.01


def test_a_jammed_motor_with_a_limit_holds_that_current_and_the_ring_stands() -> None:
    # DETECTION 1.3: with an electronic limit the current only rises to it; a jam stops a ring in 10 to 300 ms.
    rig = bare_contact(rig_with(DriveKind.BRUSHED_LIMITED))
    acts = running(0.5 * rig.lever.top_load_n, 14.0)
    acts.jam_nm[acts.t_s > 10.0] = 2.0 * rig.motor.stall_nm
    course, _ = turned(rig, acts)
    stands = np.flatnonzero(course.ring_rad_s[2000:] == 0.0)[0] * DT_S
    assert 0.005 < stands < 0.5
    assert course.shaft_nm[-1] == pytest.approx(rig.motor.stall_nm)
    assert course.ring_rad_s.min() >= 0.0


def test_when_the_supply_goes_speed_and_current_both_fall() -> None:
    # DETECTION 1.3, signatures to separate: power loss.
    rig = bare_contact(rig_with(DriveKind.INDUCTION_DIRECT))
    acts = running(0.8 * rig.lever.top_load_n, 30.0)
    acts.supply[acts.t_s > 8.0] = 0.0
    course, _ = turned(rig, acts)
    assert course.ring_rad_s[1600] > 0.9 * rig.set_rad_s
    assert course.ring_rad_s[-1] == 0.0
    assert course.current_a[-1] < 1e-3 * rig.motor.idle_a


def test_a_belt_slips_at_its_torque_while_the_motor_goes_on() -> None:
    # Common practice, no source: a dry belt slips when the ring is held.
    rig = bare_contact(rig_with(DriveKind.INDUCTION_DIRECT, belt=True))
    rig = replace(rig, motor=replace(rig.motor, belt_nm=0.6 * rig.motor.stall_nm))
    acts = running(0.3 * rig.lever.top_load_n, 16.0)
    acts.jam_nm[acts.t_s > 12.0] = 3.0 * rig.motor.stall_nm
    course, _ = turned(rig, acts)
    assert course.ring_rad_s[-1] == 0.0
    assert course.motor_rad_s[-1] > 0.5 * rig.set_rad_s


def test_heat_that_cannot_leave_stays_in_the_bath() -> None:
    # First law: friction heat is kept where nothing is lost.
    rig = rig_with(DriveKind.BRUSHED_LIMITED)
    rig = replace(rig, warmth=replace(rig.warmth, heater_w=0.0, stirring_w=0.0))
    acts = running(rig.lever.top_load_n, 40.0)
    acts.cooling[:] = 0.0
    course, state = turned(rig, acts)
    assert state.heat_j > 10.0
    assert rig.warmth.bath_j_k * (course.bath_degc[-1] - rig.warmth.ambient_degc) == pytest.approx(
        state.heat_j, rel=1e-6
    )
    rubbed_j = float(np.sum(course.friction_n * course.ring_rad_s)) * rig.ring_radius_m * DT_S
    assert rubbed_j == pytest.approx(state.heat_j, rel=0.01)


def test_a_heated_bath_nears_its_end_as_a_first_order_lag() -> None:
    # 63.2 % after one time constant of heat kept over heat lost: Newton's law of cooling.
    rig = rig_with(DriveKind.BRUSHED_LIMITED)
    warmth = replace(rig.warmth, heater_w=0.0, bath_j_k=100.0, bath_w_k=5.0)
    acts = nothing_done(200.0)
    acts.heat_w[:] = 50.0
    course, _ = turned(replace(rig, warmth=warmth), acts)
    rise = course.bath_degc - warmth.ambient_degc
    assert rise[200] / rise[-1] == pytest.approx(1.0 - math.exp(-1.0), abs=0.01)
    assert rise[-1] == pytest.approx(10.0, rel=0.01)


def test_the_sound_meter_weighs_time_as_fast() -> None:
    # IEC 61672-1, time weighting F of 125 ms: a burst of 200 ms reads -1.0 dB, the decay is 34.7 dB/s (DOMAIN 4).
    sensor = draw_instruments(np.random.default_rng(1), rig_with(DriveKind.BRUSHED_BARE), MOST, None).sensors[
        SOUND_LEVEL
    ]
    power = np.full(600, 1e-9)
    power[100:140] = 1.0
    read_db = 10.0 * np.log10(lagged(power, sensor.lag_s))
    assert read_db.max() == pytest.approx(-0.98, abs=0.05)
    assert (read_db[140] - read_db[240]) / (100 * DT_S) == pytest.approx(34.74, rel=0.02)


def test_the_lever_rings_at_its_own_frequency_and_dies_away() -> None:
    # A damped oscillator loses exp(-2 pi damping) a period: any text on vibrations.
    rig = rig_with(DriveKind.BRUSHED_BARE)
    rig = replace(rig, lever=replace(rig.lever, own_hz=4.0, damping=0.03))
    acts = nothing_done(10.0)
    acts.load_n[:] = rig.lever.top_load_n
    ring(rig, acts, 1.0, 0.2 * rig.lever.top_load_n)
    swing = acts.load_n - rig.lever.top_load_n
    upward = np.flatnonzero((swing[:-1] <= 0.0) & (swing[1:] > 0.0)) * DT_S
    assert np.diff(upward[:8]) == pytest.approx(0.25, abs=0.006)
    peaks = [swing[round(at / DT_S) : round((at + 0.25) / DT_S)].max() for at in upward[:4]]
    assert peaks[1] / peaks[0] == pytest.approx(math.exp(-2.0 * math.pi * 0.03), rel=0.03)


def test_friction_loads_the_lever_by_its_own_force() -> None:
    # DOMAIN 10: a friction force that passes the pivot at height h adds or takes load, by its sense.
    rig = bare_contact(rig_with(DriveKind.BRUSHED_LIMITED))
    loads = []
    for pull_in in (-0.3, 0.0, 0.3):
        course, _ = turned(replace(rig, lever=replace(rig.lever, pull_in=pull_in)), running(10.0, 8.0))
        loads.append(course.normal_n[-100:].mean())
        assert loads[-1] == pytest.approx(10.0 + pull_in * course.friction_n[-100:].mean(), rel=1e-3)
    assert loads[0] < loads[1] < loads[2]


def test_a_gated_tachometer_shows_whole_pulses() -> None:
    # DETECTION 1.3: resolution 60 / (pulses per turn x gate) r/min.
    rig = rig_with(DriveKind.BRUSHED_LIMITED)
    drawn = draw_instruments(np.random.default_rng(2), rig, MOST, None)
    gated = replace(drawn, tachometer=Tachometer.GATE, pulses_per_turn=20, gate_s=0.25)
    course, _ = turned(rig, running(0.0, 12.0, on_s=1.0))
    shown = read_speed(rig, gated, course, np.arange(0.0, 12.0, 0.01))
    counts = shown / (60.0 / (20 * 0.25))
    assert counts == pytest.approx(np.round(counts), abs=1e-6)
    assert shown[-1] == pytest.approx(rig.set_rad_s * 30.0 / math.pi, abs=60.0 / (20 * 0.25) + 1.0)


def test_a_tachometer_by_period_shows_the_speed_and_in_the_end_standstill() -> None:
    # DETECTION 1.3: zero is seen only after the time-out of the period counter.
    rig = bare_contact(rig_with(DriveKind.BRUSHED_LIMITED))
    drawn = draw_instruments(np.random.default_rng(2), rig, MOST, None)
    period = replace(drawn, tachometer=Tachometer.PERIOD, pulses_per_turn=2, on_motor=False)
    acts = running(0.5 * rig.lever.top_load_n, 20.0)
    acts.jam_nm[acts.t_s > 12.0] = 3.0 * rig.motor.stall_nm
    course, _ = turned(rig, acts)
    t_s = np.arange(0.0, 20.0, 0.01)
    shown = read_speed(rig, period, course, t_s)
    assert shown[1100] == pytest.approx(course.ring_rad_s[2200] * 30.0 / math.pi, rel=0.01)
    zero_s = t_s[np.flatnonzero((shown == 0.0) & (t_s > 12.0))[0]]
    assert zero_s - 12.0 > math.pi / rig.set_rad_s
    assert (shown[t_s > zero_s + 0.01] == 0.0).all()


@pytest.mark.parametrize("seed", range(12))
def test_a_scuff_only_grows(seed: int) -> None:
    # DETECTION 1.1, first row: onset is a sharp and unrecoverable increase in friction.
    growth = draw_growth(np.random.default_rng(seed), seizing=False)
    multiple = growth.multiple(np.arange(-2.0, 40.0, DT_S))
    assert (multiple[:400] == 1.0).all()
    assert (np.diff(multiple) >= -1e-12).all()
    assert 1.6 <= multiple[-1] <= 10.0


def test_a_seizing_contact_doubles_again_and_again() -> None:
    # Derived here: an exponential doubles every ln 2 of its time.
    growth = Growth(Law.SEIZING, 60.0, 1.0, 0.0)
    doubled = growth.multiple(np.array([0.0, math.log(2.0), 2.0 * math.log(2.0)]))
    assert doubled == pytest.approx([1.0, 2.0, 4.0])
