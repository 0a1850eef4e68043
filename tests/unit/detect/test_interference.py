"""Interference: a temperature that jumps for a moment is not believed, nor what shares its wires; a break is, soon.

Sizes and times are made up here; no source.
"""

import random
from collections.abc import Iterator

import pytest
from slice_makers import bad, good, make

from scuffwatch.detect.bank import Bank, BankParams
from scuffwatch.detect.heat import HeatParams
from scuffwatch.detect.interference import Interference
from scuffwatch.detect.limits import LimitParams
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import FindingKind, Level

PIN, BATH = "pin_temperature_degc", "bath_temperature_degc"
USUAL_DEGC = 60.0
Value = ChannelSlice | float
Row = dict[str, Value]


def not_believed(rows: list[Row], watch: Interference | None = None) -> list[int]:
    """Give the numbers of the rows that are not to be believed."""
    watch = watch if watch is not None else Interference()
    return [k for k, row in enumerate(rows) if watch.update(make(k, row))]


def after_steady(name: str, values: list[Value]) -> list[int]:
    """Give which of some values are not to be believed after a second at 60 degC."""
    watch = Interference()
    assert not_believed([{name: USUAL_DEGC}] * 100, watch) == []
    return not_believed([{name: value} for value in values], watch)


@pytest.mark.parametrize("name", [PIN, BATH])
@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_a_jump_of_more_than_15_k_is_not_believed_and_one_of_15_k_is(name: str, way: float) -> None:
    jumps: list[Value] = [USUAL_DEGC + 15.1 * way] * 3 + [USUAL_DEGC] * 100
    assert after_steady(name, jumps) == [0, 1, 2]
    assert after_steady(name, [USUAL_DEGC + 15.0 * way] * 3 + [USUAL_DEGC] * 100) == []


@pytest.mark.parametrize("name", [PIN, BATH])
@pytest.mark.parametrize(
    ("slice_s", "slices"), [(0.01, 5), (0.02, 3), (0.05, 3), (0.1, 3), (0.2, 0), (0.199999999999, 0)]
)
def test_what_lasts_is_believed_after_a_twentieth_of_a_second_or_three_slices(
    name: str, slice_s: float, slices: int
) -> None:
    watch = Interference()
    degc = [USUAL_DEGC] * 50 + [400.0] * 500
    found = [k - 50 for k, value in enumerate(degc) if watch.update(make(k, {name: value}, duration_s=slice_s))]
    assert found == list(range(slices))


@pytest.mark.parametrize("every", [2, 5, 10, 50])
def test_a_slow_thermocouple_is_believed_at_its_second_value(every: int) -> None:
    """A step that lasts costs a value or two, however many slices hold them; else nothing is ever believed again."""
    step: list[Value] = [good(90.0, fresh=k % every == 0) for k in range(3_000)]
    assert len(after_steady(PIN, step)) <= 3


def test_a_broken_thermocouple_leaves_the_other_one_its_spikes() -> None:
    watch = Interference()
    assert not_believed([{PIN: USUAL_DEGC, BATH: USUAL_DEGC}] * 100, watch) == []
    broken: list[Row] = [{PIN: 400.0, BATH: USUAL_DEGC}] * 2 + [{PIN: bad(Reason.OVER_RANGE), BATH: USUAL_DEGC}] * 100
    assert not_believed([*broken, {PIN: bad(Reason.OVER_RANGE), BATH: 300.0}], watch) == [0, 1, 102]


def test_a_break_is_usual_then_and_the_way_back_is_a_jump_again() -> None:
    back: list[Value] = [USUAL_DEGC] * 100
    assert after_steady(PIN, [400.0] * 100 + back) == [0, 1, 2, 3, 4, 100, 101, 102, 103, 104]


def test_spikes_with_a_moment_between_them_are_each_not_believed() -> None:
    spikes: list[Value] = [400.0, 400.0, -90.0, USUAL_DEGC]
    assert after_steady(PIN, spikes * 25) == [k for k in range(100) if k % 4 != 3]


def test_heating_as_fast_as_a_thermocouple_follows_is_believed() -> None:
    # 100 K within 0.1 s is 10 K a slice; what has been believed is what the next value is held against.
    ramp: list[Value] = [USUAL_DEGC + 10.0 * k for k in range(11)]
    assert after_steady(PIN, ramp + ramp[::-1]) == []


@pytest.mark.parametrize("lost", [bad(Reason.MISSING), bad(Reason.OVER_RANGE, 412.0), bad(Reason.NEVER_RECEIVED)])
def test_a_bad_value_is_passed_over_and_not_remembered(lost: ChannelSlice) -> None:
    found = after_steady(PIN, [lost] * 100 + [USUAL_DEGC] * 100 + [lost] * 100 + [USUAL_DEGC + 15.1] * 3)
    assert found == [300, 301, 302]


def test_a_held_value_is_no_jump_of_its_own() -> None:
    held = good(400.0, fresh=False)
    assert after_steady(PIN, [400.0, held, held, USUAL_DEGC, held]) == [0]


@pytest.mark.parametrize("first", [{}, {PIN: bad(Reason.NEVER_RECEIVED)}])
def test_a_first_value_is_believed_whatever_it_is(first: Row) -> None:
    assert not_believed([first] * 10 + [{PIN: 900.0}] * 10) == []


def test_each_temperature_is_held_against_its_own_last_value() -> None:
    cold: Row = {PIN: 150.0, BATH: 40.0}
    watch = Interference()
    assert not_believed([cold] * 100, watch) == []
    assert not_believed([{**cold, PIN: 40.0}] * 2 + [{**cold, BATH: 150.0}] * 2 + [cold] * 50, watch) == [0, 1, 2, 3]


