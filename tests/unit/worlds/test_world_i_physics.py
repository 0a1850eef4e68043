"""World I against facts from outside: source beside each check."""

from dataclasses import replace

import numpy as np
import pytest
import world_i_made as store
from world_b.values import Klass
from world_i.draws import stream
from world_i.fit_motor import MotorKind
from world_i.friction import draw_law
from world_i.motors import Induction, PermanentMagnet, SpeedLoop, Universal
from world_i.rig import draw_rig
from world_i.spectra import lag, moving_mean, ring, unrest
from world_i.tachometers import pulse_times_s, read_gate, read_period

pytestmark = [pytest.mark.slow, pytest.mark.long]


def test_friction_follows_a_stribeck_curve() -> None:
    """High at rest, a valley in mixed lubrication, rising with shear: R. Stribeck 1902, VDI-Zeitschrift 46."""
    rng = np.random.default_rng(5)
    law = replace(draw_law(rng, 50.0, 30.0, 1.0, 100.0), film_ratio=1.0, adsorbed=0.1, film=0.03, stiction=0.0)
    speeds_m_s = np.geomspace(1e-4, 30.0, 200)
    friction = np.array([law.friction(v, 50.0, 50.0, 1.0) for v in speeds_m_s])
    valley = int(np.argmin(friction))
    assert 20 < valley < 180
    assert friction[0] == pytest.approx(0.1, rel=0.05)
    assert friction[valley] < 0.7 * friction[0]
    assert friction[-1] > friction[valley]
    assert (np.diff(friction[:valley]) <= 1e-12).all()


def test_a_hotter_oil_makes_a_thinner_film() -> None:
    """Film over roughness goes with (viscosity x speed)**0.67: Hamrock and Dowson 1977, J. Lubr. Technol. 99."""
    law = draw_law(np.random.default_rng(6), 50.0, 30.0, 1.0, 100.0)
    assert law.film_over_roughness(2.0, 50.0, 50.0, 1.0) / law.film_over_roughness(
        1.0, 50.0, 50.0, 1.0
    ) == pytest.approx(2.0**0.67)
    assert law.film_over_roughness(1.0, 50.0, 80.0, 1.0) < law.film_over_roughness(1.0, 50.0, 50.0, 1.0)


def test_the_layer_lets_go_at_its_desorption_temperature() -> None:
    """Half covered at the critical total temperature, bulk plus flash: H. Blok 1937, J. J. Frewing 1944."""
    law = replace(draw_law(np.random.default_rng(7), 50.0, 30.0, 1.0, 100.0), stiction=0.0)
    at_degc = law.desorption_degc - law.flash_k
    half = law.boundary(1.0, 100.0, at_degc)
    assert half == pytest.approx(0.5 * (law.adsorbed + law.bare))
    assert law.boundary(1.0, 100.0, at_degc - 100.0) == pytest.approx(law.adsorbed, rel=0.01)


def test_sound_meter_decays_as_fast_and_slow() -> None:
    """34.7 dB/s for 125 ms, 4.3 dB/s for 1 s: IEC 61672-1:2013, 5.8."""
    energy = np.concatenate((np.full(1000, 1e8), np.full(3000, 1.0)))
    for time_constant_s, wanted_db_s in ((0.125, 34.74), (1.0, 4.343)):
        level_db = 10.0 * np.log10(lag(energy, 1000.0, time_constant_s))
        fall_db_s = -(level_db[1700] - level_db[1100]) / 0.6
        assert fall_db_s == pytest.approx(wanted_db_s, rel=0.01)


def test_a_200_ms_burst_reads_1_0_and_7_4_db_low() -> None:
    """Fast -1.0 dB, Slow -7.4 dB: IEC 61672-1:2013, table 4."""
    energy = np.full(8000, 1e-9)
    energy[1000:1200] = 1.0
    for time_constant_s, wanted_db in ((0.125, -0.98), (1.0, -7.42)):
        assert 10.0 * np.log10(lag(energy, 1000.0, time_constant_s).max()) == pytest.approx(wanted_db, abs=0.05)


def test_a_first_order_lag_reaches_63_per_cent_after_its_time_constant() -> None:
    """1 - 1/e: any textbook of control, and the definition of a thermocouple's response time in VDI/VDE 3522."""
    step = np.concatenate((np.zeros(100), np.ones(4000)))
    assert lag(step, 100.0, 8.0)[100 + 800 - 1] == pytest.approx(1.0 - np.exp(-1.0), abs=1e-6)


