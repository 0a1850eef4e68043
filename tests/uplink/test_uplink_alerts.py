"""People are told: once a root cause, within seconds, until somebody answers, and never "delivered" before it is."""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from mailbox import Mailbox, WebHook, alerts, body, channel
from pathlib import Path
from typing import Any

import pytest
from crash_feed import Bench as Feed
from crash_feed import event, opened
from servers import wait_for
from stand_in_core import StandInCore

from scuffwatch.model.event import ClockTriple, EventKind
from scuffwatch.store.reader import Archive
from scuffwatch.uplink.alert_book import AlertBook
from scuffwatch.uplink.alert_rules import after_quiet, causes_of, due_utc_s
from scuffwatch.uplink.alert_send import LogWay, Way
from scuffwatch.uplink.alerts import AlertDesk, Courier, silent
from scuffwatch.uplink.apprise_way import AppriseWay
from scuffwatch.uplink.pictures import Pictures
from scuffwatch.uplink.settings import Alerts, Channel

ALERT_WITHIN_S = 5.0


class Calling:
    """An alert desk with its couriers, over a folder with a stand-in core."""

    def __init__(self, folder: Path, ways: dict[str, tuple[Channel, Way]], given: Alerts, boot: str = "boot") -> None:
        self.book = AlertBook(folder / "uplink" / "alerts.sqlite", timeout_s=0.2)
        self.pictures = Pictures(folder / "live.sock")
        settings = {name: one for name, (one, _) in ways.items()}
        self.desk = AlertDesk("rig 2", given, settings, self.pictures, Archive(folder), self.book, boot)
        self.couriers = [Courier(name, way, self.book, given) for name, (_, way) in ways.items()]
        work = [self.desk.run, *(courier.run for courier in self.couriers)]
        self._threads = [threading.Thread(target=each, name="alert test") for each in work]

    def __enter__(self) -> "Calling":
        self.pictures.start()
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.desk.stop()
        for courier in self.couriers:
            courier.stop()
        for thread in self._threads:
            thread.join()
        self.pictures.close()
        self.book.close()


@contextmanager
def calling(folder: Path, box: Mailbox, given: Alerts | None = None, **changes: Any) -> Iterator[Calling]:
    """Give alerts that go to one mailbox."""
    one = channel(**({"repeat_s": 0} | changes))
    with Calling(folder, {"mail": (one, AppriseWay(box.url, 2.0))}, given or alerts()) as made:
        yield made


def test_a_trip_is_in_the_mailbox_within_seconds_with_all_a_person_needs(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir) as core, calling(data_dir, box):
        time.sleep(0.5)
        core.script.state = "tripped"
        begun_s = time.monotonic()
        wait_for("the mail", lambda: bool(box.mails))
        assert box.mails[0][0] - begun_s < ALERT_WITHIN_S
        wait_for("the other mail", lambda: len(box.mails) == 2)
        time.sleep(1.0)
    assert len(box.mails) == 2  # the trip, and the disk half a minute later; the third alarm was acknowledged before
    trip = next(mail for _, mail in box.mails if "TRIP" in str(mail["Subject"]))
    assert trip["Subject"] == "rig 2: TRIP: Scuffing onset: friction 0.265, limit 0.250, and sound +13 dB."
    text = body(trip)
    for part in (
        "Run 2026-03-12-rig2-01 (test, HEES-46, 4 % by volume), stage 9 of 12.",
        "friction coefficient 0.265, limit 0.25 at the trip",
        "motor current 0.00 A, trip limit 8.00 A, now",
        "Motor current high: 8.4 A, limit 8.0 A.",
        "What to do first: Let the ring stop. Lift the weights.",
        "Recorded: yes.",
        "courtesy, not protection",
    ):
        assert part in text, part
    (image,) = [part for part in trip.iter_attachments() if part.get_filename()]
    png = image.get_content()
    assert png.startswith(b"\x89PNG")
    assert len(png) < 20_000


def test_a_restart_of_the_uplink_tells_nothing_twice(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir, "tripped"):
        for _ in range(3):
            with calling(data_dir, box, priorities="T"):
                wait_for("the mail", lambda: len(box.mails) >= 1)
                time.sleep(0.5)
    assert len(box.mails) == 1


def test_a_start_up_a_stop_request_and_a_follower_call_nobody(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir, "before"), calling(data_dir, box):
        time.sleep(4.0)
    assert box.mails == []


def test_a_warning_that_becomes_a_trip_is_one_message(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir, "warning") as core, calling(data_dir, box):
        time.sleep(1.0)
        core.script.state = "tripped"
        core.script.change = lambda s: s.update(alarms=s["alarms"][:1])
        wait_for("the mail", lambda: bool(box.mails))
        time.sleep(4.0)
    assert [subject.split(":")[1].strip() for subject in box.subjects()] == ["TRIP"]


