"""The bank: everything asked, in one order, with one answer a slice; any split gives the same findings."""

import random
import tracemalloc
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rig_world import PARAMS, START, Act, bank, blocks_of, slices_of, tell
from slice_makers import bad, make

from scuffwatch.detect.bank import Bank, BankParams, make_bank
from scuffwatch.detect.stage import NO_STAGE
from scuffwatch.model.channel import PIN_TEMPERATURE, Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

GOOD = {"friction_force_n": 50.0, "motor_current_a": 2.0, "pin_temperature_degc": 60.0, "sound_level_db": 70.0}


def found(story: list[Act], draw: random.Random | None = None) -> list[Finding]:
    """Give everything new that a bank finds in a story."""
    asked = bank()
    return [f for s in slices_of(blocks_of(*tell(story), draw)) for f in asked.update(s).new]


def summary(findings: list[Finding]) -> list[tuple[str, str]]:
    return [(finding.kind.value, finding.level.name) for finding in findings]


def test_a_healthy_run_with_a_start_and_a_stop_is_one_stage_and_nothing_else() -> None:
    story = [Act(1.0, 0.0, 0.0), *START, Act(20.0), Act(1.5, (595.0, 0.0), 0.0), Act(3.0, 0.0, 0.0)]
    assert summary(found(story)) == [("stage", "NOTICE")]


def test_scuffing_passes_the_warning_and_then_the_limit() -> None:
    findings = found([*START, Act(2.0), Act(2.0, mu=(0.1, 0.4), current_a=(2.0, 3.0))])
    assert summary(findings) == [("stage", "NOTICE"), ("friction_limit", "WARN"), ("friction_limit", "TRIP")]
    # 0.25 is passed 1 s into the rise; four slices later it is a finding.
    assert findings[-1].t_rig_s == pytest.approx(6.04, abs=0.03)


def test_a_jam_is_the_first_of_what_it_causes() -> None:
    story = [*START, Act(2.0), Act(0.05, (595.0, 0.0), (2.0, 7.0), mu=0.05), Act(1.0, 0.0, 7.0, mu=0.05)]
    assert summary(found(story))[1:] == [("jam", "TRIP")]


def test_the_current_limit_does_not_count_a_start_surge() -> None:
    story = [Act(0.8, (0.0, 595.0), 8.0), Act(3.0), Act(0.5, current_a=8.0)]
    # Half a second of eight amperes that friction does not explain is a jam as well, a tenth of a second later.
    assert summary(found(story)) == [("stage", "NOTICE"), ("overload", "TRIP"), ("jam", "TRIP")]


@pytest.mark.slow
def test_heat_is_announced_before_it_is_there() -> None:
    story = [*START, Act(30.0, pin_degc=(60.0, 130.0))]
    # announced, tripped as far ahead as the sensor may lag behind, and once more at the limit itself
    assert summary(found(story))[1:] == [("overheat", "WARN"), ("overheat", "TRIP"), ("overheat", "TRIP")]


def test_a_frozen_force_is_a_sensor_fault() -> None:
    fast, slow = tell([*START, Act(2.0)])
    fast[0, 3500:] = fast[0, 3500]
    asked = bank()
    new = [f for s in slices_of(blocks_of(fast, slow)) for f in asked.update(s).new]
    assert summary(new)[-1] == ("sensor_fault", "TRIP")
    assert new[-1].t_rig_s == pytest.approx(4.0, abs=0.02)


ACTS = st.builds(
    Act,
    st.sampled_from([0.05, 0.4, 1.5]),
    speed_rpm=st.sampled_from([595.0, 0.0, (595.0, 0.0), (0.0, 595.0)]),
    current_a=st.sampled_from([2.0, 0.0, 6.0, (2.0, 7.0)]),
    load_n=st.sampled_from([500.0, 250.0, 2.0]),
    mu=st.sampled_from([0.1, 0.3, (0.1, 0.5), 3.5]),
    pin_degc=st.sampled_from([60.0, 125.0, (60.0, 90.0)]),
)


@pytest.mark.slow
@settings(max_examples=60)
@given(story=st.lists(ACTS, max_size=5), seeds=st.tuples(st.integers(0, 99), st.integers(0, 99)))
def test_any_split_of_the_same_samples_gives_the_same_findings(story: list[Act], seeds: tuple[int, int]) -> None:
    one, other = (found([*START, *story], random.Random(seed)) for seed in seeds)
    assert repr(one) == repr(other)


@pytest.mark.slow
@settings(max_examples=20)
@given(story=st.lists(ACTS, min_size=1, max_size=4))
def test_a_shortened_recording_gives_the_same_findings_up_to_its_end(story: list[Act]) -> None:
    fast, slow = tell([*START, *story])
    cut = fast.shape[1] * 2 // 3
    whole, short = bank(), bank()
    of_whole = [f for s in slices_of(blocks_of(fast, slow)) for f in whole.update(s).new]
    of_short = [f for s in slices_of(blocks_of(fast[:, :cut], slow)) for f in short.update(s).new]
    end_s = cut // 10 / 100
    assert repr([f for f in of_whole if f.t_rig_s <= end_s]) == repr(of_short)


