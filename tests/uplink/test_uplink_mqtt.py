"""State, values, events and alarms on a real broker: schema, order, identity, absence, and what is refused."""

import json
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from crash_feed import Bench as Feed
from crash_feed import event, record
from servers import Mosquitto, Subscriber, wait_for
from stand_in_core import StandInCore

from scuffwatch.model.errors import ConfigError
from scuffwatch.model.event import EventKind
from scuffwatch.store.reader import Archive
from scuffwatch.uplink import messages
from scuffwatch.uplink.ledger import Ledger
from scuffwatch.uplink.mqtt import Publisher
from scuffwatch.uplink.pictures import Pictures
from scuffwatch.uplink.settings import Mqtt, parse, secret

MOSQUITTO_LOOKS_S = 7.0  # 2.0.11 was seen to look for silent clients every few seconds only
GOODBYE = {"v": 1, "rig": "rig 2", "online": False, "why": "stopped"}
SCHEMA = json.loads(messages.SCHEMA.read_text())


def validator(part: str) -> jsonschema.protocols.Validator:
    """Give a validator of one kind of payload."""
    return jsonschema.Draft202012Validator({**SCHEMA, "oneOf": [{"$ref": f"#/$defs/{part}"}]})


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    """Give a broker of its own."""
    server = Mosquitto(tmp_path)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def wall(broker: Mosquitto) -> Iterator[Subscriber]:
    """Give another program that listens."""
    other = Subscriber(broker.port)
    yield other
    other.close()


def settings(port: int, **changes: Any) -> Mqtt:
    """Give settings for a broker on loopback."""
    given = {"host": "127.0.0.1", "port": port, "tls": False, "heartbeat_s": 1, "values_every_s": 0.2, "keepalive_s": 2}
    return Mqtt.model_validate(given | {"timeout_s": 2} | changes)


@contextmanager
def publishing(data_dir: Path, given: Mqtt, rig: str = "rig 2", credentials: str = "rig:oil") -> Iterator[Publisher]:
    """Run a publisher over a folder."""
    ledger = Ledger(data_dir / "uplink" / "mqtt.sqlite", "boot", time.clock_gettime(time.CLOCK_BOOTTIME))
    pictures = Pictures(data_dir / "live.sock")
    publisher = Publisher(given, credentials, rig, Archive(data_dir), ledger, pictures)
    thread = threading.Thread(target=publisher.run, name="mqtt")
    pictures.start()
    thread.start()
    try:
        yield publisher
    finally:
        publisher.stop()
        thread.join()
        pictures.close()
        ledger.close()


def test_every_payload_is_of_the_schema_and_the_state_follows_the_core(
    data_dir: Path, broker: Mosquitto, wall: Subscriber
) -> None:
    record(data_dir, 0.0, 2.0)
    with StandInCore(data_dir) as core, publishing(data_dir, settings(broker.port)):
        wait_for("the permit", lambda: any(s.get("permit") == "permitted" for s in wall.of("rig2/state")))
        wait_for("values", lambda: bool(wall.of("rig2/values")))
        core.script.state = "tripped"
        wait_for("the trip", lambda: wall.of("rig2/state")[-1].get("permit") == "tripped")
        trip = wall.of("rig2/state")[-1]
        assert trip["first_out"].startswith("Scuffing onset: friction 0.265")
        assert [alarm["priority"] for alarm in trip["alarms"]] == ["T", "W", "N"]
        wait_for("all events", lambda: len(wall.of("event")) == len(Archive(data_dir).events()))
        core.frozen = True
        wait_for("silence", lambda: wall.of("rig2/state")[-1].get("core") == "silent", 5.0)
        assert wall.of("rig2/state")[-1]["permit"] is None
    wait_for("goodbye", lambda: wall.of("rig2/state")[-1] == GOODBYE)
    for ending, part in (("state", "state"), ("values", "values"), ("event", "event")):
        for payload in wall.of(ending):
            validator(part).validate(payload)
    ids = [payload["id"] for payload in wall.of("event")]
    assert ids == [f"rig2-{happened.sequence}" for happened in Archive(data_dir).events()]
    assert 0 < wall.expiry_s["scuffwatch/rig2/event"] <= 604800
    assert 0 < wall.expiry_s["scuffwatch/rig2/values"] <= 10
    late = Subscriber(broker.port)
    wait_for("what is retained", lambda: bool(late.of("state")) and bool(late.of("values")))
    assert [topic for topic, _, retained in late.got if retained] == ["scuffwatch/rig2/state", "scuffwatch/rig2/values"]
    late.close()


