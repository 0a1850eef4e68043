"""World I keeps its contract: equal bits, whole rows, truth in order, classes that are what they say."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import world_i_made as store
from world_b.values import (
    CHANNELS_OF,
    FRICTION_FORCE,
    MOTOR_CURRENT,
    PIN_TEMPERATURE,
    SCUFFINGS,
    TRIP_WORTHY,
    ChannelSet,
    Fault,
    Inside,
    Kind,
    Klass,
    Precursor,
    Recording,
)

pytestmark = [pytest.mark.slow, pytest.mark.long]

FOLDER = Path(store.__file__).parents[2] / "bench" / "detection" / "world_i"
CLOCK_KINDS = {Kind.DUPLICATE_STAMPS, Kind.BACKWARD_STAMPS, Kind.HOLES, Kind.DAY_BETWEEN}
HANDS = {
    Kind.SET_DOWN_TWICE, Kind.HARD_SET_DOWN, Kind.TAKEN_OFF_AGAIN, Kind.LIFTED, Kind.BUMP, Kind.PAUSE,
    Kind.RESTART_BEFORE_REST, Kind.INCHING, Kind.BRIEF_DIP, Kind.OIL_TOP_UP,
}  # fmt: skip


def _mean(inside: Inside, start_s: float, end_s: float) -> float:
    return float(inside.friction_force_n[(inside.t_s >= start_s) & (inside.t_s < end_s)].mean())


def _check_rows(recording: Recording) -> None:
    names = CHANNELS_OF[recording.rig.channel_set]
    assert tuple(recording.channels) == names
    assert set(recording.rig.ranges) == set(names)
    assert set(recording.rig.limits) <= set(names)
    for values in recording.channels.values():
        assert values.dtype == np.float64
        assert values.shape == recording.time_s.shape
    assert np.isfinite(recording.time_s).all()
    assert recording.time_s[0] == 0.0
    if not {n.kind for n in recording.truth.nuisances} & CLOCK_KINDS:
        assert np.allclose(np.diff(recording.time_s), 0.01)


def _check_order(klass: Klass, recording: Recording) -> None:
    truth = recording.truth
    first_s = truth.earliest_legitimate_trip_s
    assert truth.trip_worthy == (klass in TRIP_WORTHY)
    assert np.isfinite(first_s) == (truth.trip_worthy or klass is Klass.SUPPLY_LOST)
    for later_s in (truth.onset_s, truth.stall_s, truth.jam_s, truth.overheat_s, truth.supply_lost_s):
        assert np.isnan(later_s) or first_s <= later_s <= recording.time_s[-1]
    assert np.isnan(truth.severe_s) or truth.severe_s >= truth.onset_s
    times_s = [n.t_s for n in truth.nuisances]
    assert times_s == sorted(times_s)
    assert not (truth.seen_by and not truth.trip_worthy)
    assert set(truth.seen_by) <= set(recording.channels)
    assert (truth.fault is None) == (klass not in (Klass.SENSOR_FAULT, Klass.SCUFFING_WITH_FAULT))
    assert truth.fault_channel in ("", *recording.channels)


def _check_promise(klass: Klass, recording: Recording, inside: Inside) -> None:
    truth = recording.truth
    sign_s = truth.earliest_legitimate_trip_s
    if klass in SCUFFINGS:
        stopped_s = np.nanmin([truth.stall_s, recording.time_s[-1]])
        after = inside.friction_force_n[(inside.t_s >= truth.onset_s) & (inside.t_s < stopped_s)]
        assert np.quantile(after, 0.95) >= 1.9 * _mean(inside, sign_s - 8.0, sign_s)
        assert inside.normal_load_n[np.searchsorted(inside.t_s, sign_s)] > 0
        assert inside.ring_speed_rad_s[np.searchsorted(inside.t_s, sign_s)] > 0
    lead_s = truth.onset_s - sign_s
    if klass is Klass.SCUFFING_LONG:
        assert 20.0 <= lead_s <= 240.0
    elif klass is Klass.SCUFFING_SHORT:
        assert 0.0 < lead_s < 20.0
    elif klass is Klass.SCUFFING_SUDDEN:
        assert lead_s == 0.0
        assert truth.precursor is Precursor.NONE
    elif klass is Klass.SEIZURE:
        assert truth.stall_s > truth.onset_s
        assert inside.ring_speed_rad_s[-1] < 0.02 * inside.ring_speed_rad_s.max()
    elif klass is Klass.OVERHEAT:
        at = int(np.searchsorted(inside.t_s, truth.overheat_s))
        assert abs(inside.pin_temperature_degc[at] - recording.rig.limits[PIN_TEMPERATURE]) < 0.5
        assert truth.overheat_s - sign_s <= 180.0
    elif klass is Klass.SUPPLY_LOST:
        assert not inside.on[inside.t_s > truth.supply_lost_s + 0.02].any()
        assert inside.motor_current_a[-1] == 0.0
    elif klass is Klass.JAM:
        assert truth.jam_s == sign_s


@pytest.mark.parametrize("klass", store.QUICK)
def test_each_class_keeps_contract_and_promise(klass: Klass) -> None:
    """Rows, order of truth, promise, and friction of the healthy part between 0.02 and 0.2."""
    recording, inside = store.made(0, klass)
    _check_rows(recording)
    _check_order(klass, recording)
    _check_promise(klass, recording, inside)
    _check_healthy_part(recording, inside)


@pytest.mark.long
@pytest.mark.parametrize("klass", list(Klass))
def test_more_seeds_keep_contract_and_promise(klass: Klass) -> None:
    """The same for ten seeds."""
    for seed in range(1, 3 if klass is Klass.ENDURANCE else 11):
        recording, inside = store.simulate(seed, klass)
        _check_rows(recording)
        _check_order(klass, recording)
        _check_promise(klass, recording, inside)
        _check_healthy_part(recording, inside)


def _check_healthy_part(recording: Recording, inside: Inside) -> None:
    truth = recording.truth
    end_s = np.nan_to_num(truth.earliest_legitimate_trip_s - 1.0, nan=np.inf)
    if Kind.DAY_BETWEEN in {n.kind for n in truth.nuisances}:
        end_s = min(n.t_s for n in truth.nuisances if n.kind is Kind.DAY_BETWEEN)
    top_n = max(recording.rig.loads_n)
    fast = inside.ring_speed_rad_s > 0.5 * recording.rig.ring_speed_rpm * 2 * np.pi / 60.0
    part = fast & (inside.normal_load_n > 0.05 * top_n) & (inside.t_s < end_s)
    friction = inside.friction_force_n[part] / inside.normal_load_n[part]
    assert np.quantile(friction, 0.01) > 0.02
    assert np.quantile(friction, 0.99) < 0.2
    limit = recording.rig.limits.get(PIN_TEMPERATURE, np.inf)
    assert inside.pin_temperature_degc[inside.t_s < end_s].max() < limit or not np.isnan(truth.overheat_s)


@pytest.mark.long
def test_nobody_touches_the_rig_around_an_event() -> None:
    """From 3 s before the first sign until the end of the event no hand, no switch, no clock."""
    for klass in (*SCUFFINGS, Klass.SEIZURE, Klass.JAM, Klass.SUPPLY_LOST):
        recording, inside = store.made(0, klass)
        sign_s = recording.truth.earliest_legitimate_trip_s
        near = [n for n in recording.truth.nuisances if n.kind in HANDS and n.t_s + n.duration_s > sign_s - 3.0]
        assert near == []
        rows = (inside.t_s > sign_s - 3.0) & (inside.t_s < sign_s)
        assert inside.on[rows].all()
        load_n = inside.normal_load_n[rows]
        assert np.ptp(load_n) < 0.12 * load_n.mean()


def test_equal_arguments_give_equal_bits() -> None:
    """Twice the same call, twice the same recording."""
    first = store.made(0, Klass.SCUFFING_WITH_FAULT)[0]
    second = store.simulate(0, Klass.SCUFFING_WITH_FAULT)[0]
    assert np.array_equal(first.time_s, second.time_s)
    for name, values in first.channels.items():
        assert np.array_equal(values, second.channels[name], equal_nan=True)
    assert repr((first.rig, first.truth)) == repr((second.rig, second.truth))


@pytest.mark.parametrize("rate_hz", [5.0, 500.0])
def test_rig_and_truth_do_not_hang_on_the_rate(rate_hz: float) -> None:
    """Only the rows change with the rate."""
    usual, other = store.made(0, Klass.SCUFFING_SHORT)[0], store.made(0, Klass.SCUFFING_SHORT, rate_hz)[0]
    assert repr((usual.rig, usual.truth)) == repr((other.rig, other.truth))
    assert other.time_s.size == pytest.approx(usual.time_s.size * rate_hz / 100.0, rel=0.03)


@pytest.mark.parametrize("channel_set", [ChannelSet.LOAD_CELL, ChannelSet.CURRENT_ONLY])
def test_rig_and_truth_do_not_hang_on_the_channels(channel_set: ChannelSet) -> None:
    """What happens is the same whatever is fitted; what shows it is a part of what a whole rig shows."""
    whole = store.made(0, Klass.SEIZURE, 100.0, ChannelSet.ALL)[0]
    part = store.made(0, Klass.SEIZURE, 100.0, channel_set)[0]
    assert repr(replace(whole.truth, seen_by=())) == repr(replace(part.truth, seen_by=()))
    assert set(part.truth.seen_by) == set(whole.truth.seen_by) & set(CHANNELS_OF[channel_set])
    assert MOTOR_CURRENT in part.truth.seen_by
    assert part.rig.loads_n == whole.rig.loads_n
    for name, values in part.channels.items():
        assert np.array_equal(values, whole.channels[name], equal_nan=True)


def test_a_rate_out_of_range_is_refused() -> None:
    """Below 5 and above 2000 Hz."""
    with pytest.raises(ValueError, match="must be 5 to 2000"):
        store.simulate(0, Klass.STAIRCASE, 4.0)


def test_faults_look_like_faults() -> None:
    """After its fault a channel shows it."""
    recording, _ = store.made(0, Klass.SENSOR_FAULT)
    truth = recording.truth
    values = recording.channels[truth.fault_channel][recording.time_s > truth.fault_s + 0.1]
    before = recording.channels[truth.fault_channel][recording.time_s < truth.fault_s]
    match truth.fault:
        case Fault.STUCK | Fault.SATURATED | Fault.OPEN_THERMOCOUPLE | Fault.TACHOMETER_LOST:
            assert np.ptp(values[np.isfinite(values)]) == 0.0
        case Fault.DROPOUT:
            assert np.isnan(values).all()
        case Fault.SIGN_FLIP:
            assert np.nanmean(values) * np.nanmean(before) < 0
        case _:
            assert truth.fault is Fault.DRIFT


def test_readme_counts_what_is_there() -> None:
    """The README's counts of modules and motors are right."""
    text = (FOLDER / "README.md").read_text()
    (modules,) = re.findall(r"(\d+) modules", text)
    assert int(modules) == len([p for p in FOLDER.glob("*.py") if p.name != "__init__.py"])
    (motors,) = re.findall(r"(\d+) kinds of motor", text)
    from world_i.fit_motor import MotorKind

    assert int(motors) == len(MotorKind)


@pytest.mark.long
def test_an_endurance_run_has_one_load_and_lasts_40_to_60_min() -> None:
    """One load, 40 to 60 min, and friction that keeps below the scuffed."""
    recording, _ = store.made(0, Klass.ENDURANCE)
    assert len(recording.rig.loads_n) == 1
    assert 2400.0 <= recording.time_s[-1] <= 3600.0


@pytest.mark.parametrize("klass", [Klass.STAIRCASE, Klass.STICK_SLIP, Klass.SQUEAL, Klass.STARTS_AND_STOPS])
def test_a_recording_lasts_6_to_15_min(klass: Klass) -> None:
    """But for a day between."""
    recording, inside = store.made(0, klass)
    assert 359.0 <= inside.t_s[-1] <= 901.0
    assert 1 <= len(recording.rig.loads_n) <= 12
    assert FRICTION_FORCE in recording.channels or recording.rig.channel_set is not ChannelSet.ALL
