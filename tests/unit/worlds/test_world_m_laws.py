"""The physics of world m against facts from outside it; each check names its source."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from world_m_made import SEEDS, made, set_rad_s, steps

from world_b.values import DriveKind, Klass  # isort: skip
from world_m.design import draw_design  # isort: skip
from world_m.drives import BareDc, DriveNumbers, InductionDirect, LimitedDc  # isort: skip
from world_m.grid import STEP_S, lagged, wander  # isort: skip
from world_m.idle import idle  # isort: skip
from world_m.noise import level_db, power  # isort: skip
from world_m.oil import film_m, oil_of, solid_share  # isort: skip
from world_m.run import run  # isort: skip
from world_m.schedule import draw_plan  # isort: skip

pytestmark = [pytest.mark.slow, pytest.mark.long]

STEADY = (Klass.STAIRCASE, Klass.ENDURANCE, Klass.SQUEAL)


def test_walther_gives_an_iso_vg_100_oil_at_60_degc() -> None:
    """ISO VG 100, 11.1 mm2/s at 100 degC (index about 95): near 41 mm2/s at 60 degC. ASTM D341 charts, from memory."""
    oil = oil_of(100.0, 11.1, 880.0)
    in_mm2_s = 1e6 / 880.0
    assert oil.viscosity_pa_s(40.0) * in_mm2_s == pytest.approx(100.0, rel=1e-6)
    assert oil.viscosity_pa_s(100.0) * in_mm2_s == pytest.approx(11.1, rel=1e-6)
    assert 37.0 < oil.viscosity_pa_s(60.0) * in_mm2_s < 44.0


def test_an_oil_that_does_not_thin_is_refused() -> None:
    with pytest.raises(ValueError, match="do not fall"):
        oil_of(10.0, 12.0, 850.0)


def test_the_film_of_a_line_contact_is_of_the_usual_size() -> None:
    """0.05 Pa s, 1 m/s, 20 mm radius, 100 N on 5 mm: some tenths of a micrometre; film goes as speed^0.7.

    Source: Dowson and Higginson's line contact regression, from memory.
    """
    film = film_m(0.05, 1.0, 100.0, 0.02, 0.005)
    assert 0.1e-6 < film < 1.0e-6
    assert film_m(0.05, 2.0, 100.0, 0.02, 0.005) / film == pytest.approx(2.0**0.7)
    assert solid_share(0.0) == 1.0
    assert solid_share(3.0) < 0.03, "a film of three roughnesses parts the faces (lambda ratio, from memory)"


def test_a_brushed_motor_draws_v_over_r_at_stall_and_falls_straight() -> None:
    """I = V / R at stall, torque straight down to idle speed V / k. Source: textbooks, and wi_physics 1.3."""
    motor = BareDc(24.0, 1.5, 0.1)
    torque_nm, current_a = motor.step(0.0, 1.0, 0.01)
    assert current_a == pytest.approx(24.0 / 1.5)
    assert torque_nm == pytest.approx(0.1 * current_a)
    assert motor.step(120.0, 1.0, 0.01)[0] == pytest.approx(0.8)
    assert motor.step(240.0, 1.0, 0.01)[0] == pytest.approx(0.0)


def test_a_current_limit_holds_at_stall() -> None:
    drive = LimitedDc(BareDc(48.0, 0.5, 0.2), 6.0, 150.0, 1.0, 0.5, 0.5)
    currents = [drive.step(0.0, 1.0, 0.01)[1] for _ in range(300)]
    assert max(currents) == currents[-1] == 6.0


def test_an_induction_motor_follows_kloss() -> None:
    """Peak at the pull-out slip; at standstill 2 s / (1 + s^2) of it. Source: Kloss's formula, from memory."""
    motor = InductionDirect(157.0, 10.0, 0.2, 20.0, 1.5)
    torques = np.array([motor.step(w, 1.0, 0.01)[0] for w in np.linspace(0.0, 157.0, 2001)])
    assert torques.max() == pytest.approx(10.0, rel=1e-5)
    assert np.argmax(torques) / 2000.0 == pytest.approx(0.8, abs=0.002)
    assert torques[0] == pytest.approx(10.0 * 0.4 / 1.04)
    assert torques[-1] == pytest.approx(0.0)


