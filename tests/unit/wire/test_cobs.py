"""Stuffing as published, and against an implementation that is not ours."""

import math

import cobs.cobs as theirs  # the package of that name, by Craig McQueen
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_frames import stuffed

from scuffwatch.wire import cobs

RAMP = bytes(range(256))


@pytest.mark.parametrize(
    ("plain", "encoded"),
    [
        # Cheshire and Baker 1999, figure of an encoded packet (from memory)
        ("45 00 00 2c 4c 79 00 00 40 06 4f 37", "02 45 01 04 2c 4c 79 01 05 40 06 4f 37"),
        # the examples commonly printed with it (from memory)
        ("00", "01 01"),
        ("00 00", "01 01 01"),
        ("00 11 00", "01 02 11 01"),
        ("11 22 00 33", "03 11 22 02 33"),
        ("11 22 33 44", "05 11 22 33 44"),
        ("11 00 00 00", "02 11 01 01 01"),
        (RAMP[1:255].hex(), "ff" + RAMP[1:255].hex()),
        (RAMP[:255].hex(), "01 ff" + RAMP[1:255].hex()),
        (RAMP[1:].hex(), "ff" + RAMP[1:255].hex() + "02 ff"),
        (RAMP[2:].hex() + "00", "ff" + RAMP[2:].hex() + "01 01"),
        (RAMP[3:].hex() + "00 01", "fe" + RAMP[3:].hex() + "02 01"),
    ],
)
def test_as_published(plain: str, encoded: str) -> None:
    assert cobs.encode(bytes.fromhex(plain)) == bytes.fromhex(encoded)
    assert cobs.decode(bytes.fromhex(encoded)) == bytes.fromhex(plain)


# long blocks are where stuffing goes wrong: pieces just below, at and above 254 and 508 bytes
runs = st.one_of(st.integers(0, 3), st.integers(252, 257), st.integers(507, 510)).map(lambda n: b"\x07" * n)
plains = st.one_of(st.binary(max_size=300), st.lists(runs, max_size=5).map(b"\x00".join))


@given(plains)
def test_the_same_as_two_others(plain: bytes) -> None:
    encoded = cobs.encode(plain)
    assert encoded == theirs.encode(plain) == stuffed(plain)
    assert cobs.decode(encoded) == plain
    assert 0 not in encoded
    assert len(plain) + 1 <= len(encoded) <= len(plain) + max(1, math.ceil(len(plain) / 254))  # the paper's bound


@given(st.binary(max_size=40) | plains.map(lambda plain: stuffed(plain)[:-1]))
def test_refuses_what_the_other_refuses(encoded: bytes) -> None:
    try:
        expected = theirs.decode(encoded)
    except theirs.DecodeError:
        with pytest.raises(ValueError, match=r"zero among|over the end"):
            cobs.decode(encoded)
    else:
        assert cobs.decode(encoded) == expected