@pytest.mark.slow
def test_memory_does_not_grow_with_the_run() -> None:
    fast, slow = tell([*START, Act(12.0)])
    asked, blocks = bank(), slices_of(blocks_of(fast, slow))
    tracemalloc.start()
    try:
        for _, s in zip(range(1100), blocks, strict=False):
            asked.update(s)
        before, _ = tracemalloc.get_traced_memory()
        for s in blocks:
            asked.update(s)
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert s.t_rig_s > 14.9
    assert after - before < 20_000  # the heat window and the stage's buckets are full by then or bounded


# --- one slice at a time ------------------------------------------------------------------------------------


def test_trip_channels_are_good_when_none_that_must_be_there_is_bad() -> None:
    asked = Bank(PARAMS)
    assert asked.update(make(0, GOOD)).trip_channels_good
    assert not asked.update(make(1, {**GOOD, "motor_current_a": bad(Reason.TOO_OLD)})).trip_channels_good
    assert asked.update(make(2, {**GOOD, "sound_level_db": bad(Reason.TOO_OLD)})).trip_channels_good
    missing = {name: value for name, value in GOOD.items() if name != "friction_force_n"}
    assert not asked.update(make(3, missing)).trip_channels_good


def test_standing_is_what_is_true_now_and_new_only_the_edge() -> None:
    asked = Bank(PARAMS)
    results = [asked.update(make(k, {**GOOD, "friction_force_n": 300.0})) for k in range(20)]
    assert [len(result.new) for result in results] == [0, 0, 0, 1] + [0] * 16
    assert [finding.kind for finding in results[-1].standing] == [FindingKind.OVERLOAD]
    assert asked.standing == results[-1].standing
    asked.reset()
    assert asked.standing == ()


def test_ring_turning_is_the_motors() -> None:
    asked = Bank(PARAMS)
    assert asked.ring_turning is None
    for k in range(3):
        result = asked.update(make(k, {**GOOD, "ring_speed_rpm": 595.0}))
    assert result.ring_turning is asked.ring_turning is True


def test_a_bank_with_nothing_in_it_is_quiet() -> None:
    asked = make_bank(BankParams())
    result = asked.update(make(0, GOOD))
    assert (result.new, result.standing, result.ring_turning, result.trip_channels_good) == ((), (), None, True)
    asked.reset()
    assert (asked.standing, asked.ring_turning, asked.take_closed_stages()) == ((), None, ())


def test_a_limit_after_the_start_needs_a_motor() -> None:
    with pytest.raises(ValueError, match="no motor is watched"):
        Bank(replace(PARAMS, motor=None))


def test_stages_are_told_only_in_a_run() -> None:
    asked = Bank(PARAMS)
    loaded = {**GOOD, "normal_load_n": 500.0}
    for k in range(400):
        assert asked.update(make(k, loaded)).new == ()
    assert asked.stage is NO_STAGE
    assert asked.finish_run(4.0) == ()
    asked.start_run((500.0,), 5.0)
    new = [f for k in range(400, 800) for f in asked.update(make(k, loaded)).new]
    assert [(f.kind, f.level) for f in new] == [(FindingKind.STAGE, Level.NOTICE)]
    assert asked.stage.number == 1
    assert asked.take_closed_stages() == ()
    (record,) = asked.finish_run(8.0)
    assert record.number == 1
    assert asked.stage is NO_STAGE


def test_closed_stages_are_taken_once_and_a_new_run_begins_at_one() -> None:
    asked = Bank(PARAMS)
    asked.start_run()
    for k in range(300):
        if k in (100, 200):
            asked.mark()
        asked.update(make(k, GOOD))
    assert [record.number for record in asked.take_closed_stages()] == [1]
    assert asked.take_closed_stages() == ()
    assert [record.number for record in asked.finish_run(3.0)] == [1, 2]
    asked.mark()
    asked.start_run()
    asked.update(make(300, GOOD))
    assert asked.stage is NO_STAGE


def test_a_spike_on_a_slow_thermocouple_is_no_overheat_and_a_value_that_stays_is() -> None:
    """Ten values a second: 134 °C for two of them where the limit is 120; then for good."""
    for lasts, kinds in ((2, []), (50, [FindingKind.OVERHEAT])):
        bank = Bank(BankParams(limits=tuple(limit for limit in PARAMS.limits if limit.channel == PIN_TEMPERATURE)))
        degc = [60.0] * 50 + [134.0] * lasts + [60.0] * 20
        slices = [make(k, {PIN_TEMPERATURE: value}, duration_s=0.1) for k, value in enumerate(degc)]
        assert [finding.kind for s in slices for finding in bank.update(s).new] == kinds
