"""Stages: told from bounce, bumps and drift; what a stage record holds; the mark where no load is measured."""

import math
import random
from collections.abc import Iterator

import pytest
from slice_makers import SLICE_S, bad, make

from scuffwatch.detect.stage import NO_STAGE, StageParams, StageTracker
from scuffwatch.detect.stage_sums import Tail
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Finding, FindingKind, Level

LOAD = "normal_load_n"
SOUND = "sound_level_db"
MU = "friction_coefficient"


class Lever:
    """Weights set down by hand, and the tracker that watches."""

    def __init__(self, tracker: StageTracker, load_n: float = 0.0, seed: int = 1) -> None:
        self.tracker = tracker
        self.draw = random.Random(seed)
        self.load_n = load_n
        self.index = 0
        self.found: list[Finding] = []
        self.more: dict[str, float] = {}
        self.turning: bool | None = True

    def feed(self, loads) -> None:
        for load in loads:
            noisy = load * (1 + self.draw.gauss(0, 0.004)) if isinstance(load, float) else load
            channels = {LOAD: noisy, **self.more} if noisy is not None else dict(self.more)
            self.found += self.tracker.update(make(self.index, channels), self.turning)
            self.index += 1

    def hold(self, lasts_s: float) -> None:
        self.feed([self.load_n] * round(lasts_s / SLICE_S))

    def place(
        self, load_n: float, *, bounce: float = 0.3, bounce_hz: float = 4.0, decay_s: float = 1.0, ramp_s: float = 0.5
    ) -> None:
        """Change the weights: a ramp, then a bounce that dies away (2-9 Hz, 1-5 s)."""
        self.feed(self._moving(load_n, bounce, bounce_hz, decay_s, ramp_s))
        self.load_n = load_n

    def _moving(self, load_n: float, bounce: float, bounce_hz: float, decay_s: float, ramp_s: float) -> Iterator[float]:
        step = load_n - self.load_n
        for k in range(round(ramp_s / SLICE_S)):
            yield self.load_n + step * k * SLICE_S / ramp_s
        for k in range(round(5 * decay_s / SLICE_S)):
            t_s = k * SLICE_S
            yield max(0.0, load_n + bounce * step * math.exp(-t_s / decay_s) * math.sin(math.tau * bounce_hz * t_s))

    @property
    def t_rig_s(self) -> float:
        return self.index * SLICE_S


@pytest.mark.slow
def test_a_staircase_of_16_stages_has_16_stages() -> None:
    for seed in range(12):
        lever = Lever(StageTracker(StageParams()), seed=seed)
        draw = lever.draw
        lever.hold(3.0)
        for stage in range(1, 17):
            lever.place(
                60.0 * stage,
                bounce=draw.uniform(0.0, 0.6),
                bounce_hz=draw.uniform(2, 9),
                decay_s=draw.uniform(0.2, 1.0),
                ramp_s=draw.uniform(0.05, 1.5),
            )
            lever.hold(draw.uniform(6.0, 12.0))
        records = lever.tracker.finish(lever.t_rig_s)
        assert [record.number for record in records] == list(range(1, 17)), f"seed {seed}"
        assert [finding.says.split(":")[0] for finding in lever.found] == [f"Stage {k}" for k in range(1, 17)]
        for record in records:
            assert record.normal_load_n == pytest.approx(60.0 * record.number, rel=0.06)
        ends = [record.t_end_s for record in records]
        assert [record.t_start_s for record in records[1:]] == ends[:-1]


def test_a_stage_begins_when_the_load_leaves_and_is_told_once_it_has_settled() -> None:
    lever = Lever(StageTracker(StageParams(), loads_n=(60.0, 120.0)), load_n=60.0)
    lever.hold(10.0)
    lever.place(120.0, bounce=0.0, ramp_s=0.01, decay_s=1.0)
    first, second = lever.found
    assert (second.kind, second.level, second.channels) == (FindingKind.STAGE, Level.NOTICE, (LOAD,))
    assert second.says.startswith("Stage 2: normal load 1")
    assert second.says.endswith(" N, planned 120.0 N.")
    assert first.t_rig_s == pytest.approx(2.0, abs=0.1)
    assert second.t_rig_s == pytest.approx(12.0, abs=0.2)
    assert lever.tracker.current.t_start_s == pytest.approx(10.0, abs=0.1)
    assert lever.tracker.current.elapsed_s(13.0) == pytest.approx(3.0, abs=0.1)


