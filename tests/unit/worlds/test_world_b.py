"""The second simulated world keeps its promises: same seed same bits, and a truth that its own signals bear out.

Limits without a source are derived here or common practice, as said beside each.
"""

import csv
import re
import sys
import time
import tomllib
from dataclasses import fields
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from scuffwatch.model.channel import KNOWN_CHANNELS

BENCH = Path(__file__).parents[2] / "bench" / "detection"
sys.path.insert(0, str(BENCH))

import world_b  # noqa: E402
from world_b import ChannelSet, Fault, Inside, Kind, Klass, Precursor, Recording, Tachometer  # noqa: E402

pytestmark = [pytest.mark.slow, pytest.mark.long]

HEALTHY = (Klass.STAIRCASE, Klass.ENDURANCE, Klass.STICK_SLIP, Klass.SQUEAL, Klass.STARTS_AND_STOPS)
SCUFFING = (Klass.SCUFFING_LONG, Klass.SCUFFING_SHORT, Klass.SCUFFING_SUDDEN, Klass.SCUFFING_WITH_FAULT)
TIMES = [f.name for f in fields(world_b.Truth) if f.name.endswith("_s")]
RPM_PER_RAD_S = 30.0 / np.pi


@lru_cache(maxsize=64)
def made(
    seed: int, klass: Klass, rate_hz: float = 100.0, channels: ChannelSet | None = None
) -> tuple[Recording, Inside]:
    return world_b.simulate(seed, klass, rate_hz, channels)


def set_rad_s(recording: Recording) -> float:
    return recording.rig.ring_speed_rpm / RPM_PER_RAD_S


def days_out_s(recording: Recording, inside: Inside) -> float:
    """Give how far the stamps run ahead of the clock without breaks at the end, to within a second."""
    ahead_s = float(recording.time_s[-1] - inside.t_s[-1])
    return ahead_s if ahead_s > 3600.0 else 0.0


def mean_over(inside: Inside, values: np.ndarray, begin_s: float, end_s: float) -> float:
    return float(np.mean(values[(inside.t_s >= begin_s) & (inside.t_s < end_s)]))


@pytest.mark.parametrize("klass", list(Klass))
def test_equal_seeds_give_equal_bits_and_others_do_not(klass: Klass) -> None:
    one, two, other = made(3, klass, 20.0)[0], world_b.generate(3, klass, 20.0), made(2, klass, 20.0)[0]
    assert one.time_s.tobytes() == two.time_s.tobytes()
    assert list(one.channels) == list(two.channels)
    assert all(one.channels[name].tobytes() == two.channels[name].tobytes() for name in one.channels)
    assert repr((one.rig, one.truth)) == repr((two.rig, two.truth))
    assert repr(other.rig) != repr(one.rig)


@pytest.mark.parametrize("klass", [Klass.SCUFFING_SHORT, Klass.JAM, Klass.OVERHEAT, Klass.SENSOR_FAULT])
def test_the_rate_changes_neither_rig_nor_story(klass: Klass) -> None:
    fast, slow = made(5, klass)[0], made(5, klass, 20.0)[0]
    assert repr(fast.rig) == repr(slow.rig)
    for name in TIMES:
        a, b = getattr(fast.truth, name), getattr(slow.truth, name)
        assert np.isnan(a) == np.isnan(b) or name == "severe_s"  # read from a signal whose noise has another grid
        if name in ("severe_s", "stall_s", "overheat_s") or klass is Klass.OVERHEAT:
            assert klass not in (Klass.JAM, Klass.OVERHEAT) or np.isnan(a) or abs(a - b) < 1.0
        else:
            assert np.isnan(a) or a == b  # what the story decides does not depend on the grid at all


@pytest.mark.parametrize("rate_hz", [1.0, 5000.0])
def test_a_rate_out_of_range_is_refused(rate_hz: float) -> None:
    with pytest.raises(ValueError, match=f"{rate_hz}"):
        world_b.generate(0, Klass.JAM, rate_hz)


@pytest.mark.parametrize("wanted", list(ChannelSet))
def test_a_rig_has_the_channels_of_its_set(wanted: ChannelSet) -> None:
    recording, _ = made(1, Klass.STAIRCASE, 20.0, wanted)
    assert recording.rig.channel_set is wanted
    assert set(recording.channels) == set(recording.rig.ranges) <= set(KNOWN_CHANNELS)
    assert set(recording.rig.limits) <= set(recording.channels)
    assert (wanted is ChannelSet.ALL) == (set(recording.channels) == set(KNOWN_CHANNELS))
    for read in recording.channels.values():
        assert read.shape == recording.time_s.shape
        assert read.dtype == recording.time_s.dtype == np.float64


