"""Samples: rows of single samples, for the full-rate upload of a closed run.

Reads values and stamps, gives rows. A row is a pure function of the record: sent twice, it is the same to the last
character.

    scuffwatch_full_rate,kind=test,lubricant=HEES-46,rig=rig2,run=2026-11-25-rig2-001 friction_force_n=21.4,…,
        group0_out_of_range=0 1795600000500000000
    measurement, tags as those of the reduced rows            a field a channel, in its unit            stamp, ns

A value outside the calibrated range is sent as it is, and counted in `groupN_out_of_range` of its row; one that is no
number has no field and is counted too.
"""

from collections.abc import Iterator

import numpy as np

from scuffwatch.model.block import FloatArray
from scuffwatch.model.channel import IntegerType
from scuffwatch.model.event import ChannelRecord
from scuffwatch.uplink.rows import IntArray, Row

FULL_RATE_MEASUREMENT = "scuffwatch_full_rate"
NS_IN_A_MS = 1_000_000
DIGITS = {IntegerType.INT16: 7, IntegerType.INT32: 10}
"""Significant digits sent, enough to tell two neighbouring counts apart."""


def one_each(wanted: IntArray, last: int) -> IntArray:
    """Give each sample a stamp of its own: the one it should have, or else the next free one after those before it.

    Args:
        wanted: (n,) int64, whole units.
        last: stamp of the sample before the first, in the same unit.
    Returns:
        (n,) int64, rising by at least 1 and nowhere below `wanted`. Any split of the samples gives the same.
    """
    order = np.arange(len(wanted))
    ahead = np.maximum(np.maximum.accumulate(wanted - order), last + 1)
    stamps: IntArray = ahead + order
    return stamps


def sample_rows(
    values: FloatArray, stamps_ns: IntArray, first_place: int, records: tuple[ChannelRecord, ...], tags: str
) -> Iterator[Row]:
    """Give one row a sample.

    Args:
        values: (channels, n) float64, the channels' units.
        stamps_ns: (n,) int64, UTC, ns.
        first_place: place of the first sample.
        records: one a channel of one group.
        tags: as they stand in a line.
    """
    low = np.array([record.range_low for record in records])[:, None]
    high = np.array([record.range_high for record in records])[:, None]
    finite = np.isfinite(values)
    out_of_range = (~finite | (values < low) | (values > high)).sum(axis=0).tolist()
    fields = [f"{record.name}=%.{DIGITS[record.integer_type]}g" for record in records]
    whole, missing = ",".join(fields), (~finite).sum(axis=0).tolist()
    head, count = f"{FULL_RATE_MEASUREMENT}{tags} ", f"group{records[0].group}_out_of_range"
    for number, (sample, stamp_ns) in enumerate(zip(values.T.tolist(), stamps_ns.tolist(), strict=True)):
        if not missing[number]:
            text, n = f"{whole % tuple(sample)},", len(sample)
        else:
            there = [field % sample[c] for c, field in enumerate(fields) if finite[c, number]]
            text, n = "".join(f"{field}," for field in there), len(there)
        line = f"{head}{text}{count}={out_of_range[number]} {stamp_ns}"
        yield Row(first_place + number, stamp_ns // NS_IN_A_MS, line, n + 1)
