"""The sixth simulated world obeys its physics: what the truth tells is in the courses, and work and heat balance."""

from dataclasses import replace
from math import inf, isnan

import numpy as np
import pytest

from world_f_made import RATE_HZ, made  # isort: skip

from world_b.values import BATH_TEMPERATURE, PIN_TEMPERATURE, SCUFFINGS, ChannelSet, DriveKind, Floats, Klass
from world_f.chance import SLOW_STEP_S, STEP_S, fine, grid, lagged, slow_means
from world_f.film import grow
from world_f.heat import temperatures
from world_f.lever import hung_n
from world_f.plan import Hanging, HeatTrouble, Overheat, Plan, Switch, Way
from world_f.promise import MOST_MU, MOST_RISE
from world_f.rig import Rig
from world_f.rig_draws import draw_rig
from world_f.turning import Courses, Start, turn

pytestmark = [pytest.mark.slow, pytest.mark.long]
DAMAGE = (*SCUFFINGS, Klass.SEIZURE)
HEALTHY = [klass for klass in Klass if klass not in (*DAMAGE, Klass.JAM, Klass.OVERHEAT, Klass.ENDURANCE)]


def drawn(seed: int) -> Rig:
    dice = np.random.default_rng(seed)
    return draw_rig(dice, dice, ChannelSet.ALL)


def on_even_clock(seed: int, klass: Klass, stamp_s: float) -> float:
    """Give the moment of the clock without breaks; nights and clocks set back lie before the event."""
    recording, inside = made(seed, klass)
    return float(inside.t_s[-1] - (recording.time_s[-1] - stamp_s))


def trailing(course: Floats, lasts_s: float) -> Floats:
    width = round(lasts_s * RATE_HZ)
    return np.convolve(course, np.full(width, 1.0 / width))[: len(course)]


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("klass", DAMAGE)
def test_the_force_has_tripled_at_the_severe_moment_and_not_before(klass: Klass, seed: int) -> None:
    recording, inside = made(seed, klass)
    truth, t_s = recording.truth, inside.t_s
    sign_s, onset_s, severe_s = (
        on_even_clock(seed, klass, moment_s)
        for moment_s in (truth.earliest_legitimate_trip_s, truth.onset_s, truth.severe_s)
    )
    usual = inside.friction_force_n[(t_s > sign_s - 2.0) & (t_s < sign_s)].mean()
    force = trailing(inside.friction_force_n, 0.05) / usual
    assert force[(t_s > onset_s) & (t_s < onset_s + 10.0)].max() > 2.0
    if isnan(truth.severe_s):
        assert force[t_s > onset_s].max() < 3.2
        return
    assert force[(t_s > severe_s - 0.03) & (t_s < severe_s + 0.03)].max() > 2.8
    assert force[(t_s > onset_s) & (t_s < severe_s - 0.05)].max(initial=0.0) < 3.2


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM])
def test_the_ring_stands_from_the_stall_on_while_the_motor_pulls(klass: Klass, seed: int) -> None:
    recording, inside = made(seed, klass)
    stall = round(on_even_clock(seed, klass, recording.truth.stall_s) * RATE_HZ)
    share = inside.ring_speed_rad_s / (recording.rig.ring_speed_rpm * np.pi / 30.0)
    assert share[stall - 3] > 0.02
    assert share[stall + 2] < 0.02
    assert inside.on[stall]
    assert inside.shaft_torque_nm[stall] > 0.0
    assert np.median(share[stall + 10 :]) < 0.05


@pytest.mark.parametrize("seed", range(2))
def test_an_overheat_passes_its_limit_when_the_truth_says_so(seed: int) -> None:
    recording, inside = made(seed, Klass.OVERHEAT)
    truth, limits = recording.truth, recording.rig.limits
    over = round(on_even_clock(seed, Klass.OVERHEAT, truth.overheat_s) * RATE_HZ)
    courses = {PIN_TEMPERATURE: inside.pin_temperature_degc, BATH_TEMPERATURE: inside.bath_temperature_degc}
    above = {name: courses[name] - limits[name] for name in courses if name in limits}
    assert max(course[: over - 5].max() for course in above.values()) <= 0.0
    assert max(course[over + 5] for course in above.values()) > 0.0
    assert truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
    assert set(truth.seen_by) == {name for name, course in above.items() if course.max() > 0.0}


@pytest.mark.parametrize("klass", HEALTHY)
def test_a_healthy_contact_stays_healthy_and_below_its_limits(klass: Klass) -> None:
    recording, inside = made(0, klass)
    turning = inside.ring_speed_rad_s > 0.6 * recording.rig.ring_speed_rpm * np.pi / 30.0
    load, force = trailing(inside.normal_load_n, 1.0), trailing(inside.friction_force_n, 1.0)
    loaded = turning & inside.on & (load > 0.12 * max(recording.rig.loads_n))
    loaded &= trailing(loaded.astype(np.float64), 1.0) > 0.99
    mu = force[loaded] / load[loaded]
    assert mu.max() < 1.05 * min(MOST_MU, MOST_RISE * np.median(mu))
    assert 0.015 < np.median(mu) < 0.21
    for name, course in (
        (PIN_TEMPERATURE, inside.pin_temperature_degc),
        (BATH_TEMPERATURE, inside.bath_temperature_degc),
    ):
        assert course.max() < recording.rig.limits.get(name, inf)


