"""Plot: two minutes of one channel as a small PNG, made by hand, for a message.

Reads times and values, gives bytes. Grey ground, dark line, red trip limit; a gap is left open, never joined.
"""

import struct
import zlib

import numpy as np
import numpy.typing as npt

from scuffwatch.uplink.pictures import HISTORY_S, Trace

WIDTH_PX, HEIGHT_PX = 480, 200
GROUND, GRID, LINE, LIMIT = (244, 244, 244), (210, 210, 210), (30, 30, 30), (190, 0, 0)
GRID_S = 30.0
GAP_S = 0.5

Pixels = npt.NDArray[np.uint8]


def png(trace: Trace, low: float, high: float, trip: float | None) -> bytes:
    """Draw a channel.

    Args:
        trace: times before now, s, and values; None where there was none.
        low, high: fixed ends of the axis, the channel's unit, low < high.
        trip: its trip limit, or None.
    """
    pixels = np.empty((HEIGHT_PX, WIDTH_PX, 3), np.uint8)
    pixels[:] = GROUND
    for back_s in np.arange(0.0, HISTORY_S + 1.0, GRID_S):
        pixels[:, _column(-back_s)] = GRID
    pixels[[0, HEIGHT_PX // 2, HEIGHT_PX - 1]] = GRID
    if trip is not None and low <= trip <= high:
        row = _row(trip, low, high)
        pixels[max(0, row - 1) : row + 1] = LIMIT
    before: tuple[float, int, int] | None = None
    for t_s, value in zip(*trace, strict=True):
        if value is None or not -HISTORY_S <= t_s <= 0.0:
            before = None
            continue
        here = (t_s, _column(t_s), _row(value, low, high))
        if before is not None and t_s - before[0] <= GAP_S:
            _stroke(pixels, before[1:], here[1:])
        before = here
    return _encoded(pixels)


def _column(t_s: float) -> int:
    return round((WIDTH_PX - 1) * (1.0 + t_s / HISTORY_S))


def _row(value: float, low: float, high: float) -> int:
    share = min(1.0, max(0.0, (value - low) / (high - low)))
    return round((HEIGHT_PX - 1) * (1.0 - share))


def _stroke(pixels: Pixels, begin: tuple[int, int], end: tuple[int, int]) -> None:
    steps = max(abs(end[0] - begin[0]), abs(end[1] - begin[1]), 1)
    columns = np.rint(np.linspace(begin[0], end[0], steps + 1)).astype(int)
    rows = np.rint(np.linspace(begin[1], end[1], steps + 1)).astype(int)
    pixels[rows, columns] = LINE
    pixels[np.minimum(rows + 1, HEIGHT_PX - 1), columns] = LINE


def _encoded(pixels: Pixels) -> bytes:
    raw = b"".join(b"\0" + row.tobytes() for row in pixels)
    head = struct.pack(">IIBBBBB", WIDTH_PX, HEIGHT_PX, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", zlib.compress(raw, 6)) + _chunk(b"IEND", b"")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
