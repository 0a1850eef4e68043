"""All rigs of a broker in one small file, whatever anybody else publishes there."""

import json
import threading
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from servers import Mosquitto, Subscriber, wait_for
from stand_in_core import Script

from scuffwatch.uplink import messages
from scuffwatch.uplink.pictures import Seen
from scuffwatch.uplink.settings import Mqtt
from scuffwatch.uplink.wall import RIGS_MAX, STALE_S, Wall, checked


def state(rig: str, script: str = "healthy") -> bytes:
    """Give a state as a rig publishes it."""
    return messages.line(messages.state(rig, Seen(Script(script).snapshot(), 0.1, ""), 1, 1000.0, 2.0))


def wall(path: Path, port: int = 1883) -> Wall:
    """Give a wall over a broker on loopback."""
    return Wall(Mqtt.model_validate({"host": "127.0.0.1", "port": port, "tls": False}), "wall:glass", "wall", path)


def test_a_tile_a_rig_with_its_age(tmp_path: Path) -> None:
    made = wall(tmp_path / "wall.json")
    made.take("scuffwatch/rig2/state", state("rig 2", "tripped"), 100.0)
    made.take("scuffwatch/rig3/state", messages.line(messages.offline("rig 3", "will")), 100.0)
    made._problem = ""
    two, three = made.snapshot(101.5, 1000.0)["rigs"]
    assert (two["permit"], two["run"], two["age_s"], two["live"]) == ("tripped", "2026-03-12-rig2-01", 1.5, True)
    assert two["first_out"].startswith("Scuffing onset")
    assert (two["first_out_kind"], two["alarms"]) == ("scuffing_onset", 3)
    assert two["alarm"] == {"priority": "T", "state": "latched, unacknowledged", "says": two["first_out"]}
    assert (three["online"], three["why"], three["live"]) == (False, "will", False)
    assert made.snapshot(100.0 + STALE_S, 1000.0)["rigs"][0]["live"] is False


def test_foreign_messages_are_refused_and_the_number_of_rigs_is_bounded(tmp_path: Path) -> None:
    made = wall(tmp_path / "wall.json")
    for payload in (b"", b"{", b"[]", b'{"v":2,"online":true}', b'{"v":1,"online":"yes","rig":"x"}', b"[" * 100_000):
        made.take("scuffwatch/x/state", payload, 1.0)
    made.take("scuffwatch/" + "x" * 300 + "/state", state("rig"), 1.0)
    assert made.refused == 7
    for number in range(RIGS_MAX + 10):
        made.take(f"scuffwatch/{number}/state", state("rig"), 1.0)
    assert len(made.snapshot(1.0, 1.0)["rigs"]) == RIGS_MAX


def test_no_rig_can_take_the_name_of_another(tmp_path: Path) -> None:
    made = wall(tmp_path / "wall.json")
    for topic in ("scuffwatch/rig2/state", "scuffwatch/rig3/state", "odd"):
        made.take(topic, state("rig 2"), 1.0)
    named = {tile["topic"]: tile["rig"] for tile in made.snapshot(1.0, 1.0)["rigs"]}
    assert named == {"scuffwatch/rig2/state": "rig 2", "scuffwatch/rig3/state": "rig3", "odd": "odd"}


def test_an_alarm_that_was_put_aside_calls_nobody() -> None:
    told = json.loads(state("rig", "tripped"))
    told["alarms"] = [told["alarms"][1] | {"state": "shelved"}, told["alarms"][2], {"priority": "T"}, 7]
    tile = checked(json.dumps(told).encode())
    assert tile is not None
    assert (tile["alarms"], tile["alarm"]["says"]) == (1, told["alarms"][1]["says"])


def test_half_a_letter_from_the_broker_and_a_folder_that_comes_late_do_not_end_the_writing(tmp_path: Path) -> None:
    path = tmp_path / "late" / "wall.json"
    made = wall(path)
    made.take("scuffwatch/rig/state", b'{"v":1,"online":true,"rig":"\\ud800 rig"}', 1.0)
    made.write(made.snapshot(2.0, 1000.0))
    assert not path.exists()
    path.parent.mkdir()
    made.write(made.snapshot(3.0, 1000.0))
    assert json.loads(path.read_text(encoding="utf-8"))["rigs"][0]["rig"] == "? rig"


@given(st.binary(max_size=200) | st.recursive(st.none() | st.text() | st.integers(), st.lists, max_leaves=5).map(
    lambda value: json.dumps({"v": 1, "online": True, "rig": value, "run": value, "alarms": value}).encode()
))  # fmt: skip
def test_whatever_comes_is_a_tile_or_nothing(payload: bytes) -> None:
    tile = checked(payload)
    assert tile is None or (isinstance(tile["rig"], str) and len(tile["rig"]) <= 200)


@pytest.mark.slow
def test_the_file_follows_a_real_broker(tmp_path: Path) -> None:
    (tmp_path / "broker").mkdir()
    broker, path = Mosquitto(tmp_path / "broker"), tmp_path / "wall.json"
    broker.start()
    made = wall(path, broker.port)
    thread = threading.Thread(target=made.run, name="wall")
    thread.start()
    try:
        rig = Subscriber(broker.port, "nothing", "rig", "oil")
        rig._client.publish("scuffwatch/rig2/state", state("rig 2"), qos=1, retain=True).wait_for_publish(5.0)
        wait_for("the tile", lambda: path.exists() and bool(json.loads(path.read_text())["rigs"]))
        assert json.loads(path.read_text())["broker_problem"] == ""
        rig.close()
        broker.kill()
        wait_for("the loss", lambda: json.loads(path.read_text())["broker_problem"] != "")
        assert json.loads(path.read_text())["rigs"][0]["live"] is False
    finally:
        made.stop()
        thread.join()
        broker.stop()
