"""The uplink's silence is an alarm at the rig: files as the uplink writes them, and as a dead one leaves them."""

import json
from pathlib import Path

import pytest
from co_rig import CoRig

from scuffwatch.model.alarm import AlarmState
from scuffwatch.model.event import EventKind
from scuffwatch.service.uplink_watch import OLD_S, UplinkWatch, judge
from scuffwatch.uplink import status as uplink_status
from scuffwatch.uplink.alerts import ChannelState

NOW_S = 5_000.0
ALARM = "alert_channels"


def written(folder: Path, t_boot_s: float, channels: tuple[ChannelState, ...] = ()) -> None:
    """Write the status as the uplink does, by the uplink's own words."""
    status = uplink_status.Status("rig 2", 0.0, t_boot_s, 0.0, 0.0, None, None, channels, {})
    uplink_status.write(status, folder / "uplink")


def failing() -> ChannelState:
    return ChannelState(name="mail", failing=True, overdue=False, waiting=1, proved_utc_s=0.0, says="refused")


def look(folder: Path) -> str:
    watch = UplinkWatch(folder, lambda: NOW_S)
    watch.look()
    return watch.says


def test_the_limit_is_the_uplinks_own() -> None:
    assert OLD_S == uplink_status.OLD_S


def test_without_a_file_no_uplink_is_meant_to_run(tmp_path: Path) -> None:
    assert look(tmp_path) == ""


def test_a_living_uplink_is_no_alarm(tmp_path: Path) -> None:
    written(tmp_path, NOW_S - 1.5)
    assert look(tmp_path) == ""


def test_channels_that_reach_nobody_say_so_in_the_uplinks_words(tmp_path: Path) -> None:
    written(tmp_path, NOW_S - 1.5, (failing(),))
    assert look(tmp_path) == "No alert channel is known to work. mail: refused."


def test_a_dead_uplink_is_told_by_the_age_of_its_status(tmp_path: Path) -> None:
    written(tmp_path, NOW_S - 42.0)
    assert look(tmp_path) == (
        "The uplink has said nothing for 42 s, limit 10 s: no alert goes out. Start it again or stop it by order."
    )


def test_a_status_from_before_the_last_start_of_the_computer_is_a_dead_uplinks(tmp_path: Path) -> None:
    written(tmp_path, NOW_S + 900.0)
    assert look(tmp_path).startswith("The uplink has said nothing since this computer started")


RUBBISH = (
    *("", "{", "[]", "{}", "nan", '{"t_boot_s": "x"}', '{"t_boot_s": 1.0, "alerts": null}'),
    pytest.param('{"t_boot_s": ' + "9" * 401 + ', "alerts": {"silent": false, "says": ""}}', id="401 digits"),
    pytest.param("[" * 100_000, id="100,000 brackets"),
)


@pytest.mark.parametrize("text", RUBBISH)
def test_rubbish_is_an_alarm_and_no_fault(text: str) -> None:
    assert judge(text, NOW_S) == "The uplink's status cannot be read, so alerts may not go out. Restart the uplink."


def test_a_file_that_cannot_be_read_is_an_alarm(tmp_path: Path) -> None:
    (tmp_path / "uplink" / "status.json").mkdir(parents=True)
    assert look(tmp_path).startswith("The uplink's status cannot be read, so alerts may not go out:")


def test_silence_without_a_reason_is_silence_too() -> None:
    text = json.dumps({"t_boot_s": NOW_S, "alerts": {"silent": True, "says": ""}})
    assert judge(text, NOW_S) == "No alert channel is known to work."


def test_a_look_that_does_not_come_back_is_an_alarm(tmp_path: Path) -> None:
    """On a disk that hangs, and where the thread has died, the last word must not stand for ever."""
    now_s = [NOW_S]
    watch = UplinkWatch(tmp_path, lambda: now_s[0])
    watch.look()
    now_s[0] += 15.0
    assert watch.says == ""
    now_s[0] += 1.0
    assert watch.says == (
        "The uplink's status has not been read for 16 s, limit 15 s: alerts may not go out. "
        "Look at the disk, then restart the core."
    )
    watch.look()
    assert watch.says == ""


def test_unknown_keys_do_no_harm() -> None:
    text = json.dumps({"t_boot_s": NOW_S, "alerts": {"silent": False, "says": "", "more": 1}, "more": []})
    assert judge(text, NOW_S) == ""


@pytest.mark.slow
def test_the_alarm_comes_after_a_minute_is_recorded_and_its_condition_goes_by_itself() -> None:
    rig = CoRig()
    rig.permit()
    rig.core.alerts_silent = lambda: "No alert channel is known to work."
    rig.wait(55.0)
    assert rig.core.alarms.book.records[ALARM].state is AlarmState.NORMAL
    rig.wait(10.0)
    record = rig.core.alarms.book.records[ALARM]
    assert record.state is AlarmState.UNACKNOWLEDGED
    assert record.says == "No alert channel is known to work."
    assert said(rig) == ["Alarm Alerts silent: normal to unacknowledged (cause present)."]
    assert rig.permitted
    rig.core.alerts_silent = lambda: ""
    rig.wait(65.0)
    assert rig.core.alarms.book.records[ALARM].state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert len(said(rig)) == 2


def said(rig: CoRig) -> list[str]:
    """Give what the record holds about the alarm."""
    return [event.says for event in rig.events(EventKind.ALARM) if event.data["key"] == ALARM]
