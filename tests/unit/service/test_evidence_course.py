"""The course of the evidence: a minute, on a grid, of a fixed size; in the event of a finding and nowhere else."""

import json
import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from recorded_rig import RecordedRig

from scuffwatch.control.commands import CloseRun
from scuffwatch.detect.bank import Bank
from scuffwatch.detect.nearness import Known, Near
from scuffwatch.model.block import Slice
from scuffwatch.model.event import EventKind
from scuffwatch.model.finding import Finding, FindingKind, Level
from scuffwatch.service.evidence_course import EVERY_S, SAMPLES, EvidenceCourse
from scuffwatch.service.jsons import finding_json
from scuffwatch.store.reader import Archive
from scuffwatch.store.text import to_json
from scuffwatch.store.verify import verify_journal, verify_run

NAMES = (
    "friction_rise_ratio",
    "burst_count",
    "once_per_turn_ratio",
    "sound_change_db",
    "unrest_ratio",
    "pin_heating_k_s",
)
BOUND_BYTES = 4096


def finding(kind: FindingKind = FindingKind.SCUFFING_ONSET) -> Finding:
    return Finding(kind, Level.WARN, 1.0, (), (), "Scuffing may begin.")


def piece(t_rig_s: float, epoch: int = 0) -> Slice:
    return Slice(epoch, 0, t_rig_s, 0.01, 0.0, 0, {})


def showing(**shares: float) -> Bank:
    """Give a stand-in for a bank that shows these shares; NaN where not known."""
    near = tuple(
        Near(name, share, 1.0, "", share, Known.LEARNING if math.isnan(share) else Known.KNOWN)
        for name, share in shares.items()
    )
    return cast(Bank, SimpleNamespace(nearness=near))


def told(course: EvidenceCourse) -> dict[str, Any]:
    made = course.told_with(finding())["course"]
    assert isinstance(made, dict)
    return made


def test_two_rows_a_second_and_the_last_minute_of_them() -> None:
    course = EvidenceCourse()
    for k in range(10_000):
        course.follow(piece(k / 100.0), showing(unrest_ratio=k // 50 / 100.0))
    made = told(course)
    percents = made["share_percent"]["unrest_ratio"]
    assert (made["every_s"], len(percents)) == (EVERY_S, SAMPLES)
    assert made["t_end_rig_s"] == pytest.approx(99.5)
    assert percents == list(range(200 - SAMPLES, 200))


def test_what_is_not_known_is_null_and_a_hole_keeps_the_grid() -> None:
    course = EvidenceCourse()
    course.follow(piece(1.0), showing(unrest_ratio=0.2, sound_change_db=math.nan))
    course.follow(piece(1.3), showing(unrest_ratio=0.9))
    course.follow(piece(1.5), showing(unrest_ratio=0.3, sound_change_db=0.5))
    course.follow(piece(3.2), showing(unrest_ratio=0.4))
    made = told(course)
    assert made["share_percent"] == {
        "unrest_ratio": [20, 30, None, None, 40],
        "sound_change_db": [None, 50, None, None, None],
    }
    assert made["t_end_rig_s"] == 3.0


def test_another_epoch_begins_anew_and_a_hole_of_hours_is_bounded() -> None:
    course = EvidenceCourse()
    for t_rig_s in (5_000.0, 90_000.0):
        course.follow(piece(t_rig_s), showing(unrest_ratio=0.2))
    assert len(told(course)["share_percent"]["unrest_ratio"]) == SAMPLES
    course.follow(piece(3.0, epoch=1), showing(unrest_ratio=0.1))
    assert (told(course)["share_percent"], told(course)["t_end_rig_s"]) == ({"unrest_ratio": [10]}, 3.0)


@pytest.mark.parametrize("share", [9e9, 9.99, 0.0])
def test_an_event_grows_by_less_than_4_kb_whatever_happens(share: float) -> None:
    course = EvidenceCourse()
    for k in range(2 * SAMPLES):  # friction and torque take turns, every other value is not known
        names = [("torque_rise_ratio" if k % 2 else NAMES[0]), *NAMES[1:]]
        values = {name: math.nan if (k + i) % 3 == 0 else share for i, name in enumerate(names)}
        course.follow(piece(0.5 * k), showing(**values))
    with_course = finding_json(finding()) | course.told_with(finding())
    assert len(to_json(with_course)) - len(to_json(finding_json(finding()))) < BOUND_BYTES


def test_it_is_told_with_findings_of_the_contact_alone_and_never_empty() -> None:
    course = EvidenceCourse()
    course.follow(piece(0.0), showing())
    assert course.told_with(finding()) == {}
    course.follow(piece(1.0), showing(unrest_ratio=0.1))
    kinds = {kind for kind in FindingKind if course.told_with(finding(kind))}
    assert kinds == {FindingKind.SCUFFING_ONSET, FindingKind.STICK_SLIP}


@pytest.mark.slow
def test_the_record_of_a_scuffing_holds_its_course_and_stays_whole(data_dir: Path) -> None:
    with RecordedRig(data_dir, "scuffing-sudden") as rig:
        rig.run_motor()
        name = rig.core.runs.name
        assert rig.until(lambda: not rig.permitted, 200.0)
        assert rig.core.guard.first_out.kind is FindingKind.SCUFFING_ONSET
        assert rig.tell(CloseRun()).ok
        assert rig.close()
    assert verify_run(data_dir, name).findings == ()
    assert verify_journal(data_dir).findings == ()
    with Archive(data_dir).open_run(name) as reader:
        events = list(reader.events())
        (trip,) = reader.trips()
    scuffing = [e for e in events if e.kind is EventKind.FINDING and e.data["kind"] == "scuffing_onset"]
    assert trip.first_out.kind is FindingKind.SCUFFING_ONSET
    assert [e for e in events if "course" in e.data] == scuffing
    course = cast(dict[str, Any], scuffing[-1].data["course"])
    assert set(course["share_percent"]) <= set(NAMES)
    assert 0.0 <= trip.first_out.t_rig_s - course["t_end_rig_s"] < EVERY_S
    assert max(p for p in course["share_percent"]["friction_rise_ratio"] if p is not None) >= 0
    assert len(json.dumps(course)) < 1.5 * BOUND_BYTES
