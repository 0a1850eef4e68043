"""Hard limits: on-delay in slices, spikes, BAD values, clearing, and what they say."""

import math
from dataclasses import replace

import pytest
from slice_makers import bad, good, make, sequence

from scuffwatch.detect.limits import HardLimit, LimitParams, slices_in
from scuffwatch.model.channel import Reason
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level

MU = "friction_coefficient"
FRICTION = LimitParams(MU, -math.inf, 0.25, 0.04, FindingKind.FRICTION_LIMIT, Level.TRIP, 0.02, "Friction limit")


def run(limit: HardLimit, values, first: int = 0) -> list[tuple[int, Finding]]:
    """Feed values of the friction coefficient, give (slice index, finding) of each new one."""
    return [
        (s.index, finding) for s in sequence(({MU: value} for value in values), first) for finding in limit.update(s)
    ]


@pytest.mark.parametrize(
    ("delay_s", "duration_s", "slices"), [(0.04, 0.01, 4), (0.0, 0.01, 1), (0.04, 0.1, 1), (0.041, 0.01, 5)]
)
def test_delays_are_whole_slices(delay_s: float, duration_s: float, slices: int) -> None:
    assert slices_in(delay_s, duration_s) == slices


def test_it_trips_in_the_last_slice_of_the_on_delay_and_says_so_once() -> None:
    limit = HardLimit(FRICTION)
    found = run(limit, [0.1] * 10 + [0.265] * 20)
    assert len(found) == 1
    index, finding = found[0]
    assert index == 13
    assert finding == Finding(
        FindingKind.FRICTION_LIMIT,
        Level.TRIP,
        pytest.approx(0.14),
        (MU,),
        (Evidence(MU, 0.265, 0.25, ""),),
        "Friction limit: friction coefficient 0.265, limit 0.250.",
    )
    assert limit.standing == (finding,)


@pytest.mark.parametrize("n", [1, 2, 3])
def test_a_spike_of_one_to_three_slices_never_trips(n: int) -> None:
    assert run(HardLimit(FRICTION), ([0.1] + [9.0] * n) * 200) == []


def test_a_value_at_the_limit_is_not_beyond_it() -> None:
    assert run(HardLimit(FRICTION), [0.25] * 100) == []


def test_bad_values_are_neither_beyond_nor_below() -> None:
    limit = HardLimit(FRICTION)
    lost = bad(Reason.SATURATED, 0.9)
    assert run(limit, [lost] * 100) == []
    assert [index for index, _ in run(limit, [0.3, 0.3, lost, bad(Reason.TOO_OLD), 0.3, 0.3, 0.3])] == [5]
    assert run(limit, [lost] * 500) == []
    assert len(limit.standing) == 1


def test_a_quantity_that_does_not_exist_any_more_has_cleared() -> None:
    limit = HardLimit(FRICTION)
    run(limit, [0.3] * 4)
    run(limit, [bad(Reason.MISSING)] * 3)
    assert limit.standing
    run(limit, [bad(Reason.MISSING)])
    assert not limit.standing


def test_clearing_takes_the_clear_band_for_the_on_delay() -> None:
    limit = HardLimit(FRICTION)
    run(limit, [0.3] * 4 + [0.24] * 500 + [0.23, 0.23, 0.23, 0.24] * 50)
    assert limit.standing
    run(limit, [0.229] * 4)
    assert not limit.standing
    assert len(run(limit, [0.3] * 4)) == 1


def test_chatter_round_the_limit_is_one_finding() -> None:
    # this project's fault matrix: a square wave within the dead band at 10 Hz.
    assert len(run(HardLimit(FRICTION), ([0.26] * 5 + [0.24] * 5) * 600)) == 1


def test_low_limits_work_the_same_and_minus_is_a_minus() -> None:
    params = replace(FRICTION, channel="friction_force_n", low=-20.0, high=math.inf, clear_band=2.0, label="Overload")
    limit = HardLimit(params)
    found = [f for s in sequence({"friction_force_n": -25.25} for _ in range(4)) for f in limit.update(s)]
    assert found[0].says == "Overload: friction force −25.2 N, limit −20.0."
    assert found[0].evidence == (Evidence("friction_force_n", -25.25, -20.0, "N"),)


def test_a_warning_is_worded_as_one() -> None:
    warn = HardLimit(replace(FRICTION, high=0.2, level=Level.WARN, label="Friction high"))
    ((_, finding),) = run(warn, [0.2151] * 4)
    assert finding.says == "Friction high: friction coefficient 0.215, warning at 0.200."


def test_one_sample_of_a_slow_channel_held_over_many_slices_is_a_spike() -> None:
    held = [good(0.9)] + [good(0.9, fresh=False)] * 9
    assert run(HardLimit(FRICTION), [0.1, *held] * 20) == []
    assert [index for index, _ in run(HardLimit(FRICTION), held + held)] == [10]


@pytest.mark.parametrize(
    ("slice_s", "values"),
    [(0.04, 1), (0.049999999999954, 3), (0.05, 3), (0.1, 3), (0.19999999999995, 2), (0.2, 2), (1.0, 2)],
)
def test_a_slow_rig_decides_on_several_values_since_one_may_be_a_spike(slice_s: float, values: int) -> None:
    limit = HardLimit(FRICTION)
    row = [0.3] * (values - 1) + [0.1] + [0.3] * values
    said = [bool(limit.update(make(k, {MU: mu}, duration_s=slice_s))) for k, mu in enumerate(row)]
    assert said == [False] * (len(row) - 1) + [True]


def test_a_hole_neither_ends_nor_completes_a_count() -> None:
    limit = HardLimit(FRICTION)
    run(limit, [0.3, 0.3])
    assert limit.update(make(50, {MU: 0.3}, gap_before_s=0.48)) == ()
    assert len(limit.update(make(51, {MU: 0.3}))) == 1


def test_what_is_not_armed_is_not_counted() -> None:
    limit = HardLimit(FRICTION)
    for s in sequence({MU: 0.9} for _ in range(100)):
        assert limit.update(s, False) == ()
    assert [bool(limit.update(s)) for s in sequence({MU: 0.9} for _ in range(4))] == [False, False, False, True]


def test_reset_begins_anew_and_finds_again_what_is_still_true() -> None:
    limit = HardLimit(FRICTION)
    run(limit, [0.3] * 4)
    limit.reset()
    assert limit.standing == ()
    assert [index for index, _ in run(limit, [0.3] * 4)] == [3]


def test_a_slice_without_the_channel_says_nothing() -> None:
    assert HardLimit(FRICTION).update(make(0, {})) == ()
