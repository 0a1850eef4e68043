"""What was seen: any finding's evidence against its limits, what did not speak, and where that stands in time."""

import math
from typing import Any

import pytest
from fake_archive import TRIP_S, seen

from scuffboard import run_evidence
from scuffwatch.detect import scuffing_says
from scuffwatch.detect.bursts import BurstParams, BurstRate
from scuffwatch.detect.other_kinds import Kind, Seen
from scuffwatch.model.event import Event, EventKind
from scuffwatch.model.finding import Level
from scuffwatch.service.jsons import finding_json

ALL = ("friction_force_n", "motor_current_a", "sound_level_db", "pin_temperature_degc")


def event(kind: EventKind, data: dict[str, Any], t_s: float = 0.0) -> Event:
    return Event(1, kind, t_s, t_s, 1_773_318_485.0 + t_s, "run", "", "", data)


def as_events(findings: list[dict[str, Any]]) -> list[Event]:
    return [event(EventKind.FINDING, finding, finding["t_rig_s"]) for finding in findings]


def test_a_value_stands_against_its_limit_also_where_both_are_below_zero() -> None:
    item = run_evidence.item_view({"name": "sound_change_db", "value": -7.0, "limit": 6.0, "unit": "dB"})
    assert (item["label"], item["kind"], item["value"], item["limit"]) == (
        "Change of sound level", "acoustic", "−7.00\u00a0dB", "6.00\u00a0dB",
    )  # fmt: skip
    assert item["share"] == pytest.approx(7 / 6, abs=1e-3)
    assert item["bar"] == pytest.approx(100 * 7 / 6, abs=0.1)


def test_a_ratio_to_usual_counts_from_usual_on() -> None:
    rise = {"name": "friction_rise_ratio", "value": 1.2, "limit": 1.44, "unit": ""}
    made = run_evidence.item_view(rise)
    assert (made["share"], made["times"]) == (0.5, "0.50\u00a0× the rise")
    assert run_evidence.item_view({**rise, "value": 0.9})["share"] == 0.0
    assert run_evidence.item_view({**rise, "value": 0.0})["share"] is None


@pytest.mark.parametrize(("value", "limit"), [(3.0, None), (3.0, 0.0), (None, 2.0), (3.0, math.nan)])
def test_without_a_value_or_a_limit_there_is_no_share_and_no_bar(value: float | None, limit: float | None) -> None:
    item = run_evidence.item_view({"name": "x_n", "value": value, "limit": limit, "unit": "N"})
    assert (item["share"], item["bar"], item["times"]) == (None, 0.0, "no limit")


def test_a_bar_never_leaves_its_place() -> None:
    assert run_evidence.item_view({"name": "x_n", "value": 1e6, "limit": 1.0, "unit": "N"})["bar"] == 200.0


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("rig_box_latched_s", "Rig box latched"),
        ("friction_coefficient", "Friction coefficient"),
        ("fan_speed_rpm", "Fan speed"),
    ],
)
def test_evidence_nobody_has_heard_of_is_shown_in_words(name: str, label: str) -> None:
    assert run_evidence.label_of(name) == label


def burst_rate() -> BurstRate:
    """Give a rate of three bursts at once."""
    rate = BurstRate(BurstParams())
    for _ in range(3):
        rate.add()
    return rate


def test_every_kind_the_scuffing_detector_can_bring_has_words_and_a_kind() -> None:
    others = [Seen(kind, 2.0, 1.0) for kind in Kind]
    rise, beyond = scuffing_says.Rise(True, 0.9, 0.5), scuffing_says.Beyond(0.06, 0.05)
    made = (
        scuffing_says.rise_finding(5.0, Level.TRIP, rise, others),
        scuffing_says.rise_finding(5.0, Level.TRIP, beyond, others),
        scuffing_says.bursts_finding(5.0, burst_rate(), rise, others),
    )
    items = [run_evidence.item_view(item) for one in made for item in finding_json(one)["evidence"]]
    assert {item["kind"] for item in items} == {"mechanical", "acoustic", "variability", "thermal"}
    assert {item["name"] for item in items} <= set(run_evidence.LABELS)


def test_what_did_not_speak_is_told_from_what_could_not() -> None:
    warning, trip = run_evidence.view(as_events(seen()), ALL, 0.0, 0.0)
    assert (warning["mark"], trip["mark"]) == ("W", "T")
    assert warning["silent"] == ["Variability: did not speak", "Thermal: did not speak"]
    assert trip["silent"] == ["Variability: did not speak"]
    blind = run_evidence.view(as_events(seen()), ("friction_force_n",), 0.0, 0.0)[0]
    assert blind["silent"] == ["Variability: did not speak", "Thermal: no channel, blind to it"]


def test_other_causes_are_ruled_out_only_where_they_had_not_been_found() -> None:
    stall = {"kind": "stall", "level": "trip", "t_rig_s": TRIP_S - 3.0, "evidence": [], "says": "Stall."}
    _, last = run_evidence.view(as_events(seen()), ALL, 0.0, 0.0)
    assert last["rivals"].startswith("Not found in the 10\u00a0s before: stall, jam, ")
    *_, last = run_evidence.view(as_events([*seen(), stall]), ALL, 0.0, 0.0)
    assert "stall" not in last["rivals"]
    assert "jam" in last["rivals"]


def test_what_is_not_seen_at_the_contact_rules_nothing_out() -> None:
    fault = {"kind": "sensor_fault", "level": "trip", "t_rig_s": 3.0, "evidence": [], "says": "Sensor fault."}
    (row,) = run_evidence.view(as_events([fault]), ALL, 0.0, 0.0)
    assert (row["rivals"], row["silent"], row["items"]) == ("", [], [])


def test_a_trip_by_an_input_is_listed_once_and_a_trip_by_a_detector_not_twice() -> None:
    lock = {"kind": "interlock", "level": "trip", "t_rig_s": 7.0, "evidence": [], "says": "Guard open."}
    trip = seen()[1]
    trips = [event(EventKind.TRIPPED, {"finding": raw}, raw["t_rig_s"]) for raw in (trip, lock)]
    events = [*as_events(seen()), *trips]
    assert [raw["says"] for raw in run_evidence.found(events)] == ["Guard open.", *(f["says"] for f in seen())]


def test_rubbish_in_an_event_is_passed_over() -> None:
    rubbish: list[dict[str, Any]] = [
        {},
        {"level": "trip"},
        {"level": "odd", "t_rig_s": 1.0},
        {"level": "warn", "t_rig_s": None},
    ]
    assert run_evidence.view([event(EventKind.FINDING, data) for data in rubbish], ALL, 0.0, 0.0) == []


def test_each_kind_is_one_row_over_time_with_its_largest_share() -> None:
    rows = run_evidence.plot_rows(run_evidence.view(as_events(seen()), ALL, 0.0, 0.0))
    kinds = ["mechanical", "acoustic", "variability", "thermal"]
    assert [row["name"] for row in rows] == [f"evidence {kind}" for kind in kinds]
    assert rows[0]["points"] == [[TRIP_S - 40.0, 1.481, "W"], [TRIP_S, 2.113, "T"]]  # ln 1.31 / ln 1.2, ln 2.7 / ln 1.6
    assert rows[3]["high"] == 3.0  # 1.9 against 0.8 does not fit under twice the limit
