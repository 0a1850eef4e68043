"""The campaign's scorer: intervals against published ones, every status on made-up cases, the simple rules as they are
described, and the short campaign over the first world tuned on and the sealed one, with broad floors."""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scuffwatch.model.finding import FindingKind, Level

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

from campaign import score as scoring  # noqa: E402
from campaign.command import _show, main  # noqa: E402
from campaign.intervals import clopper_pearson, poisson  # noqa: E402
from campaign.run import DETECTORS, REPORTS, TESTED, WORLDS, run, tasks_of  # noqa: E402
from campaign.score import CAUGHT, EARLY, FALSE, FAULT_STOP, LATE, MISSED, QUIET, SUPPLY_STOP  # noqa: E402
from campaign.simple_rules import SIMPLE  # noqa: E402
from campaign.table import beside, by_class, counted, false_trips, figures, hours, wrong  # noqa: E402
from campaign.variants import Variant  # noqa: E402
from campaign.verdict import Heard, Verdict  # noqa: E402
from world_b.values import (  # noqa: E402
    TRIP_WORTHY,
    ChannelSet,
    DriveKind,
    Fault,
    Kind,
    Klass,
    Nuisance,
    Recording,
    RigFacts,
    Tachometer,
    Truth,
)


def heard(t_s: float, kind: FindingKind = FindingKind.SCUFFING_ONSET, level: Level = Level.TRIP, on: str = "") -> Heard:
    return Heard(t_s, kind, level, (on,) if on else (), f"{kind.value}.")


def recorded(truth: Truth, until_s: float = 400.0, **channels: float | np.ndarray) -> Recording:
    time_s = np.arange(0.0, until_s, 0.1)
    read = {name: np.zeros(len(time_s)) + value for name, value in channels.items()} or {
        "motor_current_a": np.ones(len(time_s))
    }
    rig = RigFacts(
        35.0,
        600.0,
        1.0,
        dict.fromkeys(read, (-1.0, 1000.0)),
        {},
        ChannelSet.ALL,
        DriveKind.BRUSHED_BARE,
        False,
        Tachometer.PERIOD,
        60,
        False,
        (100.0,),
    )
    return Recording(time_s, read, rig, truth)


SCUFF = Truth(True, 100.0, onset_s=130.0, severe_s=131.0, stall_s=138.0, seen_by=("friction_force_n",))
JAM = Truth(True, 50.0, jam_s=50.0, stall_s=50.2, seen_by=("motor_current_a",))
HOT = Truth(True, 60.0, overheat_s=200.0, seen_by=("pin_temperature_degc",))
HEALTHY = Truth(False)
BAD = Truth(False, fault_s=80.0, fault=Fault.STUCK, fault_channel="sound_level_db")
LOST = Truth(False, 90.0, supply_lost_s=90.0)
NAMES_IT = FindingKind.SENSOR_FAULT


# --- intervals --------------------------------------------------------------------------------------------


def test_shares_have_the_intervals_of_clopper_and_pearson() -> None:
    # With no hit or all hits the bound is closed: 1 - (alpha/2)**(1/n). 5 of 10: 0.187 to 0.813 in the published tables
    # of binomial confidence limits (from memory; symmetric by construction).
    for n in (1, 10, 3000):
        assert clopper_pearson(0, n) == pytest.approx((0.0, 1.0 - 0.025 ** (1.0 / n)), rel=1e-6)
        assert clopper_pearson(n, n) == pytest.approx((0.025 ** (1.0 / n), 1.0), rel=1e-6)
    assert clopper_pearson(5, 10) == pytest.approx((0.1871, 0.8129), abs=5e-5)
    assert clopper_pearson(0, 0) == (0.0, 1.0)


def test_counts_have_the_intervals_of_garwood() -> None:
    # Garwood, Biometrika 28 (1936), table of limits at 95 %, as printed in many texts; from memory.
    for count, low, high in ((0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)):
        assert poisson(count) == pytest.approx((low, high), abs=6e-4)
    low, high = poisson(400)
    assert low < 400 - 1.9 * 20 < 400 + 1.9 * 20 < high


