"""Blocks and slices: what was sampled, in counts and in SI.

Reads nothing. A block is one data frame after assembly; a slice is the 10 ms on which everything is decided.
"""

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

import numpy as np
import numpy.typing as npt

from scuffwatch.model.channel import GroupLayout, Quality, Reason

IntArray = npt.NDArray[np.int16] | npt.NDArray[np.int32]
FloatArray = npt.NDArray[np.float64]
_T = TypeVar("_T")


@dataclass_transform(frozen_default=True)
def hot_value(cls: type[_T]) -> type[_T]:
    """Make a slotted dataclass of which many are made every slice: frozen by mypy's word, which costs nothing.

    A dataclass that is frozen at run time sets each of its fields by a call.
    """
    return dataclass(slots=True, unsafe_hash=True)(cls)


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """One group as it came, with its place in time.

    Attributes:
        layout: the group.
        epoch: number of node starts seen, from 0; times of two epochs cannot be subtracted.
        frame_sequence: wire sequence number of the data frame; a lease names it.
        first_index: sample index of the first sample, unwrapped, within the epoch.
        t_rig_s: node time of the first sample, unwrapped, s.
        counts: raw counts, (channels, n) int16 or int32, read-only.
        lost_before: samples missing between the previous block of this group and this one.
    """

    layout: GroupLayout
    epoch: int
    frame_sequence: int
    first_index: int
    t_rig_s: float
    counts: IntArray
    lost_before: int

    @property
    def n(self) -> int:
        """Give the number of samples of each channel."""
        return int(self.counts.shape[1])

    @property
    def period_s(self) -> float:
        """Give the time between two samples, s."""
        return 1.0 / self.layout.rate_hz


@hot_value
class ChannelSlice:
    """One channel over one slice.

    Attributes:
        mean, low, high: in the channel's unit; NaN where `quality` is BAD and no number exists.
        quality, reason: how far the numbers may be believed, and why not.
        age_s: age of the newest sample at the end of the slice, s of node time.
        fresh: whether a new sample fell into this slice.
    """

    mean: float
    low: float
    high: float
    quality: Quality
    reason: Reason
    age_s: float
    fresh: bool


@hot_value
class Slice:
    """What the detectors see: 10 ms, or one sample where sampling is slower.

    Attributes:
        epoch: as in `Block`.
        index: number of the slice within the epoch, from the sample index of group 0; holes in it are gaps.
        t_rig_s: node time of the end of the slice, s.
        duration_s: length of the slice, s.
        gap_before_s: length of a hole in front of this slice, s; 0 where there is none.
        frame_sequence: the data frame that completed the slice; a lease names it.
        channels: one entry a channel name, in a fixed order.
    """

    epoch: int
    index: int
    t_rig_s: float
    duration_s: float
    gap_before_s: float
    frame_sequence: int
    channels: dict[str, ChannelSlice]
