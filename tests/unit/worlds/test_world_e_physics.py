"""The fifth simulated world is as its truth says: force, speed, temperature, heat and work agree with the physics."""

from dataclasses import replace
from math import inf, isnan

import numpy as np
import pytest

from world_e_made import RATE_HZ, made  # isort: skip

from world_b.values import FRICTION_FORCE, SCUFFINGS, TRIP_WORTHY, ChannelSet, DriveKind, Floats, Klass, Precursor
from world_e.chance import STEP_S, lagged
from world_e.damage import Harm
from world_e.heat import Trouble, temperatures
from world_e.lever import hung_n
from world_e.plan import Load, Plan
from world_e.promise import HEALTHY_MU
from world_e.rig import Rig
from world_e.rig_draws import draw_rig
from world_e.sound import metered_db
from world_e.turning import Courses, turn

pytestmark = [pytest.mark.slow, pytest.mark.long]
DAMAGE = (*SCUFFINGS, Klass.SEIZURE)
SHORT = [klass for klass in Klass if klass is not Klass.ENDURANCE]


def inner_s(klass: Klass, seed: int, stamp_s: float) -> float:
    """Give the moment of the even clock that a stamp belongs to; every row lost or set back lies before the event."""
    recording, inside = made(seed, klass)
    return float(inside.t_s[-1] - (recording.time_s[-1] - stamp_s))


def smooth(course: Floats, lasts_s: float) -> Floats:
    width = max(round(lasts_s * RATE_HZ), 1)
    return np.convolve(course, np.full(width, 1.0 / width), mode="same")


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("klass", DAMAGE)
def test_the_force_triples_when_the_truth_says_so(klass: Klass, seed: int) -> None:
    recording, inside = made(seed, klass)
    truth, force = recording.truth, smooth(inside.friction_force_n, 0.05)
    first_s = inner_s(klass, seed, truth.earliest_legitimate_trip_s)
    before = inside.friction_force_n[(inside.t_s > first_s - 2.0) & (inside.t_s < first_s)].mean()
    onset = np.searchsorted(inside.t_s, inner_s(klass, seed, truth.onset_s))
    if isnan(truth.severe_s):
        assert force[onset:-5].max() < 3.15 * before
        return
    severe = np.searchsorted(inside.t_s, inner_s(klass, seed, truth.severe_s))
    assert force[severe - 3 : severe + 4].max() > 2.7 * before
    assert severe - onset < 10 or force[onset : severe - 8].max(initial=0.0) < 3.3 * before


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM])
def test_the_ring_stands_while_the_motor_pulls_at_the_stall_and_not_before(klass: Klass, seed: int) -> None:
    recording, inside = made(seed, klass)
    stall = int(np.searchsorted(inside.t_s, inner_s(klass, seed, recording.truth.stall_s)))
    set_rad_s = recording.rig.ring_speed_rpm * np.pi / 30.0
    assert inside.ring_speed_rad_s[stall + 5] < 0.025 * set_rad_s
    assert inside.ring_speed_rad_s[stall - 8] > 0.02 * set_rad_s
    assert inside.on[stall]
    assert inside.shaft_torque_nm[stall] > 0.0


@pytest.mark.parametrize("seed", range(2))
def test_the_temperature_passes_the_limit_when_the_truth_says_so_and_rises_steadily(seed: int) -> None:
    recording, inside = made(seed, Klass.OVERHEAT)
    over = int(np.searchsorted(inside.t_s, inner_s(Klass.OVERHEAT, seed, recording.truth.overheat_s)))
    courses = {
        "pin_temperature_degc": inside.pin_temperature_degc,
        "bath_temperature_degc": inside.bath_temperature_degc,
    }
    past = {
        name: course - recording.rig.limits[name] for name, course in courses.items() if name in recording.rig.limits
    }
    assert max(course[over + 10] for course in past.values()) > 0.0
    assert max(course[: over - 10].max() for course in past.values()) < 0.0
    assert recording.truth.overheat_s - 180.1 <= recording.truth.earliest_legitimate_trip_s
    assert set(recording.truth.seen_by) == set(past)


@pytest.mark.parametrize("klass", SHORT)
def test_a_contact_is_healthy_until_the_first_sign(klass: Klass) -> None:
    recording, inside = made(1, klass)
    first_s = recording.truth.earliest_legitimate_trip_s
    end_s = inner_s(klass, 1, first_s) if not isnan(first_s) else inf
    well = inside.t_s < end_s - 1.0
    load, force = smooth(inside.normal_load_n, 1.0), smooth(inside.friction_force_n, 1.0)
    turning = inside.ring_speed_rad_s > 0.3 * recording.rig.ring_speed_rpm * np.pi / 30.0
    loaded = well & turning & (load > 0.05 * max(recording.rig.loads_n))
    mu = force[loaded] / load[loaded]
    assert mu.max() < 1.02 * HEALTHY_MU
    assert 0.01 < np.median(mu) < 0.145
    for name, course in (("pin", inside.pin_temperature_degc), ("bath", inside.bath_temperature_degc)):
        assert course[well].max() < recording.rig.limits.get(f"{name}_temperature_degc", inf)


