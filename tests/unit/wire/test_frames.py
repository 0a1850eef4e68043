"""Every frame goes out and comes back; what the other side would refuse is never built."""

import math
import zlib
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_frames import frames, one_of_each, same, stuffed, wired

from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.model.errors import LocalProtocolError
from scuffwatch.wire import cobs
from scuffwatch.wire.protocol import (
    MAX_FRAME_BYTES,
    Annunciator,
    CountLimit,
    Data,
    Decoder,
    Frame,
    FrameError,
    FrameErrorKind,
    FrameType,
    Hello,
    Inputs,
    Lease,
    Limits,
    NodeCause,
    NodePermit,
    Pattern,
    ResetCause,
    Status,
    encode,
    limits_id_of,
    newer,
)


def bitwise_crc32(data: bytes) -> int:
    """Give CRC-32/ISO-HDLC bit by bit: poly 0x04C11DB7 reflected, init and xorout all ones (RevEng catalogue)."""
    register = 0xFFFF_FFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xEDB8_8320 if register & 1 else 0)
    return register ^ 0xFFFF_FFFF


def only(found: list[Frame | FrameError]) -> Frame | FrameError:
    assert len(found) == 1
    return found[0]


# --- outside sources -----------------------------------------------------------------------------------------


def test_crc_has_the_check_value_of_the_catalogue() -> None:
    # CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms (RevEng): check 0xCBF43926
    assert zlib.crc32(b"123456789") == bitwise_crc32(b"123456789") == 0xCBF4_3926


@given(frames)
def test_crc_is_little_endian_over_all_bytes_before_it(frame: Frame) -> None:
    raw = cobs.decode(encode(frame)[:-1])
    assert int.from_bytes(raw[-4:], "little") == bitwise_crc32(raw[:-4])
    # the same catalogue: residue 0xDEBB20E3, that is 0x2144DF1C after the final exclusive or, for any message
    assert zlib.crc32(raw) == 0xDEBB_20E3 ^ 0xFFFF_FFFF


@given(frames)
def test_a_frame_on_the_wire_is_cobs_and_one_delimiter(frame: Frame) -> None:
    wire = encode(frame)
    assert wire[-1:] == b"\x00"
    assert b"\x00" not in wire[:-1]
    assert stuffed(cobs.decode(wire[:-1])) == wire[:-1]


# --- round trip ----------------------------------------------------------------------------------------------


@given(frames)
def test_round_trip(frame: Frame) -> None:
    decoded = only(Decoder().feed(encode(frame)))
    assert same(decoded, frame)
    assert type(decoded) is type(frame)


def test_decoded_counts_cannot_be_written() -> None:
    data = only(Decoder().feed(encode(Data(0, 0, np.ones((2, 3), np.int16)))))
    assert isinstance(data, Data)
    with pytest.raises(ValueError, match="read-only"):
        data.counts[0, 0] = 2


def test_counts_need_not_be_contiguous() -> None:
    turned = np.arange(12, dtype=np.int32).reshape(4, 3).T
    decoded = only(Decoder().feed(encode(Data(0, 0, turned))))
    assert isinstance(decoded, Data)
    assert np.array_equal(decoded.counts, turned)


def test_what_only_counts_up_wraps() -> None:
    sent = Lease((1 << 32) + 5, 0, 9, 150, boot=0x1FF, sequence=0x1_0007, ticks_us=(1 << 32) + 3)
    assert only(Decoder().feed(encode(sent))) == Lease(5, 0, 9, 150, boot=0xFF, sequence=7, ticks_us=3)
    many = Status(
        Inputs(0), NodePermit.READY, NodeCause.NONE, 0, 1, (1 << 32) + 1, 0x10001, 0x10002, 0x10003, 0x10004, 0x10005
    )
    counted = Status(Inputs(0), NodePermit.READY, NodeCause.NONE, 0, 1, 1, 1, 2, 3, 4, 5)
    assert only(Decoder().feed(encode(many))) == counted
    data = only(Decoder().feed(encode(Data(0, (1 << 32) + 4, np.zeros((1, 1), np.int16)))))
    assert isinstance(data, Data)
    assert data.first_index == 4


