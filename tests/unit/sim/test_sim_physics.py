"""Parts of the simulated rig against facts from outside; sources stand beside the checks."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from scuffwatch.sim.friction import Burst, Contact, Damage, walther_constants, walther_viscosity_cst
from scuffwatch.sim.heat import HeatBalance, Lag, standing_body_degc
from scuffwatch.sim.lever import Hang, Lever
from scuffwatch.sim.motor import RPM_PER_RAD_S, Motor
from scuffwatch.sim.noise import Stream, memory_of, normal_rows
from scuffwatch.sim.params import CUP_J_K, OIL_HEAT_CAPACITY_J_KG_K, RigParams
from scuffwatch.sim.sound import SoundMeter, power_of_level
from scuffwatch.sim.tacho import SILENT_S, Tachometer

PARAMS = RigParams()
DT_S = 0.005
PERIODS_S = (0.001, 0.005, 0.010)


class TestViscosity:
    def test_the_worked_example_with_273(self) -> None:
        # worked example: ASTM D341, 32 cSt at 40 °C and 5.4 at 100, T = t + 273: A 9.52593, B 3.74493, 8.5331 at 80 °C.
        constants = walther_constants(32.0, 5.4, kelvin=273.0)
        assert constants == pytest.approx((9.52593, 3.74493), abs=6e-6)
        assert walther_viscosity_cst(constants, 80.0, kelvin=273.0) == pytest.approx(8.5331, abs=5e-4)

    @pytest.mark.parametrize(
        ("nu_40_cst", "nu_100_cst", "expected"),
        [  # worked example, with 273.15; the last digit printed is the tolerance
            (32.0, 5.4, {80.0: 8.5332}),
            (100.0, 11.2, {20.0: 339.24, 60.0: 39.859, 80.0: 19.608, 120.0: 7.129, 150.0: 4.181}),
            (46.0, 6.8, {20.0: 133.84, 80.0: 11.103, 150.0: 2.853}),
        ],
    )
    def test_published_temperatures(self, nu_40_cst: float, nu_100_cst: float, expected: dict[float, float]) -> None:
        constants = walther_constants(nu_40_cst, nu_100_cst)
        for temperature_degc, nu_cst in expected.items():
            assert walther_viscosity_cst(constants, temperature_degc) == pytest.approx(nu_cst, rel=2e-4)


class TestMotor:
    def test_the_curve_is_kloss(self) -> None:
        # From memory, any text on induction machines: the top of 2 Mk / (s/sk + sk/s) is Mk, at sk; 0 without slip.
        motor = Motor(PARAMS)
        synchronous_rad_s = PARAMS.synchronous_speed_rpm / RPM_PER_RAD_S
        speeds = np.linspace(0.0, synchronous_rad_s, 5001)
        torques = [motor.torque_at(float(speed)) for speed in speeds]
        top = int(np.argmax(torques))
        assert torques[top] == pytest.approx(PARAMS.breakdown_torque_nm, rel=1e-6)
        assert 1.0 - speeds[top] / synchronous_rad_s == pytest.approx(PARAMS.breakdown_slip, abs=1e-3)
        assert torques[-1] == pytest.approx(0.0, abs=1e-12)

    def test_it_starts_within_a_second(self) -> None:
        motor = Motor(PARAMS)
        settle(motor, 0.1, 1.0)
        assert motor.speed_rad_s * RPM_PER_RAD_S == pytest.approx(600.0, rel=0.03)

    def test_it_carries_what_is_below_its_breakdown_torque_and_stalls_above(self) -> None:
        carrying, stalling = Motor(PARAMS), Motor(PARAMS)
        for motor in (carrying, stalling):
            settle(motor, 0.5, 2.0)
        settle(carrying, PARAMS.breakdown_torque_nm * 0.97, 20.0)
        current_a = settle(stalling, PARAMS.breakdown_torque_nm * 1.03, 20.0)
        assert carrying.speed_rad_s * RPM_PER_RAD_S > 480.0
        assert stalling.speed_rad_s == 0.0
        assert current_a == pytest.approx(PARAMS.locked_current_a, rel=1e-6)

    @pytest.mark.parametrize("dt_s", PERIODS_S)
    def test_coasting_down_is_newtons_law(self, dt_s: float) -> None:
        # t = J w / M for a constant torque.
        motor = Motor(PARAMS)
        motor.speed_rad_s = 62.8
        steps = 0
        while motor.speed_rad_s > 0.0:
            motor.step(dt_s, False, 0.6)
            steps += 1
        assert steps * dt_s == pytest.approx(PARAMS.inertia_kg_m2 * 62.8 / 0.6, abs=2 * dt_s)

    def test_work_done_on_the_rotor_is_in_its_speed(self) -> None:
        # Kinetic energy, J w² / 2.
        motor, work_j, dt_s = Motor(PARAMS), 0.0, 0.0005
        for _ in range(1000):
            before_rad_s, before_nm = motor.speed_rad_s, motor.torque_at(motor.speed_rad_s)
            motor.step(dt_s, True, 0.4)
            mean_rad_s = 0.5 * (before_rad_s + motor.speed_rad_s)
            work_j += (0.5 * (before_nm + motor.torque_nm) - 0.4) * mean_rad_s * dt_s
        assert work_j == pytest.approx(0.5 * PARAMS.inertia_kg_m2 * motor.speed_rad_s**2, rel=0.01)

    def test_a_jammed_ring_does_not_turn_back(self) -> None:
        motor = Motor(PARAMS)
        settle(motor, 0.2, 2.0)
        settle(motor, 60.0, 1.0)
        assert motor.speed_rad_s == 0.0
        angle_rad = motor.angle_rad
        settle(motor, 60.0, 1.0)
        assert motor.angle_rad == angle_rad

    def test_without_supply_there_is_no_current(self) -> None:
        motor = Motor(PARAMS)
        settle(motor, 0.2, 2.0)
        assert motor.step(DT_S, False, 0.2) == 0.0


def settle(motor: Motor, resist_nm: float, length_s: float) -> float:
    current_a = 0.0
    for _ in range(round(length_s / DT_S)):
        current_a = motor.step(DT_S, True, resist_nm)
    return current_a


class TestHeat:
    def test_the_bath_is_15_ml_of_oil_in_a_cup(self) -> None:
        oil_kg = 15e-6 * PARAMS.density_kg_m3
        assert PARAMS.bath_j_k == pytest.approx(oil_kg * OIL_HEAT_CAPACITY_J_KG_K + CUP_J_K, rel=0.01)

    @pytest.mark.parametrize("dt_s", PERIODS_S)
    def test_the_energy_balance_closes(self, dt_s: float) -> None:
        heat, given_j, lost_j = HeatBalance(PARAMS), 0.0, 0.0
        first_j = PARAMS.body_j_k * heat.body_degc + PARAMS.bath_j_k * heat.bath_degc
        for step in range(round(300.0 / dt_s)):
            lost_w = (heat.body_degc - PARAMS.room_degc) * PARAMS.body_loss_w_k
            lost_w += (heat.bath_degc - PARAMS.room_degc) * PARAMS.bath_loss_w_k
            friction_w = 55.0 + 30.0 * math.sin(step * dt_s)
            heat.step(dt_s, friction_w, True)
            given_j += (friction_w + heat.heater_w) * dt_s
            lost_j += lost_w * dt_s
        stored_j = PARAMS.body_j_k * heat.body_degc + PARAMS.bath_j_k * heat.bath_degc - first_j
        assert stored_j == pytest.approx(given_j - lost_j, rel=1e-9)

    def test_it_follows_the_exact_solution(self) -> None:
        # The linear system solved by its eigenvalues; no heater, a constant friction power.
        c1, c2 = PARAMS.body_j_k, PARAMS.bath_j_k
        across, loss_1, loss_2 = PARAMS.coupling_w_k, PARAMS.body_loss_w_k, PARAMS.bath_loss_w_k
        matrix = np.array([[-(across + loss_1) / c1, across / c1], [across / c2, -(across + loss_2) / c2]])
        source = np.array([(100.0 + loss_1 * PARAMS.room_degc) / c1, loss_2 * PARAMS.room_degc / c2])
        steady = -np.linalg.solve(matrix, source)
        values, vectors = np.linalg.eig(matrix)
        heat = HeatBalance(PARAMS, bath_degc=80.0)
        start = np.array([heat.body_degc, heat.bath_degc])
        for _ in range(round(100.0 / DT_S)):
            heat.step(DT_S, 100.0, False)
        exact = steady + vectors @ (np.exp(values * 100.0) * np.linalg.solve(vectors, start - steady))
        assert [heat.body_degc, heat.bath_degc] == pytest.approx(exact.tolist(), abs=0.01)

    def test_a_standing_rig_over_a_held_bath_is_in_balance(self) -> None:
        body_degc = standing_body_degc(PARAMS, 40.0)
        gained_w = (40.0 - body_degc) * PARAMS.coupling_w_k
        assert gained_w == pytest.approx((body_degc - PARAMS.room_degc) * PARAMS.body_loss_w_k, rel=1e-12)

    def test_the_heater_goes_with_the_permit_even_when_it_sticks(self) -> None:
        heat = HeatBalance(PARAMS)
        heat.heater_stuck = True
        heat.step(DT_S, 0.0, True)
        assert heat.heater_w == PARAMS.heater_w
        heat.step(DT_S, 0.0, False)
        assert heat.heater_w == 0.0

    @pytest.mark.parametrize("dt_s", PERIODS_S)
    def test_a_thermocouple_shows_63_per_cent_after_its_lag(self, dt_s: float) -> None:
        lag = Lag(1.2, dt_s, 20.0)
        for _ in range(round(1.2 / dt_s)):
            lag.step(120.0)
        assert lag.value == pytest.approx(20.0 + 100.0 * (1.0 - math.exp(-1.0)), abs=0.01)


def levels_db(period_s: float, length_s: float, power: Callable[[float], float], start: float) -> list[float]:
    meter = SoundMeter(period_s, start)
    return [meter.step(power((k + 1) * period_s)) for k in range(round(length_s / period_s))]


@pytest.mark.parametrize("period_s", PERIODS_S)
class TestSound:
    """IEC 61672-1, time weighting F; numbers of worked example"""

    def test_a_step_stands_63_per_cent_in_power_after_125_ms(self, period_s: float) -> None:
        last_db = levels_db(period_s, 0.125, lambda _: power_of_level(80.0), 1e-9)[-1]
        reached_s = round(0.125 / period_s) * period_s  # 10 ms does not divide 125 ms
        assert last_db - 80.0 == pytest.approx(10 * math.log10(-math.expm1(-reached_s / 0.125)), abs=1e-6)
        if reached_s == pytest.approx(0.125):
            assert last_db - 80.0 == pytest.approx(-1.992, abs=0.001)
            assert power_of_level(last_db) / power_of_level(80.0) == pytest.approx(0.632, abs=0.001)

    def test_it_decays_by_34_7_db_a_second(self, period_s: float) -> None:
        found = levels_db(period_s, 1.0, lambda _: 0.0, power_of_level(90.0))
        slope_db_s = (found[-1] - found[0]) / (period_s * (len(found) - 1))
        assert slope_db_s == pytest.approx(-34.744, abs=0.001)

    def test_a_burst_of_200_ms_reaches_minus_1_db(self, period_s: float) -> None:
        found = levels_db(period_s, 0.5, lambda t_s: power_of_level(90.0) if t_s <= 0.2 + 1e-9 else 0.0, 1e-9)
        assert max(found) - 90.0 == pytest.approx(-0.98, abs=0.01)

    def test_it_takes_0_2878_s_to_fall_10_db(self, period_s: float) -> None:
        found = levels_db(period_s, 0.5, lambda _: 0.0, power_of_level(90.0))
        fallen_s = (next(k for k, level_db in enumerate(found) if level_db <= 80.0) + 1) * period_s
        assert fallen_s == pytest.approx(0.2878, abs=period_s)


def test_two_equal_sources_make_3_db() -> None:
    # worked example: 80 and 80 dB make 83.010, 80 and 70 make 80.414.
    assert 10 * math.log10(2 * power_of_level(80.0)) == pytest.approx(83.010, abs=0.001)
    assert 10 * math.log10(power_of_level(80.0) + power_of_level(70.0)) == pytest.approx(80.414, abs=0.001)


class TestTachometer:
    def speeds_rpm(self, rad_s: Callable[[float], float], length_s: float, dt_s: float) -> list[tuple[float, float]]:
        tacho, angle_rad, found = Tachometer(60), 0.0, []
        for k in range(1, round(length_s / dt_s) + 1):
            angle_rad += rad_s(k * dt_s) * dt_s
            found.append((k * dt_s, tacho.step(k * dt_s, dt_s, angle_rad)))
        return found

    @pytest.mark.parametrize("dt_s", PERIODS_S)
    @pytest.mark.parametrize("rpm", [60.0, 200.0, 600.0])
    def test_a_steady_ring_reads_its_speed(self, dt_s: float, rpm: float) -> None:
        found = self.speeds_rpm(lambda _: rpm / RPM_PER_RAD_S, 2.0, dt_s)
        assert [speed for t_s, speed in found if t_s > 0.5] == pytest.approx([rpm] * sum(t > 0.5 for t, _ in found))

    @pytest.mark.parametrize("dt_s", PERIODS_S)
    def test_a_stopped_ring_reads_less_and_less_and_then_nothing(self, dt_s: float) -> None:
        # this project's detection design: period counting with a time-out; silence of t allows at most one pulse in t.
        found = self.speeds_rpm(lambda t_s: 62.8 if t_s < 1.0 else 0.0, 1.5, dt_s)
        after = [(t_s - 1.0, speed) for t_s, speed in found if t_s > 1.0 + 2 * dt_s]
        assert all(speed <= 60.0 / 60 / (since_s - dt_s) for since_s, speed in after)
        assert all(speed == 0.0 for since_s, speed in after if since_s > SILENT_S + dt_s)
        assert all(speed > 0.0 for since_s, speed in after if since_s < SILENT_S - dt_s)


class TestLever:
    @pytest.mark.parametrize(("coefficient", "expected_n"), [(0.1, 250.2), (0.4, 266.5)])
    def test_friction_loads_it(self, coefficient: float, expected_n: float) -> None:
        # worked example: Lw 500, Lp 100, h 20 mm, 5 kg, nominal 245.17 N.
        lever = Lever(RigParams(lever_arm_mm=100.0, pivot_height_mm=20.0))
        lever.hang(Hang(245.166, 1.0, 0.0, 4.0, 0.1), 0.0)
        load_n = 0.0
        for k in range(400):
            load_n = lever.step(k * DT_S, coefficient * load_n)
        assert load_n == pytest.approx(expected_n, abs=0.06)

    def test_a_weight_comes_down_in_its_time_and_bounces_at_its_frequency(self) -> None:
        lever, hang, dt_s = Lever(RigParams(pivot_height_mm=0.0)), Hang(60.0, 1.0, 0.1, 5.0, 0.5), 0.001
        lever.hang(hang, 0.0)
        loads = np.array([lever.step(k * dt_s, 0.0) for k in range(8000)])
        assert np.all(np.diff(loads[:1000]) >= 0.0)
        swing = loads[1000:3000] - 60.0
        crossings_s = (np.flatnonzero(np.diff(np.sign(swing[1:])) != 0) + 1) * dt_s
        assert np.median(np.diff(crossings_s)) == pytest.approx(0.5 / 5.0, abs=0.002)
        assert np.abs(swing).max() == pytest.approx(0.1 * 60.0, rel=0.15)
        assert loads[-1] == 60.0

    def test_weights_never_pull(self) -> None:
        lever = Lever(PARAMS)
        lever.hang(Hang(60.0, 0.6, 0.1, 5.0, 0.3), 0.0)
        for k in range(1000):
            lever.step(k * DT_S, 0.0)
        lever.hang(Hang(0.0, 0.6, 0.4, 3.0, 0.5), 5.0)
        assert min(lever.step(5.0 + k * DT_S, 0.0) for k in range(1000)) >= 0.0


def seated(load_n: float, speed_m_s: float = 1.1, temperature_degc: float = 60.0) -> float:
    contact = Contact(PARAMS, DT_S)
    for _ in range(round(120.0 / DT_S)):
        contact.coefficient(speed_m_s, load_n, temperature_degc, True)
    return contact.coefficient_now


class TestContact:
    def test_mixed_friction_falls_along_the_stribeck_curve(self) -> None:
        # Stribeck 1902 in today's words: in the mixed region less friction with more speed, thicker oil, less pressure.
        by_speed = [seated(300.0, speed_m_s) for speed_m_s in (0.2, 0.6, 1.1, 2.2)]
        assert by_speed == sorted(by_speed, reverse=True)
        by_temperature = [seated(300.0, 1.1, degc) for degc in (30.0, 60.0, 90.0, 120.0)]
        assert by_temperature == sorted(by_temperature)
        by_load = [seated(load_n) for load_n in (60.0, 240.0, 480.0, 960.0)]
        assert by_load == sorted(by_load)

    def test_running_in_decays_with_the_distance_slid(self) -> None:
        contact = Contact(PARAMS, DT_S)
        for _ in range(round(120.0 / DT_S)):
            contact.coefficient(1.1, 240.0, 60.0, True)
        contact.coefficient(1.1, 480.0, 60.0, True)
        first = contact.excess
        assert first == pytest.approx(PARAMS.run_in_gain / 2, rel=0.01)
        for _ in range(round(PARAMS.run_in_distance_m / 1.1 / DT_S)):
            contact.coefficient(1.1, 480.0, 60.0, True)
        assert contact.excess == pytest.approx(first / math.e, rel=0.01)

    def test_with_the_bath_down_it_runs_dry(self) -> None:
        contact = Contact(PARAMS, DT_S)
        for _ in range(2000):
            contact.coefficient(1.1, 120.0, 40.0, True)
        wet = contact.coefficient_now
        for _ in range(round(6 * PARAMS.dry_s / DT_S)):
            contact.coefficient(1.1, 120.0, 40.0, False)
        assert contact.coefficient_now > wet * 1.1

    def test_nothing_pressed_gives_no_friction(self) -> None:
        assert Contact(PARAMS, DT_S).coefficient(1.1, 0.0, 40.0, True) == 0.0


class TestDamage:
    damage = Damage(100.0, 2.0, 0.5, 0.1, (Burst(90.0, 0.4, 0.5), Burst(95.0, 0.2, 0.3)))

    def test_bursts_recover(self) -> None:
        assert self.damage.coefficient(0.1, 89.9) == 0.1
        assert self.damage.coefficient(0.1, 90.2) == pytest.approx(0.15)
        assert self.damage.coefficient(0.1, 91.0) == 0.1
        assert self.damage.coefficient(0.1, 95.1) == pytest.approx(0.13)

    def test_scuffing_does_not(self) -> None:
        # Tribol. Lett. 67 (2019), worked example: a sharp and unrecoverable increase in friction.
        rise = [self.damage.coefficient(0.1, t_s) for t_s in np.arange(100.0, 125.0, 0.05)]
        assert rise == sorted(rise)
        assert self.damage.coefficient(0.1, 104.0) == pytest.approx(0.5, abs=0.01)
        assert rise[-1] > 1.0


class TestNoise:
    def test_a_seed_and_a_stream_give_their_own_rows_again(self) -> None:
        def first(seed: int, stream: Stream) -> list[list[float]]:
            rows = normal_rows(seed, stream, 3)
            return [next(rows) for _ in range(600)]

        once = first(5, Stream.PHYSICS)
        assert first(5, Stream.PHYSICS) == once
        assert first(6, Stream.PHYSICS) != once
        assert first(5, Stream.SENSORS) != once
        assert np.std(once) == pytest.approx(1.0, abs=0.06)

    def test_memory_is_one_over_e_at_its_correlation_time(self) -> None:
        # AR(1): the correlation after k steps is memory**k.
        assert memory_of(0.06, DT_S) ** round(0.06 / DT_S) == pytest.approx(math.exp(-1.0), rel=1e-12)
