"""The physics of the third simulated world balances, each law held against its own closed form.

Limits without a source are derived here or common practice, as said beside each.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from world_b.values import DriveKind, Klass  # noqa: E402
from world_c.contact import Contact, Damage  # noqa: E402
from world_c.dice import Dice  # noqa: E402
from world_c.drive import Drive, DriveFacts  # noqa: E402
from world_c.lever import LeverFacts, Placement, load_at, ramp_response  # noqa: E402
from world_c.rig import SlipFacts  # noqa: E402
from world_c.rig_draws import draw_rig  # noqa: E402
from world_c.sensors import beam  # noqa: E402
from world_c.slider import limit_cycle  # noqa: E402
from world_c_made import made  # noqa: E402

pytestmark = [pytest.mark.slow, pytest.mark.long]


def test_bath_keeps_what_friction_brings_and_cooling_leaves() -> None:
    # Energy balance of a lumped body, C dT/dt = P - G (T - ambient), over the whole recording; derived here.
    done = 0
    for seed in range(3, 20):
        if done == 2:
            break
        _, behind = made(seed, Klass.STAIRCASE)
        heat, course, rig = behind.rig.heat, behind.course, behind.rig
        if heat.heated or behind.plan.top_ups or heat.bath_rise_k < 1.5:
            continue
        share = course.force_n * course.ring_share * rig.sliding_speed_m_s / rig.top_power_w
        steps_s = np.diff(course.t_s)
        flow_k = heat.ambient_degc + heat.bath_rise_k * share[1:] - course.bath_degc[:-1]
        assert np.sum(flow_k * steps_s) / heat.bath_lag_s == pytest.approx(
            course.bath_degc[-1] - course.bath_degc[0], rel=0.03, abs=0.02
        )
        done += 1
    assert done == 2


def test_motor_torque_is_friction_torque_and_drag_where_nothing_changes() -> None:
    for seed, klass in ((3, Klass.STAIRCASE), (11, Klass.STAIRCASE), (3, Klass.SQUEAL), (11, Klass.SQUEAL)):
        _, behind = made(seed, klass)
        drive, course = behind.rig.drive, behind.course
        friction_share = course.force_n * behind.rig.ring_radius_m / drive.full_torque_nm
        still = np.abs(np.gradient(course.ring_share, course.t_s)) < 1e-3
        still &= (course.ring_share > 0.8) & (np.abs(np.gradient(course.force_n, course.t_s)) < 1e-3 * friction_share)
        drag_share = (course.torque_share - friction_share)[still | (course.ring_share > 0.999)]
        cold_share = drive.drag_share * (1.0 + drive.cold_drag_share)
        assert np.median(drag_share) >= drive.drag_share * 0.97
        assert np.median(drag_share) <= cold_share * 1.03


def test_a_ring_switched_off_gives_its_energy_to_friction() -> None:
    # accelerate_s d(share)/dt = -load: from full speed to rest within accelerate_s / load, derived here.
    facts = some_drive(DriveKind.BRUSHED_BARE)
    drive, load_share = Drive(facts, running=True), 0.5
    took_s = 0.0
    while drive.ring_share > 0.0:
        drive.step(0.005, False, 1.0, load_share)
        took_s += 0.005
    drag_share = facts.drag_share * (1.0 + 0.3 * facts.cold_drag_share)
    assert took_s == pytest.approx(facts.accelerate_s / (load_share + drag_share), rel=0.03)


def some_drive(kind: DriveKind) -> DriveFacts:
    for seed in range(100):
        drive = draw_rig(Dice(seed), Klass.STAIRCASE, None).drive
        if drive.kind is kind and not np.isfinite(drive.belt_share):
            return drive
    raise AssertionError(kind)


def test_an_induction_motor_has_its_peak_at_the_pull_out_slip_and_idles_at_set_speed() -> None:
    # Kloss: T / T_peak = 2 / (s / s_peak + s_peak / s); Hughes, Drury, Electric Motors and Drives, chapter 5.
    facts = some_drive(DriveKind.INDUCTION_DIRECT)
    speeds = np.linspace(0.0, 1.0, 2001)
    torques = np.array([facts.torque(float(speed), 1.0) for speed in speeds])
    slips = 1.0 - speeds * (1.0 - facts.idle_slip)
    assert torques.max() == pytest.approx(facts.peak_share, rel=1e-4)
    assert slips[int(torques.argmax())] == pytest.approx(facts.pull_out_slip, abs=1e-3)
    assert torques[-1] == pytest.approx(facts.drag_share, rel=1e-6)
    assert 2.5 < facts.current(float(torques[0]), 0.0, 1.0) < 9.0  # held: 3 to 10 times is quoted, 5 to 7 usual


@pytest.mark.parametrize("kind", list(DriveKind))
def test_every_drive_starts_and_carries_its_full_load(kind: DriveKind) -> None:
    facts = some_drive(kind)
    drive = Drive(facts, running=False)
    for _ in range(int((5.0 + 8.0 * facts.accelerate_s + 2.0 * facts.ramp_s) / 0.01)):
        drive.step(0.01, True, 1.0, 0.8 * (1.0 - facts.drag_share))
    assert drive.ring_share > 0.6
    assert drive.current_share == pytest.approx(1.0, abs=0.35)


def test_the_lever_follows_newton() -> None:
    # The closed form against a step-by-step solution of x'' + 2 zeta omega x' + omega^2 x = omega^2 F.
    angular_per_s, damping_ratio, dt_s = 2.0 * np.pi * 4.0, 0.1, 1e-4
    force, speed, solved = 0.0, 0.0, []
    for step in range(20_000):
        solved.append(force)
        speed += dt_s * (angular_per_s**2 * (step * dt_s - force) - 2.0 * damping_ratio * angular_per_s * speed)
        force += dt_s * speed
    closed = ramp_response(dt_s * np.arange(20_000), angular_per_s, damping_ratio)
    assert np.abs(closed - solved).max() < 1e-3
    lever = LeverFacts(5.0, 100.0, 0.05, 0.0)
    t_s = np.arange(0.0, 30.0, 0.01)
    load_n = load_at(t_s, 20.0, [Placement(2.0, 20.0, 120.0, 0.05)], [], lever)
    assert load_n[t_s < 2.0] == pytest.approx(20.0)
    assert load_n[-1] == pytest.approx(120.0, rel=1e-3)
    # A step overshoots by exp(-pi zeta / sqrt(1 - zeta^2)); a ramp of T by sin(pi f T) / (pi f T) of it, nearly.
    overshoot = np.exp(-np.pi * 0.05) * np.sinc(lever.bounce_hz(120.0) * 0.05)
    assert load_n.max() == pytest.approx(120.0 + 100.0 * overshoot, rel=0.01)


def test_a_beam_overshoots_as_a_mass_on_a_spring_does() -> None:
    step = np.concatenate([np.zeros(10), np.ones(990)])
    read = beam(step, 10.0, 0.1, 1000.0)
    assert read.max() == pytest.approx(1.0 + np.exp(-np.pi * 0.1 / np.sqrt(1.0 - 0.01)), abs=0.005)
    assert read[-1] == pytest.approx(1.0, abs=0.01)


def test_a_block_sticks_up_to_its_static_friction_and_slips() -> None:
    # Sawtooth of a relaxation oscillation: it breaks loose at 1 + excess less the damper's share (derived here).
    slip = SlipFacts(5.0, 0.05, 0.5, 0.3, 0.05)
    cycle, cycle_hz = limit_cycle(slip)
    assert cycle.mean() == pytest.approx(0.0, abs=1e-9)
    assert int(np.argmax(cycle)) < 30 or int(np.argmax(cycle)) > 240
    assert 0.3 < np.ptp(cycle) < 1.6
    assert 0.3 < cycle_hz < 5.0


def test_a_contact_keeps_its_layer_until_it_is_weakened_and_then_runs_away_by_its_own_heat() -> None:
    rig = draw_rig(Dice(5), Klass.SCUFFING_SUDDEN, None)
    pin_degc = rig.hottest_pin_degc
    times_s = []
    for warming in (1.0, 0.0):
        contact = Contact(rig.contact, run_in=True)
        first = 0.0
        for _ in range(4000):
            first = contact.step(0.01, rig.top_load_n, 1.0, pin_degc, 1.0)
            contact.heat(0.01, 1.0, pin_degc)
        assert contact.cover > 0.97
        assert contact.scuffed == 0.0
        contact.fail(Damage(1.0, 0.2, 5.0, 0.3, 0.0), first, pin_degc)
        steps = 0
        friction = first
        while friction < 3.0 * first and steps < 20_000:
            friction = contact.step(0.01, rig.top_load_n, 1.0, pin_degc, 1.0)
            contact.heat(0.01, 1.0 + warming * (friction / first - 1.0), pin_degc)
            steps += 1
        times_s.append(0.01 * steps)
    assert times_s[0] < 0.9 * times_s[1]


def test_a_rig_met_in_mid_run_has_settled() -> None:
    met = [behind for behind in (made(seed, Klass.SQUEAL)[1] for seed in range(3, 20)) if behind.plan.running]
    assert met
    for behind in met:
        early = behind.course.t_s < 3.0
        for values in (
            behind.course.force_n[early],
            behind.course.ring_share[early],
            behind.course.current_share[early],
        ):
            assert values[0] == pytest.approx(np.median(values), rel=0.1)


def test_stick_slip_and_squeal_leave_the_mean_of_friction_alone() -> None:
    _, behind = made(3, Klass.STICK_SLIP, 100.0)
    spell = max(behind.plan.spells, key=lambda spell: spell.duration_s)
    rows = behind.rows
    inside = (rows.t_s > spell.begin_s + 1.0) & (rows.t_s < spell.begin_s + spell.duration_s - 1.0)
    inside &= rows.ring_share > 0.5
    plain = np.interp(rows.t_s, behind.course.t_s, behind.course.force_n)
    assert float(np.mean(rows.force_n[inside])) == pytest.approx(float(np.mean(plain[inside])), rel=0.1)
    assert np.std(rows.fast_share[inside]) > 0.05