@pytest.mark.parametrize("klass", list(Klass))
def test_values_stay_within_the_converter_and_mostly_within_the_range(klass: Klass) -> None:
    for seed in range(2):
        recording, _ = made(seed, klass, 20.0)
        for name, (low, high) in recording.rig.ranges.items():
            if name == recording.truth.fault_channel:
                continue
            read, beyond = recording.channels[name], 0.0201 * (high - low)
            assert np.nanmin(read) >= low - beyond
            assert np.nanmax(read) <= high + beyond
            assert np.mean(np.isfinite(read)) > 0.3  # a slow thermocouple converter may leave gaps between readings
            if klass in HEALTHY:
                assert np.nanmean((read >= low) & (read <= high)) > 0.98


@pytest.mark.parametrize("klass", HEALTHY)
def test_healthy_recordings_hold_no_event_and_pass_no_temperature_limit(klass: Klass) -> None:
    for seed in range(3):
        recording, inside = made(seed, klass, 20.0)
        assert not recording.truth.trip_worthy
        assert all(np.isnan(getattr(recording.truth, name)) for name in TIMES)
        assert recording.truth.fault is None
        assert recording.truth.precursor is Precursor.NONE
        for name in ("pin_temperature_degc", "bath_temperature_degc"):
            if name in recording.rig.limits:
                assert np.max(getattr(inside, name)) < recording.rig.limits[name]


@pytest.mark.parametrize("klass", HEALTHY)
def test_a_healthy_ring_reaches_speed_after_every_start_and_keeps_it(klass: Klass) -> None:
    for seed in range(3):
        recording, inside = made(seed, klass, 20.0)
        rows = np.arange(len(inside.on))
        on_for_s = (rows - np.maximum.accumulate(np.where(inside.on, -1, rows))) / 20.0
        settled = on_for_s > 16.0  # longest ramp 5 s, loaded start of the weakest drive a few seconds more
        assert settled.any()
        # A bare motor at a quarter of its stall torque loses a quarter of its speed; stick-slip takes a little more.
        assert np.min(inside.ring_speed_rad_s[settled]) > 0.65 * set_rad_s(recording)


@pytest.mark.parametrize("klass", [Klass.STAIRCASE, Klass.ENDURANCE, Klass.STARTS_AND_STOPS, Klass.SCUFFING_LONG])
def test_the_motor_gives_what_friction_and_drag_take_and_the_bath_keeps_no_more_than_it_gets(klass: Klass) -> None:
    for seed in range(3):
        recording, inside = made(seed, klass, 20.0)
        turning = inside.on & (inside.ring_speed_rad_s > 0.8 * set_rad_s(recording))
        shaft_w = float(np.sum((inside.shaft_torque_nm * inside.motor_speed_rad_s)[turning]))
        friction_w = float(np.sum((inside.friction_force_n * inside.ring_speed_rad_s)[turning]) * inside.ring_radius_m)
        drag_w = inside.drag_torque_nm * float(np.sum(inside.ring_speed_rad_s[turning]))
        # Cold grease adds at most half the drag; a belt loses up to a few per cent; changes of speed average out.
        assert 0.95 * drag_w < shaft_w - friction_w < 1.6 * drag_w + 0.06 * shaft_w
        assert inside.bath_heat_j <= 1.02 * inside.heat_in_j + 1.0


@pytest.mark.parametrize("klass", SCUFFING)
def test_scuffing_triples_the_force_at_severe_and_not_before(klass: Klass) -> None:
    tripled = 0
    for seed in range(5):
        recording, inside = made(seed, klass)
        truth, days_s = recording.truth, days_out_s(recording, inside)
        assert truth.trip_worthy
        assert truth.earliest_legitimate_trip_s <= truth.onset_s
        if np.isnan(truth.severe_s):
            continue
        tripled += 1
        onset_s, severe_s = truth.onset_s - days_s, truth.severe_s - days_s
        before = inside.friction_force_n[(inside.t_s > onset_s - 1.0) & (inside.t_s < onset_s)]
        just_before = inside.friction_force_n[(inside.t_s > severe_s - 0.03) & (inside.t_s <= severe_s)]
        at_severe = mean_over(inside, inside.friction_force_n, severe_s - 0.1, severe_s + 0.25)
        assert truth.onset_s < truth.severe_s
        # Half a precursor's burst, a tenth of running-in and the chatter of a scuffed contact lie between the two.
        assert 1.8 < at_severe / np.median(before) < 8.0
        assert np.max(just_before) > 2.0 * np.median(before)
    assert tripled >= 2