def _steady(rig: Rig, load_n: float) -> Courses:
    count = round(12.0 / STEP_S)
    one, none = np.ones(count), np.zeros(count)
    contact = rig.contact
    return Courses(
        supply=one, hung_n=load_n * one,
        solid_mu=contact.film_mu * one, fluid_mu=contact.fluid_mu * one, thickness=1.5 * one,
        scuffed_share=none, scuffed_mu=one, hot=none, weld_n=none, outside_nm=none, drag_share=one,
    )  # fmt: skip


@pytest.mark.parametrize("kind", list(DriveKind))
def test_work_of_the_motor_becomes_friction_drag_and_speed(kind: DriveKind) -> None:
    rig = next(rig for rig in map(drawn, range(100)) if rig.motor.kind is kind)
    motor = replace(rig.motor, belt_nm=inf, cog_share=0.0)
    turned = turn(replace(rig, motor=motor), _steady(rig, 0.5 * rig.most_load_n), Start(0.0, 0.0))
    speed = turned.ring_rad_s
    given_j = float((turned.torque_nm * speed).sum()) * STEP_S
    drag_nm = motor.drag_nm * (0.6 + 0.4 * speed / motor.set_rad_s)
    lost_j = float(((turned.friction_n * rig.radius_m + drag_nm) * speed).sum()) * STEP_S
    kept_j = 0.5 * (motor.motor_kgm2 + motor.ring_kgm2) * float(speed[-1]) ** 2
    assert given_j == pytest.approx(lost_j + kept_j, rel=0.03)
    assert float(speed[-1]) == pytest.approx(motor.set_rad_s, rel=0.25)


@pytest.mark.parametrize("seed", range(4))
def test_a_thicker_film_rubs_less_and_a_slower_ring_more(seed: int) -> None:
    rig, load_n = drawn(seed), drawn(seed).most_load_n * 0.5
    start = Start(rig.motor.set_rad_s, 0.0)
    thin, thick = (turn(rig, replace(_steady(rig, load_n), thickness=np.full(500, h), supply=np.ones(500)), start)
                   for h in (0.2, 2.0))  # fmt: skip
    assert thick.friction_n[50:].mean() < 0.6 * thin.friction_n[50:].mean()
    running_out = turn(rig, replace(_steady(rig, load_n), supply=np.zeros(3000)), start)
    moving = running_out.ring_rad_s > 0.02 * rig.motor.set_rad_s
    assert running_out.friction_n[moving][-1] > 1.2 * running_out.friction_n[0]


@pytest.mark.parametrize("trouble", [None, *HeatTrouble])
def test_heat_put_in_is_kept_or_lost(trouble: HeatTrouble | None) -> None:
    rig = drawn(2)
    wrong = None if trouble is None else Overheat(100.0, trouble, 0.9)
    plan = Plan(400.0, (Hanging(-1.0, 50.0),), (Switch(-1.0, True),), (), overheat=wrong, nights=((200.0, 40000.0),))
    heat = temperatures(rig, plan, np.full(round(400.0 / SLOW_STEP_S), 30.0))
    assert heat.put_in_j == pytest.approx(heat.bath_kept_j + heat.pin_kept_j + heat.lost_j, rel=1e-6)
    assert heat.put_in_j >= 30.0 * 399.0


@pytest.mark.parametrize("klass", [Klass.STAIRCASE, Klass.JAM, Klass.SUPPLY_LOST])
def test_heat_of_a_recording_holds_its_friction_work(klass: Klass) -> None:
    _, inside = made(0, klass)
    work_j = float((inside.friction_force_n * inside.ring_speed_rad_s).sum()) * inside.ring_radius_m / RATE_HZ
    assert inside.heat_in_j > 0.97 * work_j
    assert inside.bath_heat_j < inside.heat_in_j


def test_a_new_load_lays_bare_metal_that_runs_in_again() -> None:
    rig = drawn(5)
    plan = Plan(900.0, (Hanging(-1.0, 0.3 * rig.most_load_n),), (Switch(-1.0, True),), (), running=True)
    count = round(900.0 / SLOW_STEP_S)
    load_n = np.where(np.arange(count) < count // 2, 0.3, 0.9) * rig.most_load_n
    film = grow(rig, plan, load_n, np.ones(count), np.full(count, rig.warmth.bath_set_degc))
    before, hump = film.solid_mu[count // 2 - 1], film.solid_mu[count // 2 :].max()
    assert before < hump <= rig.contact.bare_mu
    assert film.solid_mu[-1] < hump


def test_weights_come_to_rest_at_their_load_and_a_dropped_one_swings_over() -> None:
    rig = drawn(3)
    rig = replace(rig, lever=replace(rig.lever, swing_decay_s=0.5, pivot_share=0.0))
    t_s = grid(60.0)
    for way in Way:
        plan = Plan(60.0, (Hanging(-1.0, 20.0), Hanging(20.0, 50.0, way)), (Switch(-1.0, True),), ())
        hung = hung_n(np.random.default_rng(0), rig, plan, t_s)
        assert hung[t_s < 19.9] == pytest.approx(20.0)
        assert hung[-1] == pytest.approx(50.0, rel=1e-6)
        assert (hung.max() > 55.0) == (way is Way.HARD)


def test_a_meter_on_fast_and_grids_are_as_they_should_be() -> None:
    burst = np.where((grid(3.0) >= 1.0) & (grid(3.0) < 1.2), 1e9, 1e-6)
    assert 10.0 * np.log10(lagged(burst, 0.125).max()) - 90.0 == pytest.approx(-0.98, abs=0.08)  # DOMAIN 4
    ramp = grid(30.0)
    assert fine(slow_means(ramp), len(ramp))[100:-100] == pytest.approx(ramp[100:-100], abs=STEP_S)