def test_it_goes_on_until_somebody_acknowledges_and_then_stops(data_dir: Path) -> None:
    with Mailbox() as box, Mailbox() as chief, StandInCore(data_dir, "tripped") as core:
        ways: dict[str, tuple[Channel, Way]] = {
            "mail": (channel(repeat_s=1, repeats=5, priorities="T"), AppriseWay(box.url, 2.0)),
            "chief": (channel(after_s=2, repeat_s=0, priorities="T"), AppriseWay(chief.url, 2.0)),
        }
        with Calling(data_dir, ways, alerts()) as made:
            wait_for("the chief", lambda: bool(chief.mails))
            wait_for("a repeat", lambda: len(box.mails) >= 2)
            core.script.state = "acknowledged"
            trip = next(alert for alert in made.book.open_alerts() if alert.startswith("trip/"))
            wait_for("the answer", lambda: made.book.acknowledged(trip))
            told = len(box.mails)
            time.sleep(2.5)
            assert len(box.mails) <= told + 1
            assert {why for _, _, _, sent, why in made.book.deliveries() if sent is None} == {"acknowledged"}
    assert box.subjects()[1].endswith("(message 2)")


def test_who_answers_in_time_spares_the_chief(data_dir: Path) -> None:
    with Mailbox() as chief, StandInCore(data_dir, "tripped") as core:
        one = channel(after_s=3, repeat_s=0, priorities="T")
        with Calling(data_dir, {"chief": (one, AppriseWay(chief.url, 2.0))}, alerts()) as made:
            wait_for("the entry", lambda: bool(made.book.open_alerts()))
            core.script.state = "acknowledged"
            time.sleep(4.0)
    assert chief.mails == []


def test_refused_is_not_delivered_and_a_dead_channel_holds_no_other_up(data_dir: Path) -> None:
    with Mailbox() as box, WebHook() as hook, StandInCore(data_dir, "tripped"):
        box.answer = "451 Try again later"
        ways: dict[str, tuple[Channel, Way]] = {
            "mail": (channel(repeat_s=0, priorities="T"), AppriseWay(box.url, 2.0)),
            "hook": (channel(repeat_s=0, priorities="T"), AppriseWay(hook.url, 2.0)),
        }
        with Calling(data_dir, ways, alerts()) as made:
            wait_for("the hook", lambda: bool(hook.got))
            wait_for("the failure", lambda: made.couriers[0].state().failing)
            states = {courier.name: courier.state() for courier in made.couriers}
            assert (states["mail"].waiting, states["hook"].waiting) == (1, 0)
            assert silent(list(states.values())) == ""
            box.answer = ""
            wait_for("the mail", lambda: bool(box.mails))
            wait_for("the entry", lambda: not made.couriers[0].state().failing)
            wait_for("the account", lambda: made.couriers[0].state().waiting == 0)
    assert hook.got[0]["title"].startswith("rig 2: TRIP")


def test_a_channel_that_hangs_is_given_up_in_time(data_dir: Path) -> None:
    with WebHook() as hook:
        hook.hang_s = 2.0
        begun_s = time.monotonic()
        from scuffwatch.uplink.alert_text import trial

        assert AppriseWay(hook.url, 0.5).send(trial("rig 2", "hook"), b"", 0.0)
        assert time.monotonic() - begun_s < 2.0


def test_no_channel_that_works_is_told_at_the_rig(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir, "tripped"):
        box.answer = "554 No"
        with calling(data_dir, box) as made:
            wait_for("silence", lambda: bool(silent([courier.state() for courier in made.couriers])))
            says = silent([courier.state() for courier in made.couriers])
            assert says.startswith("No alert channel is known to work. mail: ")
            box.answer = ""
            wait_for("the way back", lambda: not silent([courier.state() for courier in made.couriers]), 30.0)


def test_a_channel_never_proved_counts_as_silent(data_dir: Path) -> None:
    book = AlertBook(data_dir / "alerts.sqlite")
    courier = Courier("mail", LogWay(data_dir / "mail.log"), book, alerts(test_every_days=31))
    assert "not proved, run scuffwatch alert --test" in silent([courier.state()])
    book.prove("mail", time.time() - 32 * 86_400, "")
    assert silent([courier.state()])
    book.prove("mail", time.time(), "")
    assert silent([courier.state()]) == ""
    book.close()


