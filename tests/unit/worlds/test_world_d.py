"""The fourth world: that it keeps its promises, held against outside physics and its README's figures."""

import sys
from collections import Counter
from functools import cache
from math import exp, inf, isfinite, isnan, pi
from pathlib import Path

import numpy as np
import pytest

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from world_b.values import (  # noqa: E402
    CHANNELS_OF,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Inside,
    Kind,
    Klass,
    Recording,
    Tachometer,
)
from world_d import generate, simulate  # noqa: E402
from world_d.chance import Chance  # noqa: E402
from world_d.courses import FASTEST_STEP_HZ  # noqa: E402
from world_d.drawing import draw_drive, draw_rig  # noqa: E402
from world_d.gauges import lagged  # noqa: E402
from world_d.gauging import round_up  # noqa: E402
from world_d.hearing import added, metered  # noqa: E402
from world_d.making import chance_of, decide, prepare  # noqa: E402
from world_d.motors import current_of, no_load_a, pull_of  # noqa: E402
from world_d.plan import Plan  # noqa: E402
from world_d.pulsing import RPM, read_rpm  # noqa: E402
from world_d.rig import Drive, Gauge, Pulses, Rig  # noqa: E402
from world_d.unrest import remembered, saw  # noqa: E402
from world_d.verity import _BEFORE_S, _FORCE_LAG_S  # noqa: E402
from world_d.warmth import _boundary_share  # noqa: E402

pytestmark = [pytest.mark.slow, pytest.mark.long]
README = (BENCH / "world_d" / "README.md").read_text(encoding="utf-8")
FIRST = 4000  # seeds from here on; the figures of the README were counted with others


@cache
def made(klass: Klass, seed: int = FIRST, rate_hz: float = 20.0) -> tuple[Recording, Inside]:
    return simulate(seed, klass, rate_hz)


@cache
def plans(klass: Klass, n: int = 150) -> tuple[tuple[Rig, Plan], ...]:
    return tuple(decide(chance_of(seed, klass, 0), seed, klass) for seed in range(FIRST, FIRST + n))


def rows_of_table(first_column: str) -> dict[str, list[str]]:
    """Give the rows of the README's table that begins with this column."""
    lines = README[README.index(f"| {first_column} |") :].split("\n\n")[0].splitlines()[2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: row[1:] for row in cells}


def packed(it: Recording) -> tuple[object, ...]:
    return it.time_s.tobytes(), {name: read.tobytes() for name, read in it.channels.items()}, it.rig, repr(it.truth)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_SHORT, Klass.JAM, Klass.SENSOR_FAULT])
def test_the_same_arguments_give_the_same_bits(klass: Klass) -> None:
    assert packed(made(klass)[0]) == packed(generate(FIRST, klass, 20.0))
    assert packed(made(klass)[0]) != packed(generate(FIRST + 1, klass, 20.0))


