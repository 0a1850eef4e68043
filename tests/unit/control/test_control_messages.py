"""Command and reply lines: the closed set, its limits, and what strangers may send."""

import dataclasses
import json
import math
import sys
import unicodedata

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from scuffwatch.control import messages
from scuffwatch.control.messages import (
    COMMAND_KINDS,
    LINE_MAX_BYTES,
    NAME_MAX_CHARS,
    NOTE_MAX_CHARS,
    Acknowledge,
    CloseRun,
    Command,
    Mark,
    Note,
    Observation,
    Observe,
    OpenRun,
    Refusal,
    Reply,
    StopRequest,
    Tare,
    build,
    from_line,
    in_one_line,
    reply_from_line,
    reply_to_line,
    to_line,
)
from scuffwatch.model.errors import CommandRefused
from scuffwatch.model.run import RunKind

REORDERING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


def unsafe(character: str) -> bool:
    """Judge by the Unicode Character Database as Python ships it, not by our own list."""
    category = unicodedata.category(character)
    return category in ("Cc", "Cs", "Zl", "Zp") or unicodedata.bidirectional(character) in REORDERING


safe = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")).filter(lambda c: not unsafe(c))
names = st.text(safe, max_size=NAME_MAX_CHARS)
notes = st.text(safe | st.sampled_from("\t\r\n"), max_size=NOTE_MAX_CHARS)
keys = st.from_regex(r"[a-z][a-z0-9_]{0,63}", fullmatch=True)


def stated(low: float, high: float) -> st.SearchStrategy[float]:
    return st.just(math.nan) | st.floats(low, high) | st.integers(0, int(high)).map(float)


commands: st.SearchStrategy[Command] = st.one_of(
    st.builds(
        OpenRun,
        kind=st.sampled_from(RunKind),
        lubricant=names,
        treat_rate_percent=stated(0.0, 100.0),
        bath_volume_ml=stated(0.0, 10_000.0),
        ring=names,
        pin=names,
        loads_n=st.lists(st.floats(0.0, 100_000.0), max_size=100).map(tuple),
        dwell_s=stated(0.0, 86_400.0),
    ),
    st.builds(CloseRun, outcome_says=notes),
    st.just(Mark()),
    st.builds(Note, text=notes.filter(str.strip)),
    st.builds(Observe, what=st.sampled_from(Observation)),
    st.builds(Acknowledge, alarm_key=keys | st.just("")),
    st.just(StopRequest()),
    st.builds(Tare, channel=keys),
)

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=12,
)


def same(one: Command, other: Command) -> bool:
    """Compare with NaN equal to NaN."""
    return type(one) is type(other) and repr(one) == repr(other)


def refused(line: bytes) -> Refusal:
    got = from_line(line)
    assert isinstance(got, Refusal), got
    return got


@given(commands, names)
def test_a_command_comes_back_as_it_was_sent(command: Command, actor: str) -> None:
    line = to_line(command, actor)
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    assert len(line) <= LINE_MAX_BYTES
    assert same(from_line(line), dataclasses.replace(command, actor=actor))


@given(commands)
def test_a_line_from_another_json_writer_is_read_alike(command: Command) -> None:
    loose = json.dumps(json.loads(to_line(command)), ensure_ascii=True, indent=None).encode() + b"\r\n"
    assert same(from_line(loose), command)


@given(st.binary(max_size=300))
@example(b"[" * 60_000)
@example(b'{"v":1,"command":' * 3_000)
@example(b"\xff\xfe{\x00}\x00")
@example(b"")
def test_any_bytes_give_a_command_or_a_sentence(line: bytes) -> None:
    got = from_line(line)
    if isinstance(got, Refusal):
        assert got.says.endswith(".")
        assert got.says == in_one_line(got.says).replace("\\\\", "\\")


