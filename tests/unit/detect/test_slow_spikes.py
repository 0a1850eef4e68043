"""Spikes between slow rows: held back for three of them, and nothing that stays or that the ring's speed bears out.

Sizes and times are made up here; that interference lasts for one to three rows is common practice, no source.
"""

import math
import random
from collections.abc import Sequence

import numpy as np
import pytest
from slice_makers import bad, make

from scuffwatch.detect.slow_spikes import SlowSpikes
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import FindingKind, Level
from scuffwatch.service.replay import ReplayResult, replay_columns
from scuffwatch.service.replay_settings import load_replay_settings

LOAD, FRICTION, CURRENT, SPEED = "normal_load_n", "friction_force_n", "motor_current_a", "ring_speed_rpm"
PIN, COEFFICIENT = "pin_temperature_degc", "friction_coefficient"
USUAL = {LOAD: 200.0, FRICTION: 20.0, CURRENT: 2.0, SPEED: 600.0}
NOISE = {LOAD: 1.0, FRICTION: 0.2, CURRENT: 0.02, SPEED: 1.0}
Value = ChannelSlice | float


def given(
    name: str, values: Sequence[Value], *, duration_s: float = 0.1, interfered: bool = False, **beside: Sequence[float]
) -> list[float]:
    """Give what is believed of a channel in rows after fifty steady ones, and of others beside it."""
    draw, watch, n = random.Random(1), SlowSpikes(), 50
    seen = []
    for k in range(n + len(values)):
        row: dict[str, Value] = {one: draw.gauss(value, NOISE[one]) for one, value in USUAL.items()}
        if k >= n:
            row[name] = values[k - n]
            row |= {one: several[k - n] for one, several in beside.items()}
        friction, load = row[FRICTION], row[LOAD]
        if isinstance(friction, float) and isinstance(load, float):
            row[COEFFICIENT] = friction / load
        s = watch.believed(make(k, row, duration_s=duration_s), interfered)
        seen.append(s.channels[name].mean)
        if isinstance(friction, float) and isinstance(load, float):
            ratio = s.channels[FRICTION].mean / s.channels[LOAD].mean
            assert s.channels[COEFFICIENT].mean == pytest.approx(ratio, rel=0.03)
    return seen[n:]


@pytest.mark.parametrize("name", [LOAD, FRICTION, CURRENT])
@pytest.mark.parametrize("times", [3.0, -2.0])
@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("duration_s", [0.02, 0.05, 0.1])
def test_what_is_back_within_three_rows_is_not_believed(name: str, times: float, rows: int, duration_s: float) -> None:
    usual = USUAL[name]
    believed = given(name, [times * usual] * rows + [usual] * 3, duration_s=duration_s)
    assert believed == pytest.approx([usual] * (rows + 3), rel=0.05)


def test_what_stays_is_believed_in_its_fourth_row() -> None:
    assert given(FRICTION, [60.0] * 5) == pytest.approx([20.0] * 3 + [60.0] * 2, rel=0.05)


def test_rows_of_a_third_of_a_second_are_no_spikes_for_long() -> None:
    assert given(FRICTION, [60.0] * 4, duration_s=0.3) == pytest.approx([20.0] + [60.0] * 3, rel=0.05)


def test_what_goes_on_rising_is_believed_at_once() -> None:
    """A contact that scuffs within half a second; what falls back from its first value may be a spike of any shape."""
    assert given(FRICTION, [30.0, 45.0, 60.0, 62.0]) == pytest.approx([20.0, 45.0, 60.0, 62.0], rel=0.05)
    assert given(FRICTION, [60.0, 40.0, -50.0, 20.0]) == pytest.approx([20.0] * 4, rel=0.05)


def test_what_was_believed_too_early_is_let_go_at_once() -> None:
    """A spike that rises in its second row is taken for a contact's; its way back is none."""
    assert given(FRICTION, [40.0, 80.0, 20.0, 20.0]) == pytest.approx([20.0, 80.0, 20.0, 20.0], rel=0.05)


def test_bursts_of_two_fifths_more_pass() -> None:
    assert given(FRICTION, [28.0, 28.0, 20.0]) == [28.0, 28.0, 20.0]


def test_a_ring_that_slows_down_bears_a_current_out() -> None:
    """A jam's current is seen in the row in which the ring has slowed; but where temperatures jump all may be wrong."""
    current_a, speed_rpm = [9.0, 9.0, 9.0], [420.0, 150.0, 0.0]
    assert given(CURRENT, current_a, **{SPEED: speed_rpm}) == current_a
    assert given(CURRENT, current_a, interfered=True, **{SPEED: speed_rpm}) == pytest.approx([2.0] * 3, rel=0.05)