def test_scuffing_is_seen_by_a_friction_cell_as_a_rule_and_every_precursor_occurs() -> None:
    recordings = [made(seed, klass)[0] for klass in DAMAGE for seed in range(2)]
    sound = [each for each in recordings if each.truth.fault_channel != FRICTION_FORCE]
    assert sum(FRICTION_FORCE in each.truth.seen_by for each in sound) >= 0.9 * len(sound)
    assert len({each.truth.precursor for each in recordings}) >= 3
    assert all(
        (each.truth.precursor is Precursor.NONE) == (each.truth.onset_s == each.truth.earliest_legitimate_trip_s)
        for each in recordings
    )
    assert set(TRIP_WORTHY) == {*DAMAGE, Klass.JAM, Klass.OVERHEAT}


def _rig(seed: int, kind: DriveKind) -> Rig:
    """Give the first rig with the drive, its belt taken off."""
    while True:
        rig = draw_rig(np.random.default_rng(seed), ChannelSet.ALL)
        if rig.motor.kind is kind:
            return replace(rig, motor=replace(rig.motor, belt_torque_nm=inf))
        seed += 1000


def _courses(rig: Rig, lasts_s: float) -> Courses:
    count = round(lasts_s / STEP_S)
    one, none = np.ones(count), np.zeros(count)
    return Courses(
        on=np.arange(count) * STEP_S > 1.0, supply=one, drag_share=one,
        outside_nm=none, load_n=0.8 * rig.most_load_n * one,
        film_mu=rig.contact.film_mu * one, fluid_ratio=rig.contact.fluid_ratio * one, unrest=one,
        harm=Harm(none, none, one, none, one, 0.0),
    )  # fmt: skip


@pytest.mark.parametrize("kind", list(DriveKind))
def test_work_of_the_motor_goes_into_friction_drag_and_speed(kind: DriveKind) -> None:
    rig = _rig(1, kind)
    turned = turn(rig, _courses(rig, 20.0), 0.0)
    motor, speed = rig.motor, turned.ring_rad_s
    in_j = float((turned.torque_nm * speed).sum() * STEP_S)
    drag = motor.drag_torque_nm * (0.6 + 0.4 * speed / motor.set_speed_rad_s)
    lost_j = float(((turned.friction_n * rig.radius_m + drag) * speed).sum() * STEP_S)
    kept_j = 0.5 * (motor.motor_inertia_kgm2 + motor.ring_inertia_kgm2) * float(speed[-1]) ** 2
    assert in_j == pytest.approx(lost_j + kept_j, rel=0.02)
    assert float(speed[-1]) == pytest.approx(motor.set_speed_rad_s, rel=0.35)


@pytest.mark.parametrize("seed", range(4))
def test_heat_put_in_is_kept_or_lost(seed: int) -> None:
    rig = draw_rig(np.random.default_rng(seed), ChannelSet.ALL)
    plan = Plan(duration_s=200.0, loads=(Load(-1.0, 10.0),), switches=((0.0, True),))
    power_w = np.full(round(200.0 / STEP_S), 30.0)
    heat = temperatures(rig.warmth, plan, 30.0, power_w, Trouble(80.0, heater_w=20.0, loss_share=0.5))
    put_in_j, kept_j = heat.put_in_and_kept_j(200.0)
    assert kept_j == pytest.approx(rig.warmth.bath_j_k * (heat.bath_degc[-1] - heat.bath_degc[0]), rel=0.01, abs=20.0)
    assert put_in_j >= 30.0 * 200.0 * 0.999


def test_heat_of_a_recording_is_its_friction_work_and_its_heater() -> None:
    for klass in (Klass.JAM, Klass.SQUEAL, Klass.OVERHEAT):
        _, inside = made(1, klass)
        friction_j = float((inside.friction_force_n * inside.ring_speed_rad_s).sum() * inside.ring_radius_m / RATE_HZ)
        assert inside.heat_in_j > 0.97 * friction_j
        assert inside.bath_heat_j < inside.heat_in_j


def test_a_load_settles_at_its_weight_and_a_dropped_one_overshoots() -> None:
    rig = draw_rig(np.random.default_rng(3), ChannelSet.ALL)
    t_s = np.arange(0.0, 60.0, STEP_S)
    plan = Plan(60.0, (Load(-60.0, 20.0), Load(20.0, 50.0)), ((-60.0, True),))
    hung = hung_n(np.random.default_rng(0), rig, plan, t_s)
    assert hung[t_s < 19.9] == pytest.approx(20.0, rel=1e-6)
    assert hung[-1] == pytest.approx(50.0, rel=0.01)
    assert hung.min() >= 0.0


def test_the_meter_is_that_of_the_standard() -> None:
    t_s = np.arange(0.0, 4.0, 0.001)
    burst = np.where((t_s >= 1.0) & (t_s < 1.2), 90.0, -60.0)
    fast = 10.0 * np.log10(lagged(10.0 ** (burst / 10.0), 0.125, 0.001))
    assert fast.max() - 90.0 == pytest.approx(-0.98, abs=0.06)  # 200 ms, Fast: DOMAIN 4
    falling = metered_db(np.where(np.arange(2000) < 1000, 90.0, -60.0), 1.0)
    assert (falling[1200] - falling[1400]) / (200 * STEP_S) == pytest.approx(4.343, abs=0.02)