@pytest.mark.slow
@given(
    st.sampled_from(list(COMMAND_KINDS)), st.dictionaries(st.text(max_size=20), json_values, max_size=3), json_values
)
def test_any_json_object_gives_a_command_or_a_sentence(name: str, fields: dict[str, object], value: object) -> None:
    for known in (each.name for each in COMMAND_KINDS[name].fields):
        entries = {"v": 1, "command": name, **fields, known: value}
        got = from_line(json.dumps(entries).encode())
        assert isinstance(got, Refusal | COMMAND_KINDS[name].make)  # type: ignore[operator]
        if isinstance(got, Refusal):
            assert len(got.says) < 400
            assert got.says.splitlines() == [got.says]


@given(commands.filter(lambda command: not isinstance(command, StopRequest)), st.text(max_size=200), json_values)
def test_a_field_nobody_knows_is_never_skipped(command: Command, name: str, value: object) -> None:
    entries = json.loads(to_line(command))
    known = {"v", "command", "actor", *(each.name for each in messages.kind_of(command).fields)}
    assume(name not in known)
    assume(_finite(value))
    assert "is unknown" in refused(json.dumps({**entries, name: value}).encode()).says


def _finite(value: object) -> bool:
    try:
        json.dumps(value, allow_nan=False)
    except ValueError:
        return False
    return True


REFUSED = [
    (b"hello", "Command refused: the line is not JSON."),
    (b"[1]", "Command refused: the line is no JSON object."),
    (b'\xef\xbb\xbf{"v":1,"command":"mark"}', "Command refused: the line is not JSON."),
    ('{"v":1,"command":"mark"}'.encode("utf-16"), "Command refused: the line is not UTF-8."),
    (b'{"v":1,"command":"note","text":"\xe9"}', "Command refused: the line is not UTF-8."),
    (b'{"command":"mark"}', "Command refused: v is missing, this core speaks version 1 only."),
    (b'{"v":2,"command":"mark"}', "Command refused: v is 2, this core speaks version 1 only."),
    (b'{"v":true,"command":"mark"}', "Command refused: v is True, this core speaks version 1 only."),
    (b'{"v":1}', "Command refused: command is missing or no text."),
    (b'{"v":1,"command":"start"}', 'Command refused: command "start" is unknown.'),
    (b'{"v":1,"command":"reset"}', 'Command refused: command "reset" is unknown.'),
    (b'{"v":1,"command":"marc"}', 'Command refused: command "marc" is unknown, did you mean mark.'),
    (b'{"v":1,"command":"mark","v":1}', "Command refused: a field stands in it twice, limit once."),
    (b'{"v":1,"command":"mark","actor":7}', "Mark refused: actor is a number, a text is needed."),
    (b'{"v":1,"command":"note"}', "Note refused: text is missing."),
    (b'{"v":1,"command":"note","text":null}', "Note refused: text is null, a text is needed."),
    (b'{"v":1,"command":"note","text":" \\n"}', "Note refused: text has 0 characters, at least 1 needed."),
    (b'{"v":1,"command":"note","text":"a\\u0000"}',
     "Note refused: text holds control character U+0000, limit 0 such characters."),
    (b'{"v":1,"command":"note","text":"\\ud800"}',
     "Note refused: text holds control character U+D800, limit 0 such characters."),
    (b'{"v":1,"command":"observe","what":"fire"}',
     'Observe refused: what "fire" is none of smoke, squeal, smell, labouring, fling_off.'),
    (b'{"v":1,"command":"tare","channel":"../x"}',
     'Tare refused: channel "../x" is no name of small letters, digits and underscores.'),
    (b'{"v":1,"command":"tare","chanel":"x"}', 'Tare refused: field "chanel" is unknown, did you mean channel.'),
    (b'{"v":1,"command":"open_run","kind":"test","dwell_s":NaN}',
     "Command refused: the line holds NaN, limit finite numbers."),
    (b'{"v":1,"command":"open_run","kind":"test","dwell_s":1e999}',
     "Open run refused: dwell_s is inf, limits 0 to 86400 s."),
    (b'{"v":1,"command":"open_run","kind":"test","dwell_s":' + b"9" * 400 + b"}",
     "Open run refused: dwell_s is a number of 1329 bits, limits 0 to 86400 s."),
    (b'{"v":1,"command":"open_run","kind":"test","dwell_s":' + b"9" * 5000 + b"}",
     "Command refused: the line holds a number with too many digits."),
    (b'{"v":1,"command":"open_run","kind":"test","dwell_s":true}',
     "Open run refused: dwell_s is true or false, a number is needed."),
    (b'{"v":1,"command":"open_run","kind":"test","treat_rate_percent":130}',
     "Open run refused: treat_rate_percent is 130, limits 0 to 100 %."),
    (b'{"v":1,"command":"open_run","kind":"test","loads_n":"80"}',
     "Open run refused: loads_n is a text, a list of numbers is needed."),
    (b'{"v":1,"command":"open_run","kind":"test","loads_n":[80,null]}',
     "Open run refused: loads_n entry 2 is null, a number is needed."),
    (b'{"v":1,"command":"open_run","kind":"test","loads_n":[80,-1]}',
     "Open run refused: loads_n entry 2 is -1, limits 0 to 100000 N."),
]  # fmt: skip


