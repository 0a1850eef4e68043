"""What drives do that is no jam and no stall: small motors, idle currents, ramps, set speeds, brakes. Tables made here.

Sizes and times are common practice, no source. Nothing is stated of the motor but where a test says so.
"""

import numpy as np
import pytest

from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.replay import ReplayResult, replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

pytestmark = pytest.mark.slow

RATE_HZ = 100.0
START_S, RUN_RPM = 10.0, 300.0
Columns = dict[str, np.ndarray]


def clock(seconds: float) -> np.ndarray:
    return np.arange(round(seconds * RATE_HZ)) / RATE_HZ


def motor(t_s: np.ndarray, run_a: float = 2.0, idle_a: float = 0.0, noise: float = 0.01, seed: int = 1) -> Columns:
    """Give a rig that is switched on after 10 s and surges, rubs on its pin, and shows its speed at once."""
    random, on = np.random.default_rng(seed), t_s >= START_S
    since_s = np.where(on, t_s - START_S, 0.0)
    n = len(t_s)
    return {
        "normal_load_n": 50.0 + random.normal(0.0, 0.2, n),
        "friction_force_n": np.where(on, 5.0, 0.0) + random.normal(0.0, 0.05, n),
        "motor_current_a": np.where(on, run_a * (1.0 + 2.0 * np.exp(-since_s / 0.3)), idle_a)
        + random.normal(0.0, noise * run_a, n),
        "ring_speed_rpm": np.where(on, RUN_RPM * (1.0 - np.exp(-since_s / 0.3)), 0.0)
        + np.where(on, random.normal(0.0, 0.3, n), 0.0),
    }


def replayed(t_s: np.ndarray, columns: Columns, text: str = "") -> ReplayResult:
    return replay_columns(t_s, columns, load_replay_settings(text))


def loud(result: ReplayResult) -> list[Finding]:
    """Give trips and warnings."""
    return [finding for finding in result.findings if finding.level is not Level.NOTICE]


def scuff(t_s: np.ndarray, columns: Columns, at_s: float, times: float = 3.5) -> None:
    """Let friction go to so many times as much within 0.3 s, and the current half as far."""
    more = (times - 1.0) * np.clip((t_s - at_s) / 0.3, 0.0, 1.0)
    columns["friction_force_n"] *= 1.0 + more
    columns["motor_current_a"] *= 1.0 + 0.5 * more


@pytest.mark.parametrize("idle_a", [0.0, 0.02])
def test_a_motor_that_runs_on_a_tenth_of_an_ampere_is_watched(idle_a: float) -> None:
    t_s = clock(40.0)
    columns = motor(t_s, run_a=0.11, idle_a=idle_a)
    assert loud(replayed(t_s, columns)) == []
    scuff(t_s, columns, 30.0)
    (trip,) = loud(replayed(t_s, columns))
    assert (trip.kind, trip.level) == (FindingKind.SCUFFING_ONSET, Level.TRIP)
    assert 30.0 < trip.t_rig_s < 30.5


def test_a_small_motor_without_a_tachometer_is_known_by_the_contact_that_rubs_once_it_draws() -> None:
    t_s = clock(40.0)
    columns = motor(t_s, run_a=0.11)
    del columns["ring_speed_rpm"]
    scuff(t_s, columns, 30.0)
    (trip,) = loud(replayed(t_s, columns))
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert 30.0 < trip.t_rig_s < 30.5


def test_a_transducer_that_is_dead_beside_a_turning_ring_is_still_found() -> None:
    """What it shows is the same whether the ring stands or turns."""
    t_s = clock(30.0)
    columns = motor(t_s)
    columns["motor_current_a"] = 0.03 + np.random.default_rng(2).normal(0.0, 0.002, len(t_s))
    (found,) = loud(replayed(t_s, columns))
    assert (found.kind, found.level) == (FindingKind.SENSOR_FAULT, Level.WARN)
    assert "the ring goes on at" in found.says


@pytest.mark.parametrize("rests_n", [0.0, 4.0])
@pytest.mark.parametrize("noise", [0.01, 0.03])
def test_an_idle_current_before_the_first_start_is_no_stall(noise: float, rests_n: float) -> None:
    """A transducer of 50 A whose zero is off by half a per cent; the motor waits for half a minute.

    The pin may press against the ring meanwhile.
    """
    t_s = clock(60.0)
    columns = {name: np.roll(values, 2_500) for name, values in motor(t_s, 9.0, 0.28, noise).items()}
    for values in columns.values():
        values[:2_500] = values[2_500:3_400][np.random.default_rng(3).integers(0, 900, 2_500)]
    columns["friction_force_n"][:3_500] += rests_n
    assert loud(replayed(t_s, columns)) == []
    scuff(t_s, columns, 50.0)
    (trip,) = loud(replayed(t_s, columns))
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert 50.0 < trip.t_rig_s < 50.6


@pytest.mark.parametrize("text", ["", "[channels.motor_current_a]\nrange = [-50.0, 50.0]\n"])
def test_a_first_start_that_is_held_after_an_idle_current_is_a_stall(text: str) -> None:
    """Whether or not the range says how far the transducer's zero may be off."""
    t_s = clock(50.0)
    columns = motor(t_s, 9.0, 0.28)
    columns["motor_current_a"][t_s >= START_S] = 30.0 + np.random.default_rng(7).normal(
        0.0, 0.3, (t_s >= START_S).sum()
    )
    columns["ring_speed_rpm"][:] = 0.0
    columns["friction_force_n"][:] = 0.0
    (trip,) = loud(replayed(t_s, columns, text))
    assert trip.kind is FindingKind.STALL
    assert START_S + 5.0 < trip.t_rig_s < START_S + 15.5