def test_a_lag_by_transform_is_the_recursion() -> None:
    """y += (1 - exp(-dt / tau)) (x - y), sample by sample."""
    signal = np.random.default_rng(8).standard_normal(500)
    keep, state, wanted = np.exp(-1.0 / (100.0 * 0.3)), signal[0], []
    for value in signal:
        state += (1.0 - keep) * (value - state)
        wanted.append(state)
    assert np.allclose(lag(signal, 100.0, 0.3), wanted, atol=1e-6)


def test_a_sprung_cell_overshoots_as_a_damped_oscillator() -> None:
    """Overshoot exp(-pi zeta / sqrt(1 - zeta**2)), at half a period: textbook of vibration."""
    step = np.concatenate((np.zeros(100), np.ones(4000)))
    response = ring(step, 2000.0, 5.0, 0.2)
    assert response.max() == pytest.approx(1.0 + np.exp(-np.pi * 0.2 / np.sqrt(1.0 - 0.04)), rel=0.02)
    assert response[-1] == pytest.approx(1.0, abs=1e-3)
    peak_s = (int(np.argmax(response)) - 100) / 2000.0
    assert peak_s == pytest.approx(0.5 / (5.0 * np.sqrt(1.0 - 0.04)), rel=0.02)


def test_unrest_has_the_asked_spectrum() -> None:
    """Power falls as f**-slope: a fit over two decades."""
    noise = unrest(np.random.default_rng(9), 4000.0, 25.0, 0.02, 6.0, 1.5)
    power = np.abs(np.fft.rfft(noise)) ** 2
    frequency_hz = np.fft.rfftfreq(noise.size, 0.04)
    part = (frequency_hz > 0.05) & (frequency_hz < 5.0)
    slope = np.polyfit(np.log(frequency_hz[part]), np.log(power[part]), 1)[0]
    assert slope == pytest.approx(-1.5, abs=0.1)
    assert noise.std() == pytest.approx(1.0)


def test_an_induction_motor_slips_and_breaks_down_as_kloss_says() -> None:
    """T / Tb = 2 / (s / sb + sb / s), most at sb: M. Kloss 1890; no torque at synchronous speed."""
    motor = Induction(10.0, 100.0, 0.2, 1.0, 6.0, 0.0)
    assert motor.pull(100.0, 0.01, 1.0)[0] == pytest.approx(0.0)
    assert motor.pull(80.0, 0.01, 1.0)[0] == pytest.approx(10.0)
    assert motor.pull(95.0, 0.01, 1.0)[0] == pytest.approx(10.0 * 2.0 / (0.25 + 4.0))
    assert motor.pull(0.0, 0.01, 1.0)[2] > 5.0 * motor.pull(98.0, 0.01, 1.0)[2]
    assert motor.pull(80.0, 0.01, 0.5)[0] == pytest.approx(2.5)


def test_direct_current_motors_pull_as_textbooks_say() -> None:
    """Magnets: torque straight in speed and current. Series: torque with the square of the current."""
    magnets = PermanentMagnet(2.0, 100.0, 0.5)
    assert magnets.pull(0.0, 0.01, 1.0)[::2] == (2.0, 1.0)
    assert magnets.pull(50.0, 0.01, 1.0)[::2] == (1.0, 0.5)
    series = Universal(2.0, 50.0, 4.0)
    torque, _, current = series.pull(50.0, 0.01, 1.0)
    assert torque / 2.0 == pytest.approx((current / 4.0) ** 2)


def test_a_speed_loop_holds_speed_until_its_limit() -> None:
    """An integral leaves no error; beyond the limit the torque stands: any textbook of drives."""
    motor = SpeedLoop(1.0, 100.0, 2.0, 0.05, 0.1, 0.5)
    speed = 0.0
    for _ in range(4000):
        torque = motor.pull(speed, 0.005, 1.0)[0]
        speed = max(speed + 0.005 * (torque - 0.4) / 0.01, 0.0)
    assert speed == pytest.approx(100.0, abs=0.1)
    assert torque == pytest.approx(0.4, abs=0.01)
    for _ in range(400):
        torque, _, current = motor.pull(0.0, 0.005, 1.0)
    assert (torque, current) == (1.0, 2.0)


