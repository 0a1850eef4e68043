"""Envelope: low, mean and high of a channel over a stretch of time, thin enough to draw.

Reads cells or samples, gives columns in the channel's unit. Where nothing was measured stands NaN, so that a line is
never joined across a gap.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scuffwatch.model.block import FloatArray, IntArray
from scuffwatch.model.event import ChannelRecord
from scuffwatch.signals.calibrate import Calibration, si
from scuffwatch.store.pyramid import Cells

SAMPLES = "samples"


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """Columns of one channel.

    Attributes:
        t_s: (m,) float64, node time, s, rising.
        low, mean, high: (m,) float64, in the channel's unit; NaN where nothing was measured.
        level: what it was made of: `1 s`, `60 s` or `samples`.
    """

    t_s: FloatArray
    low: FloatArray
    mean: FloatArray
    high: FloatArray
    level: str


@dataclass(frozen=True, slots=True)
class Scale:
    """How one channel's counts become values, from a time on."""

    record: ChannelRecord
    from_t_rig_s: float


def to_si(counts: IntArray | npt.NDArray[np.int64] | FloatArray, t_s: FloatArray, scales: list[Scale]) -> FloatArray:
    """Give values of counts, each with the calibration in force at its time; `scales` in order of time."""
    if len(scales) == 1:
        return si(counts.astype(np.float64), calibration_of(scales[0].record))
    values = np.full(counts.shape, np.nan)
    for place, scale in enumerate(scales):
        until_s = scales[place + 1].from_t_rig_s if place + 1 < len(scales) else np.inf
        where = (t_s >= scale.from_t_rig_s) & (t_s < until_s)
        if where.any():
            values[where] = si(counts[where].astype(np.float64), calibration_of(scale.record))
    return values


def calibration_of(record: ChannelRecord) -> Calibration:
    """Give the calibration a channel was recorded with."""
    return Calibration(record.coefficients, record.tare, record.range_low, record.range_high, record.calibration_id)


def of_cells(
    cells: Cells, row: int, level_s: int, scales: list[Scale], span: tuple[float, float], points: int
) -> Envelope:
    """Give the envelope of one channel out of cells.

    Low and high are exact for every calibration that rises or falls throughout, the mean for every straight one.

    Args:
        cells: of the channel's group, cells that begin within the span.
        row: the channel's row.
        level_s: length of a cell, s.
        scales: calibrations of the channel, in order of time.
        span: node time of both ends, s.
        points: at most so many.
    """
    t_s = cells.k.astype(np.float64) * level_s
    low, high = to_si(cells.low[row], t_s, scales), to_si(cells.high[row], t_s, scales)
    total = to_si(cells.total[row] / np.maximum(cells.n, 1), t_s, scales) * cells.n
    first_s, last_s = float(np.floor(span[0] / level_s)) * level_s, span[1]
    bins = int(min(points, max(1, np.ceil((last_s - first_s) / level_s))))
    middle = t_s + 0.5 * level_s - first_s
    where = np.minimum((middle * (bins / (last_s - first_s))).astype(np.int64), bins - 1)
    columns = _binned(where, bins, np.fmin(low, high), np.fmax(low, high), total, cells.n)
    grid_s: FloatArray = first_s + np.arange(bins, dtype=np.float64) * ((last_s - first_s) / bins)
    return Envelope(grid_s, *columns, level=f"{level_s} s")


def of_samples(
    t_s: FloatArray, values: FloatArray, period_s: float, span: tuple[float, float], points: int
) -> Envelope:
    """Give the envelope of one channel out of samples: as they are where they fit, else in equal bins."""
    if 2 * len(t_s) <= points:
        t_s, values = _with_breaks(t_s, values, period_s)
        return Envelope(t_s, values, values, values, SAMPLES)
    bins = max(1, min(points, int((span[1] - span[0]) / (2.0 * period_s))))
    where = np.clip(((t_s - span[0]) * (bins / (span[1] - span[0]))).astype(np.int64), 0, bins - 1)
    columns = _binned(where, bins, values, values, values, np.ones(len(values), np.int64))
    grid_s: FloatArray = span[0] + np.arange(bins, dtype=np.float64) * ((span[1] - span[0]) / bins)
    return Envelope(grid_s, *columns, level=SAMPLES)


def _with_breaks(t_s: FloatArray, values: FloatArray, period_s: float) -> tuple[FloatArray, FloatArray]:
    """Put one NaN into every hole longer than one and a half periods."""
    breaks = np.flatnonzero(np.diff(t_s) > 1.5 * period_s) + 1
    return np.insert(t_s, breaks, t_s[breaks] - period_s / 2), np.insert(values, breaks, np.nan)


def _binned(
    where: npt.NDArray[np.int64],
    bins: int,
    low: FloatArray,
    high: FloatArray,
    total: FloatArray,
    n: npt.NDArray[np.int64],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give low, mean and high of each bin; `where` does not fall."""
    lows, means, highs = (np.full(bins, np.nan) for _ in range(3))
    if len(where):
        starts = np.flatnonzero(np.diff(where, prepend=-1))
        filled = where[starts]
        lows[filled] = np.minimum.reduceat(low, starts)
        highs[filled] = np.maximum.reduceat(high, starts)
        means[filled] = np.add.reduceat(total, starts) / np.add.reduceat(n, starts)
    return lows, means, highs
