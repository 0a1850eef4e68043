"""The parts of the world "l" against the published laws they stand on, named beside each."""

import math
from dataclasses import replace

import numpy as np
import pytest
import world_l_made  # noqa: F401 - puts the worlds on the path

# isort: split
from world_b.values import (
    MOTOR_CURRENT,
    DriveKind,
    Fault,
    Klass,
)
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

pytestmark = [pytest.mark.slow, pytest.mark.long]


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
