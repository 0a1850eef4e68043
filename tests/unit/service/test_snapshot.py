"""The live picture a real core makes is the one the pages were promised, before, during and after a run."""

import json
from typing import Any

from co_rig import CoRig

from scuffwatch.control.snapshot import check
from scuffwatch.guard.alarm_table import PERMIT_FAILED_TO_OPEN
from scuffwatch.service import snapshot
from scuffwatch.store.recorder import RecorderStatus

STORE = RecorderStatus(0.0, 0, 0, 0, "", 10**9, False, False, 0)


def picture(rig: CoRig) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(snapshot.build(rig.core, STORE, rig.now))
    assert check(made) == []
    return made


def test_the_picture_keeps_its_promise_in_every_state() -> None:
    rig = CoRig()
    assert picture(rig)["link"]["node_permit"] is None
    rig.run_motor()
    rig.wait(8.0)
    running = picture(rig)
    assert running["permit"]["first_out"] is None
    assert running["run"]["stage"] == 1
    rig.machine.set_input("guard", False)
    rig.wait(12.0)
    tripped = picture(rig)
    assert tripped["permit"]["first_out"]["says"] == "Guard open."
    assert tripped["permit"]["first_out"]["alarm"] in {alarm["key"] for alarm in tripped["alarms"]}
    assert PERMIT_FAILED_TO_OPEN not in {alarm["key"] for alarm in tripped["alarms"]}
    rig.machine.cable_pulled = True
    rig.wait(1.0)
    assert all(channel["value"] is None for channel in picture(rig)["channels"].values())


def test_a_tripped_run_stands_where_it_tripped_though_the_weights_come_off() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.wait(10.0)
    rig.machine.set_input("guard", False)
    rig.wait(0.2)
    at_once = picture(rig)["run"]
    rig.wait(12.0)
    assert rig.core.chain.bank.stage.number == 0, "the operator has lifted the weights"
    later = picture(rig)["run"]
    assert (later["stage"], later["stage_elapsed_s"]) == (at_once["stage"], at_once["stage_elapsed_s"]) != (0, None)


def test_the_picture_tells_how_near_the_evidence_is_and_that_nothing_is_known_once_the_link_has_gone() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.wait(0.1)
    rows = picture(rig)["nearness"]
    assert {row["state"] for row in rows} == {"not sliding"}
    assert all(row["value"] is None and row["share"] is None for row in rows)
    rig.wait(8.0)
    running = picture(rig)["nearness"]
    assert [row["name"] for row in running] == [near.name for near in rig.core.chain.bank.nearness]
    assert "known" in {row["state"] for row in running}
    assert "burst_count" in {row["name"] for row in running if row["state"] == "learning"}
    rig.machine.cable_pulled = True
    rig.wait(1.0)
    silent = picture(rig)["nearness"]
    assert {(row["value"], row["share"], row["state"]) for row in silent} == {(None, None, "stale")}


def test_an_alarm_that_no_reading_raised_says_since_when_and_goes_on_saying_it() -> None:
    rig = CoRig()
    rig.run_motor()
    rig.core.alerts_silent = lambda: "No alert channel is known to work."
    rig.wait(61.0)
    since = _since_utc_s(rig)
    assert rig.now.t_wall_utc_s - 2.0 <= since <= rig.now.t_wall_utc_s, "60 s of on-delay"
    rig.wait(5.0)
    assert _since_utc_s(rig) == since


def _since_utc_s(rig: CoRig) -> float:
    rows = [alarm for alarm in picture(rig)["alarms"] if alarm["short_name"] == "Alerts silent"]
    since_utc_s: float = rows[0]["since_utc_s"]
    return since_utc_s


def test_permitted_since_stays_where_it_was_when_the_wall_clock_steps() -> None:
    rig = CoRig()
    rig.run_motor()
    since = picture(rig)["permit"]["since_utc_s"]
    rig.wall_shift_s = 30.0
    rig.wait(1.0)
    assert picture(rig)["permit"]["since_utc_s"] == since