# --- one recording ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("klass", "truth", "trip", "status"),
    [
        (Klass.SCUFFING_LONG, SCUFF, None, MISSED),
        (Klass.SCUFFING_LONG, SCUFF, heard(99.9), EARLY),
        (Klass.SCUFFING_LONG, SCUFF, heard(99.99), CAUGHT),  # a slice's stamp is that of its first row
        (Klass.SCUFFING_LONG, SCUFF, heard(138.0), CAUGHT),
        (Klass.SCUFFING_LONG, SCUFF, heard(138.1), LATE),
        (Klass.SCUFFING_LONG, replace(SCUFF, stall_s=math.nan), heard(139.9), CAUGHT),
        (Klass.SCUFFING_LONG, replace(SCUFF, stall_s=math.nan), heard(140.1), LATE),
        (Klass.JAM, JAM, heard(59.9), CAUGHT),
        (Klass.JAM, JAM, heard(60.1), LATE),
        (Klass.OVERHEAT, HOT, heard(209.9), CAUGHT),
        (Klass.OVERHEAT, HOT, heard(59.0), EARLY),
        (Klass.STAIRCASE, HEALTHY, None, QUIET),
        (Klass.STAIRCASE, HEALTHY, heard(3.0), FALSE),
        (Klass.SENSOR_FAULT, BAD, heard(81.0, NAMES_IT), FAULT_STOP),
        (Klass.SENSOR_FAULT, BAD, heard(79.0, NAMES_IT), FALSE),
        (Klass.SENSOR_FAULT, BAD, heard(81.0), FALSE),
        (Klass.SUPPLY_LOST, LOST, heard(91.0, FindingKind.STALL), SUPPLY_STOP),
        (Klass.SUPPLY_LOST, LOST, heard(89.0, FindingKind.MOTOR_SUPPLY_LOST), FALSE),
        (Klass.SUPPLY_LOST, LOST, None, QUIET),
    ],
)
def test_every_trip_gets_what_it_is_worth(klass: Klass, truth: Truth, trip: Heard | None, status: str) -> None:
    assert scoring.status_of(klass, truth, trip) == status


def row_of(klass: Klass, truth: Truth, *said: Heard) -> scoring.Row:
    return scoring.score("a", "x", klass, 1, recorded(truth), Verdict(said, ("scuffing_onset",)))


def test_only_what_was_watched_before_the_event_counts_as_time() -> None:
    assert row_of(Klass.SCUFFING_LONG, SCUFF, heard(131.0)).hours == pytest.approx(100.0 / 3600.0, rel=1e-3)
    assert row_of(Klass.STAIRCASE, HEALTHY, heard(30.0)).hours == pytest.approx(30.0 / 3600.0, rel=1e-2)
    recording = recorded(HEALTHY)
    later = np.where(recording.time_s > 200.0, recording.time_s + 40_000.0, recording.time_s)
    assert scoring.watched_h(replace(recording, time_s=later), 1e9) == pytest.approx(399.8 / 3600.0, rel=1e-3)


def test_severe_and_stall_are_times_of_the_trip() -> None:
    before, after = (row_of(Klass.SCUFFING_SUDDEN, SCUFF, heard(t_s)) for t_s in (130.9, 131.3))
    assert before.before_severe is True
    assert after.before_severe is False
    assert row_of(Klass.SCUFFING_SUDDEN, SCUFF, heard(60.0)).before_severe is False
    assert row_of(Klass.JAM, JAM).before_severe is None
    assert row_of(Klass.JAM, JAM, heard(50.25)).after_stall_s == pytest.approx(0.05)


def test_a_long_precursor_is_warned_of_in_time_or_not() -> None:
    warn = FindingKind.SCUFFING_ONSET
    for t_s, ahead in ((99.0, False), (101.0, True), (119.9, True), (120.1, False)):
        row = row_of(Klass.SCUFFING_LONG, SCUFF, heard(t_s, warn, Level.WARN), heard(130.5))
        assert row.warned_ahead is ahead
        assert row.false_warns == (t_s < 100.0)
    assert row_of(Klass.SCUFFING_LONG, SCUFF, heard(115.0)).warned_ahead is True
    assert row_of(Klass.SCUFFING_SHORT, SCUFF, heard(115.0)).warned_ahead is None


