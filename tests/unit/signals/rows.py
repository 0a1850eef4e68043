"""Blocks for slicer tests: samples of a whole rig, cut at will."""

from collections.abc import Iterable

import numpy as np

from scuffwatch.model.block import Block
from scuffwatch.model.channel import GroupLayout, IntegerType
from scuffwatch.signals.calibrate import Calibration
from scuffwatch.signals.quality import ChannelRule

FAST = GroupLayout(0, 1000.0, IntegerType.INT16, ("friction_force_n", "motor_current_a"))
SLOW = GroupLayout(1, 10.0, IntegerType.INT32, ("normal_load_n", "pin_temperature_degc"))


def rules(*layouts: GroupLayout, max_age_s: float = 0.5, stuck_after_s: float = 0.0) -> dict[str, ChannelRule]:
    calibration = Calibration((0.25, 0.01), 0.0, -1e9, 1e9, "test")
    return {name: ChannelRule(calibration, max_age_s, stuck_after_s) for layout in layouts for name in layout.channels}


def block(
    layout: GroupLayout,
    first: int,
    rows: Iterable[Iterable[int]],
    *,
    epoch: int = 0,
    lost: int = 0,
    sequence: int = 0,
    t0_s: float = 0.0,
) -> Block:
    """Give a block whose time is that of its index, rounded to microseconds as ticks are."""
    dtype = np.int16 if layout.integer_type is IntegerType.INT16 else np.int32
    counts = np.array([list(row) for row in rows], dtype)
    t_rig_s = round((t0_s + first / layout.rate_hz) * 1e6) / 1e6
    return Block(layout, epoch, sequence, first, t_rig_s, counts, lost)


def fast(first: int, n: int, level: int = 100, **more: int) -> Block:
    return block(FAST, first, [[level] * n, [level] * n], **more)


def slow(index: int, load: int = 2000, pin: int = 6000, **more: int) -> Block:
    return block(SLOW, index, [[load], [pin]], **more)