def test_locked_current_of_an_induction_motor_is_several_times_rated() -> None:
    """3 to 10 times, 5 to 7 usual for large ones, 3 to 5 for small. Source: wi_physics 1.3; small ones from memory."""
    for slip in (0.15, 0.25, 0.4):
        bought = DriveNumbers(DriveKind.INDUCTION_DIRECT, 150.0, 1.0, 1.5, 400.0, 0.7, 1.0, slip, 0.0)
        motor = bought.fresh()
        rated_w = motor.peak_torque_nm / 2.4 * 150.0
        rated_a = rated_w / (0.7 * sqrt(3.0) * 400.0)
        assert 3.0 < motor.step(0.0, 1.0, 0.01)[1] / rated_a < 8.0


@pytest.mark.parametrize("kind", list(DriveKind))
def test_no_drive_gives_more_power_than_it_takes(kind: DriveKind) -> None:
    """Voltage times current (times root three on three phases) is never below shaft power. Source: energy."""
    bought = DriveNumbers(kind, 120.0, 2.0, 2.0, 230.0, 0.7, 1.0, 0.2, 0.0)
    drive = bought.fresh()
    phases = 1.0 if kind in (DriveKind.BRUSHED_BARE, DriveKind.BRUSHED_LIMITED) else sqrt(3.0)
    for speed_rad_s in np.linspace(0.0, 118.0, 60):
        for _ in range(40):
            torque_nm, current_a = drive.step(float(speed_rad_s), 1.0, 0.05)
        assert torque_nm * speed_rad_s <= phases * 230.0 * current_a + 1e-9


@pytest.mark.parametrize("klass", STEADY)
@pytest.mark.parametrize("seed", SEEDS)
def test_torque_balances(seed: int, klass: Klass) -> None:
    """Over a turning stretch: motor torque = friction x radius + drag + inertia x acceleration. Source: mechanics."""
    design = draw_design(seed, klass)
    inside = made(seed, klass)[1]
    last = slice(-steps(inside, 60.0), -steps(inside, 20.0))
    if not inside.on[last].all():
        return
    speed = inside.ring_speed_rad_s[last]
    friction_nm = inside.friction_force_n[last].mean() * inside.ring_radius_m
    gained_nm = design.inertia_kg_m2 * (speed[-1] - speed[0]) / 40.0
    rest_nm = inside.shaft_torque_nm[last].mean() - friction_nm - gained_nm
    assert 0.55 * inside.drag_torque_nm < rest_nm < 1.9 * inside.drag_torque_nm


@pytest.mark.parametrize("klass", [Klass.ENDURANCE, Klass.OVERHEAT, Klass.SCUFFING_SUDDEN, Klass.STARTS_AND_STOPS])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_book_of_heat_closes(seed: int, klass: Klass) -> None:
    """Put in = kept by bath and pin + lost to the room. Source: first law."""
    design = draw_design(seed, klass)
    _plan, traces = run(seed, design, draw_plan(seed, klass, design))
    put_in_j = traces.friction_j + traces.heater_j
    kept_j = traces.bath_j + traces.pin_j
    assert put_in_j == pytest.approx(kept_j + traces.lost_j, rel=0.002, abs=1.0)
    work_j = float(np.sum(traces.friction_n * traces.ring_rad_s)) * design.radius_m * STEP_S
    assert traces.friction_j == pytest.approx(work_j, rel=1e-6)
    inside = made(seed, klass)[1]
    assert inside.heat_in_j == pytest.approx(put_in_j)
    assert inside.bath_heat_j == pytest.approx(traces.bath_j)