@pytest.mark.parametrize(("line", "says"), REFUSED)
def test_a_refusal_names_field_and_limit(line: bytes, says: str) -> None:
    assert refused(line).says == says


def test_every_length_is_held_to_its_limit() -> None:
    assert isinstance(build("note", {"text": "x" * NOTE_MAX_CHARS}), Note)
    long = build("note", {"text": "x" * (NOTE_MAX_CHARS + 1)})
    assert isinstance(long, Refusal)
    assert long.says == "Note refused: text has 2001 characters, limit 2000."
    crowd = build("open_run", {"kind": "test", "loads_n": [80.0] * 101})
    assert isinstance(crowd, Refusal)
    assert crowd.says == "Open run refused: loads_n has 101 entries, limit 100."
    line = b'{"v":1,"command":"note","text":"' + b"x" * LINE_MAX_BYTES + b'"}\n'
    assert refused(line).says == f"Command refused: the line has {len(line)} bytes, limit 65536."


def test_the_longest_command_of_all_fits_in_a_line() -> None:
    wide = "\U0001f6e2"
    notes_of = Note(wide * NOTE_MAX_CHARS)
    run = OpenRun(RunKind.TEST, *[wide * NAME_MAX_CHARS], loads_n=(99_999.123456789,) * 100)
    for command in (notes_of, run):
        escaped = json.dumps(json.loads(to_line(command, wide * NAME_MAX_CHARS)), ensure_ascii=True).encode()
        assert len(escaped) <= LINE_MAX_BYTES


@pytest.mark.slow
def test_characters_that_break_or_reorder_text_are_refused() -> None:
    for point in range(sys.maxunicode + 1):
        character = chr(point)
        if not unsafe(character):
            continue
        name = build("open_run", {"kind": "setup", "lubricant": f"a{character}b"})
        assert isinstance(name, Refusal), hex(point)
        note = build("note", {"text": f"a{character}b"})
        assert isinstance(note, Note if character in "\t\r\n" else Refusal), hex(point)


@given(st.text(), st.text())
def test_a_log_line_stays_one_line_and_tells_texts_apart(one: str, other: str) -> None:
    line = in_one_line(one)
    assert not any(unsafe(character) for character in line)
    assert len(line.splitlines()) <= 1
    assert (line == in_one_line(other)) == (one == other)


def test_a_forged_log_line_stays_inside_its_own() -> None:
    assert in_one_line("ok\r\n12:00 permit granted") == "ok\\r\\n12:00 permit granted"
    assert in_one_line("\u202egnp.exe\x1b[2J") == "\\u202egnp.exe\\x1b[2J"


@pytest.mark.slow
@given(st.dictionaries(st.text(max_size=8), json_values, max_size=4), json_values, json_values)
def test_a_stop_request_is_never_refused(fields: dict[str, object], version: object, actor: object) -> None:
    entries = {**fields, "v": version, "actor": actor, "command": "stop_request"}
    try:
        line = json.dumps(entries, allow_nan=False).encode()
    except ValueError:
        line = json.dumps({"command": "stop_request"}).encode()
    assert isinstance(from_line(line), StopRequest)
    assert isinstance(build("stop_request", fields, actor), StopRequest)


