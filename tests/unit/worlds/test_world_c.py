"""The third simulated world keeps its promises: same seed same bits, and a truth that its noise-free course bears out.

Limits without a source are derived here or common practice, as said beside each.
"""

import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

import world_c  # noqa: E402
from world_b.values import (  # noqa: E402
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Kind,
    Klass,
    Truth,
)
from world_c.dice import Dice  # noqa: E402
from world_c.rig_draws import CHANNEL_SHARES, draw_rig  # noqa: E402
from world_c_made import COARSE_HZ, made, on_course_s  # noqa: E402

pytestmark = [pytest.mark.slow, pytest.mark.long]

HEALTHY = (Klass.STAIRCASE, Klass.ENDURANCE, Klass.STICK_SLIP, Klass.SQUEAL, Klass.STARTS_AND_STOPS)
DAMAGED = (*SCUFFINGS, Klass.SEIZURE)
TIMES = [f.name for f in fields(Truth) if f.name.endswith("_s")]


# --- what a recording is ----------------------------------------------------------------------------------


@pytest.mark.parametrize("klass", list(Klass))
def test_equal_seeds_give_equal_bits_and_others_do_not(klass: Klass) -> None:
    one, two, other = made(3, klass)[0], world_c.generate(3, klass, COARSE_HZ), made(4, klass)[0]
    assert one.time_s.tobytes() == two.time_s.tobytes()
    assert list(one.channels) == list(two.channels)
    assert all(one.channels[name].tobytes() == two.channels[name].tobytes() for name in one.channels)
    assert repr(one.truth) == repr(two.truth)
    assert one.rig == two.rig
    assert one.channels[MOTOR_CURRENT].tobytes() != other.channels[MOTOR_CURRENT].tobytes()


SETS = list(ChannelSet)


@pytest.mark.parametrize(("klass", "had"), [(klass, SETS[place % 5]) for place, klass in enumerate(Klass)])
def test_every_class_and_every_channel_set_can_be_had(klass: Klass, had: ChannelSet) -> None:
    recording = world_c.generate(1, klass, 5.0, had)
    assert recording.rig.channel_set is had
    assert tuple(recording.channels) == tuple(recording.rig.ranges) == CHANNELS_OF[had]
    assert set(recording.rig.limits) <= set(CHANNELS_OF[had])
    assert {len(values) for values in recording.channels.values()} == {len(recording.time_s)}
    assert recording.truth.trip_worthy is (klass in TRIP_WORTHY)
    assert set(recording.truth.seen_by) <= set(CHANNELS_OF[had])
    for name, values in recording.channels.items():
        low, high = recording.rig.ranges[name]
        rail = 0.021 * (high - low)  # readings end 2 % beyond the range, as world_b's do
        if name != recording.truth.fault_channel:
            assert np.nanmin(values) >= low - rail
            assert np.nanmax(values) <= high + rail


def test_channel_sets_come_in_their_shares() -> None:
    # 1500 draws: three standard deviations of a share near a half are 0.039.
    sets = [draw_rig(Dice(seed), Klass.STAIRCASE, None).channel_set for seed in range(1500)]
    for had, share in CHANNEL_SHARES.items():
        assert sets.count(had) / len(sets) == pytest.approx(share, abs=0.04)


def test_a_rate_that_no_rig_has_is_refused() -> None:
    with pytest.raises(ValueError, match="rate 4"):
        world_c.generate(1, Klass.JAM, 4.0)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_LONG, Klass.JAM, Klass.OVERHEAT, Klass.STICK_SLIP])
def test_the_rate_changes_neither_rig_nor_story(klass: Klass) -> None:
    slow, fast = made(5, klass, 10.0), made(5, klass, 100.0)
    assert slow[0].rig == fast[0].rig
    for name in TIMES:
        assert getattr(slow[0].truth, name) == pytest.approx(getattr(fast[0].truth, name), nan_ok=True, abs=1e-12)
    for name in ("load_n", "force_n", "ring_share", "current_share"):
        means = [float(np.mean(getattr(behind.rows, name))) for _, behind in (slow, fast)]
        assert means[0] == pytest.approx(means[1], rel=0.02, abs=1e-6)