def test_what_the_friction_cell_reads_triples_too() -> None:
    ratios = []
    for seed in range(6):
        recording, _ = made(seed, Klass.SCUFFING_SUDDEN, 100.0, ChannelSet.FRICTION_CELL)
        truth, read = recording.truth, recording.channels["friction_force_n"]
        t_s, high = recording.time_s, recording.rig.ranges["friction_force_n"][1]
        before = read[(t_s > truth.onset_s - 2.0) & (t_s < truth.onset_s)]
        after = read[(t_s > truth.severe_s) & (t_s < truth.severe_s + 0.5)]
        if len(after) and np.nanmedian(before) > 5.0 * np.nanstd(before) and np.nanmax(after) < high:
            ratios.append(np.nanmedian(after) / np.nanmedian(before))
    assert len(ratios) >= 2  # the rest never tripled, were hidden in noise at a low load, or passed the cell's range
    assert all(ratio > 2.0 for ratio in ratios)


def test_long_precursors_are_long_and_sudden_scuffing_has_none() -> None:
    for seed in range(3):
        long, sudden = made(seed, Klass.SCUFFING_LONG)[0].truth, made(seed, Klass.SCUFFING_SUDDEN)[0].truth
        assert long.precursor is not Precursor.NONE
        assert long.onset_s - long.earliest_legitimate_trip_s > 15.0
        assert sudden.precursor is Precursor.NONE
        assert sudden.earliest_legitimate_trip_s == sudden.onset_s


@pytest.mark.parametrize("klass", [Klass.SEIZURE, Klass.JAM])
def test_a_stall_is_a_ring_at_rest_under_current(klass: Klass) -> None:
    for seed in range(4):
        recording, inside = made(seed, klass)
        truth, days_s = recording.truth, days_out_s(recording, inside)
        stall_s = truth.stall_s - days_s
        begin_s = (truth.jam_s if klass is Klass.JAM else truth.onset_s) - days_s
        assert begin_s < stall_s
        assert mean_over(inside, inside.ring_speed_rad_s, stall_s, stall_s + 0.3) < 0.1 * set_rad_s(recording)
        assert np.all(
            inside.ring_speed_rad_s[(inside.t_s > begin_s) & (inside.t_s < stall_s)] > 0.019 * set_rad_s(recording)
        )
        before_a = mean_over(inside, inside.motor_current_a, begin_s - 2.0, begin_s)
        assert mean_over(inside, inside.motor_current_a, stall_s, stall_s + 0.3) > 1.1 * before_a


def test_a_jam_from_outside_does_not_raise_the_friction_and_a_seizure_does() -> None:
    for seed in range(4):
        for klass in (Klass.JAM, Klass.SEIZURE):
            recording, inside = made(seed, klass)
            truth, days_s = recording.truth, days_out_s(recording, inside)
            begin_s = (truth.jam_s if klass is Klass.JAM else truth.onset_s) - days_s
            before_n = mean_over(inside, inside.friction_force_n, begin_s - 2.0, begin_s)
            stalled_s = truth.stall_s - days_s
            after_n = mean_over(inside, inside.friction_force_n, stalled_s + 0.5, stalled_s + 1.0)
            assert (after_n < before_n) == (klass is Klass.JAM)


def test_the_tachometer_on_the_ring_shows_the_stall() -> None:
    shown = 0
    for seed in range(8):
        recording, _ = made(seed, Klass.JAM, 100.0, ChannelSet.CURRENT_AND_SPEED)
        truth, read = recording.truth, recording.channels["ring_speed_rpm"]
        late = (recording.time_s > truth.stall_s + 4.0) & (recording.time_s < truth.stall_s + 5.0)
        if not recording.rig.tachometer_on_motor:
            shown += 1
            tolerance = 0.03 if recording.rig.tachometer is Tachometer.ANALOGUE else 0.001
            assert np.nanmedian(read[late]) < tolerance * recording.rig.ring_speed_rpm
    assert shown >= 4


def test_a_lost_supply_takes_the_current_before_the_speed() -> None:
    for seed in range(4):
        recording, inside = made(seed, Klass.SUPPLY_LOST)
        truth = recording.truth
        lost_s = truth.supply_lost_s - days_out_s(recording, inside)
        before_a = mean_over(inside, inside.motor_current_a, lost_s - 1.0, lost_s)
        assert not truth.trip_worthy
        assert truth.earliest_legitimate_trip_s == truth.supply_lost_s
        assert np.min(inside.motor_current_a[(inside.t_s > lost_s) & (inside.t_s < lost_s + 0.5)]) < 0.6 * before_a
        assert not inside.on[np.searchsorted(inside.t_s, lost_s) + 2]


