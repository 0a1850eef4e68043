"""The list of all rigs as the server reads it: foreign text, a file that may be anything, and an order that is calm."""

import json
import os
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from board_server import settings_for
from hypothesis import given, settings
from hypothesis import strategies as st
from many_rigs import NIGHT, SHOP, Shop
from test_board_requests import expect_headers

from scuffboard.hub import finite
from scuffboard.main import parser, settings_of
from scuffboard.rig_list import LIST_MAX_BYTES, NAME_MAX, RIGS_MAX, TEXT_MAX, WORD_STALE_S, Rig, RigList, read_list
from scuffboard.rig_order import HOLD_S, Need, Order, need_of
from scuffboard.rig_source import FRAME_S, LIST_STALE_S, RigFile
from scuffwatch.uplink.wall import STALE_S


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "rigs.json"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def file(path: Path, clock: Clock) -> RigFile:
    return RigFile(path, clock)


def frame(file: RigFile, clock: Clock) -> Any:
    """Give the frame of half a second later."""
    clock.now_s += FRAME_S
    given = file.latest(0.0)
    assert given is not None
    return given[0]


def written(path: Path, states: Any = SHOP) -> Shop:
    """Write a shop's list once."""
    shop = Shop(path, states)
    shop.speak()
    shop.write()
    return shop


def rig(name: str = "rig 1", **changes: Any) -> Rig:
    """Give a healthy rig, but for some changes."""
    plain: dict[str, Any] = {
        "key": name, "name": name, "online": True, "why": "", "core": "speaking", "permit": "permitted",
        "first_out": "", "first_out_kind": "", "acknowledged": True, "recorded": True, "link_up": True,
        "simulated": False, "run": "2026-03-12-rig2-01", "alarm": None, "alarms": 0, "age_s": 0.3, "live": True,
        "bad": "",
    }  # fmt: skip
    return Rig(**plain | changes)


def test_what_the_uplink_writes_is_what_the_page_reads(path: Path) -> None:
    written(path, NIGHT)
    told = read_list(path.read_bytes())
    assert isinstance(told, RigList)
    by_state = dict(zip(NIGHT, sorted(told.rigs, key=lambda rig: int(rig.name.split()[1])), strict=True))
    assert (told.unread, told.refused, WORD_STALE_S) == (0, 0, STALE_S)
    tripped = by_state["tripped"]
    assert (tripped.permit, tripped.first_out_kind, tripped.acknowledged) == ("tripped", "scuffing_onset", False)
    assert tripped.first_out.startswith("Scuffing onset: friction 0.265")
    assert tripped.alarm is not None
    assert (tripped.alarm.priority, tripped.alarm.waits, tripped.alarms) == ("T", True, 3)
    assert by_state["before"].first_out_kind == "start_up"
    assert (by_state["gone"].online, by_state["gone"].why) == (False, "will")
    assert (by_state["silent"].core, by_state["silent"].permit) == ("silent", None)
    assert by_state["bad"].bad == "permit"
    assert by_state["simulated"].simulated is True
    assert [rig.bad for state, rig in by_state.items() if state != "bad"] == [""] * 9


SPOILED: tuple[tuple[str, Any, str], ...] = (
    ("age_s", None, "age"), ("age_s", "3", "age"), ("age_s", -1, "age"),
    ("age_s", 10**400, "age"), ("age_s", True, "age"),
    ("core", "constructor", "state"), ("online", "yes", "state"), ("core", 7, "state"),
    ("permit", ["permitted"], "permit"), ("alarm", {"priority": "Z"}, "alarm"),
)  # fmt: skip


@pytest.mark.parametrize(("key", "value", "says"), SPOILED)
def test_what_is_not_understood_is_bad_and_not_guessed(path: Path, key: str, value: Any, says: str) -> None:
    written(path, ["healthy"])
    told = json.loads(path.read_text())
    told["rigs"][0][key] = value
    found = read_list(json.dumps(told).encode())
    assert isinstance(found, RigList)
    assert (found.rigs[0].bad, need_of(found.rigs[0], 0.0)) == (says, Need.LOOK)