def test_a_temperature_beyond_its_range_is_interference_too() -> None:
    draw, watch = random.Random(1), SlowSpikes()
    for k in range(50):
        watch.believed(make(k, {CURRENT: draw.gauss(2.0, 0.02), SPEED: 600.0, PIN: 60.0}, duration_s=0.1), False)
    row = {CURRENT: 9.0, SPEED: 100.0, PIN: bad(Reason.UNDER_RANGE, -50.0)}
    assert watch.believed(make(50, row, duration_s=0.1), False).channels[CURRENT].mean == pytest.approx(2.0, rel=0.05)


def test_a_value_beyond_its_range_is_held_back_as_well_and_a_missing_one_is_not() -> None:
    beyond, missing = bad(Reason.OVER_RANGE, 400.0), bad(Reason.TOO_OLD)
    believed = given(FRICTION, [beyond, beyond, 20.0, missing, 20.0])
    assert believed[:3] == pytest.approx([20.0] * 3, rel=0.05)
    assert math.isnan(believed[3])
    assert believed[4] == 20.0


def test_slices_of_ten_milliseconds_pass_as_they_are() -> None:
    assert given(FRICTION, [60.0, 20.0], duration_s=0.01) == [60.0, 20.0]


def test_after_a_hole_nothing_is_held_back() -> None:
    """What hangs there then may be another weight."""
    watch = SlowSpikes()
    draw = random.Random(1)
    for k in range(50):
        watch.believed(make(k, {LOAD: draw.gauss(200.0, 1.0)}, duration_s=0.1), False)
    s = make(60, {LOAD: 400.0}, duration_s=0.1, gap_before_s=1.0)
    assert watch.believed(s, False) is s


# --- through the detectors ------------------------------------------------------------------------------------

END_S, EVENT_S = 90.0, 60.0


def replayed(rate_hz: float, changed: dict[str, float], lasts_s: float, ramp_s: float = 0.0) -> ReplayResult:
    """Give a healthy rig whose channels become so many times their usual value at 60 s, for so long."""
    random = np.random.default_rng(3)
    t_s = np.arange(round(END_S * rate_hz)) / rate_hz
    after_s = t_s - EVENT_S
    columns = {name: random.normal(value, NOISE[name], len(t_s)) for name, value in USUAL.items()}
    columns["sound_level_db"] = random.normal(70.0, 0.3, len(t_s))
    columns[PIN] = np.round(random.normal(60.0, 0.05, len(t_s)), 1)
    for name, times in changed.items():
        share = np.clip((after_s + 1e-9) / ramp_s, 0.0, 1.0) if ramp_s else (after_s > -1e-9).astype(float)
        share = share * (after_s < lasts_s - 1e-9)
        columns[name] = columns[name] * (1.0 + (times - 1.0) * share)
    return replay_columns(
        t_s, columns, load_replay_settings("[limits]\nmotor_current_a = 8.0\npin_temperature_degc = 95")
    )


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [10.0, 50.0])
@pytest.mark.parametrize("changed", [{FRICTION: 4.0}, {FRICTION: -3.0}, {CURRENT: 5.0}, {LOAD: 0.2}, {PIN: 7.0}])
def test_no_three_rows_trip_a_healthy_rig(rate_hz: float, changed: dict[str, float]) -> None:
    result = replayed(rate_hz, changed, 3.0 / rate_hz)
    assert [finding.says for finding in result.findings if finding.level is not Level.NOTICE] == []


@pytest.mark.slow
@pytest.mark.parametrize(("rate_hz", "most_s"), [(10.0, 0.6), (20.0, 0.45), (50.0, 0.35)])
def test_a_contact_that_scuffs_trips_as_soon_as_it_may_be_no_spike(rate_hz: float, most_s: float) -> None:
    result = replayed(rate_hz, {FRICTION: 4.0, CURRENT: 2.0}, 30.0, ramp_s=0.3)
    (trip,) = [finding for finding in result.findings if finding.level is Level.TRIP]
    assert trip.kind is FindingKind.SCUFFING_ONSET
    assert 0.0 < trip.t_rig_s - EVENT_S <= most_s


@pytest.mark.slow
def test_a_ring_that_jams_trips_at_once_at_ten_rows_a_second() -> None:
    result = replayed(10.0, {CURRENT: 4.0, SPEED: 0.0}, 30.0)
    trip = next(finding for finding in result.findings if finding.level is Level.TRIP)
    assert trip.kind is FindingKind.JAM
    assert trip.t_rig_s - EVENT_S <= 0.2