@pytest.mark.parametrize("seed", range(6))
def test_overheating_passes_the_limit_when_it_is_said_to(seed: int) -> None:
    recording, inside = made(seed, Klass.OVERHEAT, 20.0)
    truth, limits = recording.truth, recording.rig.limits
    over_s = truth.overheat_s - days_out_s(recording, inside)
    hot = [name for name in limits if name.endswith("_degc")]
    at = int(np.searchsorted(inside.t_s, over_s))
    assert truth.trip_worthy
    assert 0.0 <= truth.overheat_s - truth.earliest_legitimate_trip_s <= 180.0
    assert any(abs(getattr(inside, name)[at] - limits[name]) < 2.0 for name in hot)
    assert all(np.all(getattr(inside, name)[: at - 1] <= limits[name]) for name in hot)


@pytest.mark.parametrize("number", range(7))
def test_each_sensor_fault_shows_on_its_channel(number: int) -> None:
    recording, _ = made(7 + number, Klass.SENSOR_FAULT)
    truth = recording.truth
    assert truth.fault is list(Fault)[number]
    assert not truth.trip_worthy
    read, late = recording.channels[truth.fault_channel], recording.time_s > truth.fault_s + 1.0
    low, high = recording.rig.ranges[truth.fault_channel]
    before = read[(recording.time_s < truth.fault_s) & (recording.time_s > truth.fault_s - 10.0)]
    after = read[late]
    shows = {
        Fault.STUCK: lambda: np.ptp(after[np.isfinite(after)]) == 0.0,
        Fault.SATURATED: lambda: np.nanmean((after > high) | (after < low)) > 0.95,
        Fault.OPEN_THERMOCOUPLE: lambda: np.isnan(after).mean() > 0.9 or np.nanmedian(after) > high,
        Fault.DROPOUT: lambda: np.mean(np.isnan(after) | (after == 0.0)) > 0.3,
        Fault.DRIFT: lambda: abs(np.nanmedian(after[-500:]) - np.nanmedian(before)) > 0.1 * (high - max(low, 0.0)),
        Fault.SIGN_FLIP: lambda: np.nanmean(after[:1000]) * np.nanmean(before) < 0.0,
        Fault.TACHOMETER_LOST: lambda: np.nanmedian(after) == 0.0,
    }
    assert shows[truth.fault]()


def test_stick_slip_swings_without_a_shift_and_squeal_sounds_without_one() -> None:
    for klass, kind in ((Klass.STICK_SLIP, Kind.STICK_SLIP), (Klass.SQUEAL, Kind.SQUEAL)):
        compared = 0
        for seed in range(4):
            recording, inside = made(seed, klass)
            for spell in (n for n in recording.truth.nuisances if n.kind is kind and n.duration_s > 6.0):
                begin_s = spell.t_s
                if days_out_s(recording, inside) or begin_s < 6.0:
                    continue
                inner = (inside.t_s > begin_s + 1.0) & (inside.t_s < begin_s + 5.0)
                outer = (inside.t_s > begin_s - 4.5) & (inside.t_s < begin_s - 0.1)
                steady = inside.on[inner | outer].all() and np.ptp(inside.normal_load_n[inner | outer]) < 0.2 * max(
                    1.0, float(np.mean(inside.normal_load_n[inner]))
                )
                others = [n for n in recording.truth.nuisances if n is not spell and abs(n.t_s - begin_s) < 8.0]
                if not steady or others:
                    continue
                compared += 1
                force_n = inside.friction_force_n
                assert abs(np.mean(force_n[inner]) / np.mean(force_n[outer]) - 1.0) < 0.25
                if kind is Kind.STICK_SLIP:
                    assert np.std(force_n[inner]) > np.std(force_n[outer])
                else:
                    assert np.mean(inside.sound_level_db[inner]) > np.mean(inside.sound_level_db[outer]) + 2.0
        assert compared >= 2


