"""Laws the world of tipping points must keep: statistics of its random processes, balance of heat and of torque."""

import math

import numpy as np
import pytest
import world_o_made as made
from world_b.values import DriveKind, Klass
from world_o.contact import FOLD, U_FOLD, cascade, healthy_well, renewal, shaking, two_wells
from world_o.heat import Abnormal, warm
from world_o.parts import CORE_DT_S, Cause, Noise, Thermal

pytestmark = [pytest.mark.slow, pytest.mark.long]

RETURN_S = 0.2


def test_small_unrest_is_that_of_an_ornstein_uhlenbeck_process() -> None:
    # Variance of dx = -k x dt + s dW is s^2 / 2k; its autocorrelation falls as exp(-k t).
    # Gardiner, Handbook of Stochastic Methods, ch. 3 (from memory). At the well of tilt 0, k = 2 / time.
    n, scale, k = 400_000, 0.02, 2.0 / RETURN_S
    pushes = shaking(np.random.default_rng(1), Noise.WHITE, n, CORE_DT_S, scale)
    u = two_wells(-1.0, np.zeros(n), pushes, (RETURN_S, RETURN_S))
    # Euler's step of dt makes the variance s^2 / (2k - k^2 dt).
    assert u.var() == pytest.approx(scale**2 / (2 * k - k**2 * CORE_DT_S), rel=0.05)
    away = u - u.mean()
    lag = 5
    assert np.mean(away[lag:] * away[:-lag]) / u.var() == pytest.approx((1 - k * CORE_DT_S) ** lag, abs=0.03)


def test_return_slows_and_unrest_grows_towards_the_fold() -> None:
    # Critical slowing down: Scheffer et al., Early-warning signals for critical transitions, Nature 461 (2009).
    n = 200_000
    pushes = shaking(np.random.default_rng(2), Noise.WHITE, n, CORE_DT_S, 0.02)
    spread, memory = [], []
    for tilt in (-0.2, 0.1, 0.3):
        c = np.full(n, tilt)
        u = two_wells(float(healthy_well(c[:1])[0]), c, pushes, (RETURN_S, RETURN_S))
        away = u - u.mean()
        spread.append(u.std())
        memory.append(float(np.mean(away[20:] * away[:-20]) / u.var()))
    assert spread == sorted(spread)
    assert memory == sorted(memory)


def test_healthy_well_solves_its_cubic_and_ends_at_the_fold() -> None:
    tilt = np.linspace(-FOLD, FOLD, 101)
    u = healthy_well(tilt)
    assert np.abs(u - u**3 + tilt).max() < 1e-9
    assert u[-1] == pytest.approx(U_FOLD)


def test_escape_follows_kramers() -> None:
    # Rate r = sqrt(U''(a) |U''(b)|) / (2 pi) exp(-dU / D), Kramers 1940 (from memory); U = u^4/4 - u^2/2, so that
    # U'' is 2 and -1, dU = 1/4; time in units of the well's, D = s^2 time / 2. Euler and dU/D ~ 4 cost some 20 %.
    n, barrier = 600_000, 0.25
    diffusion = barrier / 4.0
    scale = math.sqrt(2.0 * diffusion / RETURN_S)
    pushes = shaking(np.random.default_rng(3), Noise.WHITE, n, CORE_DT_S, scale)
    u = two_wells(-1.0, np.zeros(n), pushes, (RETURN_S, RETURN_S))
    side, crossings = -1, 0
    for value in u.tolist():
        if value * side < -0.5:
            side, crossings = -side, crossings + 1
    expected = math.sqrt(2.0) / (2.0 * math.pi) * math.exp(-barrier / diffusion) * n * CORE_DT_S / RETURN_S
    assert crossings == pytest.approx(expected, rel=0.35)