def test_words_of_closed_sets_are_those_or_nothing(path: Path) -> None:
    written(path, ["tripped"])
    told = json.loads(path.read_text())
    told["rigs"][0] |= {"first_out_kind": "constructor", "why": "__proto__"}
    found = read_list(json.dumps(told).encode())
    assert isinstance(found, RigList)
    assert (found.rigs[0].first_out_kind, found.rigs[0].why, found.rigs[0].bad) == ("", "", "")
    assert need_of(found.rigs[0], 0.0) is Need.NOW


FOREIGN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(codec=None), max_size=300),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)
KEYS = ("topic", "rig", "online", "why", "core", "permit", "first_out", "run", "alarm", "alarms", "age_s", "live")


@settings(max_examples=60)
@given(st.lists(st.fixed_dictionaries({}, optional=dict.fromkeys(KEYS, FOREIGN)) | FOREIGN, max_size=4), FOREIGN)
def test_whatever_a_list_holds_its_rigs_are_short_printable_lines(entries: Any, other: Any) -> None:
    told = read_list(json.dumps({"v": 1, "t_mono_s": 1.0, "rigs": entries, "broker_problem": other}).encode())
    assert isinstance(told, RigList)
    assert len(told.rigs) + told.unread == len(entries)
    for one in told.rigs:
        texts = [text for text in (*one.as_json().values(), one.alarm and one.alarm.says) if isinstance(text, str)]
        assert all(text.isprintable() and len(text) <= TEXT_MAX for text in texts)
        assert 0 < len(one.name) <= max(NAME_MAX, len(one.key))
        json.dumps(finite(one.as_json()), ensure_ascii=False, allow_nan=False).encode()
        assert need_of(one, 0.0) in Need


@given(st.binary(max_size=200) | FOREIGN.map(lambda value: json.dumps(value).encode()))
def test_whatever_a_file_holds_is_a_list_or_a_sentence(raw: bytes) -> None:
    told = read_list(raw)
    assert isinstance(told, RigList) or told.endswith((".", "?"))


def test_the_number_of_rigs_is_bounded_and_what_is_left_out_is_counted() -> None:
    entries = [{"topic": f"scuffwatch/{n}/state", "rig": f"rig {n}"} for n in range(RIGS_MAX + 7)]
    told = read_list(json.dumps({"v": 1, "t_mono_s": 1.0, "rigs": [*entries, 7]}).encode())
    assert isinstance(told, RigList)
    assert (len(told.rigs), told.unread) == (RIGS_MAX, 8)


def test_a_list_is_current_only_after_it_has_been_seen_to_move(path: Path, file: RigFile, clock: Clock) -> None:
    shop = written(path)
    first = frame(file, clock)
    assert (first["list"]["still_s"], first["list"]["says"], len(first["rigs"])) == (None, "", len(SHOP))
    path.touch()
    os.utime(path, (clock.now_s, clock.now_s))  # touched, and not written anew
    assert frame(file, clock)["list"]["still_s"] is None
    shop.write()
    moved = frame(file, clock)["list"]
    assert (moved["still_s"], moved["moved"]) == (0.0, first["list"]["moved"] + 1)
    clock.now_s += LIST_STALE_S
    assert frame(file, clock)["list"]["still_s"] == LIST_STALE_S + FRAME_S


def test_between_two_frames_a_list_is_told_only_where_it_has_moved(path: Path, file: RigFile, clock: Clock) -> None:
    shop = written(path)
    assert file.latest(0.0) is not None
    assert file.latest(0.0) is None
    shop.write()
    assert file.latest(0.0) is not None


def spoil(path: Path, how: str) -> None:
    """Make something else of the file."""
    path.unlink()
    if how == "folder":
        path.mkdir()
    elif how == "pipe":
        os.mkfifo(path)
    elif how == "oversized":
        with path.open("wb") as stream:
            stream.truncate(LIST_MAX_BYTES + 1)
    elif how == "loop":
        path.symlink_to(path)
    elif how != "missing":
        path.write_text(how)