@pytest.mark.parametrize("to_n", [0.0, 300.0, 580.0])
def test_a_bump_of_less_than_two_seconds_is_no_stage(to_n: float) -> None:
    lever = Lever(StageTracker(StageParams()), load_n=500.0)
    lever.hold(10.0)
    for lasts_s in (0.05, 0.5, 1.0, 1.5, 1.8):
        lever.feed([to_n] * round(lasts_s / SLICE_S))
        lever.hold(6.0)
    assert len(lever.found) == 1
    assert lever.tracker.current.number == 1


@pytest.mark.parametrize(
    ("step_n", "level_n", "stages"), [(15.0, 500.0, 1), (25.0, 500.0, 2), (4.0, 60.0, 1), (7.0, 60.0, 2)]
)
def test_a_step_is_more_than_4_percent_and_more_than_5_n(step_n: float, level_n: float, stages: int) -> None:
    lever = Lever(StageTracker(StageParams()), load_n=level_n)
    lever.hold(10.0)
    lever.place(level_n + step_n, bounce=0.0, ramp_s=0.1)
    lever.hold(10.0)
    assert len(lever.found) == stages


@pytest.mark.slow
def test_slow_drift_is_no_step() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=500.0)
    lever.feed(500.0 + 0.001 * k for k in range(100_000))
    assert len(lever.found) == 1


def test_weights_that_come_in_two_pieces_are_one_stage() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=60.0)
    lever.hold(20.0)
    lever.place(90.0, bounce=0.1, decay_s=0.2)
    lever.hold(2.0)
    lever.place(120.0, bounce=0.1, decay_s=0.2)
    lever.hold(20.0)
    assert [finding.says[:7] for finding in lever.found] == ["Stage 1", "Stage 2"]
    assert lever.tracker.finish(lever.t_rig_s)[1].normal_load_n == pytest.approx(117, abs=3)


def test_without_load_there_is_no_stage_and_numbers_go_on() -> None:
    lever = Lever(StageTracker(StageParams()))
    lever.hold(5.0)
    assert lever.tracker.current is NO_STAGE
    assert math.isnan(NO_STAGE.elapsed_s(1.0))
    lever.place(100.0)
    lever.hold(10.0)
    lever.place(0.0)
    lever.hold(10.0)
    assert lever.tracker.current is NO_STAGE
    lever.place(100.0)
    lever.hold(10.0)
    assert lever.tracker.current.number == 2


def test_a_dwell_is_held_when_the_ring_turned_for_it() -> None:
    lever = Lever(StageTracker(StageParams(), dwell_s=30.0), load_n=100.0)
    lever.hold(30.0)
    lever.place(200.0, bounce=0.0)
    lever.hold(20.0)
    lever.turning = False
    lever.hold(60.0)
    one, two = lever.tracker.finish(lever.t_rig_s)
    assert (one.held, two.held) == (True, False)
    assert two.t_end_s == pytest.approx(55.5, abs=0.02)  # where the ring stopped


def test_a_stage_whose_ring_has_not_turned_yet_begins_when_it_does() -> None:
    lever = Lever(StageTracker(StageParams(), dwell_s=20.0), load_n=100.0)
    lever.turning = False
    lever.hold(40.0)
    lever.place(150.0)
    lever.hold(10.0)
    started_s = lever.t_rig_s
    lever.turning = True
    lever.hold(20.0)
    (record,) = lever.tracker.finish(lever.t_rig_s)
    assert record.t_start_s == pytest.approx(started_s, abs=0.02)
    assert record.held
    assert record.normal_load_n == pytest.approx(150.0, rel=0.01)


def test_without_a_dwell_a_stage_is_held_when_another_followed() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    lever.hold(20.0)
    lever.place(200.0)
    lever.hold(20.0)
    assert [record.held for record in lever.tracker.finish(lever.t_rig_s)] == [True, False]


