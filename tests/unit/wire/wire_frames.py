"""Frames to test the wire with: strategies over all legal fields, and one fixed stream of every type."""

import string
import zlib
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.wire.protocol import (
    VERSION,
    Annunciator,
    CountLimit,
    Data,
    Frame,
    FrameError,
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

U8 = st.integers(0, 0xFF)
U16 = st.integers(0, 0xFFFF)
U32 = st.integers(0, 0xFFFF_FFFF)
I32 = st.integers(-(1 << 31), (1 << 31) - 1)
HEAD = {"boot": U8, "sequence": U16, "ticks_us": U32}
PRINTABLE = string.ascii_letters + string.digits + string.punctuation + " "


def texts(longest: int = 32) -> st.SearchStrategy[str]:
    """Give texts the wire can carry."""
    return st.text(PRINTABLE, max_size=longest)


layouts = st.builds(
    GroupLayout,
    group=st.integers(0, 7),
    rate_hz=st.integers(1, 0xFFFF_FFFF).map(lambda mhz: mhz / 1000),
    integer_type=st.sampled_from(IntegerType),
    channels=st.lists(texts(), min_size=1, max_size=8).map(tuple),
)
hellos = st.builds(
    Hello,
    identity=texts(),
    firmware=texts(),
    start_number=U32,
    reset_cause=st.sampled_from(ResetCause),
    groups=st.lists(layouts, max_size=3).map(tuple),
    **HEAD,
)
int16_counts = hnp.arrays(np.int16, st.tuples(st.integers(1, 12), st.integers(1, 40)))
int32_counts = hnp.arrays(np.int32, st.tuples(st.integers(1, 6), st.integers(1, 40)))
flat_counts = hnp.arrays(np.int16, st.tuples(st.integers(1, 127), st.just(1))) | hnp.arrays(
    np.int16, st.tuples(st.just(1), st.integers(1, 255))
)
datas = st.builds(Data, group=U8, first_index=U32, counts=int16_counts | int32_counts | flat_counts, **HEAD)
statuses = st.builds(
    Status,
    inputs=U8.map(Inputs),
    permit=st.sampled_from(NodePermit),
    cause=st.sampled_from(NodeCause),
    lease_left_ms=U16,
    limits_id=U32,
    lease_counter=U32,
    reset_presses=U16,
    mark_presses=U16,
    rx_errors=U16,
    leases_refused=U16,
    frames_dropped=U16,
    **HEAD,
)
entries = st.builds(
    lambda group, channel, ends, samples: CountLimit(group, channel, min(ends), max(ends), samples),
    U8,
    U8,
    st.tuples(I32, I32),
    st.integers(1, 0xFFFF),
)
limits = st.builds(
    Limits, limits_id=st.integers(1, 0xFFFF_FFFF), entries=st.lists(entries, max_size=20).map(tuple), **HEAD
)
leases = st.builds(Lease, counter=U32, group=U8, block_sequence=U16, lease_ms=U16, **HEAD)
annunciators = st.builds(Annunciator, pattern=st.sampled_from(Pattern), sounder=st.booleans(), **HEAD)
requests = st.builds(HelloRequest, **HEAD)

frames: st.SearchStrategy[Frame] = st.one_of(hellos, datas, statuses, limits, leases, annunciators, requests)


def same(a: Frame | FrameError, b: Frame | FrameError) -> bool:
    """Say whether two frames are equal field by field, counts included with their type."""
    if isinstance(a, Data) and isinstance(b, Data):
        heads = [(f.group, f.first_index, f.boot, f.sequence, f.ticks_us, f.counts.dtype) for f in (a, b)]
        return heads[0] == heads[1] and np.array_equal(a.counts, b.counts)
    return a == b


def same_list(a: list[Frame | FrameError], b: list[Frame | FrameError]) -> bool:
    """Say whether two lists of decoder results are the same."""
    return len(a) == len(b) and all(map(same, a, b))


def stuffed(data: bytes) -> bytes:
    """Encode COBS as Cheshire and Baker (1999) describe it, block by block."""
    out = bytearray()
    blocks = data.split(b"\x00")
    for k, block in enumerate(blocks):
        while len(block) > 254 or (len(block) == 254 and k < len(blocks) - 1):
            out += b"\xff" + block[:254]
            block = block[254:]
        if len(block) == 254:
            out += b"\xff" + block
        else:
            out += bytes((len(block) + 1,)) + block
    return bytes(out)


def wired(kind: int, payload: bytes, version: int = VERSION) -> bytes:
    """Give a frame with a right CRC around any payload."""
    body = bytes((version, kind, 7, 1, 0, 2, 0, 0, 0)) + payload
    return stuffed(body + zlib.crc32(body).to_bytes(4, "little")) + b"\x00"


def one_of_each(rng: np.random.Generator, sequence: int = 0) -> list[Frame]:
    """Give one frame of each type with random fields, numbered from `sequence`."""

    def u(bits: int) -> int:
        return int(rng.integers(1, 1 << bits))

    def counts(dtype: type[np.int16] | type[np.int32], channels: int, n: int) -> np.ndarray:
        ends = np.iinfo(dtype)
        return rng.integers(ends.min, ends.max, (channels, n), dtype, endpoint=True)

    fast = GroupLayout(0, 1000.0, IntegerType.INT16, ("friction_force_n", "motor_current_a"))
    slow = GroupLayout(1, u(20) / 1000, IntegerType.INT32, ("pin_temperature_degc",))
    ends = sorted(int(v) for v in rng.integers(-(1 << 31), 1 << 31, 2))
    made: list[Frame] = [
        Hello("rig2", "1.0.3", u(32), ResetCause(u(2)), (fast, slow)),
        Data(0, u(32), counts(np.int16, 6, 20)),
        Data(1, u(32), counts(np.int32, 2, 5)),
        Data(2, u(32), rng.integers(-3, 4, (3, 9)).astype(np.int16)),
        Status(Inputs(u(8)), NodePermit(u(1)), NodeCause(u(3)), u(8), u(32), u(32), u(16), u(16), u(16), u(16), u(16)),
        HelloRequest(),
        Limits(u(32), (CountLimit(0, 1, ends[0], ends[1], u(16)), CountLimit(1, 0, -5, u(8), 4))),
        Lease(u(32), u(3), u(16), 150),
        Annunciator(Pattern(u(2)), bool(u(8) % 2)),
    ]
    return [replace(f, boot=u(8), sequence=(sequence + k) % (1 << 16), ticks_us=u(32)) for k, f in enumerate(made)]


def sample_stream(seed: int, rounds: int = 1) -> tuple[list[Frame], bytes]:
    """Give frames of every type and their bytes on the wire."""
    rng = np.random.default_rng(seed)
    made = [frame for k in range(rounds) for frame in one_of_each(rng, 9 * k)]
    return made, b"".join(map(encode, made))