@pytest.mark.parametrize("klass", [k for k in STEADY if k is not Klass.SQUEAL])
def test_healthy_friction_is_that_of_lubricated_or_now_and_then_dry_steel(klass: Klass) -> None:
    """Boundary 0.09-0.14 (wi_physics 1.1), full film from 0.02, dry steel up to about 0.4 (from memory)."""
    medians = []
    for seed in range(1, 9):
        recording, inside = made(seed, klass)
        running = (inside.ring_speed_rad_s > 0.7 * set_rad_s(recording)) & (
            inside.normal_load_n > 0.05 * max(recording.rig.loads_n)
        )
        medians.append(np.median(inside.friction_force_n[running] / inside.normal_load_n[running]))
    assert min(medians) > 0.015
    assert max(medians) < 0.36
    assert 0.03 < np.median(medians) < 0.15


def test_friction_falls_from_boundary_to_full_film_with_speed() -> None:
    """The Stribeck curve: high when slow, low when fast. Source: Stribeck, from memory."""
    shares = [solid_share(film_m(0.05, v, 100.0, 0.02, 0.005) / 0.2e-6) for v in (0.01, 0.1, 1.0, 5.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.9
    assert shares[-1] < 0.1


def test_the_idle_rig_reads_as_the_technician_writes() -> None:
    """Set speed within the drive's slip of what was bought; hand reading a few per cent wrong. Source: the contract."""
    for seed in SEEDS:
        recording = made(seed, Klass.STAIRCASE)[0]
        bare = idle(draw_design(seed, Klass.STAIRCASE))
        assert recording.rig.ring_speed_rpm == pytest.approx(bare.speed_rad_s * 30.0 / pi)
        assert recording.rig.no_load_current_a == pytest.approx(bare.current_a, rel=0.05)
        assert bare.stall_current_a > 1.2 * bare.current_a


def test_fast_falls_by_34_7_db_a_second_and_slow_by_4_3() -> None:
    """Exponential weighting with 125 ms and 1 s. Source: IEC 61672-1 decay rates, from memory."""
    for lag_s, rate_db_s in ((0.125, 34.7), (1.0, 4.34)):
        step = power(np.concatenate([np.full(2000, 90.0), np.full(200, 0.0)]))
        levels = level_db(lagged(step, lag_s, STEP_S))
        assert (levels[2000] - levels[2100]) / (100 * STEP_S) == pytest.approx(rate_db_s, rel=0.02)


def test_two_equal_sounds_are_3_db_louder_than_one() -> None:
    """Powers add. Source: acoustics, from memory: 3.01 dB."""
    assert float(level_db(power(60.0) + power(60.0))) == pytest.approx(63.01, abs=0.01)


def test_a_wander_has_unit_variance_and_its_time_constant() -> None:
    """Autocovariance exp(-t / time). Source: Ornstein and Uhlenbeck."""
    path = wander(np.random.default_rng(5), 400_000, 0.5, STEP_S)
    assert path.std() == pytest.approx(1.0, abs=0.05)
    assert np.mean(path[:-100] * path[100:]) == pytest.approx(np.exp(-1.0), abs=0.05)


def test_a_bare_motor_droops_where_a_controlled_one_does_not() -> None:
    """Twice the drag slows a brushed motor on fixed voltage; a controller holds its speed. Source: textbooks."""
    droops = {}
    for seed in range(1, 30):
        design = draw_design(seed, Klass.ENDURANCE)
        tight = idle(replace(design, drag_nm=2.0 * design.drag_nm))
        droops[design.drive.kind] = 1.0 - tight.speed_rad_s / idle(design).speed_rad_s
        if len(droops) == len(DriveKind):
            break
    assert droops[DriveKind.BRUSHED_BARE] > 0.003
    assert abs(droops[DriveKind.BRUSHED_LIMITED]) < 0.002
