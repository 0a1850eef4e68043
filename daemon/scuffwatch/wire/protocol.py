"""The serial protocol between rig box (node) and host, both directions: drawn, encoded, decoded.

Reads bytes, gives frames and errors as values. No I/O, no clock, no log. Second link of the chain, after the port.

Every frame is COBS-encoded (see `wire.cobs`) and ended by one 0x00. Before COBS, all numbers little-endian:

    01      02    03    1c 00     40 42 0f 00    ...       d2 04 00 00
    version type  boot  sequence  ticks          payload   CRC-32
    u8      u8    u8    u16       u32, µs        by type   u32 over all bytes before it

`boot` is the low byte of the node's start number, so a restart is seen even when its hello is lost.
`sequence` counts all frames of one sender and wraps at 65 536; `ticks` wraps every 71.6 min. The host sends 0 in
`boot` and `ticks`. CRC-32 is `zlib.crc32` (CRC-32/ISO-HDLC, check value 0xCBF43926 over b"123456789").

Node to host

    HELLO   type 0x01
    04 "rig2"   05 "1.0.3"   07 00 00 00   01           01      [00     40 42 0f 00    02     02        ...] each group
    identity    firmware     start number  reset cause  groups   group  rate, mHz      bytes  channels  names
    text        text         u32           u8           u8       u8     u32            u8     u8        text each
    (text: u8 length, at most 32, and that many printable ASCII bytes; groups 0 to 7, of 1 to 127 channels)

    DATA    type 0x02
    00     06           14      e8 03 00 00    ff 7f ...
    group  layout       n       first index    counts: channel after channel, n each
    u8     u8           u8      u32            i16 or i32, as the layout says
    (layout: low 7 bits the number of channels, high bit set for int32)

    STATUS  type 0x03
    1f 00   02      00     96 00        d2 04 00 00  2a 00 00 00    01 00     00 00    00 00     00 00           00 00
    inputs  permit  cause  lease left   limits id    lease counter  resets    marks    rx errors leases refused  dropped
    u16     u8      u8     u16, ms      u32          u32            u16       u16      u16       u16             u16

Host to node

    HELLO_REQUEST  type 0x11, no payload

    LIMITS  type 0x12
    d2 04 00 00  01       [00     02       00 80 ff ff  00 7f 00 00  04 00  ] each entry
    limits id    entries   group  channel  low, counts  high, counts samples
    u32          u8        u8     u8       i32          i32          u16
    (limits id not 0; low <= high; samples not 0)

    LEASE   type 0x13
    2a 00 00 00  00     1c 00            96 00
    counter      group  block sequence   lease, ms
    u32          u8     u16              u16, 0 withdraws

    ANNUNCIATOR  type 0x14
    02       01
    pattern  sounder
    u8       u8

A whole lease frame, sequence 7, before COBS and on the wire:

    01 13 00 07 00 00 00 00 00  2a 00 00 00 00 1c 00 96 00  c9 79 88 7d
    03 01 13 02 07 01 01 01 01 02 2a 01 01 01 02 1c 02 96 05 c9 79 88 7d 00
"""

import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum, IntEnum, IntFlag

import numpy as np

from scuffwatch.model.block import IntArray
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.model.errors import LocalProtocolError
from scuffwatch.wire import cobs

VERSION = 1
DELIMITER = b"\x00"
LEASE_MAX_MS = 150
"""The node caps any lease at this, counted from when it sent the named block."""
SEQUENCE_MODULUS = 1 << 16
INDEX_MODULUS = 1 << 32
TICKS_MODULUS = 1 << 32
MAX_FRAME_BYTES = 1024
"""Longest frame before COBS; a longer run without a delimiter is dropped and counted once."""

_HEADER = struct.Struct("<BBBHI")
_CRC = struct.Struct("<I")
_DATA = struct.Struct("<BBBI")
_STATUS = struct.Struct("<HBBHIIHHHHH")
_GROUP = struct.Struct("<BIBB")
_START = struct.Struct("<IBB")
_LIMITS = struct.Struct("<IB")
_LIMIT = struct.Struct("<BBiiH")
_LEASE = struct.Struct("<IBHH")
_ANNUNCIATOR = struct.Struct("<BB")
_WIDE = 0x80
_OVERHEAD_BYTES = _HEADER.size + _CRC.size
_MAX_RUN_BYTES = MAX_FRAME_BYTES + MAX_FRAME_BYTES // 254 + 1
_MAX_TEXT_BYTES = 32
_MAX_GROUP = 7
_MAX_CHANNELS = 127
_ALL_INPUTS = 0xFF
_NARROW_DTYPE: np.dtype[np.int16] = np.dtype("<i2")
_WIDE_DTYPE: np.dtype[np.int32] = np.dtype("<i4")


