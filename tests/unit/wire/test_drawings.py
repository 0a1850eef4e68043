"""The drawings at the head of `wire/protocol.py` are what `encode` writes, byte for byte."""

import re

import numpy as np
import pytest

from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.wire import cobs, protocol
from scuffwatch.wire.protocol import (
    Annunciator,
    CountLimit,
    Data,
    Frame,
    FrameType,
    Hello,
    HelloRequest,
    Inputs,
    Lease,
    Limits,
    NodeCause,
    NodePermit,
    Pattern,
    ResetCause,
    Status,
    encode,
)

HEADER_BYTES, CRC_BYTES = 9, 4
SIZE_BYTES = {"u8": 1, "u16": 2, "u32": 4, "i16": 2, "i32": 4}
TYPE = re.compile(r"\b(?<!or )(u8|u16|u32|i16|i32|text|by type)\b")
DRAWN: dict[str, Frame] = {
    "HELLO": Hello("rig2", "1.0.3", 7, ResetCause.POWER_ON, (GroupLayout(0, 1000.0, IntegerType.INT16, ("a", "b")),)),
    "DATA": Data(0, 1000, np.full((6, 20), 32767, np.int16)),
    "STATUS": Status(Inputs(0x1F), NodePermit.PERMITTED, NodeCause.NONE, 150, 1234, 42, 1),
    "HELLO_REQUEST": HelloRequest(),
    "LIMITS": Limits(1234, (CountLimit(0, 2, -32768, 32512, 4),)),
    "LEASE": Lease(42, 0, 28, 150),
    "ANNUNCIATOR": Annunciator(Pattern.WARNING, True),
}


def _drawing(name: str) -> tuple[int, list[str]]:
    """Give the type byte of a frame and the three lines drawn under it: bytes, labels, types."""
    found = re.search(rf"^ +{name} +type (0x\d\d)\n((?: .*\n)*)", protocol.__doc__ or "", re.MULTILINE)
    assert found, f"{name} is not drawn"
    return int(found[1], 16), found[2].splitlines()[:3]


def _fields(rows: list[str]) -> list[tuple[bytes, str, str]]:
    """Cut the three rows at the columns where a type begins."""
    starts = [found.start() for found in TYPE.finditer(rows[2])]
    ends = [*starts[1:], max(map(len, rows))]
    fields = []
    for start, end in zip(starts, ends, strict=True):
        drawn, label = (re.sub(r"\[|\].*|\.\.\..*", "", row[start:end]).strip() for row in rows[:2])
        text = re.search(r'"(.*)"', drawn)
        head = bytes.fromhex(drawn.split('"')[0]) if text else bytes.fromhex(drawn)
        found = TYPE.match(rows[2], start)
        assert found
        fields.append((head + (text[1].encode() if text else b""), label, found[1]))
    return fields


@pytest.mark.parametrize("name", [name for name in DRAWN if name != "HELLO_REQUEST"])
def test_drawing_of_a_payload(name: str) -> None:
    drawn_type, rows = _drawing(name)
    raw = cobs.decode(encode(DRAWN[name])[:-1])
    payload = raw[HEADER_BYTES:-CRC_BYTES]
    fields = _fields(rows)
    assert raw[1] == drawn_type == FrameType[name]
    for drawn, label, kind in fields:
        assert label, f"a field of {name} has no label"
        if drawn and kind != "text":
            assert len(drawn) == SIZE_BYTES[kind], f"{label} of {name}"
    drawn_payload = b"".join(drawn for drawn, _, _ in fields)
    if name == "DATA":  # its counts are drawn as `ff 7f ...`
        assert payload == drawn_payload[:7] + drawn_payload[7:] * 120
    elif name == "HELLO":  # its channel names are drawn as `...`
        assert payload == drawn_payload + b"\x01a\x01b"
    else:
        assert payload == drawn_payload


def test_a_hello_request_has_no_payload() -> None:
    assert "HELLO_REQUEST  type 0x11, no payload" in (protocol.__doc__ or "")
    raw = cobs.decode(encode(HelloRequest())[:-1])
    assert (raw[1], len(raw)) == (0x11, HEADER_BYTES + CRC_BYTES)


def test_drawing_of_the_header() -> None:
    rows = re.search(r"((?: .*\n){3})", protocol.__doc__ or "")
    assert rows
    fields = [(drawn, label) for drawn, label, _ in _fields(rows[1].splitlines())]
    raw = cobs.decode(encode(Data(0, 0, np.zeros((1, 1), np.int16), boot=3, sequence=28, ticks_us=1_000_000))[:-1])
    assert [label for _, label in fields] == ["version", "type", "boot", "sequence", "ticks", "payload", "CRC-32"]
    assert raw[:HEADER_BYTES] == b"".join(drawn for drawn, _ in fields[:-1])
    assert len(fields[-1][0]) == CRC_BYTES


def test_the_whole_frame_is_real() -> None:
    lines = [line.strip() for line in (protocol.__doc__ or "").splitlines()]
    at = next(k for k, line in enumerate(lines) if line.startswith("A whole lease frame"))
    raw, wire = (bytes.fromhex(line) for line in lines[at + 2 : at + 4])
    assert encode(Lease(42, 0, 28, 150, sequence=7)) == wire
    assert cobs.decode(wire[:-1]) == raw


def test_every_type_is_drawn() -> None:
    assert set(DRAWN) == {kind.name for kind in FrameType}