def test_warnings_of_sensors_and_of_stick_slip_are_not_false_when_there_is_cause() -> None:
    swings = replace(HEALTHY, nuisances=(Nuisance(Kind.STICK_SLIP, 50.0, 10.0),))
    slip = heard(55.0, FindingKind.STICK_SLIP, Level.WARN)
    assert row_of(Klass.STICK_SLIP, swings, slip).false_warns == 0
    assert row_of(Klass.STICK_SLIP, HEALTHY, slip).false_warns == 1
    row = row_of(
        Klass.SENSOR_FAULT,
        BAD,
        heard(20.0, NAMES_IT, Level.WARN, "pin_temperature_degc"),
        heard(82.0, NAMES_IT, Level.WARN, "motor_current_a"),
        heard(83.0, NAMES_IT, Level.WARN, "sound_level_db"),
    )
    assert (row.false_warns, row.sensor_warns, row.misnamed) == (0, 1, 1)
    assert row.fault_named_s == pytest.approx(3.0)


def test_a_false_trip_by_the_sensor_that_failed_is_told_apart() -> None:
    drift = Truth(False, fault_s=80.0, fault=Fault.DRIFT, fault_channel="pin_temperature_degc")
    hot = heard(120.0, FindingKind.OVERHEAT, on="pin_temperature_degc")
    assert row_of(Klass.SENSOR_FAULT, drift, hot).by_failed
    assert row_of(Klass.SENSOR_FAULT, drift, hot).status == FALSE
    assert not row_of(Klass.SENSOR_FAULT, drift, heard(120.0, FindingKind.JAM, on="motor_current_a")).by_failed
    assert not row_of(Klass.SENSOR_FAULT, drift, heard(70.0, FindingKind.OVERHEAT, on="pin_temperature_degc")).by_failed


def test_an_event_that_no_mechanical_channel_shows_is_not_counted_but_listed() -> None:
    hidden = row_of(Klass.SCUFFING_SUDDEN, replace(SCUFF, seen_by=("sound_level_db",)))
    assert not hidden.seen
    assert hidden.blind_said
    assert not counted([hidden])
    assert any("1: caught 0" in line and "blind said in 1" in line for line in figures([hidden]))


def test_starts_are_counted_from_the_current() -> None:
    current = np.tile(np.r_[np.zeros(50), np.ones(50)], 40)
    recording = recorded(HEALTHY, motor_current_a=current)
    assert scoring.starts_in(recording, 1e9) == 40
    assert scoring.starts_in(recording, 100.0) == 10


def test_starts_are_counted_from_the_speed_where_the_current_was_taken_away() -> None:
    speed = np.tile(np.r_[np.zeros(50), np.ones(50)], 40) * 600.0
    recording = recorded(HEALTHY, ring_speed_rpm=speed)
    assert scoring.starts_in(recording, 1e9) == 40
    assert scoring.starts_in(recorded(HEALTHY, sound_level_db=60.0), 1e9) == 0


def test_the_noise_of_a_small_current_starts_nothing() -> None:
    current = np.repeat([0.0, 1.0], 20_000) + np.random.default_rng(1).normal(0.0, 0.15, 40_000)
    recording = recorded(HEALTHY, until_s=4_000.0, motor_current_a=current)
    assert scoring.starts_in(recording, 1e9) == 1


# --- simple rules and variants ----------------------------------------------------------------------------


def test_the_simple_rules_trip_where_they_say() -> None:
    n = 4000
    force = np.where(np.arange(n) > 2000, 25.0, 10.0)
    speed = np.where(np.arange(n) > 1000, 200.0, 600.0)
    sound = np.where(np.arange(n) > 3000, 70.0, 60.0)
    recording = recorded(
        HEALTHY, normal_load_n=100.0, friction_force_n=force, ring_speed_rpm=speed, sound_level_db=sound,
        motor_current_a=1.0,
    )  # fmt: skip
    trips = {rule.name: rule.judge(recording).trip for rule in SIMPLE}
    times = {name: None if trip is None else round(trip.t_s, 1) for name, trip in trips.items()}
    assert times == {
        "fixed limit": 200.4,
        "fixed limit + stall": 100.4,
        "rolling mean x2": 200.4,
        "sound +6 dB": 300.6,
        "trip never": None,
        "trip always": 0.0,
    }