def test_a_gate_counts_in_steps_of_one_pulse() -> None:
    """Resolution 60 / (pulses x gate) r/min; 200.4 r/min is read as its two neighbours, right on average."""
    t_s = np.arange(0.0, 60.0, 0.01)
    angle = t_s * 200.4 * 2.0 * np.pi / 60.0
    rpm = read_gate(t_s, pulse_times_s(t_s, angle, 200.4 * 2.0 * np.pi / 60.0, 12), 12, 0.5)
    assert set(np.round(rpm, 6)) <= {200.0, 210.0, 190.0}
    assert rpm.mean() == pytest.approx(200.4, abs=1.0)


def test_a_period_reads_zero_only_after_its_time_out() -> None:
    """A shaft that stops sends no pulse: the reading falls as 60 / (pulses x time waited), then is 0."""
    t_s = np.arange(0.0, 20.0, 0.01)
    angle = np.minimum(t_s, 10.0) * 10.0 * 2.0 * np.pi
    rpm = read_period(t_s, pulse_times_s(t_s, angle, 20.0 * np.pi, 1), 1, 1.5)
    assert rpm[500] == pytest.approx(600.0, rel=0.01)
    assert rpm[np.searchsorted(t_s, 11.0)] == pytest.approx(60.0, rel=0.15)
    assert rpm[-1] == 0.0


def test_an_rms_window_of_a_sine_reads_its_effective_value() -> None:
    """1 / sqrt(2) of the peak over whole periods."""
    t_s = np.arange(0.0, 1.0, 0.0005)
    squared = moving_mean(np.sin(2.0 * np.pi * 50.0 * t_s) ** 2, 40)
    assert np.sqrt(squared[-1]) == pytest.approx(np.sqrt(0.5), rel=1e-6)


@pytest.mark.parametrize("klass", [Klass.STAIRCASE, Klass.SCUFFING_LONG])
def test_heat_does_not_come_from_nowhere(klass: Klass) -> None:
    """First law: the bath keeps no more than was put in, over a rig that begins no hotter than its room's bath."""
    _, inside = store.made(0, klass)
    work_j = np.trapezoid(inside.friction_force_n * inside.ring_speed_rad_s * inside.ring_radius_m, inside.t_s)
    assert inside.heat_in_j >= 0.97 * work_j > 0.0
    assert inside.bath_heat_j <= inside.heat_in_j * 1.01


def test_torque_balances_while_the_ring_runs_steadily() -> None:
    """Newton: motor torque is friction times radius plus drag, over stretches of unchanged speed."""
    _recording, inside = store.made(0, Klass.SQUEAL)
    speed = inside.ring_speed_rad_s
    contact_nm = inside.friction_force_n * inside.ring_radius_m
    calm = (speed > 0.5 * speed.max()) & (np.abs(np.gradient(speed, inside.t_s)) < 0.05 * speed)
    calm &= inside.on & (np.abs(inside.t_s - 0.6 * inside.t_s[-1]) < 0.3 * inside.t_s[-1])
    drag_nm = (inside.shaft_torque_nm - contact_nm)[calm]
    assert np.median(drag_nm) == pytest.approx(inside.drag_torque_nm, rel=0.35)


def test_current_rises_with_torque() -> None:
    """Whatever the motor, more friction asks for more current."""
    for kind in (Klass.SCUFFING_SUDDEN, Klass.SCUFFING_LONG, Klass.JAM):
        recording, inside = store.made(0, kind)
        sign_s = recording.truth.earliest_legitimate_trip_s
        onset_s = np.nanmax([recording.truth.onset_s, sign_s])
        before = inside.motor_current_a[(inside.t_s > sign_s - 5.0) & (inside.t_s < sign_s)].mean()
        after = inside.motor_current_a[(inside.t_s > onset_s) & (inside.t_s < onset_s + 10.0)].max()
        assert after > 1.02 * before


def test_every_motor_starts_its_rig() -> None:
    """A builder's motor brings the unloaded ring to its set speed; all six kinds are drawn."""
    rigs = [draw_rig(stream(seed, Klass.STAIRCASE, 0, "rig")) for seed in range(60)]
    assert {rig.motor_kind for rig in rigs} == set(MotorKind)
    for rig in rigs[:12]:
        motor, speed, inertia = replace(rig.motor), 0.0, rig.motor_inertia_kg_m2 + rig.ring_inertia_kg_m2
        for _ in range(8000):
            torque, slope, _ = motor.pull(speed, 0.005, 1.0)
            speed += 0.005 * max(torque - rig.drag_nm, -speed * inertia / 0.005) / (inertia - 0.005 * slope)
        assert speed == pytest.approx(rig.set_speed_rad_s, rel=0.02)
        assert rig.set_speed_rad_s * 60.0 / (2.0 * np.pi) * 1.02 >= 30.0