class FrameType(IntEnum):
    """Type byte of a frame."""

    HELLO = 0x01
    DATA = 0x02
    STATUS = 0x03
    HELLO_REQUEST = 0x11
    LIMITS = 0x12
    LEASE = 0x13
    ANNUNCIATOR = 0x14


class ResetCause(IntEnum):
    """Why the node started."""

    UNKNOWN = 0
    POWER_ON = 1
    WATCHDOG = 2
    BROWN_OUT = 3
    PIN = 4


class Inputs(IntFlag):
    """Inputs of the node, set where the sound or safe state is present or the button is held."""

    GUARD_CLOSED = 0x01
    EMERGENCY_STOP_CLOSED = 0x02
    EXTRACTION_ON = 0x04
    BATH_UP = 0x08
    CONTACTOR_CLOSED = 0x10
    RESET_PRESSED = 0x20
    MARK_PRESSED = 0x40
    SOUNDER_ON = 0x80


class NodePermit(IntEnum):
    """Where the node's own latch stands."""

    LATCHED = 0
    READY = 1
    """Reset was pressed and released; the next valid lease starts the pulses, within a short time only."""
    PERMITTED = 2


class NodeCause(IntEnum):
    """Why the node latched."""

    NONE = 0
    START_UP = 1
    LEASE_LAPSED = 2
    LEASE_WITHDRAWN = 3
    OWN_LIMIT = 4
    GUARD_OPEN = 5
    EMERGENCY_STOP = 6
    EXTRACTION_OFF = 7
    READY_EXPIRED = 8


class Pattern(IntEnum):
    """What the lamp at the rig shows."""

    OFF = 0
    NOTICE = 1
    WARNING = 2
    TRIP = 3


@dataclass(frozen=True, slots=True)
class Hello:
    """Who the node is, why it started and what it samples.

    Attributes:
        start_number: counts the node's starts, u32.
        groups: layouts in group order.
    """

    identity: str
    firmware: str
    start_number: int
    reset_cause: ResetCause
    groups: tuple[GroupLayout, ...]
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Data:
    """Samples of one group.

    Attributes:
        first_index: sample index of the first sample since the node started, modulo 2**32.
        counts: (channels, n) int16 or int32, read-only; 1 <= channels <= 127, 1 <= n <= 255.
    """

    group: int
    first_index: int
    counts: IntArray
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True)
class Status:
    """Inputs, latch and counters of the node.

    Attributes:
        lease_left_ms: ms until the living lease lapses, 0 where none lives.
        limits_id: number of the limits the node holds, 0 before any.
        lease_counter: counter of the last lease it accepted.
        reset_presses, mark_presses: valid presses since start, modulo 2**16.
        rx_errors, leases_refused, frames_dropped: counters since start, modulo 2**16.
    """

    inputs: Inputs
    permit: NodePermit
    cause: NodeCause
    lease_left_ms: int
    limits_id: int
    lease_counter: int
    reset_presses: int = 0
    mark_presses: int = 0
    rx_errors: int = 0
    leases_refused: int = 0
    frames_dropped: int = 0
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True)
class HelloRequest:
    """Ask the node for its hello."""

    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True)
class CountLimit:
    """A hard limit the node itself keeps.

    Attributes:
        channel: position of the channel in its group.
        low_counts, high_counts: trip outside of them.
        samples: consecutive samples outside before the node trips, >= 1.
    """

    group: int
    channel: int
    low_counts: int
    high_counts: int
    samples: int


@dataclass(frozen=True, slots=True)
class Limits:
    """The node's own limits; it answers with `limits_id` in its status."""

    limits_id: int
    entries: tuple[CountLimit, ...]
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True)
class Lease:
    """Permission to run until `lease_ms` after the node sent the named block; 0 ms withdraws at once.

    Attributes:
        counter: grows with every lease, u32; the node refuses one that is not newer than the last.
        group, block_sequence: the data frame that was decided on.
    """

    counter: int
    group: int
    block_sequence: int
    lease_ms: int
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


@dataclass(frozen=True, slots=True)
class Annunciator:
    """What lamp and sounder at the rig shall do."""

    pattern: Pattern
    sounder: bool
    boot: int = 0
    sequence: int = 0
    ticks_us: int = 0


Frame = Hello | Data | Status | HelloRequest | Limits | Lease | Annunciator