def test_currents_order_as_the_motors_do() -> None:
    # Common practice: a motor switched straight onto the mains draws several times its running current at a start;
    # a current-limited one does not.
    peaks: dict[str, list[float]] = {}
    for seed in range(20):
        recording, inside = made(seed, Klass.SENSOR_FAULT, 50.0)
        running = inside.motor_current_a[inside.on & (inside.ring_speed_rad_s > 0.9 * set_rad_s(recording))]
        peaks.setdefault(recording.rig.drive.name, []).append(float(inside.motor_current_a.max() / np.median(running)))
    assert np.median(peaks["INDUCTION_DIRECT"] + peaks["BRUSHED_BARE"]) > 3.0
    assert np.median(peaks["INDUCTION_DIRECT"]) > 1.5 * np.median(peaks["INDUCTION_INVERTER"])


def test_days_between_and_broken_stamps_are_in_the_stamps() -> None:
    seen = {Kind.DAY_BETWEEN: 0, Kind.HOLES: 0, Kind.DUPLICATE_STAMPS: 0, Kind.BACKWARD_STAMPS: 0}
    for seed in range(30):
        recording, _ = made(seed, Klass.STAIRCASE, 10.0, ChannelSet.CURRENT_ONLY)
        kinds, steps_s = {n.kind for n in recording.truth.nuisances}, np.diff(recording.time_s)
        for kind in seen:
            seen[kind] += kind in kinds
        assert (Kind.DAY_BETWEEN in kinds) == bool((steps_s > 3600.0).any())
        if Kind.DUPLICATE_STAMPS in kinds or Kind.BACKWARD_STAMPS in kinds:
            assert np.min(steps_s) <= 0.0 or len(kinds & set(seen)) > 0
        if not kinds & set(seen):
            assert np.min(steps_s) > 0.0
            assert np.max(steps_s) < 0.25
    assert all(count > 0 for count in seen.values())


@pytest.mark.long
def test_nuisances_come_in_the_shares_that_are_documented() -> None:
    table = (BENCH / "world_b" / "README.md").read_text(encoding="utf-8")
    said = {name: float(share) / 100.0 for name, share in re.findall(r"^\| ([^|]+) \| (\d+) % \|", table, re.M)}
    assert set(said) == {kind.value for kind in Kind}
    each, found = 3, dict.fromkeys(said, 0)
    for klass in Klass:
        for seed in range(200, 200 + each):
            for name in {n.kind.value for n in world_b.generate(seed, klass, 5.0).truth.nuisances}:
                found[name] += 1
    count = each * len(Klass)
    for name, share in said.items():
        # four standard errors of a share, and what rounding to whole per cents may hide
        assert abs(found[name] / count - share) < 4.0 * np.sqrt(max(share, 0.01) * (1.0 - share) / count) + 0.01, name


def test_a_recording_goes_to_csv_and_its_rig_to_toml(tmp_path: Path) -> None:
    recording, _ = made(6, Klass.SENSOR_FAULT, 20.0, ChannelSet.ALL)
    world_b.write_csv(recording, tmp_path / "recording.csv")
    with (tmp_path / "recording.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["time_s", *recording.channels]
    assert len(rows) == len(recording.time_s)
    assert np.allclose([float(row["time_s"]) for row in rows], recording.time_s, atol=1e-6)
    for name, read in recording.channels.items():
        back = np.array([float(row[name]) if row[name] else np.nan for row in rows])
        assert np.allclose(back, read, rtol=1e-6, atol=1e-9, equal_nan=True)
    rig = tomllib.loads(world_b.rig_toml(recording))
    assert rig["rig"]["ring_diameter_mm"] == pytest.approx(recording.rig.ring_diameter_mm, rel=1e-5)
    assert rig["rig"]["ring_speed_rpm"] == pytest.approx(recording.rig.ring_speed_rpm, rel=1e-5)
    assert rig["motor"]["no_load_current_a"] == pytest.approx(recording.rig.no_load_current_a, rel=1e-5)
    assert list(rig["channels"]) == list(recording.rig.ranges)
    for name, span in recording.rig.ranges.items():
        assert rig["channels"][name]["range"] == pytest.approx(list(span), rel=1e-5)
    assert rig.get("limits", {}) == pytest.approx(dict(recording.rig.limits))


def test_speed_of_making_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    begun_s, made_s = time.process_time(), 0.0
    for klass in (Klass.STAIRCASE, Klass.ENDURANCE, Klass.SCUFFING_LONG, Klass.JAM, Klass.SQUEAL):
        made_s += len(world_b.generate(11, klass).time_s) / 100.0
    took_s = time.process_time() - begun_s
    with capsys.disabled():
        print(
            f" [world_b: {made_s / 3600.0:.1f} h at 100 Hz in {took_s:.1f} s of one core, {made_s / took_s:.0f}x] ",
            end="",
        )
    assert made_s > 0.0