# --- truth ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("klass", HEALTHY)
@pytest.mark.parametrize("seed", [3, 11])
def test_healthy_recordings_hold_no_event_and_pass_none_of_their_limits(seed: int, klass: Klass) -> None:
    recording, behind = made(seed, klass)
    assert all(np.isnan(getattr(recording.truth, name)) for name in TIMES)
    assert recording.truth.seen_by == ()
    rows, limits = behind.rows, recording.rig.limits
    assert rows.force_n.max() < limits.get(FRICTION_FORCE, np.inf) / 1.2  # a margin of 1.25, less one wild row
    running = rows.current_share[rows.ring_share > 0.9].max() * behind.rig.drive.full_current_a
    assert running < limits.get(MOTOR_CURRENT, np.inf) / 1.2
    for name, values in (("pin_temperature_degc", rows.pin_degc), ("bath_temperature_degc", rows.bath_degc)):
        assert values.max() * 1.25 < limits.get(name, np.inf) + 6.0  # rounded to 5 degC


@pytest.mark.parametrize("klass", DAMAGED)
@pytest.mark.parametrize("seed", [3, 4, 8])
def test_friction_force_has_tripled_at_severe_and_not_before(seed: int, klass: Klass) -> None:
    recording, behind = made(seed, klass)
    course, onset_s = behind.course, on_course_s(recording, behind, "onset_s")
    set_s = max(placed.t_s + placed.ramp_s for placed in behind.plan.placements if placed.t_s < onset_s)
    even_s = np.arange(max(onset_s - 5.0, set_s + 1.0), course.t_s[-1], 0.002)
    force_n = np.interp(even_s, course.t_s, course.force_n)
    before_n = float(np.median(force_n[even_s < onset_s]))
    lagged_n = [before_n]
    for value in force_n[1:]:
        lagged_n.append(lagged_n[-1] + (value - lagged_n[-1]) * (1.0 - np.exp(-0.002 / 0.05)))
    ratio = np.array(lagged_n) / before_n
    severe_s = on_course_s(recording, behind, "severe_s")
    if np.isnan(severe_s):
        assert ratio.max() < 3.05
    else:
        assert severe_s > onset_s
        assert ratio[even_s < severe_s - 0.01].max() < 3.05
        assert ratio[even_s <= severe_s + 0.02].max() > 2.95


@pytest.mark.parametrize(("seed", "klass"), [(s, k) for k in (Klass.SEIZURE, Klass.JAM) for s in (3, 4, 8)])
def test_the_ring_stands_at_stall_while_the_motor_pulls(seed: int, klass: Klass) -> None:
    recording, behind = made(seed, klass)
    course, stall_s = behind.course, on_course_s(recording, behind, "stall_s")
    at = int(np.searchsorted(course.t_s, stall_s - 1e-9))
    begun = course.t_s >= on_course_s(recording, behind, "onset_s" if klass is Klass.SEIZURE else "jam_s")
    assert course.ring_share[at] < 0.02
    assert course.ring_share[begun & (course.t_s < stall_s - 1e-9)].min(initial=1.0) >= 0.02
    assert course.torque_share[at] > 0.0
    onset = int(np.argmax(begun))
    just_after = (course.t_s > stall_s + 0.3) & (course.t_s < stall_s + 1.0)
    assert course.current_share[just_after].max() > 1.05 * course.current_share[onset - 1]
    if klass is Klass.JAM:
        # Friction does not rise: what is left of it at rest is no more than it was.
        assert course.force_n[course.t_s > stall_s + 0.5].max() < 1.1 * course.force_n[onset - 20 : onset].max()