def test_alarm_transitions_go_with_their_words(data_dir: Path, broker: Mosquitto, wall: Subscriber) -> None:
    feed = Feed(data_dir).start()
    made = event(1, "Alarm stall: normal to unacknowledged (condition true).", kind=EventKind.ALARM)
    made.data.update(key="stall", before="normal", after="unacknowledged")
    feed.offer(made)
    feed.finish()
    with publishing(data_dir, settings(broker.port)):
        wait_for("the alarm", lambda: bool(wall.of("alarm")))
    (told,) = wall.of("alarm")
    validator("alarm").validate(told)
    assert (told["alarm"], told["priority"], told["state"]) == ("stall", "T", "unacknowledged")
    assert told["action"].startswith("Lift the weights.")


def test_an_alarm_with_a_dead_disk_is_told_as_not_recorded(data_dir: Path, broker: Mosquitto, wall: Subscriber) -> None:
    with StandInCore(data_dir, "tripped") as core:
        core.script.change = lambda snapshot: snapshot["store"].update(error="no space left on the disk.")
        with publishing(data_dir, settings(broker.port)):
            wait_for("the alarms", lambda: len(wall.of("alarm")) >= 3)
    told = wall.of("alarm")
    for payload in told:
        validator("alarm").validate(payload)
    assert {payload["recorded"] for payload in told} == {False}
    assert len({payload["id"] for payload in told}) == len(told) == 3


def test_events_of_an_outage_come_later_in_order_each_once(data_dir: Path, broker: Mosquitto, wall: Subscriber) -> None:
    feed = Feed(data_dir).start()
    feed.offer(*(event(number) for number in range(1, 21)))
    feed.settle()
    with publishing(data_dir, settings(broker.port)) as publisher:
        wait_for("the first events", lambda: len(wall.of("event")) == 20)
        broker.signal(signal.SIGSTOP)
        wait_for("the loss to be seen", lambda: not publisher.state.up)
        feed.offer(*(event(number) for number in range(21, 61)))
        feed.settle()
        wait_for("the account", lambda: publisher._ledger.totals().queued == 40)
        broker.signal(signal.SIGCONT)
        wait_for("the rest", lambda: publisher._ledger.totals().queued == 0)
        wait_for("the rest at the other end", lambda: len(wall.of("event")) >= 60)
    numbers = [payload["number"] for payload in wall.of("event")]
    assert list(dict.fromkeys(numbers)) == sorted(set(numbers))
    assert set(numbers) == {happened.sequence for happened in Archive(data_dir).events()}
    feed.finish()


def test_a_killed_uplink_is_told_by_the_broker_and_a_frozen_one_within_its_keepalive(
    data_dir: Path, broker: Mosquitto, wall: Subscriber
) -> None:
    (data_dir / "broker.secret").write_text("rig:oil\n")
    (data_dir / "broker.secret").chmod(0o600)
    (data_dir / "uplink.toml").write_text(
        f'[uplink]\nrig = "rig 2"\nmetrics_port = 0\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\ntls = false\n'
        f'keepalive_s = 2\ncredentials_file = "{data_dir}/broker.secret"\n'
    )
    words = [sys.executable, "-m", "scuffwatch.cli.main", "uplink"]
    words += ["--data", str(data_dir), "--settings", str(data_dir / "uplink.toml")]
    for how, within_s in ((signal.SIGKILL, 1.0), (signal.SIGSTOP, 1.5 * 2 + MOSQUITTO_LOOKS_S)):
        child = subprocess.Popen(words)
        wait_for("the state", lambda: bool(wall.of("state")) and wall.of("state")[-1]["online"])
        child.send_signal(how)
        begun_s = time.monotonic()
        wait_for("the will", lambda: wall.of("state")[-1] == {"v": 1, "rig": "rig 2", "online": False, "why": "will"})
        assert time.monotonic() - begun_s < within_s
        child.kill()
        child.wait()
        wall.got.clear()


