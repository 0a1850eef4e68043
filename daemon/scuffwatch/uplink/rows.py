"""Rows: what is sent to a time-series store, as lines of its protocol, and whether a line is fit to be sent.

Reads samples, idle seconds and events, gives rows. A store may answer a bad line with success and drop it, so every
line is checked here. A row is a pure function of the record: sent twice, it is the same to the last character.

    scuffwatch,kind=test,lubricant=HEES-46,rig=rig2,run=2026-11-25-rig2-001 friction_force_n_mean=21.4,… 1795600000500
    measurement, tags (all of them follow from the run)                     fields                       stamp, ms
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scuffwatch.model.block import FloatArray
from scuffwatch.model.event import ChannelRecord, Event, EventKind
from scuffwatch.model.run import RunHeader
from scuffwatch.store.reader import IdleSecond

MEASUREMENT, EVENT_MEASUREMENT = "scuffwatch", "scuffwatch_event"
TAG_MAX = 64
EARLIEST_MS = 1_577_836_800_000
"""1 January 2020: a clock that stood before it was not set."""
AHEAD_MAX_MS = 86_400_000
LINE_MAX_BYTES = 16_384
TOO_EARLY = "the stamp lies before 2020: the clock of the computer was not set"
TOO_FAR_AHEAD = "the stamp lies more than a day ahead of this computer's clock"
EVENT_CODE = {kind: code for code, kind in enumerate(EventKind, start=1)}
"""Codes of events, by their order in the model; only ever extended at the end."""
LEVEL_CODE = {"notice": 0, "warn": 1, "trip": 2}

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Row:
    """One line with its place in its stream.

    Attributes:
        place: whole number that rises within the stream.
        stamp_ms: UTC, ms.
        line: as sent, without line end.
        values: number of fields in it.
        span: how many places it stands for; more than one only where none of them can be sent.
        why: why it cannot be sent, or empty.
    """

    place: int
    stamp_ms: int
    line: str
    values: int
    span: int = 1
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Bins:
    """Samples of one group reduced to equal steps of node time; a step nobody measured in does not exist.

    Attributes:
        k: (m,) int64, number of the step: floor(t_rig_s * rate_hz).
        epoch: (m,) int64, node epoch of its first sample.
        samples: (m,) int64, samples of each channel.
        out_of_range: (m,) int64, values of all channels that were outside the calibrated range, and in no figure.
        mean, low, high, rms: (channels, m) float64; NaN where no value of the step was in range.
    """

    k: IntArray
    epoch: IntArray
    samples: IntArray
    out_of_range: IntArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    rms: FloatArray


def steps_of(t_s: FloatArray, rate_hz: int) -> IntArray:
    """Give the step each sample falls into; exact, as node time is whole µs."""
    micros = np.rint(t_s * 1e6).astype(np.int64)
    steps: IntArray = micros * rate_hz // 1_000_000
    return steps


def reduce(
    t_s: FloatArray, epoch: IntArray, values: FloatArray, records: tuple[ChannelRecord, ...], rate_hz: int
) -> Bins:
    """Reduce samples to steps.

    Args:
        t_s: (n,) float64, node time, s; n >= 1.
        epoch: (n,) int64.
        values: (channels, n) float64, the channels' units.
        records: one a channel, with its range.
        rate_hz: steps a second.
    """
    k = steps_of(t_s, rate_hz)
    if np.any(np.diff(k) < 0):  # stamps of frames jitter
        order = np.argsort(k, kind="stable")
        k, epoch, values = k[order], epoch[order], values[:, order]
    starts = np.flatnonzero(np.diff(k, prepend=k[0] - 1))
    low_end = np.array([record.range_low for record in records])[:, None]
    high_end = np.array([record.range_high for record in records])[:, None]
    valid = np.isfinite(values) & ~(values < low_end) & ~(values > high_end)
    inside = np.where(valid, values, 0.0)
    n = np.add.reduceat(valid, starts, axis=1, dtype=np.int64)
    some = np.where(n > 0, n, 1)
    blank = np.where(n > 0, 0.0, np.nan)
    samples = np.diff(starts, append=len(k))
    return Bins(
        k=k[starts],
        epoch=epoch[starts],
        samples=samples,
        out_of_range=len(records) * samples - n.sum(axis=0),
        mean=np.add.reduceat(inside, starts, axis=1) / some + blank,
        low=np.minimum.reduceat(np.where(valid, values, np.inf), starts, axis=1) + blank,
        high=np.maximum.reduceat(np.where(valid, values, -np.inf), starts, axis=1) + blank,
        rms=np.sqrt(np.add.reduceat(inside * inside, starts, axis=1) / some) + blank,
    )


def run_tags(rig: str, header: RunHeader) -> str:
    """Give the tags of everything that belongs to a run, as they stand in a line."""
    tags = {"kind": header.kind.value, "lubricant": header.lubricant, "rig": rig, "run": header.name}
    return tags_text(tags | ({"simulated": "true"} if header.simulated else {}))


def tags_text(tags: Mapping[str, str]) -> str:
    """Give tags in order of their keys; empty ones are left out, long ones cut."""
    return "".join(f",{key}={_tag(value)}" for key, value in sorted(tags.items()) if _plain(value))


def bin_rows(bins: Bins, names: tuple[str, ...], tags: str, stamps_ms: IntArray, group: int) -> Iterator[Row]:
    """Give one row a step; a channel without a valid value has no field in it."""
    columns = np.stack([bins.mean, bins.low, bins.high, bins.rms])
    finite = np.isfinite(columns[0])
    heads = [f"{name}_mean=%.7g,{name}_min=%.7g,{name}_max=%.7g,{name}_rms=%.7g" for name in names]
    for place, k in enumerate(bins.k.tolist()):
        there = [c for c in range(len(names)) if finite[c, place]]
        parts = [heads[c] % tuple(columns[:, c, place]) for c in there]
        parts.append(f"group{group}_samples={bins.samples[place]},group{group}_out_of_range={bins.out_of_range[place]}")
        stamp_ms = int(stamps_ms[place])
        yield Row(k, stamp_ms, f"{MEASUREMENT}{tags} {','.join(parts)} {stamp_ms}", 4 * len(there) + 2)


def idle_row(second: IdleSecond, tags: str, group: int) -> Row:
    """Give the row of a second without a run. No samples are kept of it, so there is no rms."""
    parts, values = [], 1
    for name, low, mean, high in zip(second.channels, second.low, second.mean, second.high, strict=True):
        if math.isfinite(mean):
            parts.append(f"{name}_mean={mean:.7g},{name}_min={low:.7g},{name}_max={high:.7g}")
            values += 3
    parts.append(f"group{group}_samples={second.samples}")
    stamp_ms = second.t_utc_s * 1000
    return Row(second.t_utc_s, stamp_ms, f"{MEASUREMENT}{tags} {','.join(parts)} {stamp_ms}", values)


def event_row(event: Event, rig: str, stamp_ms: int) -> Row:
    """Give the row of an event: its code and number; a store may lose text, so its sentence stays in the record."""
    finding = event.data.get("finding", event.data)
    level = finding.get("level") if isinstance(finding, dict) else None
    fields = f"code={EVENT_CODE[event.kind]},number={event.sequence},level={LEVEL_CODE.get(str(level), 0)}"
    tags = tags_text({"event": event.kind.value, "rig": rig, "run": event.run})
    return Row(event.sequence, stamp_ms, f"{EVENT_MEASUREMENT}{tags} {fields} {stamp_ms}", 3)


def unfit(row: Row, now_ms: int) -> str:
    """Give why a row must not be sent, or an empty string."""
    if row.why:
        return row.why
    if not row.line:
        return "the record is damaged here"
    if not row.stamp_ms >= EARLIEST_MS:
        return TOO_EARLY
    if row.stamp_ms > now_ms + AHEAD_MAX_MS:
        return TOO_FAR_AHEAD
    if len(row.line.encode()) > LINE_MAX_BYTES:
        return f"the line is longer than {LINE_MAX_BYTES} bytes"
    return ""


def _plain(text: str) -> str:
    """Give text without what a line cannot hold: control characters, and a backslash at the end."""
    return "".join(" " if ord(char) < 32 or ord(char) == 127 else char for char in text)[:TAG_MAX].strip(" \\")


def _tag(text: str) -> str:
    kept = _plain(text).replace("\\", "/")
    return "".join("\\" + char if char in ",= " else char for char in kept)