class FrameErrorKind(Enum):
    """What was wrong with a run of bytes between two delimiters."""

    COBS = "not COBS"
    SHORT = "too short"
    LONG = "too long"
    CRC = "wrong CRC"
    VERSION = "unknown version"
    TYPE = "unknown type"
    PAYLOAD = "payload does not fit its type"


@dataclass(frozen=True, slots=True)
class FrameError:
    """A run of bytes that is no frame. Data, not an exception.

    Attributes:
        kind: see `FrameErrorKind`.
        length_bytes: length of the run; for LONG, what had come when it was given up.
    """

    kind: FrameErrorKind
    length_bytes: int


def limits_id_of(entries: tuple[CountLimit, ...]) -> int:
    """Give the number that stands for these limits: their CRC-32, never 0.

    Args:
        entries: limits in the order they are sent.
    Returns:
        u32, 1..2**32-1.
    Raises:
        LocalProtocolError: a field does not fit its width.
    """
    try:
        return zlib.crc32(b"".join(map(_pack_limit, entries))) or 1
    except struct.error as error:
        raise LocalProtocolError(f"limits cannot be numbered: {error}") from error


def newer(counter: int, than: int) -> bool:
    """Say whether a u32 lease counter is newer than another, across the wrap."""
    return 0 < (counter - than) % (1 << 32) < (1 << 31)


def encode(frame: Frame) -> bytes:
    """Give the bytes of a frame as they go on the wire, delimiter included.

    Args:
        frame: any frame; what only counts up (`boot`, `sequence`, `ticks_us`, `first_index`, the lease counter
            and the counters of a status) is taken modulo its width.
    Returns:
        COBS-encoded bytes ended by 0x00.
    Raises:
        LocalProtocolError: a field does not fit or the other side would refuse the frame. Never happens in service.
    """
    kind, payload = _payload(frame)
    head = _HEADER.pack(VERSION, kind, frame.boot & 0xFF, frame.sequence & 0xFFFF, frame.ticks_us & 0xFFFFFFFF)
    body = head + payload
    if len(body) + _CRC.size > MAX_FRAME_BYTES:
        raise LocalProtocolError(f"{kind.name} frame of {len(body) + _CRC.size} bytes, limit {MAX_FRAME_BYTES}")
    return cobs.encode(body + _CRC.pack(zlib.crc32(body))) + DELIMITER


class Decoder:
    """Turn bytes into frames; survives everything, keeps at most one unfinished frame.

    What survives a call: the bytes after the last delimiter, at most `MAX_FRAME_BYTES` and their COBS overhead,
    and the counts of errors.
    """

    def __init__(self) -> None:
        self._pending = bytearray()
        self._skipping = False
        self._error_counts = dict.fromkeys(FrameErrorKind, 0)

    @property
    def pending_bytes(self) -> int:
        """Give how many bytes wait for their delimiter."""
        return len(self._pending)

    @property
    def error_counts(self) -> dict[FrameErrorKind, int]:
        """Give how many errors of each kind have been returned; every kind is there."""
        return dict(self._error_counts)

    def feed(self, data: bytes) -> list[Frame | FrameError]:
        """Decode what has come.

        Args:
            data: any bytes, any length.
        Returns:
            Frames and errors in the order they were complete. The same bytes at any split give the same list.
        """
        found: list[Frame | FrameError] = []
        start = 0
        while (end := data.find(DELIMITER, start)) >= 0:
            self._keep(data, start, end, found)
            self._end_of_run(found)
            start = end + 1
        self._keep(data, start, len(data), found)
        return found

    def _keep(self, data: bytes, start: int, end: int, found: list[Frame | FrameError]) -> None:
        if self._skipping:
            return
        if len(self._pending) + end - start > _MAX_RUN_BYTES:
            self._skipping = True
            self._pending.clear()
            self._fail(FrameError(FrameErrorKind.LONG, _MAX_RUN_BYTES + 1), found)
        else:
            self._pending += data[start:end]

    def _end_of_run(self, found: list[Frame | FrameError]) -> None:
        if self._pending:
            result = _decode_run(bytes(self._pending))
            self._pending.clear()
            if isinstance(result, FrameError):
                self._fail(result, found)
            else:
                found.append(result)
        self._skipping = False

    def _fail(self, error: FrameError, found: list[Frame | FrameError]) -> None:
        self._error_counts[error.kind] += 1
        found.append(error)