def test_a_stop_request_of_somebody_without_a_proper_name_is_sent_without_it() -> None:
    got = from_line(to_line(StopRequest(), "x" * 81))
    assert got == StopRequest(actor="")


@pytest.mark.parametrize(
    "command",
    [
        Note("x" * 2001),
        Note(""),
        Note("a\x07"),
        OpenRun(RunKind.TEST, treat_rate_percent=101.0),
        OpenRun(RunKind.TEST, dwell_s=math.inf),
        OpenRun(RunKind.TEST, loads_n=(80.0, math.nan)),
        Tare(""),
        Mark(actor="x" * 81),
    ],
)
def test_what_the_core_would_refuse_is_not_sent(command: Command) -> None:
    with pytest.raises(CommandRefused) as caught:
        to_line(command)
    assert "Nothing has been changed." in caught.value.sentence()


def test_the_table_describes_every_command() -> None:
    assert {kind.make for kind in COMMAND_KINDS.values()} == set(Command.__args__)
    for name, kind in COMMAND_KINDS.items():
        assert kind.name == name
        assert kind.help
        assert "\n" not in kind.help
        held = {each.name: each for each in dataclasses.fields(kind.make)}  # type: ignore[arg-type]
        assert [*(each.name for each in kind.fields), "actor"] == list(held)
        for each in kind.fields:
            assert each.help
            assert each.required == (held[each.name].default is dataclasses.MISSING)


def test_no_command_starts_or_resets_anything() -> None:
    assert not {"start", "reset", "permit", "arm", "resume"} & set(COMMAND_KINDS)


def test_arguments_of_the_command_line_become_the_same_fields() -> None:
    words = {"kind": "test", "loads_n": "80, 160,240", "dwell_s": "300", "lubricant": "HB-7"}
    rules = {each.name: each.rule for each in COMMAND_KINDS["open_run"].fields}
    made = build("open_run", {name: rules[name].from_argument(word) for name, word in words.items()}, "anna")
    assert isinstance(made, OpenRun)
    assert (made.loads_n, made.dwell_s, made.lubricant, made.actor) == ((80.0, 160.0, 240.0), 300.0, "HB-7", "anna")
    wrong = build("open_run", {"kind": "test", "dwell_s": rules["dwell_s"].from_argument("5 min")})
    assert isinstance(wrong, Refusal)
    assert wrong.says == "Open run refused: dwell_s is a text, a number is needed."


@pytest.mark.slow
@given(st.booleans(), st.text(max_size=300), st.dictionaries(st.text(max_size=9), json_values, max_size=4))
def test_a_reply_comes_back_or_says_that_details_are_missing(ok: bool, says: str, data: dict[str, object]) -> None:
    got = reply_from_line(reply_to_line(Reply(ok, says, data)))  # type: ignore[arg-type]
    assert isinstance(got, Reply)
    assert got.ok is ok
    if _finite(data) and _encodable([says, data]):
        assert got == Reply(ok, says, json.loads(json.dumps(data)))
    else:
        assert got.says.endswith("(Details could not be sent.)")
        assert got.data == {}


def _encodable(value: object) -> bool:
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True


@pytest.mark.parametrize("data", [{"x": object()}, {"x": math.nan}, {"x": "y" * LINE_MAX_BYTES}, {1.5: {2, 3}}])
def test_a_reply_that_json_cannot_hold_is_sent_without_its_details(data: dict[str, object]) -> None:
    line = reply_to_line(Reply(True, "Run opened.", data))  # type: ignore[arg-type]
    assert len(line) <= LINE_MAX_BYTES
    assert reply_from_line(line) == Reply(True, "Run opened. (Details could not be sent.)")


@given(st.binary(max_size=200) | json_values.map(lambda value: json.dumps(value).encode()))
@example(b'{"v":1,"ok":1,"says":"x"}')
@example(b'{"v":2,"ok":true,"says":"x"}')
def test_any_bytes_give_a_reply_or_a_sentence(line: bytes) -> None:
    got = reply_from_line(line)
    if isinstance(got, Refusal):
        assert got.says.startswith("Reply refused: ")