def test_a_trip_with_a_dead_disk_still_calls_and_says_not_recorded(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir) as core, calling(data_dir, box, priorities="T") as made:
        time.sleep(0.3)
        core.script.change = lambda s: (
            s["store"].update(error="no space left on the disk."),
            s["permit"].update(recorded=False),
        )
        other = sqlite3.connect(data_dir / "uplink" / "alerts.sqlite", isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")  # to the book as good as a disk that takes nothing
        core.script.state = "tripped"
        begun_s = time.monotonic()
        wait_for("the mail", lambda: bool(box.mails))
        assert time.monotonic() - begun_s < ALERT_WITHIN_S
        assert "kept in memory" in made.book.problem
        other.close()
    assert "NOT RECORDED: no space left on the disk." in body(box.mails[0][1])


def test_a_trip_not_committed_in_time_is_told_without_waiting(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir, "unrecorded"), calling(data_dir, box, priorities="T"):
        wait_for("the mail", lambda: bool(box.mails))
    assert "NOT RECORDED yet" in body(box.mails[0][1])


def test_a_silent_core_is_told_and_one_that_was_stopped_by_order_is_not(data_dir: Path) -> None:
    with Mailbox() as box, StandInCore(data_dir) as core, calling(data_dir, box):
        time.sleep(0.5)
        core.frozen = True
        wait_for("the mail", lambda: bool(box.mails))
        assert box.subjects() == ["rig 2: the core is silent"]
        core.frozen = False
        time.sleep(0.5)
        feed = Feed(data_dir).start()
        feed.offer(event(1, "Core ends with code 0; motor permit withdrawn.", run="", kind=EventKind.CORE_STOPPED))
        feed.finish()
        core.frozen = True
        time.sleep(2.5)
        assert len(box.mails) == 1


@pytest.mark.parametrize(
    ("now_degc", "says"),
    [(35.0, "Nobody need come for this tonight."), (80.0, "Somebody should come: pin temperature")],
)
def test_one_message_after_a_power_cut(data_dir: Path, now_degc: float, says: str) -> None:
    feed = Feed(data_dir).start()
    at = time.time()
    feed.wall.now_s = at
    run = opened(0.0)
    from dataclasses import replace

    feed.offer(event(1), replace(run, t_wall_utc_s=at), ClockTriple(0, 0.0, 0.0, at, "an earlier boot"))
    feed.feed(0.0, 5.0)
    feed.turn(2.0)
    feed.writer.give_back()
    Feed(data_dir).start().finish()
    (cut,) = Archive(data_dir).runs()
    assert cut.outcome is not None
    assert cut.outcome.value == "ended by power loss"

    def shown(snapshot: dict[str, Any]) -> None:
        snapshot["channels"]["pin_temperature_degc"]["value"] = now_degc
        snapshot["core_started_utc_s"] = at

    with Mailbox() as box, StandInCore(data_dir, "before") as core:
        core.script.change = shown
        for _ in range(2):
            with calling(data_dir, box):
                wait_for("the mail", lambda: bool(box.mails))
                time.sleep(0.5)
    assert box.subjects() == ["rig 2: back after a power cut"]
    text = body(box.mails[0][1])
    for part in (f"Run {cut.name} was ended by it", "The computer was without power", "The motor cannot start", says):
        assert part in text
    assert f"{now_degc:.1f} °C now" in text


def at_clock(clock: str) -> float:
    """Give a local time of an ordinary day, s UTC."""
    return datetime.fromisoformat(f"2026-03-12T{clock}:00").astimezone().timestamp()


@pytest.mark.parametrize(
    ("priority", "clock", "until"),
    [
        ("N", "23:30", "+06:00"), ("N", "05:59", "06:00"), ("N", "06:00", "06:00"), ("N", "12:00", "12:00"),
        ("W", "23:30", "23:30"), ("T", "23:30", "23:30"),
    ],
)  # fmt: skip
def test_quiet_hours_hold_back_what_can_wait(priority: str, clock: str, until: str) -> None:
    expected_s = at_clock(until.removeprefix("+")) + (86_400.0 if until.startswith("+") else 0.0)
    assert after_quiet(alerts(), priority, at_clock(clock)) == expected_s


def test_a_trip_knows_no_quiet_hours_whatever_is_set() -> None:
    with pytest.raises(ValueError, match="quiet_priorities"):
        alerts(quiet_priorities="T")
    assert due_utc_s(channel(after_s=60, repeat_s=10, repeats=2), alerts(), "T", 100.0, 2) == 180.0
    assert due_utc_s(channel(repeats=2), alerts(), "T", 100.0, 3) is None
    assert due_utc_s(channel(priorities="WN"), alerts(), "T", 100.0, 0) is None


def test_the_alarm_about_alerts_is_no_cause_for_an_alert(data_dir: Path) -> None:
    from stand_in_core import Script, alarm

    picture = Script("healthy").snapshot()
    picture["alarms"] = [alarm("alert_channels", "Alerts silent", "N", "unacknowledged", "No channel.", "Tell.", 1.0)]
    assert causes_of(picture) == ()