def test_the_longest_frame_passes_and_one_byte_more_is_refused() -> None:
    most = (MAX_FRAME_BYTES - 9 - 7 - 4) // 4  # header, data head, CRC
    longest = Data(0, 0, np.zeros((2, most), np.int16))
    assert len(cobs.decode(encode(longest)[:-1])) == MAX_FRAME_BYTES
    assert same(only(Decoder().feed(encode(longest))), longest)
    with pytest.raises(LocalProtocolError, match=f"limit {MAX_FRAME_BYTES}"):
        encode(Hello("", "", 1, ResetCause.PIN, (GroupLayout(0, 1.0, IntegerType.INT16, ("a" * 32,) * 31),)))
    with pytest.raises(LocalProtocolError, match=f"limit {MAX_FRAME_BYTES}"):
        encode(Data(0, 0, np.zeros((2, most + 1), np.int16)))


@pytest.mark.parametrize(
    ("raw_bytes", "kind"),
    [(12, "SHORT"), (13, "TYPE"), (MAX_FRAME_BYTES, "TYPE"), (MAX_FRAME_BYTES + 1, "LONG")],
)
@pytest.mark.parametrize("filling", [b"\x00", b"\x01"])
def test_length_limits_of_a_run(raw_bytes: int, kind: str, filling: bytes) -> None:
    """With no zero in it COBS adds its most bytes; with nothing but zeros it adds one: the limits hold for both."""
    body = b"\x01\x7f" + filling * (raw_bytes - 6)
    run = stuffed(body + zlib.crc32(body).to_bytes(4, "little"))
    decoder = Decoder()
    found = decoder.feed(run) + decoder.feed(b"\x00")
    assert [item.kind.name for item in found if isinstance(item, FrameError)] == [kind]


# --- misuse on our side --------------------------------------------------------------------------------------

FAST = GroupLayout(0, 1000.0, IntegerType.INT16, ("motor_current_a",))


def _hello(identity: str = "rig2", **layout: object) -> Hello:
    fields = {"group": 0, "rate_hz": 1000.0, "integer_type": IntegerType.INT16, "channels": ("a",)} | layout
    return Hello(identity, "1", 1, ResetCause.PIN, (GroupLayout(**fields),))  # type: ignore[arg-type]


def _status(**fields: object) -> Status:
    legal = {"inputs": Inputs(0), "permit": NodePermit.LATCHED, "cause": NodeCause.NONE}
    numbers = {"lease_left_ms": 0, "limits_id": 0, "lease_counter": 0}
    return Status(**(legal | numbers | fields))  # type: ignore[arg-type]


def _limit(**fields: int) -> Limits:
    legal = {"group": 0, "channel": 0, "low_counts": 0, "high_counts": 1, "samples": 1}
    return Limits(1, (CountLimit(**(legal | fields)),))