def _decode_run(run: bytes) -> Frame | FrameError:
    try:
        raw = cobs.decode(run)
    except ValueError:
        return FrameError(FrameErrorKind.COBS, len(run))
    if len(raw) < _OVERHEAD_BYTES:
        return FrameError(FrameErrorKind.SHORT, len(run))
    if len(raw) > MAX_FRAME_BYTES:
        return FrameError(FrameErrorKind.LONG, len(run))
    body = raw[: -_CRC.size]
    if zlib.crc32(body) != _CRC.unpack_from(raw, len(body))[0]:
        return FrameError(FrameErrorKind.CRC, len(run))
    version, kind, boot, sequence, ticks_us = _HEADER.unpack_from(body)
    if version != VERSION:
        return FrameError(FrameErrorKind.VERSION, len(run))
    reader = _READERS.get(kind)
    if reader is None:
        return FrameError(FrameErrorKind.TYPE, len(run))
    try:
        frame = reader(body[_HEADER.size :])
    except (struct.error, ValueError, IndexError):
        return FrameError(FrameErrorKind.PAYLOAD, len(run))
    return replace(frame, boot=boot, sequence=sequence, ticks_us=ticks_us)


# --- payloads, written and read side by side ---------------------------------------------------------------


def _payload(frame: Frame) -> tuple[FrameType, bytes]:
    kind, writer = _WRITERS[type(frame)]
    try:
        payload = writer(frame)
        _READERS[kind](payload)  # the other side would refuse it, so it is refused here
    except (struct.error, ValueError, OverflowError) as error:
        raise LocalProtocolError(f"{kind.name} frame cannot be built: {error}") from error
    return kind, payload


def _put_text(text: str) -> bytes:
    raw = text.encode("ascii")
    return bytes((len(raw),)) + raw


def _get_text(payload: bytes, at: int) -> tuple[str, int]:
    length = payload[at]
    end = at + 1 + length
    if length > _MAX_TEXT_BYTES or end > len(payload):
        raise ValueError(f"text of {length} bytes, limit {_MAX_TEXT_BYTES} and the end of the frame")
    text = payload[at + 1 : end].decode("ascii")
    if not text.isprintable():
        raise ValueError(f"text {text!r} is not printable")
    return text, end


def _write_hello(hello: Hello) -> bytes:
    parts = [_put_text(hello.identity), _put_text(hello.firmware)]
    parts.append(_START.pack(hello.start_number, hello.reset_cause, len(hello.groups)))
    for group in hello.groups:
        rate_mhz = round(group.rate_hz * 1000)
        parts.append(_GROUP.pack(group.group, rate_mhz, group.integer_type.size_bytes, len(group.channels)))
        parts.extend(_put_text(name) for name in group.channels)
    return b"".join(parts)


def _read_hello(payload: bytes) -> Hello:
    identity, at = _get_text(payload, 0)
    firmware, at = _get_text(payload, at)
    start_number, cause, group_count = _START.unpack_from(payload, at)
    at += _START.size
    groups = []
    for _ in range(group_count):
        group, at = _read_group(payload, at)
        groups.append(group)
    _exact(payload, at)
    return Hello(identity, firmware, start_number, ResetCause(cause), tuple(groups))


def _read_group(payload: bytes, at: int) -> tuple[GroupLayout, int]:
    number, rate_mhz, size_bytes, channel_count = _GROUP.unpack_from(payload, at)
    at += _GROUP.size
    integer_type = {2: IntegerType.INT16, 4: IntegerType.INT32}.get(size_bytes)
    if integer_type is None or rate_mhz == 0:
        raise ValueError(f"no integer type of {size_bytes} bytes, or a rate of {rate_mhz} mHz")
    if number > _MAX_GROUP or not 1 <= channel_count <= _MAX_CHANNELS:
        raise ValueError(f"group {number} of {channel_count} channels, limits {_MAX_GROUP} and 1..{_MAX_CHANNELS}")
    names = []
    for _ in range(channel_count):
        name, at = _get_text(payload, at)
        names.append(name)
    return GroupLayout(number, rate_mhz / 1000, integer_type, tuple(names)), at


def _write_data(data: Data) -> bytes:
    channels, n = data.counts.shape
    if data.counts.dtype not in (_NARROW_DTYPE, _WIDE_DTYPE):
        raise ValueError(f"counts of type {data.counts.dtype}, neither int16 nor int32")
    wide = data.counts.dtype == _WIDE_DTYPE
    if not 1 <= channels <= _MAX_CHANNELS:
        raise ValueError(f"{channels} channels, limit {_MAX_CHANNELS}")
    layout = channels | (_WIDE if wide else 0)
    head = _DATA.pack(data.group, layout, n, data.first_index % INDEX_MODULUS)
    return head + data.counts.astype(_WIDE_DTYPE if wide else _NARROW_DTYPE, copy=False).tobytes()