def test_the_record_holds_means_the_end_value_and_the_highest_temperatures() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    for k in range(10):  # 100 s: friction falls by tenths, the last tenth is 0.11
        lever.more = {
            MU: 0.2 - 0.01 * k,
            "pin_temperature_degc": 50.0 + (20 if k == 4 else k),
            "bath_temperature_degc": 40.0,
        }
        lever.hold(10.0)
    (record,) = lever.tracker.finish(lever.t_rig_s)
    assert record.friction_coefficient == pytest.approx(0.155, abs=1e-4)
    assert record.friction_coefficient_end == pytest.approx(0.11, abs=5e-4)
    assert (record.pin_temperature_degc, record.bath_temperature_degc) == (70.0, 40.0)
    assert math.isnan(record.sound_level_db)


def test_a_run_that_is_closed_while_the_weights_come_off_ends_its_stage_when_they_did() -> None:
    lever = Lever(StageTracker(StageParams(), dwell_s=20.0), load_n=400.0)
    lever.hold(20.0)
    lever.feed([100.0] * 150)
    (record,) = lever.tracker.finish(lever.t_rig_s)
    assert record.t_end_s == pytest.approx(20.0, abs=0.11)
    assert record.normal_load_n == pytest.approx(400.0, rel=1e-3)
    assert record.held


def test_sound_is_averaged_by_energy() -> None:
    # worked example: 90 dB for 10 % and 70 dB for 90 % of the time is 80.374 dB.
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    lever.more = {SOUND: 90.0}
    lever.hold(10.0)
    lever.more = {SOUND: 70.0}
    lever.hold(90.0)
    assert lever.tracker.finish(lever.t_rig_s)[0].sound_level_db == pytest.approx(80.374, abs=5e-4)


def test_bad_values_and_the_rig_sounder_are_left_out() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    lever.more = {SOUND: 60.0, MU: 0.1}
    lever.hold(10.0)
    lever.more = {
        SOUND: bad(Reason.SATURATED, 140.0),
        MU: bad(Reason.MISSING),
        "pin_temperature_degc": bad(Reason.STUCK, 400.0),
    }
    lever.hold(10.0)
    record = lever.tracker.finish(lever.t_rig_s)[0]
    assert record.sound_level_db == pytest.approx(60.0)
    assert record.friction_coefficient == pytest.approx(0.1)
    assert math.isnan(record.pin_temperature_degc)


@pytest.mark.parametrize("load", [None, bad(Reason.TOO_OLD)])
def test_without_a_load_signal_the_mark_makes_the_stages(load) -> None:
    lever = Lever(StageTracker(StageParams()))
    lever.feed([load] * 100)
    lever.tracker.mark()
    lever.feed([load] * 1000)
    lever.tracker.mark()
    lever.feed([load] * 500)
    assert [finding.says for finding in lever.found] == [
        "Stage 1: weight is on, by the mark.",
        "Stage 2: weight is on, by the mark.",
    ]
    one, two = lever.tracker.finish(lever.t_rig_s)
    assert (one.t_start_s, one.t_end_s, two.t_end_s) == pytest.approx((1.01, 11.01, 16.0))
    assert math.isnan(one.normal_load_n)


def test_with_a_load_signal_the_mark_changes_nothing() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    lever.hold(5.0)
    lever.tracker.mark()
    lever.hold(5.0)
    assert lever.tracker.current.number == 1


def test_nothing_settles_across_a_hole() -> None:
    lever = Lever(StageTracker(StageParams()), load_n=100.0)
    lever.hold(1.2)
    lever.index += 400
    lever.found += lever.tracker.update(make(lever.index, {LOAD: 100.0}, gap_before_s=4.0), True)
    lever.index += 1
    lever.hold(0.5)
    assert lever.found == []
    lever.hold(1.0)
    assert len(lever.found) == 1


@pytest.mark.slow
@pytest.mark.parametrize("n", [1, 9, 64, 127, 128, 1000, 12_345, 300_000])
def test_the_tail_is_the_last_tenth_in_constant_memory(n: int) -> None:
    tail = Tail()
    for k in range(n):
        tail.add(float(k))
    last_tenth = n - (n / 10 + 1) / 2
    assert tail.value == pytest.approx(last_tenth, abs=max(1.0, 0.011 * n))
    assert len(tail._buckets) <= 128