def _data(counts: np.ndarray, group: int = 0) -> Data:
    return Data(group, 0, counts)


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (_hello(identity="x" * 33), "text of 33 bytes, limit 32"),
        (_hello(identity="rig\n2"), "not printable"),
        (_hello(identity="Prüfstand"), "ascii"),
        (_hello(rate_hz=0.0004), "rate of 0 mHz"),
        (_hello(rate_hz=-1.0), "HELLO"),
        (_hello(rate_hz=math.inf), "HELLO"),
        (_hello(rate_hz=math.nan), "HELLO"),
        (_hello(group=8), "group 8"),
        (_hello(channels=()), "of 0 channels"),
        (_hello(channels=("",) * 128), "of 128 channels"),
        (Hello("", "", 1 << 32, ResetCause.PIN, (FAST,)), "HELLO"),
        (Hello("", "", 1, ResetCause.PIN, (FAST,) * 256), "HELLO"),
        (_data(np.zeros((0, 1), np.int16)), "0 channels"),
        (_data(np.zeros((128, 1), np.int16)), "128 channels"),
        (_data(np.zeros((1, 0), np.int16)), "do not fit"),
        (_data(np.zeros((1, 256), np.int16)), "DATA"),
        (_data(np.zeros(4, np.int16)), "DATA"),
        (_data(np.zeros((1, 1), np.int16), group=256), "DATA"),
        (_data(np.zeros((1, 1), np.uint16)), "uint16"),
        (_data(np.full((1, 1), 70_000, np.int64)), "int64"),
        (_data(np.zeros((1, 1), np.float32)), "float32"),
        (_status(inputs=Inputs(0x100)), "unknown input in 0x0100"),
        (_status(permit=3), "NodePermit"),
        (_status(cause=99), "NodeCause"),
        (_status(lease_left_ms=1 << 16), "STATUS"),
        (_status(limits_id=-1), "STATUS"),
        (Limits(0, ()), "limits id 0"),
        (_limit(samples=0), "no such limit"),
        (_limit(low_counts=2), "no such limit"),
        (_limit(high_counts=1 << 31), "LIMITS"),
        (Lease(1, 256, 0, 150), "LEASE"),
        (Lease(1, 0, 1 << 16, 150), "LEASE"),
        (Lease(1, 0, 0, -1), "LEASE"),
        (Annunciator(9, False), "Pattern"),  # type: ignore[arg-type]
        (Annunciator(Pattern.OFF, 2), "sounder"),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_sent_is_refused(bad: Frame, says: str) -> None:
    with pytest.raises(LocalProtocolError, match=says):
        encode(bad)


# --- payloads from the other side ----------------------------------------------------------------------------

HELLO_HEAD = b"\x00\x00" + b"\x01\x00\x00\x00" + b"\x01"
GROUP = b"\x00\x01\x00\x00\x00\x02\x01" + b"\x01a"
STATUS = bytes(24)
LIMIT = b"\x00\x00" + bytes(8) + b"\x01\x00"


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + GROUP),
        (FrameType.DATA, b"\x00\x01\x01\x00\x00\x00\x00" + b"\x05\x00"),
        (FrameType.STATUS, STATUS),
        (FrameType.HELLO_REQUEST, b""),
        (FrameType.LIMITS, b"\x01\x00\x00\x00\x01" + LIMIT),
        (FrameType.LEASE, bytes(9)),
        (FrameType.ANNUNCIATOR, b"\x03\x01"),
    ],
)
def test_the_payloads_changed_below_are_sound(kind: int, payload: bytes) -> None:
    assert not isinstance(only(Decoder().feed(wired(kind, payload))), FrameError)


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        (FrameType.HELLO, b""),
        (FrameType.HELLO, b"\x05abc"),
        (FrameType.HELLO, b"\x21" + b"a" * 33 + HELLO_HEAD[1:] + b"\x00"),
        (FrameType.HELLO, b"\x01\xe4" + HELLO_HEAD[1:] + b"\x00"),
        (FrameType.HELLO, b"\x01\x1b" + HELLO_HEAD[1:] + b"\x00"),
        (FrameType.HELLO, HELLO_HEAD[:-1] + b"\x63\x00"),
        (FrameType.HELLO, HELLO_HEAD + b"\x02" + GROUP),
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + GROUP + b"\x00"),
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + b"\x08" + GROUP[1:]),
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + GROUP.replace(b"\x01\x00\x00\x00", bytes(4))),
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + GROUP.replace(b"\x02\x01\x01", b"\x03\x01\x01")),
        (FrameType.HELLO, HELLO_HEAD + b"\x01" + GROUP[:6] + b"\x00"),
        (FrameType.DATA, b"\x00\x01"),
        (FrameType.DATA, b"\x00\x00\x01\x00\x00\x00\x00"),
        (FrameType.DATA, b"\x00\x01\x00\x00\x00\x00\x00"),
        (FrameType.DATA, b"\x00\x01\x01\x00\x00\x00\x00" + b"\x05"),
        (FrameType.DATA, b"\x00\x01\x01\x00\x00\x00\x00" + b"\x05\x00\x00"),
        (FrameType.DATA, b"\x00\x81\x01\x00\x00\x00\x00" + b"\x05\x00"),
        (FrameType.STATUS, STATUS[:-1]),
        (FrameType.STATUS, STATUS + b"\x00"),
        (FrameType.STATUS, b"\x00\x01" + STATUS[2:]),
        (FrameType.STATUS, b"\x00\x00\x03" + STATUS[3:]),
        (FrameType.STATUS, b"\x00\x00\x00\x09" + STATUS[4:]),
        (FrameType.HELLO_REQUEST, b"\x00"),
        (FrameType.LIMITS, b"\x01\x00\x00\x00"),
        (FrameType.LIMITS, b"\x01\x00\x00\x00\x02" + LIMIT),
        (FrameType.LIMITS, b"\x01\x00\x00\x00\x00" + LIMIT),
        (FrameType.LIMITS, b"\x00\x00\x00\x00\x01" + LIMIT),
        (FrameType.LIMITS, b"\x01\x00\x00\x00\x01" + LIMIT[:-2] + bytes(2)),
        (FrameType.LIMITS, b"\x01\x00\x00\x00\x01" + b"\x00\x00\x01" + LIMIT[3:]),
        (FrameType.LEASE, bytes(8)),
        (FrameType.LEASE, bytes(10)),
        (FrameType.ANNUNCIATOR, b"\x04\x00"),
        (FrameType.ANNUNCIATOR, b"\x00\x02"),
    ],
)
def test_a_payload_that_does_not_fit_its_type(kind: int, payload: bytes) -> None:
    wire = wired(kind, payload)
    assert Decoder().feed(wire) == [FrameError(FrameErrorKind.PAYLOAD, len(wire) - 1)]