@pytest.mark.parametrize(("how", "says"), [
    ("missing", "is not there. Is scuffwatch uplink --wall running"), ("folder", "cannot be read: it is not a file."),
    ("pipe", "cannot be read: it is not a file."), ("loop", "cannot be read: Too many levels"),
    ("oversized", "is larger than 4 MiB"), ("", "holds something else"), ("[" * 100_000, "holds something else"),
    ("[1, 2]", "holds something else"), ('{"rigs": {}, "t_mono_s": 1, "v": 1}', "holds something else"),
    ('{"rigs": [], "t_mono_s": 1e999, "v": 1}', "holds something else"),
    ('{"rigs": [], "t_mono_s": 1, "v": 2}', "is of another version"),
])  # fmt: skip
def test_a_file_that_is_no_list_is_one_sentence_and_what_was_known_stays_and_ages(
    path: Path, file: RigFile, clock: Clock, how: str, says: str
) -> None:
    shop = written(path)
    frame(file, clock)
    shop.write()
    frame(file, clock)
    spoil(path, how)
    told = frame(file, clock)
    assert told["list"]["says"].startswith(f"The list of rigs {path} {says}")
    assert told["list"]["says"].endswith((".", "?"))
    assert (len(told["rigs"]), told["list"]["still_s"]) == (len(SHOP), FRAME_S)
    if path.is_dir():
        path.rmdir()
    shop.write()
    assert frame(file, clock)["list"]["says"] == ""


def test_without_a_list_from_the_start_there_is_a_sentence_and_no_rig(file: RigFile, clock: Clock) -> None:
    told = frame(file, clock)
    assert (told["rigs"], told["list"]["still_s"]) == ([], None)
    assert "is not there" in told["list"]["says"]


@pytest.mark.parametrize(("changes", "need"), [
    ({}, Need.NOBODY),
    ({"permit": "tripped", "first_out_kind": "scuffing_onset", "acknowledged": False}, Need.NOW),
    ({"permit": "tripped", "first_out_kind": "", "acknowledged": None}, Need.NOW),
    ({"permit": "tripped", "first_out_kind": "scuffing_onset", "acknowledged": True}, Need.ANSWERED),
    ({"permit": "tripped", "first_out_kind": "start_up", "acknowledged": False}, Need.NOBODY),
    ({"permit": "watch_only"}, Need.NOBODY),
    ({"permit": None}, Need.LOOK), ({"core": "silent", "permit": None}, Need.LOOK),
    ({"online": False, "why": "will"}, Need.LOOK), ({"online": False, "why": "stopped"}, Need.NOBODY),
    ({"live": False}, Need.LOOK), ({"age_s": WORD_STALE_S}, Need.LOOK), ({"bad": "age"}, Need.LOOK),
])  # fmt: skip
def test_who_needs_a_person(changes: Any, need: Need) -> None:
    assert need_of(rig(**changes), 0.0) is need


@pytest.mark.parametrize(("priority", "waits", "need"), [
    ("T", True, Need.NOW), ("W", True, Need.LOOK), ("W", False, Need.NOBODY), ("N", True, Need.NOBODY),
])  # fmt: skip
def test_a_warning_calls_until_it_is_acknowledged(path: Path, priority: str, waits: bool, need: Need) -> None:
    written(path, ["warning"])
    told = json.loads(path.read_text())
    told["rigs"][0]["alarm"] |= {"priority": priority, "state": "unacknowledged" if waits else "acknowledged"}
    found = read_list(json.dumps(told).encode())
    assert isinstance(found, RigList)
    assert need_of(found.rigs[0], 0.0) is need


def names(order: Order, rigs: list[Rig], needs: dict[str, Need], now_s: float, *, blind: bool = False) -> list[str]:
    full = {rig.key: needs.get(rig.key, Need.NOBODY) for rig in rigs}
    return [rig.name for rig in order.arrange(rigs, full, now_s, blind=blind)]


