"""Consistent overhead byte stuffing: any bytes as bytes without a zero, at the cost of one in 254.

Reads bytes, gives bytes. No I/O. Under `wire.protocol`, which alone uses it on the data path.

    11 22 00 33        plain
    03 11 22 02 33     stuffed: a code byte in front of each block says how far it is to the next code byte;
                       there stood a zero, unless the code was 255 and its block of 254 went on

Source:
    Cheshire and Baker 1999, Consistent Overhead Byte Stuffing, IEEE/ACM Transactions on Networking 7 (2).
"""

_FULL = 255


def encode(plain: bytes) -> bytes:
    """Give the bytes stuffed, without a delimiter.

    Args:
        plain: any bytes, any length.
    Returns:
        Bytes without 0x00, longer by 1 and at most 1 more for each 254.
    """
    out = bytearray(b"\x00" + plain + b"\x00")  # the first zero becomes the first code, the last one stops the search
    at = 0
    while at < len(out) - 1:
        end = out.find(0, at + 1)
        if end - at < _FULL:
            out[at] = end - at
            at = end
        else:
            out[at] = _FULL
            at += _FULL
            if at < len(out) - 1:
                out.insert(at, 0)
    return bytes(out[:-1])


def decode(stuffed: bytes) -> bytes:
    """Give the bytes that were stuffed.

    Args:
        stuffed: what stood between two delimiters.
    Raises:
        ValueError: a zero among them, or a block that runs over the end.
    """
    if 0 in stuffed:
        raise ValueError("zero among stuffed bytes")
    out = bytearray(stuffed)
    at = 0
    full_ends = []
    while at < len(out):
        code = out[at]
        out[at] = 0
        at += code
        if code == _FULL:
            full_ends.append(at)
    if at != len(out):
        raise ValueError(f"block runs {at - len(out)} bytes over the end")
    for end in reversed(full_ends):
        del out[end : end + 1]
    return bytes(out[1:])
