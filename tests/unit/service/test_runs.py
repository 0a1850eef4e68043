"""Runs: one outcome each, and the end by plan is never taken for an end by the guard."""

import math

import pytest

from scuffwatch.model.errors import CommandRefused
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.model.run import Outcome, RunHeader, RunKind, StageRecord
from scuffwatch.service.runs import RunKeeper

PLAN = RunHeader("2026-11-25-rig2-001", RunKind.TEST, loads_n=(60.0, 120.0), dwell_s=60.0)
SETUP = RunHeader("2026-11-25-rig2-002", RunKind.SETUP)


def stage(number: int, held: bool = True) -> StageRecord:
    nan = math.nan
    return StageRecord(number, 60.0 * number, 60.0 * number + 60, 60.0 * number, 0.1, 0.1, nan, nan, nan, held)


def cause(kind: FindingKind) -> Finding:
    return Finding(kind, Level.TRIP, 100.0, (), (), f"{kind.value} happened.")


def opened(header: RunHeader = PLAN) -> RunKeeper:
    keeper = RunKeeper(600.0)
    keeper.open(header, 1e9, 0.0)
    return keeper


def test_a_second_run_is_refused_by_name() -> None:
    keeper = opened()
    with pytest.raises(CommandRefused) as raised:
        keeper.open(SETUP, 1e9, 1.0)
    assert "run 2026-11-25-rig2-001 is open" in raised.value.sentence()
    assert keeper.name == PLAN.name


def test_all_planned_stages_held_is_held() -> None:
    keeper = opened()
    keeper.permitted()
    assert keeper.result(200.0, (stage(1), stage(2))).outcome is Outcome.HELD


@pytest.mark.parametrize("stages", [(), (stage(1),), (stage(1), stage(2, held=False))])
def test_less_than_the_plan_is_stopped(stages: tuple[StageRecord, ...]) -> None:
    keeper = opened()
    keeper.permitted()
    assert keeper.result(200.0, stages).outcome is Outcome.STOPPED


def test_a_setup_run_is_never_held() -> None:
    keeper = opened(SETUP)
    keeper.permitted()
    assert keeper.result(200.0, (stage(1), stage(2))).outcome is Outcome.STOPPED


@pytest.mark.parametrize(
    ("kind", "outcome"),
    [
        (FindingKind.FRICTION_LIMIT, Outcome.SCUFFED),
        (FindingKind.SCUFFING_ONSET, Outcome.SCUFFED),
        (FindingKind.STALL, Outcome.STALLED),
        (FindingKind.JAM, Outcome.JAMMED),
        (FindingKind.OVERHEAT, Outcome.OVERHEATED),
        (FindingKind.SENSOR_FAULT, Outcome.SENSOR_FAULT),
        (FindingKind.LINK_LOST, Outcome.STOPPED),
        (FindingKind.STOP_REQUEST, Outcome.STOPPED),
    ],
)
def test_the_first_out_is_the_outcome(kind: FindingKind, outcome: Outcome) -> None:
    keeper = opened()
    keeper.permitted()
    keeper.tripped(cause(kind), 50.0)
    keeper.tripped(cause(FindingKind.INTERLOCK), 50.1)
    result = keeper.result(200.0, (stage(1), stage(2)))
    assert result.outcome is outcome
    assert result.first_out == f"{kind.value} happened."


def test_the_start_up_trip_is_no_outcome() -> None:
    keeper = opened()
    keeper.tripped(cause(FindingKind.START_UP), 1.0)
    assert keeper.result(2.0, ()).first_out == ""
    assert keeper.resume_left_s(1e6) == math.inf


def test_a_resumed_run_is_interrupted_and_may_still_be_held() -> None:
    keeper = opened()
    keeper.permitted()
    keeper.tripped(cause(FindingKind.INTERLOCK), 50.0)
    assert keeper.resume_left_s(60.0) == pytest.approx(590.0)
    assert keeper.resume_left_s(650.0) == 0.0
    keeper.permitted()
    result = keeper.result(200.0, (stage(1), stage(2)))
    assert result.interrupted
    assert result.outcome is Outcome.HELD


def test_closing_nothing_is_refused() -> None:
    with pytest.raises(CommandRefused):
        RunKeeper(600.0).result(1.0, ())
