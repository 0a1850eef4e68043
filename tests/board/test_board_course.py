"""The course of the evidence on the run page: lines over time, out of whatever an event holds."""

from typing import Any

import pytest
from fake_archive import TRIP_S, seen
from test_board_evidence import as_events

from scuffboard import run_course, run_evidence

COURSE = {"every_s": 0.5, "t_end_rig_s": 10.0, "share_percent": {"unrest_ratio": [None, 20, 150]}}


def test_values_stand_at_their_times_as_shares_and_what_was_not_known_stays_open() -> None:
    assert run_course.points_of(COURSE) == {"unrest_ratio": [[9.0, None], [9.5, 0.2], [10.0, 1.5]]}


@pytest.mark.parametrize(
    "rubbish",
    [
        None, [], "course", {}, {**COURSE, "every_s": None}, {**COURSE, "t_end_rig_s": "soon"},
        {**COURSE, "share_percent": [1]}, {**COURSE, "share_percent": {"x": "y"}},
        {**COURSE, "share_percent": {"x": [0] * 5_000}},
    ],
)  # fmt: skip
def test_what_is_not_understood_is_left_out(rubbish: object) -> None:
    assert run_course.points_of(rubbish) == {}


def test_values_that_are_no_numbers_leave_a_gap_and_too_high_ones_are_cut() -> None:
    odd: dict[str, Any] = {**COURSE, "share_percent": {"x": [True, "5", -3, 999]}}
    assert [share for _, share in run_course.points_of(odd)["x"]] == [None, None, 0.0, run_course.SHOWN_MOST]


def test_courses_that_overlap_become_one_line_and_others_break_it() -> None:
    first = {"x": [[1.0, 0.1], [1.5, 0.2]]}
    touching, later = {"x": [[1.5, 0.9], [2.0, 0.3]]}, {"x": [[9.0, 0.4], [9.5, 0.5]], "y": [[9.5, 0.1]]}
    assert run_course.merged([first, touching, later]) == {
        "x": [[1.0, 0.1], [1.5, 0.2], [2.0, 0.3], [2.0, None], [9.0, 0.4], [9.5, 0.5]],
        "y": [[9.5, 0.1]],
    }


def test_each_row_has_a_line_a_kind_also_where_the_kind_never_spoke() -> None:
    rows = {row["name"]: row for row in run_evidence.plot_rows(run_evidence.view(as_events(seen()), (), 0.0, 0.0))}
    assert [line["label"] for line in rows["evidence mechanical"]["lines"]] == [
        "Friction against usual", "Short friction bursts",
    ]  # fmt: skip
    silent = rows["evidence variability"]
    assert silent["points"] == []
    assert silent["trip"] == 1.0
    times_s = [t_s for t_s, _ in silent["lines"][0]["points"]]
    assert times_s == sorted(times_s)
    assert TRIP_S - 1.0 < times_s[-1] <= TRIP_S


def test_a_record_from_before_the_courses_were_kept_shows_its_points_alone() -> None:
    old = [{key: value for key, value in finding.items() if key != "course"} for finding in seen()]
    rows = run_evidence.plot_rows(run_evidence.view(as_events(old), (), 0.0, 0.0))
    assert [row["name"] for row in rows] == ["evidence mechanical", "evidence acoustic", "evidence thermal"]
    assert all(row["lines"] == [] and row["points"] for row in rows)
