"""Slices for detector tests, made by hand: values in, slices out, 100 a second."""

import math
from collections.abc import Iterable, Iterator, Mapping

from scuffwatch.model.block import ChannelSlice, Slice
from scuffwatch.model.channel import Quality, Reason

SLICE_S = 0.01


def good(value: float, *, fresh: bool = True, age_s: float = 0.001) -> ChannelSlice:
    """Give a GOOD value."""
    return ChannelSlice(value, value, value, Quality.GOOD, Reason.NONE, age_s, fresh)


def bad(reason: Reason, value: float = math.nan, age_s: float = 0.001) -> ChannelSlice:
    """Give a BAD value."""
    return ChannelSlice(value, value, value, Quality.BAD, reason, age_s, True)


def make(
    index: int,
    channels: Mapping[str, ChannelSlice | float],
    *,
    epoch: int = 0,
    gap_before_s: float = 0.0,
    duration_s: float = SLICE_S,
) -> Slice:
    """Give slice `index`; plain numbers become GOOD values."""
    named = {name: value if isinstance(value, ChannelSlice) else good(value) for name, value in channels.items()}
    return Slice(epoch, index, (index + 1) * duration_s, duration_s, gap_before_s, index % 65536, named)


def sequence(rows: Iterable[Mapping[str, ChannelSlice | float]], first: int = 0) -> Iterator[Slice]:
    """Give one slice a row, numbered from `first`."""
    for k, row in enumerate(rows):
        yield make(first + k, row)