def test_a_variant_makes_it_worse_and_keeps_the_truth() -> None:
    draw = np.random.default_rng(1)
    recording = recorded(SCUFF, friction_force_n=10.0 + draw.standard_normal(4000), motor_current_a=1.0)
    noisier = Variant(noise=4.0).apply(recording, 3)
    assert noisier is not None
    assert np.std(noisier.channels["friction_force_n"]) == pytest.approx(4.0, rel=0.1)
    assert np.all(noisier.channels["motor_current_a"] == 1.0)
    fewer = Variant(drop=0.2).apply(recording, 3)
    assert fewer is not None
    assert len(fewer.time_s) == pytest.approx(3200, abs=120)
    less = Variant(without="friction_force_n").apply(recording, 3)
    assert less is not None
    assert list(less.channels) == list(less.rig.ranges) == ["motor_current_a"]
    assert less.truth.seen_by == ()
    assert Variant(without="ring_speed_rpm").apply(recording, 3) is None
    assert less.truth.onset_s == noisier.truth.onset_s == fewer.truth.onset_s == SCUFF.onset_s


# --- the campaign -----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_never_catches_nothing_and_always_is_always_early() -> None:
    rows = run(tasks_of(("a",), [Klass.JAM, Klass.SQUEAL], range(1), 20.0, ("trip never", "trip always")), bar=False)
    never, always = (rows[i::2] for i in (0, 1))
    assert [row.status for row in never] == [MISSED, QUIET]
    assert [row.status for row in always] == [EARLY, FALSE]
    text = "\n".join([*by_class(never), *figures(always), *beside(rows), *wrong(rows)])
    assert "trip never" in text
    assert "jam from outside seed 0" in text


def test_an_unknown_class_is_refused_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "jamm"]) == main(["--world", "all", "--only", "jamm"]) == 2
    assert "no such class" in capsys.readouterr().err


def test_single_wrong_results_of_a_sealed_world_stay_hidden(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("campaign.command.SEALED", (REPORTS,))
    rows = [replace(row_of(Klass.JAM, JAM), detector=TESTED)]
    for world, reveal, shown in (("a", False, True), (REPORTS, False, False), (REPORTS, True, True)):
        _show(world, rows, reveal)
        assert ("jam from outside seed 1" in capsys.readouterr().out) is shown


TUNED_FIRST = "a"
EVENTS = tuple(klass for klass in Klass if klass in TRIP_WORTHY)
QUIET_ONES = tuple(klass for klass in Klass if klass not in (*TRIP_WORTHY, Klass.ENDURANCE))


@pytest.mark.slow
@pytest.mark.timeout(600)
@pytest.mark.parametrize("klasses", [EVENTS, QUIET_ONES], ids=["events", "none"])
@pytest.mark.parametrize("world", [pytest.param(TUNED_FIRST, marks=pytest.mark.long), REPORTS])
def test_the_short_campaign_holds_its_floors(
    world: str, klasses: tuple[Klass, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    rows = run(tasks_of((world,), klasses, range(9000, 9001), 50.0, healthy_until_s=100.0), bar=False)
    tested = [row for row in rows if row.detector == TESTED]
    with capsys.disabled():
        print(f"\nshort campaign, world {world}: {hours(tested):.1f} h", *beside(rows), sep="\n")
    events = counted(tested)
    assert len(tested) == len(klasses)
    assert len(events) >= 4 or klasses is QUIET_ONES
    # Floors of seven events and six quiet recordings: what is measured with many rigs is the long campaign's.
    assert sum(row.status == CAUGHT for row in events) >= 0.4 * len(events)
    assert false_trips(tested) <= 0.4 * len(tested)


@pytest.mark.long
@pytest.mark.timeout(12 * 3600)
@pytest.mark.parametrize("world", list(WORLDS))
def test_the_long_campaign_is_printed_and_holds(world: str, capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        rows = run(tasks_of((world,), tuple(Klass), range(20_000, 20_100), 100.0), jobs=2)
        tested = [row for row in rows if row.detector == TESTED]
        print(*by_class(tested), "", *figures(tested), "", *beside(rows), sep="\n")
    events = counted(tested)
    simple = {name: [row for row in rows if row.detector == name] for name in DETECTORS if name != TESTED}
    best = max(sum(row.status == CAUGHT for row in counted(part)) / len(counted(part)) for part in simple.values())
    assert sum(row.status == CAUGHT for row in events) / len(events) > best