def test_two_rigs_on_one_broker_do_not_meet(
    data_dir: Path, broker: Mosquitto, wall: Subscriber, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    for folder in (data_dir, other):
        folder.mkdir(exist_ok=True)
        record(folder, 0.0, 1.0)
    with publishing(data_dir, settings(broker.port)) as one, publishing(other, settings(broker.port), "rig 3") as two:
        wait_for("events of both", lambda: {"rig 2", "rig 3"} <= {payload["rig"] for payload in wall.of("event")})
        time.sleep(0.3)
        assert one.state.connections == two.state.connections == 1
    ids = [payload["id"] for payload in wall.of("event")]
    assert len(ids) == len(set(ids))


def test_two_uplinks_under_one_name_say_so_and_do_not_storm(data_dir: Path, broker: Mosquitto, tmp_path: Path) -> None:
    with publishing(data_dir, settings(broker.port)) as one, publishing(tmp_path / "x", settings(broker.port)) as two:
        wait_for("the push", lambda: "another uplink" in one.state.says + two.state.says)
        time.sleep(3.0)
        assert one.state.connections + two.state.connections < 16


@pytest.mark.parametrize(
    ("credentials", "says"), [("rig:wrong", "Not authorized"), ("", "Not authorized"), ("nobody:x", "refuses")]
)
def test_a_refusal_is_told_and_nothing_counts_as_sent(
    data_dir: Path, broker: Mosquitto, credentials: str, says: str
) -> None:
    record(data_dir, 0.0, 1.0)
    with publishing(data_dir, settings(broker.port), credentials=credentials) as publisher:
        wait_for("the refusal", lambda: says in publisher.state.says)
        wait_for("the count", lambda: publisher._ledger.totals().produced > 0)
        assert publisher._ledger.totals().sent == 0
        assert not publisher.state.up


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the library leaves a socket to the gc
def test_tls_verifies_the_broker(data_dir: Path, broker: Mosquitto, wall: Subscriber) -> None:
    given = settings(broker.tls_port, host="localhost", tls=True, ca_file=str(broker.ca_file))
    with publishing(data_dir, given):
        wait_for("the state", lambda: bool(wall.of("state")))
    with publishing(data_dir, settings(broker.tls_port, host="localhost", tls=True)) as publisher:
        wait_for("the refusal", lambda: "CERTIFICATE_VERIFY_FAILED" in publisher.state.says)
        assert not publisher.state.up


def test_nothing_is_subscribed_and_no_message_reaches_the_rig(data_dir: Path, broker: Mosquitto) -> None:
    source = Path(messages.__file__).with_name("mqtt.py").read_text()
    assert "subscribe(" not in source
    with StandInCore(data_dir, "before") as core, publishing(data_dir, settings(broker.port)):
        intruder = Subscriber(broker.port, user="rig", password="oil")
        for word in ("start", "permit", "command", "state", "reset"):
            intruder._client.publish(f"scuffwatch/rig2/{word}", b'{"do":"start"}', qos=1).wait_for_publish(5.0)
        time.sleep(0.3)
        intruder.close()
        assert core.commands == []


def test_the_access_list_of_the_example_keeps_a_rig_to_its_own_topics(data_dir: Path, tmp_path: Path) -> None:
    acl = (Path(__file__).parents[2] / "deploy" / "broker" / "acl").read_text()
    broker = Mosquitto(tmp_path, acl, {"rig2": "oil", "wall": "glass"})
    broker.start()
    wall = Subscriber(broker.port)
    nosy = Subscriber(broker.port, "scuffwatch/#", "rig2", "oil")
    try:
        with publishing(data_dir, settings(broker.port), credentials="rig2:oil"):
            wait_for("the state", lambda: bool(wall.of("rig2/state")))
        other = publishing(tmp_path / "x", settings(broker.port), "rig 3", "rig2:oil")
        with other as publisher:
            wait_for("the refusal", lambda: "refuses scuffwatch/rig3/state" in publisher.state.says)
        wall._client.publish("scuffwatch/rig2/state", b"{}", qos=1).wait_for_publish(5.0)
        assert wall.of("rig3/state") == []
        assert {} not in wall.of("rig2/state")
        assert nosy.got == []
    finally:
        nosy.close()
        wall.close()
        broker.stop()


def test_credentials_that_others_may_read_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "broker.secret"
    path.write_text("rig:oil\n")
    path.chmod(0o640)
    with pytest.raises(ConfigError) as refused:
        secret(str(path), "uplink.toml [mqtt] credentials_file")
    assert "mode 0640, others may read it" in refused.value.sentence()
    path.chmod(0o600)
    assert secret(str(path), "") == "rig:oil"


def test_plain_text_to_another_computer_is_refused() -> None:
    with pytest.raises(ConfigError) as refused:
        parse('[uplink]\nrig = "rig 2"\n[mqtt]\nhost = "broker.workshop.example"\ntls = false\n', "uplink.toml")
    assert "for a broker on this computer only" in refused.value.sentence()


def test_every_wrong_key_is_told_at_once() -> None:
    with pytest.raises(ConfigError) as refused:
        parse('[uplink]\nrate_hz = 3\n[mqtt]\nhost = "b"\nprot = 1\n[channels.mail]\n', "uplink.toml")
    told = refused.value.sentence()
    for part in ("rig: missing", "rate_hz: 3 is not accepted", "Did you mean port?", "either url_file or log_file"):
        assert part in told