@given(st.sampled_from(FrameType), st.binary(max_size=60))
def test_any_payload_is_a_frame_that_says_the_same_or_an_error(kind: FrameType, payload: bytes) -> None:
    wire = wired(kind, payload)
    decoded = only(Decoder().feed(wire))
    if isinstance(decoded, FrameError):
        assert decoded.kind is FrameErrorKind.PAYLOAD
    else:
        assert encode(decoded) == wire


# --- small helpers -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counter", "than", "is_newer"),
    [(1, 0, True), (0, 0, False), (0, 1, False), (0, 0xFFFF_FFFF, True), (0xFFFF_FFFF, 0, False), (1 << 31, 0, False)],
)
def test_newer_holds_across_the_wrap(counter: int, than: int, is_newer: bool) -> None:
    assert newer(counter, than) is is_newer


@given(st.integers(0, 0xFFFF_FFFF), st.integers(0, 0xFFFF_FFFF))
def test_two_counters_are_never_both_newer(a: int, b: int) -> None:
    assert not (newer(a, b) and newer(b, a))


def test_the_number_of_limits_follows_every_field() -> None:
    entry = CountLimit(1, 2, -30, 40, 5)
    others: list[Callable[[], CountLimit]] = [
        lambda: CountLimit(2, 2, -30, 40, 5),
        lambda: CountLimit(1, 3, -30, 40, 5),
        lambda: CountLimit(1, 2, -31, 40, 5),
        lambda: CountLimit(1, 2, -30, 41, 5),
        lambda: CountLimit(1, 2, -30, 40, 6),
    ]
    numbers = {limits_id_of((make(),)) for make in others} | {limits_id_of((entry,)), limits_id_of((entry, entry))}
    assert len(numbers) == 7
    assert limits_id_of(()) != 0
    with pytest.raises(LocalProtocolError, match="cannot be numbered"):
        limits_id_of((CountLimit(0, 0, 0, 1 << 31, 1),))


def test_the_fixed_stream_has_every_type() -> None:
    assert len({type(frame) for frame in one_of_each(np.random.default_rng(0))}) == len(FrameType)