def test_a_rig_that_needs_a_person_comes_at_once_and_goes_after_a_minute() -> None:
    order, rigs = Order(), [rig(f"rig {n}") for n in (10, 9, 2, 1)]
    calm = ["rig 1", "rig 2", "rig 9", "rig 10"]
    assert names(order, rigs, {}, 0.0) == calm
    front = ["rig 10", "rig 1", "rig 2", "rig 9"]
    assert names(order, rigs, {"rig 10": Need.LOOK}, 1.0) == front
    assert names(order, rigs, {"rig 10": Need.LOOK, "rig 9": Need.NOW}, 2.0) == ["rig 9", "rig 10", "rig 1", "rig 2"]
    assert names(order, rigs, {"rig 10": Need.LOOK, "rig 9": Need.LOOK}, 3.0)[0] == "rig 9"
    assert names(order, rigs, {"rig 9": Need.LOOK}, 1.0 + HOLD_S)[:2] == ["rig 9", "rig 10"]  # no need for 0 s yet
    assert names(order, rigs, {}, 2.9 + 2 * HOLD_S) == calm


def test_a_need_that_comes_back_within_the_minute_moves_nothing() -> None:
    order, rigs = Order(), [rig("a"), rig("b")]
    for now_s in range(0, 600, 30):
        assert names(order, rigs, {"b": Need.LOOK if now_s % 60 == 0 else Need.NOBODY}, float(now_s)) == ["b", "a"]


def test_nobody_moves_while_nothing_is_known() -> None:
    order, rigs = Order(), [rig("a"), rig("b"), rig("c")]
    lost = {"a": Need.LOOK, "b": Need.LOOK, "c": Need.LOOK}
    assert names(order, rigs, lost, 0.0, blind=True) == ["a", "b", "c"]
    assert names(order, rigs, {"c": Need.NOW}, 1.0) == ["c", "a", "b"]
    assert names(order, rigs, lost, 500.0, blind=True) == ["c", "a", "b"]


NEEDS = st.lists(st.lists(st.sampled_from(Need), min_size=6, max_size=6), min_size=1, max_size=12)


@given(NEEDS)
def test_only_a_change_of_need_moves_a_tile(turns: list[list[Need]]) -> None:
    order, rigs = Order(), [rig(f"rig {n}") for n in range(6)]
    shown = [
        names(order, rigs, {r.key: need for r, need in zip(rigs, needs, strict=True)}, float(now_s))
        for now_s, needs in enumerate(turns)
    ]
    for (before, after), (was, now) in zip(pairwise(shown), pairwise(turns), strict=True):
        stayed = {r.name for r, a, b in zip(rigs, was, now, strict=True) if a == b}
        assert [n for n in before if n in stayed] == [n for n in after if n in stayed]


def test_the_page_says_what_to_set_where_nothing_is_set(client: Any) -> None:
    answer = client.get("/rigs")
    assert answer.status_code == 200
    assert 'Start scuffboard with <span class="strong">--rigs FILE</span>' in answer.text
    assert client.get("/rigs/live").status_code == 404
    assert "/rigs" not in client.get("/bench").text


def test_the_page_carries_no_control_and_its_stream_the_list(make_app: Any, path: Path) -> None:
    written(path, NIGHT)
    app = make_app(rigs_path=path)
    client = app.test_client()
    page = client.get("/rigs")
    expect_headers(page)
    assert not any(tag in page.text for tag in ("<button", "<form", "<input"))
    assert 'href="/rigs"' in client.get("/alarms").text
    with client.get("/rigs/live", buffered=False) as answer:
        expect_headers(answer)
        pieces = iter(answer.response)
        event = next(piece for piece in pieces if piece.startswith(b"event: frame\n")).decode()
        told = json.loads(event.split("data: ", 1)[1])
        assert [entry["need"] for entry in told["rigs"]] == sorted(entry["need"] for entry in told["rigs"])
        assert len(told["rigs"]) == len(NIGHT)
        assert client.get("/rigs/viewers").json["viewers"] == 1
    assert client.get("/rigs/viewers").json["viewers"] == 0
    assert client.get("/rigs/live", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert client.post("/rigs/live", headers={"X-Scuffboard": "1"}).status_code == 405


def test_the_list_is_a_setting_and_has_room_for_its_own_viewers(tmp_path: Path) -> None:
    plain, given_path = (settings_of(parser().parse_args(more)) for more in ([], ["--rigs", "/run/x/rigs.json"]))
    assert (plain.rigs_path, given_path.rigs_path) == (None, Path("/run/x/rigs.json"))
    assert given_path.threads == plain.threads + plain.viewers_cap
    assert settings_for(tmp_path).rigs_path is None