def test_a_ring_that_has_yet_to_answer_while_its_current_grows_is_no_stall_and_one_that_is_held_is() -> None:
    """A gear motor on a soft start; the tachometer gives a pulse a turn, and its first reading after 6 s."""
    t_s = clock(40.0)
    columns = motor(t_s)
    since_s = np.clip(t_s - START_S, 0.0, None)
    columns["motor_current_a"] += 6.0 * np.clip(since_s / 4.0, 0.0, 1.0) * np.exp(-np.clip(since_s - 4.0, 0.0, None))
    columns["ring_speed_rpm"] = np.where(since_s > 6.0, 40.0, 0.0)
    known = "[motor]\nno_load_current_a = 1.5\n"
    assert loud(replayed(t_s, columns, known)) == []
    columns["ring_speed_rpm"][:] = 0.0
    columns["motor_current_a"] = np.where(since_s > 0.0, 8.0 * np.clip(since_s / 4.0, 0.0, 1.0), 0.0)
    (trip,) = loud(replayed(t_s, columns, known))
    assert trip.kind is FindingKind.STALL
    assert 3.0 + START_S + 5.0 < trip.t_rig_s < 4.0 + START_S + 5.1


@pytest.mark.parametrize("every_s", [0.01, 0.25])
def test_a_set_speed_that_is_raised_is_no_jam_and_one_that_follows_is(every_s: float) -> None:
    """A servo draws four times as much while it speeds up its ring; the tachometer answers every `every_s`."""
    t_s = clock(50.0)
    columns = motor(t_s)
    up_s = np.clip(t_s - 25.0, 0.0, None)
    columns["ring_speed_rpm"] *= 1.0 + 0.8 * (1.0 - np.exp(-up_s / 0.5))
    columns["motor_current_a"] += np.where(up_s > 0.0, 6.0 * np.exp(-up_s / 0.5), 0.0)
    held = np.arange(len(t_s)) // round(every_s * RATE_HZ) * round(every_s * RATE_HZ)
    columns["ring_speed_rpm"] = columns["ring_speed_rpm"][held]
    assert [finding for finding in loud(replayed(t_s, columns)) if finding.level is Level.TRIP] == []
    jam_s = np.clip(t_s - 40.0, 0.0, None)
    columns["ring_speed_rpm"] *= np.exp(-jam_s[held] / 0.05)
    columns["motor_current_a"] += 8.0 * (1.0 - np.exp(-jam_s / 0.03))
    columns["friction_force_n"] *= np.exp(-jam_s / 0.05)
    trip = next(finding for finding in loud(replayed(t_s, columns)) if finding.level is Level.TRIP)
    assert trip.kind is FindingKind.JAM
    assert 40.0 < trip.t_rig_s < 40.0 + 0.2 + every_s


def test_a_drive_that_brakes_with_its_current_turned_is_no_jam() -> None:
    t_s = clock(40.0)
    columns = motor(t_s)
    brakes_s = np.clip(t_s - 30.0, 0.0, None)
    columns["motor_current_a"] = np.where(
        brakes_s > 0.0, np.where(brakes_s < 1.5, -6.0, 0.0), columns["motor_current_a"]
    )
    columns["ring_speed_rpm"] *= np.clip(1.0 - brakes_s / 1.5, 0.0, 1.0)
    columns["friction_force_n"] *= brakes_s < 1.5
    assert loud(replayed(t_s, columns)) == []


def test_a_motor_whose_current_is_wired_the_other_way_round_still_jams() -> None:
    t_s = clock(40.0)
    columns = motor(t_s)
    jam_s = np.clip(t_s - 30.0, 0.0, None)
    columns["motor_current_a"] += 8.0 * (1.0 - np.exp(-jam_s / 0.03))
    columns["motor_current_a"] *= -1.0
    columns["ring_speed_rpm"] *= np.exp(-jam_s / 0.05)
    columns["friction_force_n"] *= np.exp(-jam_s / 0.05)
    trip = next(finding for finding in loud(replayed(t_s, columns)) if finding.level is Level.TRIP)
    assert trip.kind is FindingKind.JAM
    assert 30.0 < trip.t_rig_s < 30.2


def test_a_load_column_that_stays_blank_takes_nothing_from_the_force() -> None:
    """The motor's current is judged beside the friction force, as where no load cell is fitted.

    So a ring is found held before a tachometer of one value a second tells.
    """
    t_s = clock(45.0)
    columns = motor(t_s)
    columns["ring_speed_rpm"] = columns["ring_speed_rpm"][np.arange(len(t_s)) // 100 * 100]
    jam_s = np.clip(t_s - 30.0, 0.0, None)
    columns["motor_current_a"] += 8.0 * (1.0 - np.exp(-jam_s / 0.03))
    columns["friction_force_n"] *= np.exp(-jam_s / 0.05)
    columns["ring_speed_rpm"] *= jam_s < 1.0
    columns["normal_load_n"][:] = np.nan
    blank = next(f for f in replayed(t_s, columns).findings if f.level is Level.TRIP)
    del columns["normal_load_n"]
    without = next(f for f in replayed(t_s, columns).findings if f.level is Level.TRIP)
    assert (blank.kind, blank.t_rig_s, blank.says) == (without.kind, without.t_rig_s, without.says)
    assert 30.0 < blank.t_rig_s < 30.6