def test_both_temperatures_together_have_a_twentieth_of_a_second_and_not_one_each() -> None:
    usual: Row = {PIN: USUAL_DEGC, BATH: USUAL_DEGC}
    one_then_both: list[Row] = [{**usual, PIN: 400.0}] * 3 + [{PIN: 400.0, BATH: 400.0}] * 100
    assert [k - 100 for k in not_believed([usual] * 100 + one_then_both)] == [0, 1, 2, 3, 4]


# --- what the bank makes of it ------------------------------------------------------------------------------


MOTOR = BankParams(motor=MotorParams(speed_set_rpm=600.0, no_load_current_a=0.6))


def running(seconds: float, seed: int) -> Iterator[Row]:
    """Give a motor that starts and runs, with both thermocouples."""
    draw = random.Random(seed)
    for k in range(round(100.0 * seconds)):
        yield {
            "ring_speed_rpm": draw.gauss(595.0 * min(1.0, k / 50), 1.0),
            "motor_current_a": draw.gauss(6.0 if k < 50 else 2.0, 0.02),
            PIN: draw.gauss(USUAL_DEGC, 0.1),
            BATH: draw.gauss(45.0, 0.1),
        }


def found_in(rows: list[Row]) -> list[tuple[int, FindingKind]]:
    """Give what a bank with a motor finds, and in which row."""
    bank = Bank(MOTOR)
    return [(k, finding.kind) for k, row in enumerate(rows) for finding in bank.update(make(k, row)).new]


HELD: Row = {"ring_speed_rpm": 0.0, "motor_current_a": 6.0}
FROM, UNTIL = 600, 605


def with_held(more: Row, seed: int) -> list[Row]:
    """Give a run in which speed and current look as in a jam for 50 ms."""
    rows = list(running(8.0, seed))
    return rows[:FROM] + [{**row, **HELD, **more} for row in rows[FROM:UNTIL]] + rows[UNTIL:]


@pytest.mark.slow
@pytest.mark.parametrize("jumping", [{PIN: 400.0}, {BATH: -90.0}, {PIN: 400.0, BATH: 400.0}])
def test_what_looks_like_a_jam_while_a_temperature_jumps_is_no_event(jumping: Row) -> None:
    """Of ten such spikes none is an event; without the jump each of the same is."""
    seeds = range(10)
    assert sum(len(found_in(with_held(jumping, seed))) for seed in seeds) == 0
    assert sum(len(found_in(with_held({}, seed))) for seed in seeds) == len(seeds)


def test_a_jam_that_breaks_a_thermocouple_is_found_a_twentieth_of_a_second_later() -> None:
    delays = []
    for broken in ({}, {PIN: 400.0}):
        rows = list(running(7.0, 1))
        rows[FROM:] = [{**row, **HELD, **broken} for row in rows[FROM:]]
        ((at, kind),) = found_in(rows)
        assert kind is FindingKind.JAM
        delays.append(at - FROM)
    assert delays[0] <= 2
    assert delays[1] == delays[0] + 5


@pytest.mark.parametrize(("opens", "kinds"), [(True, []), (False, [FindingKind.JAM])])
def test_a_contactor_that_opens_is_seen_through_a_jump(opens: bool, kinds: list[FindingKind]) -> None:
    """What draws current and stands after it is a start; with a contactor that stayed closed it is a jam."""
    bank, found = Bank(MOTOR), []
    rows = list(running(7.0, 1))
    rows[FROM:UNTIL] = [{**row, PIN: 400.0} for row in rows[FROM:UNTIL]]
    rows[UNTIL:] = [{**row, **HELD} for row in rows[UNTIL:]]
    for k, row in enumerate(rows):
        found += bank.update(make(k, row), contactor_closed=not (opens and FROM <= k < UNTIL)).new
    assert [finding.kind for finding in found] == kinds


@pytest.mark.parametrize(("gap_s", "epoch"), [(60.0, 0), (0.0, 1)])
def test_after_a_hole_or_a_restart_any_temperature_is_believed(gap_s: float, epoch: int) -> None:
    watch = Interference()
    assert not_believed([{PIN: USUAL_DEGC}] * 50, watch) == []
    assert not watch.update(make(50, {PIN: USUAL_DEGC - 20.0}, gap_before_s=gap_s, epoch=epoch))
    assert watch.update(make(51, {PIN: USUAL_DEGC}, epoch=epoch))


def test_a_pin_that_heats_by_16_k_a_second_is_believed_at_one_value_a_second() -> None:
    watch = Interference()
    heats = [watch.update(make(k, {PIN: USUAL_DEGC + 16.0 * k}, duration_s=1.0)) for k in range(20)]
    assert not any(heats)


@pytest.mark.parametrize("degc", [400.0, -40.0])
def test_three_slow_rows_are_on_no_way_to_a_limit(degc: float) -> None:
    """A forecast that takes them in sees a pin that heats by kelvins a second, ten seconds long."""
    heat = HeatParams(PIN, 95.0)
    limit = LimitParams.above(PIN, 95.0, 0.04, (FindingKind.OVERHEAT, Level.TRIP, "Overheat"), False)
    bank, found = Bank(BankParams(limits=(limit,), heat=(heat,))), []
    for k in range(600):
        row = {PIN: degc if 300 <= k < 303 else random.Random(k).gauss(70.0, 0.1)}
        found += bank.update(make(k, row, duration_s=0.1)).new
    assert found == []
