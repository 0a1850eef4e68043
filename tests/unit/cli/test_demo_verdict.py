"""The verdict on a demonstration: it can say no, and says which number was wrong."""

import math
from dataclasses import replace

import pytest

from scuffwatch.cli.demo_verdict import Seen, verdict
from scuffwatch.model.run import Outcome, StageRecord
from scuffwatch.sim.scenario import DEMO_LOADS_N, Truth

NAN = math.nan


def truth(scenario: str, expected: Outcome, **times: float) -> Truth:
    unknown = dict.fromkeys(Truth.__dataclass_fields__)
    known = {"scenario": scenario, "seed": 1, "rate_hz": 200.0, "expected_outcome": expected.value, "stage_t_s": ()}
    return Truth(**{**unknown, **known, **times})  # type: ignore[arg-type]


def seen(outcome: Outcome, **changes: object) -> Seen:
    plain = Seen(outcome, "", "", NAN, NAN, (), None)
    return replace(plain, **changes)  # type: ignore[arg-type]


def held(count: int) -> tuple[StageRecord, ...]:
    return tuple(StageRecord(n, 0.0, 60.0, 60.0 * n, 0.1, 0.1, NAN, NAN, NAN, True) for n in range(1, count + 1))


SCUFFING = truth("scuffing", Outcome.SCUFFED, onset_t_s=100.0, stall_t_s=110.0)
JAM = truth("jam", Outcome.JAMMED, jam_t_s=70.0, stall_t_s=70.0)
HEAT = truth("overheat", Outcome.OVERHEATED, overheat_t_s=300.0)
CABLE = truth("cable", Outcome.STOPPED, cable_t_s=80.0)
HEALTHY = truth("healthy", Outcome.HELD, end_t_s=1000.0)
DEAD = truth("dead-host", Outcome.POWER_LOSS)
ALL = len(DEMO_LOADS_N)


@pytest.mark.parametrize(
    ("what", "true", "good"),
    [
        (seen(Outcome.SCUFFED, permit_off_t_s=109.9), SCUFFING, True),
        (seen(Outcome.SCUFFED, permit_off_t_s=110.0), SCUFFING, False),
        (seen(Outcome.SCUFFED), SCUFFING, False),
        (seen(Outcome.STOPPED, permit_off_t_s=105.0), SCUFFING, False),
        (seen(Outcome.JAMMED, trip_t_s=70.14), JAM, True),
        (seen(Outcome.JAMMED, trip_t_s=70.16), JAM, False),
        (seen(Outcome.JAMMED), JAM, False),
        (seen(Outcome.OVERHEATED, trip_t_s=301.0), HEAT, True),
        (seen(Outcome.OVERHEATED, trip_t_s=292.7), HEAT, True),
        (seen(Outcome.OVERHEATED, trip_t_s=279.9), HEAT, False),
        (seen(Outcome.OVERHEATED, trip_t_s=306.0), HEAT, False),
        (seen(Outcome.STOPPED, first_out_kind="link_lost", contactor_open_after_block_ms=240.0), CABLE, True),
        (seen(Outcome.STOPPED, first_out_kind="interlock", contactor_open_after_block_ms=240.0), CABLE, False),
        (seen(Outcome.STOPPED, first_out_kind="link_lost", contactor_open_after_block_ms=251.0), CABLE, False),
        (seen(Outcome.STOPPED, first_out_kind="link_lost"), CABLE, False),
        (seen(Outcome.HELD, stages=held(ALL)), HEALTHY, True),
        (seen(Outcome.HELD, stages=held(ALL - 1)), HEALTHY, False),
        (seen(Outcome.HELD, stages=held(ALL), trip_t_s=5.0), HEALTHY, False),
        (seen(Outcome.POWER_LOSS, contactor_open_after_block_ms=249.0), DEAD, True),
        (seen(Outcome.POWER_LOSS, contactor_open_after_block_ms=300.0), DEAD, False),
    ],
)
def test_the_verdict(what: Seen, true: Truth, good: bool) -> None:
    found, because = verdict(what, true)
    assert found is good
    assert any(sentence.startswith("WRONG: ") for sentence in because) is not good


def test_a_computer_that_was_too_busy_is_told_as_that() -> None:
    lapsed = seen(Outcome.STOPPED, trip_t_s=60.0, first_out_says="Rig box latched by itself: its lease has lapsed.")
    good, because = verdict(lapsed, JAM)
    assert not good
    assert because[1] == "Trip 10000 ms before the first stalled sample, limit 150 ms after."
    assert because[-1].startswith("The permit lapsed, as it must where the core is late: this computer was too busy")
    assert not any("too busy" in says for says in verdict(seen(Outcome.SCUFFED), SCUFFING)[1])