def _read_data(payload: bytes) -> Data:
    group, layout, n, first_index = _DATA.unpack_from(payload)
    channels = layout & ~_WIDE
    size_bytes = 4 if layout & _WIDE else 2
    if channels == 0 or n == 0 or len(payload) != _DATA.size + channels * n * size_bytes:
        raise ValueError("counts do not fit")
    wide = np.frombuffer(payload, _WIDE_DTYPE, offset=_DATA.size) if size_bytes == 4 else None
    flat: IntArray = np.frombuffer(payload, _NARROW_DTYPE, offset=_DATA.size) if wide is None else wide
    return Data(group, first_index, flat.reshape(channels, n))


def _write_status(status: Status) -> bytes:
    return _STATUS.pack(
        status.inputs,
        status.permit,
        status.cause,
        status.lease_left_ms,
        status.limits_id,
        status.lease_counter % (1 << 32),
        status.reset_presses & 0xFFFF,
        status.mark_presses & 0xFFFF,
        status.rx_errors & 0xFFFF,
        status.leases_refused & 0xFFFF,
        status.frames_dropped & 0xFFFF,
    )


def _read_status(payload: bytes) -> Status:
    _exact(payload, _STATUS.size)
    inputs, permit, cause, *rest = _STATUS.unpack(payload)
    if inputs > _ALL_INPUTS:
        raise ValueError(f"unknown input in {inputs:#06x}")
    return Status(Inputs(inputs), NodePermit(permit), NodeCause(cause), *rest)


def _pack_limit(entry: CountLimit) -> bytes:
    return _LIMIT.pack(entry.group, entry.channel, entry.low_counts, entry.high_counts, entry.samples)


def _write_limits(limits: Limits) -> bytes:
    return _LIMITS.pack(limits.limits_id, len(limits.entries)) + b"".join(map(_pack_limit, limits.entries))


def _read_limits(payload: bytes) -> Limits:
    limits_id, count = _LIMITS.unpack_from(payload)
    _exact(payload, _LIMITS.size + count * _LIMIT.size)
    entries = tuple(CountLimit(*fields) for fields in _LIMIT.iter_unpack(payload[_LIMITS.size :]))
    if limits_id == 0:
        raise ValueError("limits id 0 means that there are none")
    for entry in entries:
        if entry.samples == 0 or entry.low_counts > entry.high_counts:
            raise ValueError(f"no such limit: {entry}")
    return Limits(limits_id, entries)


def _write_lease(lease: Lease) -> bytes:
    return _LEASE.pack(lease.counter % (1 << 32), lease.group, lease.block_sequence, lease.lease_ms)


def _read_lease(payload: bytes) -> Lease:
    _exact(payload, _LEASE.size)
    return Lease(*_LEASE.unpack(payload))


def _write_annunciator(annunciator: Annunciator) -> bytes:
    return _ANNUNCIATOR.pack(annunciator.pattern, annunciator.sounder)


def _read_annunciator(payload: bytes) -> Annunciator:
    _exact(payload, _ANNUNCIATOR.size)
    pattern, sounder = _ANNUNCIATOR.unpack(payload)
    if sounder > 1:
        raise ValueError("sounder is neither on nor off")
    return Annunciator(Pattern(pattern), bool(sounder))


def _write_nothing(_: HelloRequest) -> bytes:
    return b""


def _read_nothing(payload: bytes) -> HelloRequest:
    _exact(payload, 0)
    return HelloRequest()


def _exact(payload: bytes, length: int) -> None:
    if len(payload) != length:
        raise ValueError(f"payload of {len(payload)} bytes, expected {length}")


_WRITERS: dict[type, tuple[FrameType, Callable[..., bytes]]] = {
    Hello: (FrameType.HELLO, _write_hello),
    Data: (FrameType.DATA, _write_data),
    Status: (FrameType.STATUS, _write_status),
    HelloRequest: (FrameType.HELLO_REQUEST, _write_nothing),
    Limits: (FrameType.LIMITS, _write_limits),
    Lease: (FrameType.LEASE, _write_lease),
    Annunciator: (FrameType.ANNUNCIATOR, _write_annunciator),
}
_READERS: dict[int, Callable[[bytes], Frame]] = {
    FrameType.HELLO: _read_hello,
    FrameType.DATA: _read_data,
    FrameType.STATUS: _read_status,
    FrameType.HELLO_REQUEST: _read_nothing,
    FrameType.LIMITS: _read_limits,
    FrameType.LEASE: _read_lease,
    FrameType.ANNUNCIATOR: _read_annunciator,
}