@pytest.mark.parametrize("shape", [0.7, 1.0, 3.0])
def test_renewals_count_as_gamma_intervals_do(shape: float) -> None:
    # Cox, Renewal Theory (1962), from memory: mean count t/m, variance over mean tends to 1/shape of gamma intervals.
    rng = np.random.default_rng(4)
    hits = np.array(renewal(rng, np.full(2_000_000, 2.0), CORE_DT_S, shape))
    counts = np.histogram(hits, bins=np.arange(0, 2_000_001, 5_000))[0]
    assert counts.mean() == pytest.approx(100.0, rel=0.03)
    assert counts.var() / counts.mean() == pytest.approx(1.0 / shape, rel=0.3)


def test_cascade_has_the_mean_of_a_self_exciting_process() -> None:
    # Hawkes 1971 (from memory): rate = background / (1 - branching); live events = rate * keep.
    branching, background_hz, keep_s = 0.5, 2.0, 0.5
    q = cascade(np.random.default_rng(5), background_hz, np.full(400_000, branching), keep_s, 50.0, 0.0)
    assert q.mean() == pytest.approx(background_hz * keep_s / (1.0 - branching), rel=0.08)


def _thermal() -> Thermal:
    return Thermal(20.0, 25.0, 800.0, 1.5, 100.0, 60.0, 0.4, 5.0, 10.0)


@pytest.mark.parametrize("abnormal", [None, Abnormal(Cause.HEATER_STUCK, 50.0, 200.0, 30.0)])
def test_heat_put_in_is_kept_or_lost(abnormal: Abnormal | None) -> None:
    power_w = np.linspace(5.0, 40.0, 30_000)
    found = warm(_thermal(), power_w, np.zeros(30_000), abnormal)
    assert found.heat_in_j == pytest.approx(found.bath_j + found.lost_j, rel=1e-9)
    kept_j = 800.0 * (found.bath_degc[-1] - 25.0)
    assert kept_j == pytest.approx(found.bath_j, abs=800.0 * 0.1)


def test_bath_settles_where_loss_is_gain() -> None:
    thermal = Thermal(20.0, 20.0, 100.0, 2.0, 0.0, 0.0, 0.4, 5.0, 10.0)
    found = warm(thermal, np.full(60_000, 30.0), np.zeros(60_000))
    assert found.bath_degc[-1] == pytest.approx(20.0 + 30.0 / 2.0, abs=0.05)


def test_torque_given_is_torque_rubbed_while_steady() -> None:
    for seed in range(3):
        recording, inside = made.simulate(seed, Klass.ENDURANCE)
        steady = np.abs(np.gradient(inside.ring_speed_rad_s)) < 1e-3 * inside.ring_speed_rad_s.max()
        steady &= (
            (inside.t_s > 0.7 * inside.t_s[-1])
            & inside.on
            & (inside.ring_speed_rad_s > 0.8 * inside.ring_speed_rad_s.max())
        )
        rubbed_nm = inside.friction_force_n * inside.ring_radius_m
        drag_nm = np.median(inside.shaft_torque_nm[steady] - rubbed_nm[steady])
        assert drag_nm == pytest.approx(inside.drag_torque_nm, rel=0.2), recording.rig.drive


def test_friction_work_is_within_the_heat_put_in() -> None:
    for seed in range(3):
        _, inside = made.simulate(seed, Klass.STAIRCASE)
        step_s = inside.t_s[1] - inside.t_s[0]
        work_j = np.sum(inside.friction_force_n * inside.ring_radius_m * inside.ring_speed_rad_s) * step_s
        assert inside.heat_in_j >= 0.9 * work_j - 4.0 * 2500.0
        assert inside.bath_heat_j <= inside.heat_in_j + 1.5 * 2500.0


def test_a_limited_drive_never_gives_more_than_its_limit() -> None:
    limited = (DriveKind.BRUSHED_LIMITED, DriveKind.INDUCTION_INVERTER)
    seen = 0
    for seed in range(8):
        recording, inside = made.simulate(seed, Klass.SEIZURE)
        if recording.rig.drive in limited:
            seen += 1
            stalled = inside.t_s > recording.truth.stall_s + 1.0
            most_nm = np.median(inside.shaft_torque_nm[stalled])
            assert inside.shaft_torque_nm.max() <= most_nm * 1.1  # an implicit step may overshoot
    assert seen
