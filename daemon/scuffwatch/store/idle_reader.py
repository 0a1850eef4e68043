"""Idle reader: the 1 s envelope of the hours without a run, in the channels' units.

Reads `idle_cells` of the journal, gives low, mean and high of each second. No samples are kept of these hours, so
there is nothing finer to give.
"""

import json
from dataclasses import dataclass

import numpy as np

from scuffwatch.model.event import ChannelRecord
from scuffwatch.store import pyramid
from scuffwatch.store.archive import Archive
from scuffwatch.store.envelope import Scale, to_si


@dataclass(frozen=True, slots=True)
class IdleSecond:
    """One second of one group.

    Attributes:
        t_utc_s: the second, wall clock.
        samples: of each channel.
        channels: names, in order of the group.
        low, mean, high: one a channel, in its unit.
    """

    t_utc_s: int
    samples: int
    channels: tuple[str, ...]
    low: tuple[float, ...]
    mean: tuple[float, ...]
    high: tuple[float, ...]


def idle_seconds(archive: Archive, group: int, after_utc_s: int, limit: int) -> tuple[IdleSecond, ...]:
    """Give the seconds of a group after one, in order, at most `limit`.

    A channel whose calibration is not in the journal is left out.
    """
    rows = archive.idle_after(group, after_utc_s, limit)
    records = archive.calibrations() if rows else ()
    return tuple(_second(int(k), json.loads(names), data, records) for k, names, data in rows)


def _second(
    t_utc_s: int, names: list[str], data: bytes, records: tuple[tuple[ChannelRecord, float], ...]
) -> IdleSecond:
    cells = pyramid.unpack([(t_utc_s, 1, data)], len(names))
    when = np.array([float(t_utc_s)])
    known, lows, means, highs = [], [], [], []
    for position, name in enumerate(names):
        scales = _in_force(name, t_utc_s, records)
        if not scales:
            continue
        ends = [float(to_si(side[position], when, scales)[0]) for side in (cells.low, cells.high)]
        known.append(name)
        lows.append(min(ends))
        highs.append(max(ends))
        means.append(float(to_si(cells.total[position] / cells.n, when, scales)[0]))
    return IdleSecond(t_utc_s, int(cells.n[0]), tuple(known), tuple(lows), tuple(means), tuple(highs))


def _in_force(name: str, t_utc_s: int, records: tuple[tuple[ChannelRecord, float], ...]) -> list[Scale]:
    """Give the calibration last made before a second; the first one where none was."""
    of_name = [(record, from_s) for record, from_s in records if record.name == name]
    before = [record for record, from_s in of_name if from_s <= t_utc_s]
    chosen = before[-1] if before else of_name[0][0] if of_name else None
    return [] if chosen is None else [Scale(chosen, -np.inf)]