@pytest.mark.parametrize("seed", [3, 4, 5, 6])
def test_a_true_temperature_passes_its_limit_at_overheat(seed: int) -> None:
    recording, behind = made(seed, Klass.OVERHEAT, had=ChannelSet.ALL)
    course, overheat_s = behind.course, on_course_s(recording, behind, "overheat_s")
    limits = recording.rig.limits
    above = (course.pin_degc >= limits["pin_temperature_degc"]) | (course.bath_degc >= limits["bath_temperature_degc"])
    assert course.t_s[above][0] == pytest.approx(overheat_s, abs=1e-6)
    assert behind.plan.trouble is not None
    earliest_s = on_course_s(recording, behind, "earliest_legitimate_trip_s")
    assert earliest_s == pytest.approx(max(behind.plan.trouble.t_s, overheat_s - 180.0), abs=1e-6)
    assert set(recording.truth.seen_by) == {"pin_temperature_degc", "bath_temperature_degc"}


@pytest.mark.parametrize("klass", TRIP_WORTHY)
def test_nothing_of_an_event_shows_before_it_may_be_found(klass: Klass) -> None:
    recording, behind = made(4, klass)
    assert behind.plan.trouble is not None
    first_s = behind.plan.trouble.first_s
    before = behind.course.t_s < first_s - 1e-9
    for field in fields(behind.course):
        with_it, without = getattr(behind.course, field.name), getattr(behind.twin, field.name)
        assert np.array_equal(with_it[before], without[before])
    assert not np.array_equal(behind.course.pin_degc, behind.twin.pin_degc)
    if klass is not Klass.OVERHEAT:
        assert on_course_s(recording, behind, "earliest_legitimate_trip_s") == pytest.approx(first_s, abs=1e-6)


def test_a_channel_that_sees_has_moved_and_one_that_has_failed_sees_nothing() -> None:
    for seed, klass in ((3, Klass.SCUFFING_SUDDEN), (8, Klass.SCUFFING_SUDDEN), (4, Klass.SEIZURE)):
        recording, _ = made(seed, klass, 50.0)
        onset_s, t_s = recording.truth.onset_s, recording.time_s
        for name in set(recording.truth.seen_by) & {FRICTION_FORCE, MOTOR_CURRENT, "ring_speed_rpm"}:
            values = recording.channels[name]
            before = values[(t_s > onset_s - 5.0) & (t_s < onset_s)]
            after = values[(t_s > onset_s) & (t_s < onset_s + 10.0)]
            middle = float(np.nanmedian(before))
            unrest = 1.4826 * float(np.nanmedian(np.abs(before - middle)))
            assert np.nanmax(np.abs(after - middle)) > 3.0 * unrest
    for seed in range(7):
        truth = made(seed, Klass.SCUFFING_WITH_FAULT)[0].truth
        assert truth.fault is not None
        assert truth.fault_channel not in truth.seen_by
        assert truth.fault_s < truth.onset_s


def test_the_seven_faults_come_in_turn() -> None:
    faults = {made(seed, Klass.SENSOR_FAULT, had=ChannelSet.ALL)[0].truth.fault for seed in range(7)}
    assert len(faults) == 7


def test_times_to_severe_are_those_of_the_class() -> None:
    times = {
        klass: [r.truth.severe_s - r.truth.onset_s for r, _ in (made(seed, klass) for seed in (3, 4, 8, 11, 12))]
        for klass in (Klass.SCUFFING_SUDDEN, Klass.SCUFFING_SHORT)
    }
    assert 0.05 < np.nanmedian(times[Klass.SCUFFING_SUDDEN]) < 3.0
    assert np.nanmax(times[Klass.SCUFFING_SUDDEN]) <= 3.2
    assert np.nanmax(times[Klass.SCUFFING_SHORT]) <= 20.0


def test_the_readme_names_every_class_and_every_nuisance_occurs() -> None:
    text = (BENCH / "world_c" / "README.md").read_text(encoding="utf-8")
    assert all(f"| {klass.value} |" in text for klass in Klass)
    seen: set[Kind] = set()
    for klass in Klass:
        for seed in (3, 4, 8):
            seen |= {nuisance.kind for nuisance in made(seed, klass)[0].truth.nuisances}
    assert len(seen) >= 0.8 * len(Kind)