@pytest.mark.parametrize("klass", list(Klass))
def test_every_class_keeps_what_it_promises(klass: Klass) -> None:
    recording, inside = made(klass)
    truth, rig = recording.truth, recording.rig
    assert tuple(recording.channels) == CHANNELS_OF[rig.channel_set]
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert isfinite(truth.earliest_legitimate_trip_s) == (klass in (*TRIP_WORTHY, Klass.SUPPLY_LOST))
    assert isfinite(truth.onset_s) == (klass in (*SCUFFINGS, Klass.SEIZURE))
    assert isfinite(truth.jam_s) == (klass is Klass.JAM)
    assert isfinite(truth.overheat_s) == (klass is Klass.OVERHEAT)
    assert isfinite(truth.supply_lost_s) == (klass is Klass.SUPPLY_LOST)
    assert (truth.fault is not None) == (klass in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
    assert isfinite(truth.stall_s) or klass not in (Klass.SEIZURE, Klass.JAM)
    assert set(truth.seen_by) <= set(recording.channels) - {truth.fault_channel}
    days_s = sum(each.duration_s for each in truth.nuisances if each.kind is Kind.DAY_BETWEEN)
    assert recording.time_s.max() - days_s == pytest.approx(inside.t_s[-1], abs=5.0)
    assert list(truth.nuisances) == sorted(truth.nuisances, key=lambda each: each.t_s)
    for name, read in recording.channels.items():
        low, high = rig.ranges[name]
        beyond = 0.0201 * (high - low)
        known = read[np.isfinite(read)]
        assert len(read) == len(recording.time_s)
        assert low - beyond <= known.min() <= known.max() <= high + beyond
        assert name not in rig.limits or low < rig.limits[name] < high
    _check_the_contact(klass, recording, inside)


def _check_the_contact(klass: Klass, recording: Recording, inside: Inside) -> None:
    """Healthy running lies where lubricated steel does, and below what the technician has set."""
    truth = recording.truth
    until_s = min(x for x in (truth.earliest_legitimate_trip_s, inf) if not isnan(x))
    slides = inside.ring_speed_rad_s * RPM > 0.9 * recording.rig.ring_speed_rpm
    slides &= (inside.normal_load_n > 0.0) & (inside.t_s < until_s)
    ratio = float(np.median(inside.friction_force_n[slides] / inside.normal_load_n[slides]))
    assert 0.025 < ratio < (0.16 if klass is not Klass.OVERHEAT else 0.3)
    hottest = float(inside.pin_temperature_degc[inside.t_s < until_s].max())
    assert 10.0 < hottest < recording.rig.limits.get(PIN_TEMPERATURE, 250.0) or klass is Klass.OVERHEAT


@pytest.mark.parametrize("klass", [Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN])
def test_force_has_tripled_when_the_truth_says_so(klass: Klass) -> None:
    tripled = 0
    for seed in range(FIRST, FIRST + 3):
        recording, inside = made(klass, seed)
        truth = recording.truth
        lead_s = truth.onset_s - truth.earliest_legitimate_trip_s
        assert {Klass.SCUFFING_LONG: 15.0, Klass.SCUFFING_SHORT: 1.0}.get(klass, 0.0) - 1e-6 <= lead_s
        assert lead_s <= {Klass.SCUFFING_LONG: 400.0, Klass.SCUFFING_SHORT: 12.0}.get(klass, 0.0) + 1e-6
        if isnan(truth.severe_s) or any(each.kind is Kind.DAY_BETWEEN for each in truth.nuisances):
            continue
        ratio = inside.friction_force_n / np.maximum(inside.normal_load_n, 1e-9)
        before = ratio[inside.t_s < truth.earliest_legitimate_trip_s][-200:]
        within = ratio[(inside.t_s > truth.severe_s - 0.2) & (inside.t_s < truth.severe_s + 0.2)]
        assert within.max() > 2.5 * np.median(before)
        assert klass is not Klass.SCUFFING_SUDDEN or truth.severe_s - truth.onset_s <= 3.0
        tripled += 1
    assert tripled >= 1


@pytest.mark.parametrize("rate_hz", [10.0, 100.0, 1000.0])
def test_rows_come_at_the_rate_and_the_plan_does_not_depend_on_it(rate_hz: float) -> None:
    recording, usual = generate(FIRST, Klass.JAM, rate_hz), made(Klass.JAM)[0]
    assert float(np.median(np.diff(recording.time_s))) == pytest.approx(1.0 / rate_hz, rel=1e-6)
    assert recording.rig == usual.rig
    assert recording.truth.jam_s == usual.truth.jam_s
    assert recording.truth.nuisances == usual.truth.nuisances
    assert recording.truth.stall_s == pytest.approx(usual.truth.stall_s, abs=0.1)
    with pytest.raises(ValueError, match="5 to 2000 Hz"):
        generate(0, Klass.JAM, 0.49 * rate_hz if rate_hz < 100.0 else 25.0 * rate_hz)


@pytest.mark.parametrize("channel_set", list(ChannelSet))
def test_a_channel_set_can_be_asked_for(channel_set: ChannelSet) -> None:
    for klass in (Klass.JAM, Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT):
        recording = generate(FIRST + 2, klass, 10.0, channel_set)
        assert tuple(recording.channels) == tuple(recording.rig.ranges) == CHANNELS_OF[channel_set]
        assert recording.truth.fault_channel in ("", *recording.channels)


@pytest.mark.parametrize("turn", range(7))
def test_the_seven_faults_come_in_turn_and_do_what_they_are_called(turn: int) -> None:
    seed = 7 * 600 + turn
    recording = generate(seed, Klass.SENSOR_FAULT, 20.0)
    truth = recording.truth
    assert truth.fault is list(Fault)[turn]
    read = recording.channels[truth.fault_channel]
    after, before = read[recording.time_s > truth.fault_s], read[recording.time_s < truth.fault_s]
    low, high = recording.rig.ranges[truth.fault_channel]
    before, known = before[np.isfinite(before)], after[np.isfinite(after)]
    drifted = np.median(known[-100:]) - np.median(before[-100:]) if len(known) else 0.0
    does = {
        Fault.STUCK: np.ptp(after) == 0.0,
        Fault.SATURATED: np.all((after > high) | (after < low)),
        Fault.OPEN_THERMOCOUPLE: np.all(~(after < high)),
        Fault.DROPOUT: np.mean(np.isnan(after)) > 0.5,
        Fault.DRIFT: abs(drifted) > 0.02 * (high - low),
        Fault.SIGN_FLIP: np.sum(after < 0.0) > np.sum(after > 0.0),
        Fault.TACHOMETER_LOST: not after.any(),
    }
    assert does[list(Fault)[turn]]


def test_shares_of_nuisances_are_as_documented() -> None:
    table = rows_of_table("nuisance")
    assert list(table) == [kind.value for kind in Kind]
    found: Counter[Kind] = Counter()
    klasses = [klass for klass in Klass if klass is not Klass.OVERHEAT]
    for klass in klasses:
        for _, plan in plans(klass):
            found.update({each.kind for each in plan.nuisances})
    enduring = [{each.kind for each in plan.nuisances} for _, plan in plans(Klass.ENDURANCE)]
    for kind in Kind:
        everywhere, enduring_share = (float(cell.split()[0]) for cell in table[kind.value])
        assert 100.0 * found[kind] / (150 * len(klasses)) == pytest.approx(everywhere, abs=5.0)
        assert 100.0 * sum(kind in kinds for kinds in enduring) / 150 == pytest.approx(enduring_share, abs=9.0)


def test_classes_and_mean_lengths_are_as_documented() -> None:
    table = rows_of_table("class")
    assert list(table) == [klass.value for klass in Klass]
    for klass in Klass:
        length, worthy = table[klass.value][:2]
        assert worthy == ("yes" if klass in TRIP_WORTHY else "no")
        if klass is Klass.OVERHEAT:
            continue
        mean_s = np.mean([plan.duration_s for _, plan in plans(klass)])
        assert mean_s / 60.0 == pytest.approx(float(length.split()[0]), rel=0.12)


def test_the_mean_length_of_an_overheat_is_as_documented() -> None:
    found = (prepare(chance_of(seed, Klass.OVERHEAT, 0), seed, Klass.OVERHEAT) for seed in range(FIRST, FIRST + 36))
    mean_s = np.mean([each.plan.duration_s for each in found if each is not None])
    assert mean_s / 60.0 == pytest.approx(float(rows_of_table("class")["overheat"][0].split()[0]), rel=0.25)


def test_odds_of_scuffings_and_jams_are_as_documented() -> None:
    assert "One scuffing in five begins 2 to 8 s after a change of load; one in seven never reaches" in README
    damaged = [plan for klass in SCUFFINGS for _, plan in plans(klass)]
    soon = never = 0
    for plan in damaged:
        assert plan.damage is not None
        onset_s = plan.damage.onset_s
        soon += 2.0 <= onset_s - max(hand.t_s for hand in plan.hands if hand.t_s < onset_s) <= 8.0
        never += plan.damage.plateau < 3.0
        assert plan.sensor is None or 3.99 <= onset_s - plan.sensor.t_s <= 220.0
        assert isnan(plan.hand_off_s) or 5.0 <= plan.hand_off_s - onset_s <= 12.0
    assert soon / len(damaged) == pytest.approx(1.0 / 5.0, abs=0.035)
    assert never / len(damaged) == pytest.approx(1.0 / 7.0, abs=0.03)
    assert np.mean([isfinite(plan.hand_off_s) for plan in damaged]) == pytest.approx(1.0 / 3.0, abs=0.04)
    ramps_s = [plan.jam.ramp_s for _, plan in plans(Klass.JAM) if plan.jam is not None]
    assert 0.01 <= min(ramps_s) <= max(ramps_s) <= 3.0
    assert np.mean([ramp_s <= 0.3 for ramp_s in ramps_s]) == pytest.approx(4.0 / 5.0, abs=0.06)
    supply = [(isfinite(plan.supply_lost[1]), plan) for _, plan in plans(Klass.SUPPLY_LOST)]
    assert min(len(plan.switches) for _, plan in plans(Klass.STARTS_AND_STOPS)) >= 8
    assert all(1600.0 < plan.duration_s <= 7200.0 for _, plan in plans(Klass.ENDURANCE))
    assert all(plan.supply_lost[1] - plan.supply_lost[0] <= 3.0 or not back for back, plan in supply)
    assert (_FORCE_LAG_S, _BEFORE_S, 1.0 / FASTEST_STEP_HZ) == (0.05, 20.0, 0.005)
    for _, plan in plans(Klass.SQUEAL):
        spells_s = sum(each.duration_s for each in plan.nuisances if each.kind is Kind.SQUEAL)
        assert 0.1 < spells_s / (plan.duration_s - plan.switches[0][0] - 20.0) < 1.0
    assert np.mean([back for back, _ in supply]) == pytest.approx(1.0 / 4.0, abs=0.07)


def drive_of(kind: DriveKind) -> Drive:
    drawn = (draw_drive(Chance(seed), 0.5, 60.0, Klass.JAM) for seed in range(200))
    return next(drive for drive in drawn if drive.kind is kind)


def test_a_brushed_motor_held_at_rest_draws_supply_over_resistance() -> None:
    drive = drive_of(DriveKind.BRUSHED_BARE)
    back_emf_vs = drive.supply_v / drive.free_speed_rad_s  # as many V s as N m/A
    torque_nm, _ = pull_of(drive, 0.001)(0.0, True)
    turning_nm, _ = pull_of(drive, 0.001)(0.6 * drive.free_speed_rad_s, False)
    held_a, turning_a = current_of(
        drive, np.array([torque_nm, turning_nm]), np.array([0.0, 0.6 * drive.free_speed_rad_s]), np.array([True, True])
    )
    ohms = (drive.supply_v - back_emf_vs * 0.6 * drive.free_speed_rad_s) / turning_a
    assert held_a == pytest.approx(drive.supply_v / ohms)
    assert drive.held_a == pytest.approx(held_a)
    assert all(0.0 < no_load_a(drive_of(kind), 60.0) < drive_of(kind).full_a for kind in DriveKind)


def test_an_induction_motor_pulls_out_where_kloss_says() -> None:
    drive = drive_of(DriveKind.INDUCTION_DIRECT)
    slips = np.linspace(0.001, 1.0, 2000)
    torque = np.array([pull_of(drive, 0.001)(drive.free_speed_rad_s * (1.0 - slip), False)[0] for slip in slips])
    kloss = 2.0 / (slips / drive.pull_out_slip + drive.pull_out_slip / slips)
    np.testing.assert_allclose(torque / drive.top_torque_nm, kloss, rtol=1e-9)
    assert 3.0 < drive.held_a / drive.full_a < 8.0  # locked-rotor current over full current, from handbooks


def test_the_film_carries_light_loads_and_boundary_layers_heavy_ones() -> None:
    film = draw_rig(Chance(1), Klass.JAM, None, None).film
    assert _boundary_share(film, 1.0, 0.0) == pytest.approx(film.share_at_top)
    shares = [_boundary_share(film, load, 0.0) for load in (1e-9, 0.1, 1.0, 1e9)]
    assert shares == sorted(shares)
    assert shares[0] < 0.02
    assert shares[-1] > 0.98
    assert _boundary_share(film, 0.5, 30.0) > _boundary_share(film, 0.5, 0.0)


def test_a_sound_meter_weights_time_as_iec_61672_and_a_lag_is_at_63_per_cent_after_its_time() -> None:
    step_s = 0.001
    for weighting_s, falls_db_s in ((0.125, 34.74), (1.0, 4.343)):
        bang = np.concatenate((np.full(5000, 20.0), np.full(10000, 80.0), np.full(3000, -100.0)))
        level = metered(bang, step_s, weighting_s)
        risen = 10.0 ** (level[5000 + round(weighting_s / step_s) - 1] / 10.0) / 10.0**8
        assert risen == pytest.approx(1.0 - exp(-1.0), abs=0.01)
        assert (level[15500] - level[16500]) / 1.0 == pytest.approx(falls_db_s, rel=0.01)
    assert added((np.array([80.0]), np.array([70.0])))[0] == pytest.approx(80.414, abs=0.001)
    step = np.concatenate((np.zeros(10), np.ones(5000)))
    assert lagged(step, 0.01, 4.0)[10 + 400 - 1] == pytest.approx(1.0 - exp(-1.0), abs=0.002)


@pytest.mark.parametrize("klass", [Klass.SUPPLY_LOST, Klass.SCUFFING_SUDDEN])
def test_heat_put_in_is_heat_kept(klass: Klass) -> None:
    inside = made(klass)[1]
    assert inside.bath_heat_j == pytest.approx(inside.heat_in_j, rel=1e-6, abs=1e-3)


def test_torque_turns_the_ring_as_newton_says() -> None:
    for seed in range(FIRST, FIRST + 30):
        rig, plan = decide(chance_of(seed, Klass.SUPPLY_LOST, 0), seed, Klass.SUPPLY_LOST)
        if rig.drive.belt_nm == inf and not plan.mid_run:
            break
    inside = made(Klass.SUPPLY_LOST, seed)[1]
    step_s = float(inside.t_s[1])
    brake_nm = inside.friction_force_n * inside.ring_radius_m + inside.drag_torque_nm
    inertia = rig.drive.motor_kgm2 + rig.drive.ring_kgm2
    gained = np.diff(inside.ring_speed_rad_s)
    both = (inside.ring_speed_rad_s[1:] > 0.0) & (inside.ring_speed_rad_s[:-1] > 0.0)
    expected = step_s * (inside.shaft_torque_nm - brake_nm)[1:] / inertia
    np.testing.assert_allclose(gained[both], expected[both], atol=1e-6 * rig.set_speed_rad_s)


@pytest.mark.parametrize("kind", list(Tachometer))
def test_tachometers_read_a_steady_speed(kind: Tachometer) -> None:
    per_turn = {Tachometer.PERIOD: 4, Tachometer.GATE: 100, Tachometer.ANALOGUE: 0}[kind]
    gauge = Gauge(low=0.0, high=1000.0, noise=0.0, step=0.1, lag_s=0.05)
    speed = np.concatenate((np.full(20_000, 500.0 / RPM), np.zeros(5_000)))
    read = read_rpm(Pulses(kind, per_turn, 0.2, False), gauge, speed, 0.001)
    assert np.abs(read[2000:20_000] - 500.0).max() <= 60.0 / (100 * 0.2) + 1e-9
    assert read[-1] < 1.0


def test_stick_slip_leaves_the_mean_and_unrest_has_its_sigma() -> None:
    factor = saw(np.linspace(0.0, 300.0, 60_000), 2.0, 0.4, Chance(5))
    assert factor.mean() == pytest.approx(1.0, abs=0.02)
    assert 0.3 < np.ptp(factor) < 0.8
    assert remembered(Chance(6), 200_000, 0.01, 0.1).std() == pytest.approx(1.0, abs=0.05)


def test_ranges_are_printed_numbers_and_rigs_are_as_wide_as_told() -> None:
    assert [round_up(x) for x in (0.013, 1.3, 7.0, 99.0)] == pytest.approx([0.015, 1.5, 8.0, 100.0])
    rigs = [rig for klass in Klass for rig, _ in plans(klass)]
    assert all(20.0 <= 2000.0 * rig.radius_m <= 80.0 for rig in rigs)
    assert all(60.0 <= rig.set_speed_rad_s * 30.0 / pi <= 3000.0 for rig in rigs)
    assert {rig.channel_set for rig in rigs} == set(ChannelSet)
    assert {rig.drive.kind for rig in rigs} == set(DriveKind)


def test_a_jam_does_not_raise_the_friction_but_stops_the_ring() -> None:
    recording, inside = made(Klass.JAM)
    held = inside.t_s > recording.truth.stall_s + 0.5
    before = (inside.t_s > recording.truth.jam_s - 5.0) & (inside.t_s < recording.truth.jam_s)
    assert inside.friction_force_n[held].max() < inside.friction_force_n[before].max()
    assert not inside.ring_speed_rad_s[held].any()
    assert recording.truth.seen_by
